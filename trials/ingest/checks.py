"""What all readings together bring up: asked of a person, never decided here.

The checks know the field of work only through what the reducers declare of their columns.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from trials.design.values import Plan
from trials.ingest.asking import about_cell, about_item, place_text
from trials.ingest.places import misplaced
from trials.ingest.slips import slips
from trials.ingest.workbook_layout import raw_columns
from trials.quantities import nice, shown
from trials.record.reduce import item_readings
from trials.record.values import Question, Row
from trials.reduction import Column, Flag, Range, reducer_of
from trials.study.values import Response, Study

_FEWEST_COPIED = 4  # numbers that must agree before two items look copied
_FEWEST_FIGURES = 10  # significant figures in them


def questions_about(rows: Sequence[Row], study: Study, plan: Plan) -> tuple[Question, ...]:
    """Return every question that a set of readings raises.

    Parameters
    ----------
    rows : all current readings. Those of items that are not in the plan have their own questions
        from reading the file, and are left out here.
    """
    codes = {row.item for row in plan.rows}
    known = [row for row in rows if row.item in codes]
    broken = {row.item for row in known if row.worked is False}
    working = [row for row in known if row.item not in broken]
    columns = raw_columns(study)
    questions = [*doubled(known, plan), *copied(working), *misplaced(known, plan)]
    questions += slips(columns, working, _failed_below(study))
    questions += _ranges(columns, working, _asked_of(questions))
    questions += _missing(columns, working, study)
    questions += _contradictions(working, study, _asked_of(questions))
    return tuple(questions)


def _asked_of(questions: Iterable[Question]) -> set[tuple[object, str]]:
    """Return the numbers that some question is about, as (place, column)."""
    return {(place, q.column) for q in questions if q.column for place in q.places}


def _failed_below(study: Study) -> dict[str, Decimal]:
    """Return the failed rule of responses that are one column as it is read."""
    found = {}
    for response in study.responses:
        columns = reducer_of(response).columns(response)
        if response.failed is not None and len(columns) == 1:
            found[columns[0].name] = Decimal(repr(response.failed.below))
    return found


# ---- the same thing twice --------------------------------------------------------------------


def doubled(rows: Sequence[Row], plan: Plan) -> list[Question]:
    """Return the questions about readings that stand there twice.

    Two rows with the same item and reading number are one reading entered twice if all their
    numbers agree, else two readings that were given one number, or one of them has a wrong code.
    """
    first: dict[tuple[str, int | None], Row] = {}
    again: dict[tuple[str, str, str, str], list[tuple[Row, Row]]] = {}
    for row in rows:
        before = first.setdefault((row.item, row.reading), row)
        shared = [c for c in row.cells if before.cell(c.column) is not None]
        if before is row or not shared:
            continue
        same = all(c.value == _value(before, c.column) for c in shared)
        code = "entered_twice" if same else "read_twice"
        key = (code, row.item, row.place.file, row.place.sheet)
        again.setdefault(key, []).append((row, before))
    unread = sorted({row.item for row in plan.rows} - {row.item for row in rows})
    return [_doubled(code, pairs, unread) for (code, *_), pairs in again.items()]


def _doubled(code: str, pairs: Sequence[tuple[Row, Row]], unread: Sequence[str]) -> Question:
    rows = [row for row, _ in pairs]
    numbers = ", ".join(str(row.reading) for row in rows)
    found = f"reading {numbers} a second time" if len(rows) == 1 else f"readings {numbers} again"
    at = place_text(pairs[0][1].place)
    if code == "entered_twice":
        return about_item(rows, code, found=found, must=True,
                          why=f"The same numbers stand in {at}; they count once until you "
                          "say otherwise.")  # fmt: skip
    near = unread[0] if len(unread) == 1 else ""
    return about_item(
        rows,
        code,
        found=found,
        proposal=near,
        why=f"Other numbers for the same reading stand in {at}. Both are used so far."
        + (f" {near} has no readings yet." if near else ""),
    )


def copied(rows: Sequence[Row]) -> list[Question]:
    """Return the questions about items all of whose numbers are those of another item."""
    by_item: dict[str, list[Row]] = {}
    for row in rows:
        by_item.setdefault(row.item, []).append(row)
    seen: dict[tuple[object, ...], str] = {}
    questions = []
    for item, mine in by_item.items():
        numbers = [
            (row.reading, cell.column, cell.value)
            for row in mine
            for cell in row.cells
            if cell.value is not None
        ]
        figures = sum(len(value.normalize().as_tuple().digits) for _, _, value in numbers)
        if len(numbers) < _FEWEST_COPIED or figures < _FEWEST_FIGURES:
            continue
        other = seen.setdefault(tuple(sorted(numbers, key=str)), item)
        if other != item:
            questions.append(
                about_item(
                    mine,
                    "copied",
                    found=f"the same {len(numbers)} numbers as {other}",
                    why="Two items hardly ever agree in every figure: were these rows copied?",
                )
            )
    return questions


def _value(row: Row, column: str) -> Decimal | None:
    cell = row.cell(column)
    return None if cell is None else cell.value


# ---- single numbers --------------------------------------------------------------------------


def _ranges(
    columns: Sequence[Column], rows: Sequence[Row], asked: set[tuple[object, str]]
) -> Iterable[Question]:
    for column in columns:
        for row in rows:
            cell = row.cell(column.name)
            if cell is None or cell.value is None or (row.place, column.name) in asked:
                continue
            if _outside(cell.value, column.possible):
                negative = cell.value < 0
                yield about_cell(
                    [row],
                    column,
                    "negative" if negative else "impossible",
                    found=cell.text,
                    why=f"This can only be {_between(column.possible, column.unit)}."
                    + (" Is the sign right?" if negative else ""),
                    proposal=shown(-cell.value) if negative else "",
                    must=True,
                )
            elif _outside(cell.value, column.believable):
                yield about_cell([row], column, "unusual", found=cell.text,
                                 why=f"Usual is {_between(column.believable, column.unit)}."
                                 )  # fmt: skip


def _missing(columns: Sequence[Column], rows: Sequence[Row], study: Study) -> Iterable[Question]:
    """Ask for numbers without which a reading can't be used: one by one, or a whole column."""
    wanted = _wanted_readings(study)
    has = {(row.item, row.reading, c.column) for row in rows for c in row.cells}
    once = {(row.item, c.column) for row in rows for c in row.cells}
    sheets: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        if row.cells:
            sheets.setdefault((row.place.file, row.place.sheet), []).append(row)
    for column in columns:
        if not column.required:
            continue
        for mine in sheets.values():
            lacking = [
                row
                for row in mine
                if (row.reading or 1) <= wanted.get(column.name, 1)
                and (row.item, row.reading, column.name) not in has
                and not (column.per == "item" and (row.item, column.name) in once)
            ]
            if column.per == "item":
                lacking = list({row.item: row for row in reversed(lacking)}.values())[::-1]
            if any(row.cell(column.name) is not None for row in mine):
                for row in lacking:
                    yield about_cell([row], column, "missing", found="nothing",
                                     why=f"Without '{column.name}' this reading can't be used for "
                                     "every response.")  # fmt: skip
            elif lacking:
                yield about_cell(
                    lacking,
                    column,
                    "missing_column",
                    found=f"no '{column.header}' anywhere",
                    why="Without it these readings can't be used for every response.",
                )


