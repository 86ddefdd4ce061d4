"""What to get out: how much is used up, for a team and for the class, and the equipment."""

from __future__ import annotations

from typing import Any, Final

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
from trials.sheets.parts import Job, Line
from trials.sheets.stock import amount_to_get_out, stock_sentence
from trials.words import materials as words
from trials.words.numbers import capital, count, listing

EQUIPMENT_COLUMNS: Final = ("Step", "Equipment", "The step is done with")
_AMOUNT_COLUMNS: Final = ("Thing", "For what", "How much", "Each team", "The class", "With spares")
_CSV_COLUMNS: Final = (
    "kind", "thing", "step", "for", "unit", "each", "each team, fewest", "each team, most",
    "the class", "with spares", "the step is done with",
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
        "stock": [stock_sentence(one, job.study.item_name) for one in there],
        "amounts": {
            "columns": list(_AMOUNT_COLUMNS),
            "rows": [_amount_row(job, need) for need in found],
            "totals": _total_lines(found),
            "notes": _notes(job, found),
        }
        if found
        else None,
        "columns": list(EQUIPMENT_COLUMNS),
        "rows": _equipment_rows(job),
        "no rows": "" if job.study.steps else words.NO_STEPS,
        "same": list(job.study.same) if job.left.rows else [],
    }
    return pdf(
        template("materials.typ", "trials.sheets"),
        data,
        title=f"What to get out: {job.study.title}",
        paper=job.paper,
    )


def materials_csv(job: Job) -> bytes:
    """Return materials.csv: the same list for a spreadsheet, amounts in the study's own units."""
    found = needs(job.study, job.plan, job.left)
    equipment = _equipment_rows(job)
    if not any(step.materials for step in job.study.steps):
        return csv_text(EQUIPMENT_COLUMNS, equipment).encode("utf-8-sig")
    rows = [_csv_row(job, need) for need in found]
    rows += [
        ["equipment", thing, step, *[""] * 7, done_with] for step, thing, done_with in equipment
    ]
    return csv_text(_CSV_COLUMNS, rows).encode("utf-8-sig")


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
        told += [words.OVER] if job.left.begun else []
    return told if named or not rows else [*told, words.NO_AMOUNTS]


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
        group_label(job.study, maker.name) if maker else "team",
    )


def _amount_row(job: Job, need: Need) -> list[str]:
    unit = need.material.unit
    each = words.amount_text(shown(need.each), nice(unit))
    team = words.SHARED
    if need.team is not None:
        low, high = (amount_to_get_out(need.each * times, unit) for times in need.team)
        team = words.range_text(low, high)
    spares = words.NO_END
    if need.spare is not None:
        spares = amount_to_get_out(need.each * need.all_in, unit)
    return [
        capital(need.material.name),
        step_label(need.step),
        f"{each} for {_per(job, need)}",
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
        "used up",
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
            "thing": capital(total.name),
            "amount": amount_to_get_out(total.amount, total.unit),
            "steps": listing([f"'{step_label(step)}'" for step in total.steps]),
        }
        for total in totals(found)
    ]


def _notes(job: Job, found: tuple[Need, ...]) -> list[str]:
    """Return what to know of the amounts: why there are spares, where to keep them."""
    share = failing(job.study)
    spare = spare_items(job.study, job.plan, job.left)
    notes = [
        words.why_spares(
            job.study.item_name,
            len(job.left.rows),
            spare,
            share=share.share,
            made=share.made,
            failed=share.failed,
            folder=share.folder,
            over=job.left.begun,
        )
    ]
    if spare:
        notes += [words.SPARES_KEPT, words.WRITE_DOWN] if _teams(job) else [words.WRITE_DOWN]
    if any(need.material.per in ("team", "lesson") for need in found):
        notes.append(words.NO_SPARES)
    return [*notes, words.ROUNDED]


def _equipment_rows(job: Job) -> list[list[str]]:
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
            each += f" in {count(len(mine), label)}"
        for thing in step.equipment or ("(the study names none)",):
            rows.append([step_label(step), thing, each])
    return rows
