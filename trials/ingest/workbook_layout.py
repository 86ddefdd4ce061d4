"""What stands where in the entry workbook: written by the sheets, read back here.

A workbook has one sheet ``ABOUT`` and measuring sheets. ``ABOUT`` has a name in column A and its
value in column B; the row ``PLAN`` holds the digest of the plan, the row ``FORMAT`` the version of
this layout. A measuring sheet starts with rows that say in the same way for which group members it
is ("session", "S1"), then comes the heading row, which begins with ``ITEM``, then one row a
reading. Items are found by their code, never by the place of their row. Measuring sheets carry
codes only, no level of any factor. To the right of the last heading stands what is said of a row
that is struck out; it isn't read. Names and headings are those of ``words/workbook``, in the
language of the study; read back they are known in any language.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trials.design.values import Plan, PlanRow
from trials.reduction import Column, columns_of
from trials.study.values import Study
from trials.words.quantity_names import quantity_name
from trials.words.workbook import ABOUT, ITEM, NOTE, READING, READINGS, TIME, WORKED, told

FORMAT_VERSION = 1

MOST_SHEETS = 60
_TITLE_LENGTH = 31  # a spreadsheet's own limit
_NOT_IN_TITLES = str.maketrans(dict.fromkeys("[]:*?/\\'", " "))


@dataclass(frozen=True)
class MeasuringSheet:
    """One measuring sheet: for whom, which items in which order, how many readings of each."""

    title: str
    groups: tuple[tuple[str, str], ...]  # group name, member label: the rows above the headings
    items: tuple[str, ...]  # in measuring order
    readings: int


def raw_columns(study: Study) -> tuple[Column, ...]:
    """Return the raw columns of all responses, each once."""
    return columns_of(study.responses)


def headings_of(study: Study) -> tuple[str, ...]:
    """Return the heading row of every measuring sheet, in the language that is written now."""
    raw = (replace(column, name=quantity_name(column.name)).header for column in raw_columns(study))
    return (told(ITEM), told(READING), *raw, told(TIME), told(WORKED), told(NOTE))


def readings_per_item(study: Study) -> int:
    """Return how many rows each item gets."""
    return max(response.readings for response in study.responses)


def sheet_groups(plan: Plan) -> tuple[str, ...]:
    """Return the groups that have measuring sheets of their own, in the order of the plan.

    These are the makers and the largest groups in which items are closed and measured (those
    without a step), but never one that a factor is applied to: its label would give the level away.
    """
    treated = {factor.applied_to for factor in plan.factors}
    return tuple(
        group.name
        for group in plan.groups
        if group.path not in treated
        and group.within is None
        and (group.role == "maker" or group.step is None)
    )


def measuring_sheets(study: Study, plan: Plan) -> tuple[MeasuringSheet, ...]:
    """Return the measuring sheets of a plan, one for each combination of its sheet groups.

    Every item stands on exactly one of them, in measuring order.
    """
    names: Sequence[str] = sheet_groups(plan)
    rows = sorted(plan.rows, key=lambda row: row.measure)
    sheets = _by(rows, names)
    if len(sheets) > MOST_SHEETS:
        names = ()
        sheets = _by(rows, names)
    titles: list[str] = []
    for key in sheets:
        titles.append(_title(" ".join((*key,)) or told(READINGS), titles))
    return tuple(
        MeasuringSheet(
            title, tuple(zip(names, key, strict=True)), sheets[key], readings_per_item(study)
        )
        for title, key in zip(titles, sheets, strict=True)
    )


def _by(rows: Sequence[PlanRow], names: Sequence[str]) -> dict[tuple[str, ...], tuple[str, ...]]:
    sheets: dict[tuple[str, ...], tuple[str, ...]] = {}
    for row in rows:
        key = tuple(row.groups.get(name, "") for name in names)
        sheets[key] = (*sheets.get(key, ()), row.item)
    return dict(sorted(sheets.items()))


def _title(wanted: str, taken: Sequence[str]) -> str:
    text = " ".join(wanted.translate(_NOT_IN_TITLES).split()) or told(READINGS)
    title, number = text[:_TITLE_LENGTH], 1
    used = {other.casefold() for other in (*taken, told(ABOUT))}
    while title.casefold() in used:
        number += 1
        ending = f" {number}"
        title = text[: _TITLE_LENGTH - len(ending)] + ending
    return title