def _wanted_readings(study: Study) -> dict[str, int]:
    """Return for each required column how many readings of an item should have it."""
    wanted: dict[str, int] = {}
    for response in study.responses:
        for column in reducer_of(response).columns(response):
            if column.required:
                wanted[column.name] = max(wanted.get(column.name, 0), response.readings)
    return wanted


# ---- numbers that don't go together ----------------------------------------------------------


def _contradictions(
    rows: Sequence[Row], study: Study, asked: set[tuple[object, str]]
) -> Iterable[Question]:
    by_item: dict[str, list[Row]] = {}
    for row in rows:
        cells = tuple(c for c in row.cells if (row.place, c.column) not in asked)
        by_item.setdefault(row.item, []).append(
            Row(**{**row.__dict__, "cells": cells}) if len(cells) < len(row.cells) else row
        )
    told: set[tuple[str, object, str]] = set()
    for response in study.responses:
        columns = {c.name: c for c in reducer_of(response).columns(response)}
        for item, mine in by_item.items():
            pairs = item_readings(mine, tuple(columns.values()))
            readings = [reading for _, reading in pairs]
            flags = reducer_of(response).check(response, readings)
            for flag in flags:
                if (flag.code, item, flag.found) not in told:
                    told.add((flag.code, item, flag.found))
                    yield _flagged(flag, [row for row, _ in pairs], columns)
            if len(columns) > 1 and not flags:
                yield from _result(response, item, mine, readings)


def _flagged(flag: Flag, rows: Sequence[Row], columns: dict[str, Column]) -> Question:
    column = columns.get(flag.column or "")
    about = [rows[flag.reading]] if flag.reading is not None else list(rows[1:])
    if column is None:
        return about_item(about, flag.code, found=flag.found, why=flag.why)
    return about_cell(about, column, flag.code, found=flag.found, why=flag.why)


def _result(
    response: Response, item: str, rows: Sequence[Row], readings: Sequence[dict[str, Decimal]]
) -> Iterable[Question]:
    """Ask about a result outside what the study calls believable."""
    value = reducer_of(response).reduce(response, readings).value
    if value is None:
        return
    low, high = (None if e is None else Decimal(repr(e)) for e in (response.low, response.high))
    if _outside(Decimal(repr(value)), (low, high)):
        unit = f" {nice(response.unit)}" if response.unit else ""
        yield about_item(
            rows,
            "unusual_result",
            found=f"{response.label or response.name} {value:.4g}{unit}",
            why=f"The readings of {item} give a value outside what the study calls usual: "
            f"{_between((low, high), response.unit)}.",
        )


def _outside(value: Decimal, ends: Range) -> bool:
    low, high = ends
    return (low is not None and value < low) or (high is not None and value > high)


def _between(ends: Range, unit: str) -> str:
    low, high = ends
    after = f" {nice(unit)}" if unit and nice(unit) else ""
    if low is not None and high is not None:
        return f"{shown(low)} to {shown(high)}{after}"
    return f"{shown(low)}{after} or more" if low is not None else f"up to {high:f}{after}"
