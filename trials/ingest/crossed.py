"""Two columns whose numbers are both odd, and both usual in each other's place.

Each by itself looks as if its unit had slipped. Whoever mends both gets numbers that look right and
mean nothing, so the questions about them say first that the columns may be exchanged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from trials.ingest.asking import KEEP_OR_ASIDE
from trials.quantities import convert, convertible, same
from trials.record.values import Cell, Place, Question, Row
from trials.reduction import Column
from trials.reduction.ranges import outside
from trials.words.keeping import kept
from trials.words.quantity_names import kept_quantity

_ODD = frozenset(["slip", "implausible", "impossible", "unusual"])


def crossed_first(
    columns: Sequence[Column], rows: Sequence[Row], questions: Sequence[Question]
) -> list[Question]:
    """Return the questions; those that exchanging two columns would settle say so first.

    Parameters
    ----------
    rows : at least those that the questions are about.
    """
    odd = [question for question in questions if question.code in _ODD]
    pairs = [(p, q) for p, q in combinations(odd, 2) if _same_rows(p, q)]
    if not pairs:
        return list(questions)
    by_name = {column.name: column for column in columns}
    by_place = {row.place: row for row in rows}
    other: dict[int, str] = {}
    for p, q in pairs:
        a, b = by_name.get(p.column or ""), by_name.get(q.column or "")
        if a is not None and b is not None and _fit(a, b, p, by_place) and _fit(a, b, q, by_place):
            other.setdefault(id(p), b.name)
            other.setdefault(id(q), a.name)
    return [
        _told(question, other[id(question)]) if id(question) in other else question
        for question in questions
    ]


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
    if typed.number is None or column.believable == (None, None):
        return False
    if not (same(under.unit, column.unit) or convertible(under.unit, column.unit)):
        return False
    return not outside(convert(typed.number, under.unit, column.unit), column.believable)


def _told(question: Question, other: str) -> Question:
    """Return the question with what to look for first, and without an answer to hand."""
    why = kept(
        "Are the columns '{column}' and '{other}' exchanged? In each other's place both would be "
        "usual. If they are not: {why}",
        column=kept_quantity(question.column or ""),
        other=kept_quantity(other),
        why=question.why_kept or question.why,
    )
    return replace(
        question,
        why=str(why),
        why_kept=why,
        do="If the columns are exchanged, put their headings right in the file and collect it "
        "again; don't mend the units. If they are not, correct and the unit that was used, or the "
        f"right number; {KEEP_OR_ASIDE}",
        proposal="",
    )
