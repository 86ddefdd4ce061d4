"""Cells that hold no number, a number that can be read in two ways, or another kind of unit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from trials.ingest.asking import about_cell, several_text
from trials.ingest.headings import Heading, Layout
from trials.ingest.numbers import Read
from trials.quantities import nice, same, shown
from trials.record.values import Question, Row
from trials.reduction import Column
from trials.words.keeping import Kept, kept

Faulty = tuple[Row, Heading, Read]
_MOST_CELLS = 10  # of one column without a number: more are one question


def fault_questions(faulty: Sequence[Faulty]) -> Iterator[Question]:
    """Ask about cells without a number: each, or a whole column where very many have none."""
    columns: dict[tuple[str, str], list[Faulty]] = {}
    for one in faulty:
        if one[2].fault != "mark":
            columns.setdefault((one[1].column.name, one[2].fault), []).append(one)
    for mine in columns.values():
        rows = [row for row, _, _ in mine]
        if len(mine) <= _MOST_CELLS:
            for row, heading, read in mine:
                yield _in_row(_cell_question([row], heading, read), read)
            continue
        _, heading, read = mine[0]
        texts = several_text(rows, [read.cell.text for _, _, read in mine])
        question = _cell_question(rows, heading, replace(read, other=""), texts)
        yield replace(
            question,
            do="mend them in the file and collect it again; set-aside goes on without them.",
            answers=("set-aside",),
        )


def _cell_question(
    rows: Sequence[Row], heading: Heading, read: Read, found: str | Kept = ""
) -> Question:
    column = heading.column
    code, why = {
        "text": ("not_a_number", kept("A number is needed here.")),
        "date": ("date", kept("The spreadsheet program has turned what was typed into a date.")),
        "formula": ("formula", kept("This is a formula, and the file doesn't hold its result.")),
        "unit": (
            "other_unit",
            kept("This unit can't be turned into {unit}.", unit=_kind(column)),
        ),
    }[read.fault]
    return about_cell(
        rows,
        column,
        code,
        found=found or read.cell.text,
        why=why,
        proposal=read.other,
        must=True,
        usable=False,
    )


def _kind(column: Column) -> str | Kept:
    return nice(column.unit) or kept("a plain number")


def _in_row(question: Question, read: Read) -> Question:
    """Return a question that names the row of the number, where that of its reading is another."""
    return question if read.row is None else replace(question, row=read.row)


def mark_questions(faulty: Sequence[Faulty], *, factor: bool = False) -> Iterator[Question]:
    """Ask once a column about numbers that can be read in two ways.

    Parameters
    ----------
    factor : the other way is proposed as a factor, for the unit of the numbers isn't settled yet.
    """
    columns: dict[str, list[Faulty]] = {}
    for unclear in faulty:
        if unclear[2].fault == "mark":
            columns.setdefault(unclear[1].column.name, []).append(unclear)
    for mine in columns.values():
        _, heading, read = mine[0]
        number = read.cell.number
        ratio = Decimal(read.other) / number if number else Decimal(1)
        plain = len(mine) == 1 and not factor and same(read.cell.unit, heading.column.unit)
        yield about_cell(
            [row for row, _, _ in mine],
            heading.column,
            "decimal_mark",
            found=several_text([r for r, _, _ in mine], [x.cell.text for _, _, x in mine]),
            why=kept(
                "{text} can be read as {number} or as {other}; it is read as {number}.",
                text=read.cell.text,
                number=number,
                other=read.other,
            ),
            proposal=read.other if plain else f"x{shown(ratio.normalize())}",
        )


def unit_questions(rows: Sequence[Row], layout: Layout) -> Iterator[Question]:
    """Ask about columns whose heading gives a unit of another kind."""
    for heading in layout.raw:
        if heading.fits:
            continue
        wrong = [
            row
            for row in rows
            if (cell := row.cell(heading.column.name)) is not None
            and cell.value is None
            and cell.number is not None
        ]
        if wrong:
            yield about_cell(
                wrong,
                heading.column,
                "other_unit",
                found=heading.text,
                why=kept(
                    "The heading gives a unit that can't be turned into {unit}.",
                    unit=_kind(heading.column),
                ),
                proposal=heading.column.unit,
                must=True,
                usable=False,
            )
