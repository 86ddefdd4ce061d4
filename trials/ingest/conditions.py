"""Conditions around the items, such as light: missing here and there, jumping, or never read anew.

Which columns tell of them the reducers say. Ages and other times go on by themselves and are left
alone, and so are temperatures where a share of them is meant, for their zero is a convention.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from statistics import median

from trials.ingest.asking import about_cell, bundles, nothing_text, several_text
from trials.quantities import convertible, known, nice, shown
from trials.record.values import Question, Row
from trials.reduction import Column
from trials.words.keeping import kept
from trials.words.quantity_names import kept_quantity

_SHARE = Decimal("0.2")  # by which a condition may drop between readings of one item
_MOSTLY = 0.5  # of the rows of a sheet have it: then the others should
_CONSTANT_ROWS = 10
_CONSTANT_ITEMS = 5
_CONSTANT_FIGURES = 3  # digits written: "800" is a reading, "1" a setting


def condition_questions(columns: Sequence[Column], rows: Sequence[Row]) -> list[Question]:
    """Return the questions about conditions around the items."""
    questions: list[Question] = []
    for column in columns:
        if not column.surroundings or column.per == "item" or _is(column.unit, "s"):
            continue
        sheets: dict[tuple[str, str], list[Row]] = {}
        for row in rows:
            if row.cells:
                sheets.setdefault((row.place.file, row.place.sheet), []).append(row)
        if not column.required:
            questions += _missing(column, rows, list(sheets.values()))
        for mine in sheets.values():
            questions += _constant(column, [row for row in mine if row.cell(column.name)])
        if not _is(column.unit, "K"):
            questions += _jumps(column, rows)
    return questions


def _is(unit: str, other: str) -> bool:
    return bool(unit) and known(unit) and convertible(unit, other)


def _value(row: Row, column: Column) -> Decimal | None:
    cell = row.cell(column.name)
    return None if cell is None else cell.value


def _missing(
    column: Column, rows: Sequence[Row], sheets: Sequence[Sequence[Row]]
) -> Iterable[Question]:
    has = {(row.item, row.reading) for row in rows if _value(row, column) is not None}
    for mine in sheets:
        lacking = [row for row in mine if (row.item, row.reading) not in has]
        if len(mine) - len(lacking) < _MOSTLY * len(mine):
            continue
        for bundle in bundles(lacking):
            yield about_cell(
                bundle,
                column,
                "missing_condition",
                found=nothing_text(bundle),
                why=kept(
                    "The other rows have the {column}. Without it nobody can see whether it was "
                    "the same for all.",
                    column=kept_quantity(column.name),
                ),
                usable=False,
            )


def _jumps(column: Column, rows: Sequence[Row]) -> Iterable[Question]:
    """Ask about the reading of an item that is farthest off where two of them differ much."""
    items: dict[str, list[Row]] = {}
    for row in rows:
        if (_value(row, column) or 0) > 0:
            items.setdefault(row.item, []).append(row)
    found: list[Row] = []
    ends: dict[str, tuple[Decimal, Decimal]] = {}
    for item, mine in items.items():
        values = [value for row in mine if (value := _value(row, column)) is not None]
        low, high = min(values), max(values)
        if high - low > _SHARE * high:
            ends[item] = (low, high)
            middle = median(values)
            found.append(max(mine, key=lambda row: abs((_value(row, column) or middle) - middle)))
    unit = f" {nice(column.unit)}" if column.unit else ""
    for bundle in bundles(found):
        texts = [
            kept(
                "{low} and {high} for {item}",
                low=shown(low),
                high=f"{shown(high)}{unit}",
                item=row.item,
            )
            for row in bundle
            for low, high in [ends[row.item]]
        ]
        yield about_cell(
            bundle,
            column,
            "condition_jump",
            found=several_text(bundle, texts),
            why=kept(
                "The {column} changed by more than {share} % between readings of one item.",
                column=kept_quantity(column.name),
                share=f"{_SHARE * 100:.0f}",
            ),
        )


def _constant(column: Column, rows: Sequence[Row]) -> Iterable[Question]:
    values = {_value(row, column) for row in rows}
    items = list(dict.fromkeys(row.item for row in rows))
    if len(values) != 1 or len(rows) < _CONSTANT_ROWS or len(items) < _CONSTANT_ITEMS:
        return
    value = next(iter(values))
    if value is None or len(shown(value).replace(".", "").lstrip("0")) < _CONSTANT_FIGURES:
        return
    unit = f" {nice(column.unit)}" if column.unit else ""
    yield about_cell(
        rows,
        column,
        "condition_constant",
        found=kept("{value} in all {n} rows", value=f"{shown(value)}{unit}", n=len(rows)),
        why=kept(
            "The {column} hardly ever stays the same to the last figure. Was it read each time, or "
            "once and filled in?",
            column=kept_quantity(column.name),
        ),
    )
