"""Two columns whose numbers are both odd, and both usual in each other's place.

Each by itself looks as if its unit had slipped. Whoever mends both gets numbers that look right and
mean nothing, so the questions about them say first that the numbers may be exchanged. Where only
one of the two is odd, the other one is asked about as well.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import combinations
from statistics import median

from trials.files import word_as_typed
from trials.ingest.asking import KEEP_OR_ASIDE, about_cell
from trials.quantities import convert, convertible, same, shown
from trials.record.values import Cell, Place, Question, Row, worded
from trials.reduction import Column
from trials.reduction.ranges import outside
from trials.words.keeping import Kept, kept
from trials.words.quantity_names import kept_quantity

_ODD = frozenset(["slip", "implausible", "impossible", "unusual"])
_NOT_EXPLAINED = _ODD - {"slip"}  # a slip has an explanation of its own


@dataclass(frozen=True)
class _Table:
    """The readings in which it is looked for."""

    columns: Mapping[str, Column]
    rows: Mapping[Place, Row]
    sheets: Mapping[tuple[str, str], Sequence[Row]]

    def all_of(self, question: Question, other: Column) -> bool:
        """Return whether a question is about all rows of a sheet that have both numbers."""
        mine = self.sheets[question.file, question.sheet]
        both = [
            row.place for row in mine if row.cell(question.column or "") and row.cell(other.name)
        ]
        return set(both) <= set(question.places)


def crossed_first(
    columns: Sequence[Column], rows: Sequence[Row], questions: Sequence[Question]
) -> list[Question]:
    """Return the questions; those that exchanging two columns would settle say so first.

    Parameters
    ----------
    rows : at least those that the questions are about.
    """
    odd = [question for question in questions if question.code in _ODD]
    if not odd:
        return list(questions)
    sheets: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        sheets.setdefault((row.place.file, row.place.sheet), []).append(row)
    table = _Table({c.name: c for c in columns}, {row.place: row for row in rows}, sheets)
    other: dict[int, Column] = {}
    for p, q in combinations(odd, 2):
        a, b = table.columns.get(p.column or ""), table.columns.get(q.column or "")
        if a is None or b is None or not _same_rows(p, q):
            continue
        if _fit(a, b, p, table.rows) and _fit(a, b, q, table.rows):
            other.setdefault(id(p), b)
            other.setdefault(id(q), a)
    found: list[Question] = []
    for question in questions:
        if id(question) in other:
            found.append(_told(question, other[id(question)], table))
        elif (beside := _beside(question, questions, table)) is not None:
            found += [_told(question, beside, table), _asked_too(question, beside, table)]
        else:
            found.append(question)
    return found


def _same_rows(p: Question, q: Question) -> bool:
    return p.column != q.column and set(p.places) == set(q.places)


def _fit(a: Column, b: Column, question: Question, rows: Mapping[Place, Row]) -> bool:
    """Return whether all numbers of two columns are usual in each other's place."""
    for place in question.places:
        row = rows.get(place)
        one, two = (None, None) if row is None else (row.cell(a.name), row.cell(b.name))
        if one is None or two is None or not (_usual(one, two, b) and _usual(two, one, a)):
            return False
    return True


def _usual(typed: Cell, under: Cell, column: Column) -> bool:
    """Return whether a number would be usual under the heading of another one's column."""
    if column.believable == (None, None):
        return False
    value = _moved(typed, under, column)
    return value is not None and not outside(value, column.believable)


def _moved(typed: Cell, under: Cell, column: Column) -> Decimal | None:
    """Return what a number would be under the heading of another one's column."""
    if typed.number is None or not (
        same(under.unit, column.unit) or convertible(under.unit, column.unit)
    ):
        return None
    return convert(typed.number, under.unit, column.unit)


