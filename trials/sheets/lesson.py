"""The teacher's page for each lesson: minutes, what to lay out, mistakes, a question, cautions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from trials.classroom.agenda import (
    Agenda,
    Part,
    Turn,
    steps_of,
    tools_of,
    worn_in,
)
from trials.classroom.arrange import heading, step_label
from trials.render.typeset import pdf, template
from trials.sheets.class_times import (
    crew_text,
    gone_lines,
    minute_lines,
    over_lines,
    part_name,
    reading_lines,
)
from trials.sheets.parts import Job, Line, caution_lines
from trials.sheets.readers import makers_of
from trials.sheets.stock import amount_to_get_out
from trials.sheets.tools import laid_out
from trials.sheets.worn import protection_lines, used_in
from trials.study.check_lessons import used_at
from trials.study.values import Step
from trials.words import cautions, protection, teaching
from trials.words import class_times as words
from trials.words.language import say

MOST_LINES: Final = 32  # of a lesson's minutes on its page
_QUESTION: Final = 8  # lines that the question for the class takes below them
_LETTERS: Final = (24, 29)  # that find room beside each other there: what, and who
SLOTS: Final = (1, 5, 10, 15, 30, 60, 24 * 60)  # minutes that share a line, where there are more


def lesson_pages(job: Job, agenda: Agenda) -> bytes:
    """Return lesson.pdf: a page for each lesson of the timetable."""
    asked: list[str] = []
    pages = []
    for part in agenda.ahead:
        if part.between:
            continue
        done = [teaching.Done(_said(step), step.stage == "measure") for step in part.steps]
        asked.append(teaching.question(done, asked))
        pages.append(
            {
                "title": part_name(agenda, part),
                "before": _before(agenda, part),
                "notes": _notes(job, agenda, part),
                **_minutes(job, agenda, part),
                "from before": _from_before(job, agenda, part),
                "afterwards": _afterwards(job, agenda, part),
                "equipment": _equipment(job, part),
                "up to": _up_to(job, part),
                "wear": say(protection.WEAR),
                "protection": protection_lines(job, agenda, part),
                "materials": _materials(job, agenda, part),
                "mistakes": list(teaching.mistakes(done)),
                "question": asked[-1],
                "cautions": _cautions(part.steps),
            }
        )
    data: dict[str, Any] = {
        "foot": job.foot(),
        "over": words.printed_before(agenda.over),
        "spares": say("Without spare ones: these are in materials.pdf.") if job.left.anew else "",
        "first": say(cautions.FIRST),
        "words": _words(),
        "lessons": pages,
    }
    return pdf(
        template("lesson.typ", "trials.sheets"),
        data,
        title=say("Lesson plan: {title}", title=job.study.title),
        paper=job.paper,
        mark=job.mark,
    )


def _words() -> dict[str, str]:
    """Return the fixed words of the page."""
    return {
        "question": say("A question for the class"),
        "minutes": say("Minute by minute"),
        "what": say("What"),
        "who": say("How many, who"),
        "lay out": say("Lay out"),
        "used up": say("Used up in this lesson"),
        "mistakes": say("Three mistakes to watch for"),
        "hurts": say("What can hurt (all codes: cautions.pdf)"),
        "no cautions": say(
            "The steps of this lesson name no cautions. That doesn't mean that nothing can hurt."
        ),
    }


def _notes(job: Job, agenda: Agenda, part: Part) -> str:
    """Return what isn't made, who is away, who measures, when all is done and how good that is."""
    table = job.plan.timetable
    told = [*gone_lines(job, agenda, part), *reading_lines(job, part), *over_lines(agenda, part)]
    if table is not None and part.lesson == table.lessons:
        told.append(words.best_found(table.ends - table.bound, proved=table.proved))
    return " ".join(told)


def _minutes(job: Job, agenda: Agenda, part: Part) -> Line:
    """Return the minutes of a lesson in few enough lines for its page."""
    for every in SLOTS:
        rows = minute_lines(job, agenda, part, codes=False, every=every)
        if sum(map(_lines, rows)) <= MOST_LINES:
            break
    short = sum(map(_lines, rows)) <= MOST_LINES - _QUESTION
    return {"rows": rows, "begins": words.within(every), "short": short}


