"""What to get out: how much is used up, for a team and for the class, and the equipment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from trials.classroom.agenda import Agenda, Part, worn_in
from trials.classroom.arrange import group_label, maker_group, step_label
from trials.classroom.materials import (
    Need,
    failing,
    get_out,
    makers,
    needs,
    spare_items,
    totals,
)
from trials.classroom.stock import stocks
from trials.files import csv_text
from trials.quantities import nice, shown
from trials.render.typeset import pdf, template
from trials.sheets.class_times import part_name
from trials.sheets.parts import Job, Line
from trials.sheets.stock import amount_to_get_out, stock_sentence
from trials.sheets.tools import is_own, laid_out, left_in
from trials.sheets.worn import protection_lines
from trials.words import materials as words
from trials.words import protection
from trials.words.class_times import lesson_name
from trials.words.language import marked, say
from trials.words.numbers import capital, count, listing

EQUIPMENT_COLUMNS: Final = (marked("Step"), marked("Equipment"), marked("The step is done with"))
_AMOUNT_COLUMNS: Final = (
    marked("Thing"), marked("For what"), marked("How much"), marked("Each team"),
    marked("The class"), marked("With spares"),
)  # fmt: skip
_CSV_COLUMNS: Final = (
    marked("kind"), marked("thing"), marked("step"), marked("for"),
    marked("unit"), marked("each"), marked("each team, fewest"), marked("each team, most"),
    marked("the class"), marked("with spares"), marked("the step is done with"),
)  # fmt: skip


def materials(job: Job) -> bytes:
    """Return materials.pdf: what is used up and how much, and the equipment that each step names.

    A study that names no materials has the equipment only.
    """
    found = needs(job.study, job.plan, job.left)
    there = () if job.changed else stocks(job.study, job.plan)  # later on nobody knows what is left
    data: dict[str, Any] = {
        "foot": job.foot(),
        "for": _for_what(job),
        "worn": _worn(job),
        "stock": [stock_sentence(one, job.study.item_name) for one in there],
        "amounts": {
            "columns": [say(name) for name in _AMOUNT_COLUMNS],
            "rows": [_amount_row(job, need) for need in found],
            "totals": _total_lines(found),
            "notes": _notes(job, found),
        }
        if found
        else None,
        "columns": [say(name) for name in EQUIPMENT_COLUMNS],
        "words": _words(),
        "rows": [[tool.step, tool.laid_out, tool.done_with] for tool in _tools(job)],
        "no rows": "" if job.study.steps else say(words.NO_STEPS),
        "same": list(job.study.same) if job.left.rows else [],
    }
    return pdf(
        template("materials.typ", "trials.sheets"),
        data,
        title=say("What to get out: {title}", title=job.study.title),
        paper=job.paper,
        mark=job.mark,
    )


def _words() -> dict[str, str]:
    """Return the fixed words of the page."""
    return {
        "title": say("What to get out"),
        "used up": say("What is used up"),
        "wear": say("What is worn"),
        "when": say("When"),
        "ready": say("Ready"),
        "equipment": say("Equipment"),
        "same": say("The same for all"),
        "keep": say("Keep these the same for everyone:"),
    }


def materials_csv(job: Job) -> bytes:
    """Return materials.csv: the same list for a spreadsheet, amounts in the study's own units."""
    found = needs(job.study, job.plan, job.left)
    tools = _tools(job)
    if not any(step.materials for step in job.study.steps):
        rows = [[tool.step, tool.laid_out, tool.done_with] for tool in tools]
        return csv_text([say(name) for name in EQUIPMENT_COLUMNS], rows).encode("utf-8-sig")
    rows = [_csv_row(job, need) for need in found]
    for tool in tools:
        each, in_all = ("" if n is None else str(n) for n in (tool.each_team, tool.in_all))
        numbers = ["", "", "", each, each, in_all, ""]
        rows.append([say("equipment"), tool.thing, tool.step, *numbers, tool.done_with])
    return csv_text([say(name) for name in _CSV_COLUMNS], rows).encode("utf-8-sig")


def _for_what(job: Job) -> list[str]:
    """Return for how much the list is, and what it does without."""
    item, rows = job.study.item_name, job.left.rows
    named = any(step.materials for step in job.study.steps)
    teams = _teams(job) if named else ""
    told = [words.for_all(count(len(rows), item), teams)]
    if job.changed:
        measured = [row for row in job.plan.rows if row.item in job.measured]
        out = (*map(len, job.gone_among(job.plan.rows)), len(measured))
        told = [words.for_what_is_left(item, len(rows), teams, out, over=job.left.begun)]
        told += [say(words.OVER)] if job.left.begun else []
        told += [say(words.AFRESH)] if job.left.begun and job.left.anew else []
    return told if named or not rows else [*told, say(words.NO_AMOUNTS)]


def _worn(job: Job) -> list[list[str]]:
    """Return what is worn and for how many, part by part as the lessons' pages have it.

    Without a timetable: for all steps in one, one for each who works.
    """
    agenda = job.agenda
    if agenda is None:
        steps = [step for step in job.study.steps if job.left.of(step)]
        return [["", protection.to_wear(code, None)] for code in worn_in(steps)]
    return [
        [_when(agenda, part), line]
        for part in agenda.ahead
        for line in protection_lines(job, agenda, part)
    ]


