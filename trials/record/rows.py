"""Readings into the record's file and out of it, many at once."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from trials.digest import canonical_json
from trials.record.forms import decimal
from trials.record.values import Cell, Row, new_place, new_row


def by_item(rows: Iterable[Row]) -> dict[str, list[Row]]:
    """Return readings by the codes of their items, each in its order."""
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row.item, []).append(row)
    return found


def add_rows(connection: sqlite3.Connection, file: int, rows: Sequence[Row]) -> None:
    """Add the readings of one revision of a file, in their order."""
    (last,) = connection.execute(
        "SELECT COALESCE((SELECT seq FROM sqlite_sequence WHERE name = 'readings'), 0)"
    ).fetchone()
    groups = {row.groups: "" for row in rows}
    groups = {said: canonical_json(dict(said)) for said in groups}
    connection.executemany(
        "INSERT INTO readings"
        " (id, file, sheet, row, part, item, reading, member_of, time, worked, note)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            (
                number,
                file,
                row.place.sheet,
                row.place.row,
                row.place.part,
                row.item,
                row.reading,
                groups[row.groups],
                row.time,
                None if row.worked is None else int(row.worked),
                row.note,
            )
            for number, row in enumerate(rows, start=last + 1)
        ),
    )
    connection.executemany("INSERT INTO cells VALUES (?, ?, ?, ?, ?, ?, ?)", _cells(rows, last + 1))


def _cells(
    rows: Sequence[Row], first: int
) -> Iterator[tuple[int, int, str, str, str, str | None, str | None]]:
    for reading, row in enumerate(rows, start=first):
        for position, cell in enumerate(row.cells):
            number = _text(cell.number)
            yield (
                reading,
                position,
                cell.column,
                cell.text,
                cell.unit,
                number,
                number if cell.value is cell.number else _text(cell.value),
            )


def _text(number: Decimal | None) -> str | None:
    return None if number is None else str(number)


def rows_of(connection: sqlite3.Connection, file: int) -> list[tuple[int, Row]]:
    """Return the readings of one revision of a file as they were read, each with its number."""
    cells: dict[int, list[Cell]] = {}
    numbers: dict[str | None, Decimal | None] = {}  # the same text is the same number
    words: dict[str, str] = {}  # names and units come again in every row: kept once
    for reading, column, text, unit, number, value in connection.execute(
        "SELECT c.reading, column_name, text, unit, number, value FROM readings AS r "
        "JOIN cells AS c ON c.reading = r.id WHERE r.file = ? ORDER BY r.id, position",
        (file,),
    ):
        for said in (number, value):
            if said not in numbers:
                numbers[said] = decimal(said)
        cells.setdefault(reading, []).append(
            Cell(
                words.setdefault(column, column),
                text,
                words.setdefault(unit, unit),
                numbers[number],
                numbers[value],
            )
        )
    groups: dict[str, tuple[tuple[str, str], ...]] = {}
    found = []
    for key, name, sheet, row, part, item, reading, said, time, worked, note in connection.execute(
        "SELECT r.id, f.name, sheet, row, part, item, reading, member_of, time, worked, note "
        "FROM readings AS r JOIN files AS f ON f.id = r.file WHERE f.id = ? ORDER BY r.id",
        (file,),
    ):
        if said not in groups:
            groups[said] = tuple(json.loads(said).items())
        found.append(
            (
                key,
                new_row(
                    new_place(
                        words.setdefault(name, name),
                        words.setdefault(sheet, sheet),
                        row,
                        part,
                    ),
                    words.setdefault(item, item),
                    reading,
                    tuple(cells.pop(key, ())),
                    groups[said],
                    time,
                    None if worked is None else bool(worked),
                    note,
                ),
            )
        )
    return found


def say_the_same(rows: Sequence[Row], others: Sequence[Row]) -> bool:
    """Return whether two files say the same; the order in which a row names its groups is nothing.

    The record gives the groups of a row back in the order of their names.
    """
    return len(rows) == len(others) and all(
        one == other or _in_order(one) == _in_order(other)
        for one, other in zip(rows, others, strict=True)
    )


def _in_order(row: Row) -> Row:
    return replace(row, groups=tuple(sorted(row.groups)))