def _lines(row: Sequence[str]) -> int:
    """Return how many lines a row of the minutes takes on the page, in its narrow columns."""
    widths = _LETTERS if len(row) > len(_LETTERS) else (sum(_LETTERS),)
    return max(-(-len(cell) // wide) for cell, wide in zip(row[1:], widths, strict=True))


def _said(step: Step) -> str:
    return " ".join((step.name, step.label, step.text))


def _before(agenda: Agenda, part: Part) -> str:
    """Return that something must be done before the lesson; empty where there is nothing."""
    earlier = next((p for p in agenda.ahead if p.between and p.lesson == part.lesson), None)
    if earlier is None:
        return ""
    return words.done_before([step_label(step) for step in earlier.steps])


def _from_before(job: Job, agenda: Agenda, part: Part) -> list[str]:
    """Return in which state what a lesson goes on with comes from before, and who brings it."""
    steps, last = job.study.steps, dict[str, tuple[int, str]]()
    for earlier in agenda.parts[: agenda.parts.index(part)]:
        for turn in earlier.turns:
            state = steps.index(turn.step), _adult(job, turn)
            last |= dict.fromkeys(turn.work.items, state)
    here = {item for turn in part.turns for item in turn.work.items}
    counts = Counter(state for item, state in last.items() if item in here)
    return [
        words.from_before(number, job.study.item_name, step_label(steps[at]), who)
        for (at, who), number in sorted(counts.items())
    ]


def _afterwards(job: Job, agenda: Agenda, part: Part) -> list[str]:
    """Return what somebody who is in no team takes over after a lesson, and for which steps."""
    following = [p for p in agenda.ahead if p.between and p.lesson == part.lesson + 1]
    turns = [turn for one in following for turn in one.turns]
    told = []
    for who in sorted({_adult(job, turn) for turn in turns} - {""}):
        mine = [turn for turn in turns if _adult(job, turn) == who]
        items = {item for turn in mine for item in turn.work.items}
        steps = [step_label(step) for step in steps_of(mine)]
        told.append(words.taken_over(len(items), job.study.item_name, steps, who))
    return told


def _adult(job: Job, turn: Turn) -> str:
    """Return who does something, if that is no team and has a name."""
    crew = turn.work.crew
    return "" if crew in makers_of(job) else crew_text(job, crew)


def _equipment(job: Job, part: Part) -> list[str]:
    """Return what the steps of a lesson need, each once: how many there are, or are in use.

    What is worn stands with what there is to wear.
    """
    worn = worn_in(part.steps)
    scarce = {one.name: one for one in job.study.equipment}
    using = {
        name: {turn.work.crew for turn in part.turns if name in dict(turn.work.places)}
        for name in scarce
    }
    return [
        heading(laid_out(job, part, scarce[name], using[name], label=scarce[name].label))
        if name in scarce
        else protection.in_use(heading(name), most)
        for name, most in tools_of(part.turns, job.plan.rows).items()
        if name in scarce or not any(protection.is_worn(code, name) for code in worn)
    ]


def _up_to(job: Job, part: Part) -> str:
    """Return what 'up to' means, where a lesson's list says it."""
    scarce = {one.name for one in job.study.equipment}
    return say(protection.UP_TO) if any(set(used_at(s)) - scarce for s in part.steps) else ""


def _materials(job: Job, agenda: Agenda, part: Part) -> list[str]:
    """Return what is used up in a lesson, in the words of materials.pdf."""
    return [
        f"{heading(one.name)}: {amount_to_get_out(amount, one.unit)}"
        for one, amount in used_in(job, agenda, part).items()
    ]


def _cautions(steps: Sequence[Step]) -> list[Line]:
    return [
        {"label": step_label(step), "cautions": caution_lines(step.cautions, codes=False)}
        for step in steps
        if step.cautions
    ]