def _when(agenda: Agenda, part: Part) -> str:
    """Return the name of a lesson, or of the time before one, without a date."""
    return part_name(agenda, part) if part.between else lesson_name(part.lesson, None)


def _teams(job: Job) -> str:
    """Return how many teams have something to do."""
    maker = maker_group(job.plan)
    if maker is None:
        return ""
    teams = {team for step in job.study.steps for team in makers(job.left, step).values()}
    return count(len(teams), group_label(job.study, maker.name))


def _per(job: Job, need: Need) -> str:
    maker = maker_group(job.plan)
    group = next((g for g in job.plan.groups if g.step == need.step.name), None)
    return words.per_text(
        need.material.per,
        need.material.level,
        job.study.item_name,
        group_label(job.study, group.name) if group else job.study.item_name,
        group_label(job.study, maker.name) if maker else say("team"),
    )


def _amount_row(job: Job, need: Need) -> list[str]:
    unit = need.material.unit
    each = words.amount_text(shown(need.each), nice(unit))
    team = say(words.SHARED)
    if need.team is not None:
        low, high = (amount_to_get_out(need.each * times, unit) for times in need.team)
        team = words.range_text(low, high)
    spares = say(words.NO_END)
    if need.spare is not None:
        spares = amount_to_get_out(need.each * need.all_in, unit)
    return [
        capital(need.material.name),
        step_label(need.step),
        say("{amount} for {each}", amount=each, each=_per(job, need)),
        team,
        amount_to_get_out(need.each * need.times, unit),
        spares,
    ]


def _csv_row(job: Job, need: Need) -> list[str]:
    unit = need.material.unit

    def number(times: int) -> str:
        return shown(get_out(need.each * times, unit))

    low, high = need.team or (None, None)
    return [
        say("used up"),
        need.material.name,
        step_label(need.step),
        _per(job, need),
        nice(unit),
        shown(need.each),
        "" if low is None else number(low),
        "" if high is None else number(high),
        number(need.times),
        "" if need.spare is None else number(need.all_in),
        "",
    ]


def _total_lines(found: tuple[Need, ...]) -> list[Line]:
    return [
        {
            "amount": say(
                "{thing}, in all {amount}",
                thing=capital(total.name),
                amount=amount_to_get_out(total.amount, total.unit),
            ),
            "steps": say(
                ", with spares: for {steps}.",
                steps=listing([say("'{step}'", step=step_label(step)) for step in total.steps]),
            ),
        }
        for total in totals(found)
    ]


def _notes(job: Job, found: tuple[Need, ...]) -> list[str]:
    """Return what to know of the amounts: why there are spares, where to keep them."""
    left, item = job.left, job.study.item_name
    anew = left.anew
    spare = spare_items(job.study, job.plan, left)
    if not anew:
        return [words.none_anew(item, _fixing(job)), say(words.ROUNDED)]
    share = failing(job.study)
    why = words.why_spares(
        item,
        len(anew),
        spare,
        share=share.share,
        made=share.made,
        failed=share.failed,
        folder=share.folder,
        over=left.begun,
    )
    fixed = len(left.rows) - len(anew)
    notes = [*([words.some_anew(item, fixed, len(anew), _fixing(job))] if fixed else []), why]
    if spare:
        told = (words.SPARES_KEPT, words.WRITE_DOWN) if _teams(job) else (words.WRITE_DOWN,)
        notes += [say(note) for note in told]
    if any(need.material.per in ("team", "lesson") for need in found):
        notes.append(say(words.NO_SPARES))
    return [*notes, say(words.ROUNDED)]


def _fixing(job: Job) -> str:
    """Return the step after which what is left can't be started afresh."""
    steps = set(job.left.fixed.values())
    return next(step_label(step) for step in job.study.steps if step.name in steps)


@dataclass(frozen=True)
class _Tool:
    """One tool at one step; how many only where the study says how many there are."""

    step: str
    thing: str
    laid_out: str  # the thing, and how many
    each_team: int | None
    in_all: int | None
    done_with: str


def _tools(job: Job) -> list[_Tool]:
    """Return the equipment that each step names that isn't over."""
    scarce = {one.name: one for one in job.study.equipment}
    rows = []
    for step in job.study.steps:
        items = {row.item for row in job.left.of(step)}
        if not items:
            continue
        mine = [
            bundle
            for bundle in job.bundles
            if bundle.group.step == step.name and items & {row.item for row in bundle.rows}
        ]
        each = count(len(items), job.study.item_name)
        if mine:
            label = group_label(job.study, mine[0].group.name)
            each = say("{items} in {groups}", items=each, groups=count(len(mine), label))
        crews = {step.by} if step.by else set(makers(job.left, step).values())
        ahead = job.agenda.ahead if job.agenda else ()
        part = next((part for part in ahead if step in part.steps), None)
        for thing in step.equipment or (say("(the study names none)"),):
            one = scarce.get(thing)
            if one is None:
                rows.append(_Tool(step_label(step), thing, thing, None, None, each))
                continue
            each_own = is_own(job, part, one)
            rows.append(
                _Tool(
                    step_label(step),
                    thing,
                    laid_out(job, part, one, crews, label=one.label),
                    one.count if each_own and not step.by else None,
                    one.count * len(crews) if each_own else left_in(job, part)[thing],
                    each,
                )
            )
    return rows