def _beside(question: Question, questions: Sequence[Question], table: _Table) -> Column | None:
    """Return the one column that the number of one reading may be exchanged with, if there is one.

    Both must be usual then, and nearer to the other readings of the item, if it has others.
    """
    mine = table.columns.get(question.column or "")
    if question.code not in _NOT_EXPLAINED or len(question.places) != 1 or mine is None:
        return None
    (place,) = question.places
    row = table.rows.get(place)
    asked = {q.column for q in questions if place in q.places}
    if row is None:
        return None
    found = [
        column
        for column in table.columns.values()
        if column.name not in asked
        and _fit(mine, column, question, table.rows)
        and _nearer(mine, column, row, table.sheets[place.file, place.sheet])
        and _nearer(column, mine, row, table.sheets[place.file, place.sheet])
    ]
    return found[0] if len(found) == 1 else None


def _nearer(a: Column, b: Column, row: Row, rows: Iterable[Row]) -> bool:
    """Return whether a number is nearer to the item's other ones in another column than in its."""
    typed, under = row.cell(a.name), row.cell(b.name)
    if typed is None or under is None or under.value is None:
        return False
    value = _moved(typed, under, b)
    others = [
        cell.value
        for one in rows
        if one.item == row.item and one.place != row.place
        and (cell := one.cell(b.name)) is not None and cell.value is not None
    ]  # fmt: skip
    if value is None or not others:
        return value is not None
    middle = median(others)
    if min(middle, value, under.value) <= 0:
        return abs(value - middle) < abs(under.value - middle)
    return abs(math.log(value / middle)) < abs(math.log(under.value / middle))


def _told(question: Question, other: Column, table: _Table) -> Question:
    """Return the question with what to look for first, and with no unit or factor to hand."""
    columns = len(question.places) > 1 and table.all_of(question, other)
    why = kept(
        "Are the columns '{column}' and '{other}' exchanged? In each other's place both would be "
        "usual. If they are not: {why}"
        if columns
        else "Are the numbers of '{column}' and '{other}' exchanged? In each other's place both "
        "would be usual. If they are not: {why}",
        column=kept_quantity(question.column or ""),
        other=kept_quantity(other.name),
        why=question.why_kept or question.why,
    )
    if len(question.places) == 1:
        number = _exchanged(question, other, table)
        first = _for_both(number, other)
        rest = f"If they are not, correct and the right number; {KEEP_OR_ASIDE}"
        return _with(question, why, f"{first} {rest}", number)
    first = (
        "If the columns are exchanged, put their headings right in the file"
        if columns
        else "If they are exchanged, exchange the numbers of these rows in the file"
    )
    rest = (
        "and collect it again; don't mend the units. If they are not, correct and the unit that "
        f"was used, or the right number; {KEEP_OR_ASIDE}"
    )
    return _with(question, why, f"{first} {rest}", "")


def _for_both(number: str, other: Column) -> str:
    return (
        f"correct {word_as_typed(number)}, if they are exchanged, and then answer the question "
        f"about '{other.name}' in this row too."
    )


def _with(question: Question, why: Kept, do: str, proposal: str) -> Question:
    found = question.found_kept or question.found
    return replace(question, **worded(found, why), do=do, proposal=proposal)


def _exchanged(question: Question, other: Column, table: _Table) -> str:
    """Return what the number of one reading would be in exchange, in the unit of its column."""
    row, mine = table.rows[question.places[0]], table.columns[question.column or ""]
    typed, under = row.cell(other.name), row.cell(mine.name)
    value = None if typed is None or under is None else _moved(typed, under, mine)
    return "" if value is None else shown(value)


def _asked_too(question: Question, other: Column, table: _Table) -> Question:
    """Return the question about the number that is usual, but would be in exchange as well."""
    row = table.rows[question.places[0]]
    cell = row.cell(other.name)
    why = kept(
        "Are the numbers of '{column}' and '{other}' exchanged? In each other's place both would "
        "be usual.",
        column=kept_quantity(other.name),
        other=kept_quantity(question.column or ""),
    )
    asked = about_cell([row], other, "crossed", found="" if cell is None else cell.text, why=why)
    number = _exchanged(asked, table.columns[question.column or ""], table)
    first = _for_both(number, table.columns[question.column or ""])
    return _with(asked, why, f"{first} If they are not, {KEEP_OR_ASIDE}", number)
