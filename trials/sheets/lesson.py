"""The teacher's page for each lesson: minutes, what to lay out, mistakes, a question, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from trials.classroom.agenda import Agenda, Part, used_up
from trials.classroom.arrange import heading, maker_group, step_label
from trials.render.typeset import pdf, template
from trials.sheets.class_times import away_lines, minute_lines, part_name, reading_lines
from trials.sheets.parts import Job, Line, caution_lines
from trials.study.values import Step
from trials.words import cautions, teaching
from trials.words import class_times as words
from trials.words.numbers import with_unit

MOST_LINES: Final = 24  # of a lesson's minutes on its page
_LETTERS: Final = (24, 29)  # that find room beside each other there: what, and who
SLOTS: Final = (1, 5, 10, 15, 30, 60, 24 * 60)  # minutes that share a line, where there are more


def lesson_pages(job: Job, agenda: Agenda) -> bytes:
    """Return lesson.pdf: a page for each lesson of the timetable."""
    asked: list[str] = []
    pages = []
    for part in agenda.lessons:
        done = [teaching.Done(_said(step), step.stage == "measure") for step in part.steps]
        asked.append(teaching.question(done, asked))
        pages.append(
            {
                "title": part_name(agenda, part),
                "before": _before(agenda, part),
                "notes": _notes(job, agenda, part),
                **_minutes(job, agenda, part),
                "equipment": _equipment(job, part),
                "materials": _materials(job, part),
                "mistakes": list(teaching.mistakes(done)),
                "question": asked[-1],
                "cautions": _cautions(part.steps),
            }
        )
    data: dict[str, Any] = {"foot": job.foot(), "first": cautions.FIRST, "lessons": pages}
    return pdf(
        template("lesson.typ", "trials.sheets"),
        data,
        title=f"Lesson plan: {job.study.title}",
        paper=job.paper,
    )


def _notes(job: Job, agenda: Agenda, part: Part) -> str:
    """Return what is no longer made, which teams are away in this lesson, and who measures."""
    told = [words.left_out(agenda.left_out)]
    now = replace(agenda, away=tuple(a for a in agenda.away if a.since <= part.lesson))
    told += [*away_lines(job, now, job.plan.rows), *reading_lines(job, part)]
    return " ".join(filter(None, told))


def _minutes(job: Job, agenda: Agenda, part: Part) -> Line:
    """Return the minutes of a lesson in few enough lines for its page."""
    for every in SLOTS:
        rows = minute_lines(job, agenda, part, codes=False, every=every)
        if sum(map(_lines, rows)) <= MOST_LINES:
            break
    return {"rows": rows, "begins": words.within(every)}


def _lines(row: Sequence[str]) -> int:
    """Return how many lines a row of the minutes takes on the page, in its narrow columns."""
    widths = _LETTERS if len(row) > len(_LETTERS) else (sum(_LETTERS),)
    return max(-(-len(cell) // wide) for cell, wide in zip(row[1:], widths, strict=True))


def _said(step: Step) -> str:
    return " ".join((step.name, step.label, step.text))


def _before(agenda: Agenda, part: Part) -> str:
    """Return that something must be done before the lesson; empty where there is nothing."""
    earlier = next((p for p in agenda.parts if p.between and p.lesson == part.lesson), None)
    if earlier is None:
        return ""
    return words.done_before([step_label(step) for step in earlier.steps])


def _equipment(job: Job, part: Part) -> list[str]:
    """Return what the steps of a lesson need, each once; with how many there are of scarce ones."""
    levels = {row.item: row.factors.values() for row in job.plan.rows}
    named: dict[str, None] = {}
    for turn in part.turns:
        named.update(dict.fromkeys(turn.step.equipment))
        for item in turn.work.items:
            for level in levels[item]:
                named.update(dict.fromkeys(turn.step.equipment_for.get(level, ())))
    scarce = {one.name: one for one in job.study.equipment}
    return [
        heading(f"{scarce[name].label or name}: {scarce[name].count}" if name in scarce else name)
        for name in named
    ]


def _materials(job: Job, part: Part) -> list[str]:
    maker = maker_group(job.plan)
    teams = len(maker.members) if maker else 1
    return [
        f"{heading(one.name)}: {with_unit(f'{amount:.4g}', one.unit)}"
        for one, amount in used_up(part.turns, teams).items()
    ]


def _cautions(steps: Sequence[Step]) -> list[Line]:
    return [
        {"label": step_label(step), "cautions": caution_lines(step.cautions)}
        for step in steps
        if step.cautions
    ]
