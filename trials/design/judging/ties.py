"""What is tied to what: Cramér's V of every two columns of a plan.

V = sqrt(chi-square / (n (min(r, c) - 1))) of the table of counts. 0: every combination is as
frequent as the margins alone would make it. 1: whoever knows the column with more kinds knows the
other. Source: H. Cramér (1946), Mathematical Methods of Statistics, Princeton, section 21.9.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from trials.design.values import Plan, Tie

Codes = npt.NDArray[np.intp]

RUN, MEASURE = "run", "measure"  # names no factor or group can have
PARTS = 3  # of an order in time


@dataclass(frozen=True)
class _Column:
    """One column as codes; ``path`` of a group, or of the group that a factor is applied to."""

    name: str
    kind: str  # "factor", "group", "order"
    codes: Codes
    path: str | None = None


def find_ties(plan: Plan) -> tuple[Tie, ...]:
    """Return the tie of every two columns: factors, groups, thirds of the two orders."""
    columns = _columns(plan)
    return tuple(
        Tie(
            first=one.name,
            second=other.name,
            tie=cramers_v(one.codes, other.codes),
            meant=_is_meant(plan, one, other),
        )
        for one, other in combinations(columns, 2)
    )


def cramers_v(one: Codes, other: Codes) -> float | None:
    """Return Cramér's V of two columns of codes; None where one is everywhere the same.

    Examples
    --------
    >>> cramers_v(np.array([0, 0, 1, 1]), np.array([0, 0, 1, 2]))
    1.0
    >>> cramers_v(np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]))
    0.0
    """
    if not len(one):
        return None
    r, c = int(one.max()) + 1, int(other.max()) + 1
    table = np.bincount(one * c + other, minlength=r * c).reshape(r, c).astype(float)
    table = table[table.sum(axis=1) > 0][:, table.sum(axis=0) > 0]
    fewer = min(table.shape)
    if fewer < 2:
        return None
    expected = np.outer(table.sum(axis=1), table.sum(axis=0)) / table.sum()
    square = float(((table - expected) ** 2 / expected).sum()) / float(table.sum())
    v = float(np.sqrt(square / (fewer - 1)))
    return 1.0 if v > 1 - 1e-9 else 0.0 if v < 1e-9 else v


def _columns(plan: Plan) -> list[_Column]:
    rows = plan.rows
    out = [
        _Column(f.name, "factor", _codes([r.factors[f.name] for r in rows]), f.applied_to)
        for f in plan.factors
    ]
    out += [
        _Column(g.name, "group", _codes([r.groups[g.name] for r in rows]), g.path)
        for g in plan.groups
    ]
    out += [
        _Column(RUN, "order", _thirds([r.run for r in rows])),
        _Column(MEASURE, "order", _thirds([r.measure for r in rows])),
    ]
    return out


def _codes(labels: list[str]) -> Codes:
    return np.unique(np.array(labels), return_inverse=True)[1].reshape(-1).astype(np.intp)


def _thirds(places: list[int]) -> Codes:
    """Return which third of an order each row stands in."""
    rank = np.argsort(np.argsort(places, kind="stable"), kind="stable")
    return (rank * PARTS // max(len(places), 1)).astype(np.intp)


def _is_meant(plan: Plan, one: _Column, other: _Column) -> bool:
    if one.kind == "group" and other.kind == "group":
        return _within(other.path, one.path) or _within(one.path, other.path)
    if one.kind == "factor" and other.kind == "group":
        return one.path is not None and _within(other.path, one.path)
    if one.kind == "group" and other.kind == "order":
        places = [row.run if other.name == RUN else row.measure for row in plan.rows]
        return _goes_by_turns(one.codes, places)
    return False


def _within(inner: str | None, outer: str | None) -> bool:
    return f"{inner}/".startswith(f"{outer}/")


def _goes_by_turns(member: Codes, places: list[int]) -> bool:
    """Return whether in this order one member is finished before the next begins."""
    sequence = member[np.argsort(places)]
    return int((np.diff(sequence) != 0).sum()) == len(np.unique(member)) - 1
