"""Who moves an answer: every item, unit and group member left out in turn, and judged anew.

Each is a whole new fit by the same rules, with the groups fixed or random as in the whole, so that
what is compared is the data and not the model. R. D. Cook and S. Weisberg (1982), Residuals and
Influence in Regression, chapter 3, measure influence by what leaving a case out does to an
estimate; here what it does to the verdict is told as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from trials.analysis import parts
from trials.analysis.data import Data, fitted
from trials.analysis.failed_worst import FailedWorst
from trials.analysis.judging import judgement_of
from trials.analysis.verdicts import Judgement
from trials.digest import finite_or_none
from trials.errors import AnalysisError
from trials.model import Fit
from trials.model.hypotheses import pair_line
from trials.model.layout import Coded, Codes, Floats, Layout, part_of

ITEM = "item"
MOST_ITEMS = 200  # with more, only the most suspicious are left out
SUSPECTS = 20
MOST_ROWS = 2000  # with more rows, no single thing is left out: every fit takes too long
MOST_MEMBERS = 60  # of one group
LEAST_MEMBERS = 3  # of two members, leaving one out halves the study
_SAME = 1e-9  # relative: differences nearer than this are equal


class Judged(Protocol):
    """A factor's verdict as the findings have it."""

    @property
    def verdict(self) -> str:
        """One of the three words."""


@dataclass(frozen=True)
class Without:
    """One thing left out: a member of the group ``kind`` (a path), or an item; rows that stay."""

    kind: str
    member: str
    rows: Codes


def influence(
    data: Data,
    fit: Fit,
    verdicts: Mapping[str, Judged],
    suspicion: Mapping[str, float],
    worst: FailedWorst | None = None,
) -> dict[str, Any] | None:
    """Return what leaving out one thing at a time does, ready for JSON; None: nothing to leave out.

    Parameters
    ----------
    verdicts : by factor; empty where no margin was declared, and then none moves.
    suspicion : for each item how far it lies off, to choose among many.
    worst : what becomes of each factor if failed items count as the worst; taken as it is.

    Keys: ``factors``: for each the pair of levels with the largest difference, and for each kind
    left out how many and the lowest and highest difference; ``moves``: every verdict that another
    would take the place of; ``notes``.

    What takes a whole level of a factor with it tells nothing of that factor and doesn't count.
    """
    if not data.layout.factors:
        return None
    if data.layout.n > MOST_ROWS:
        return {"factors": {}, "moves": [], "notes": ["too_many_to_leave_out"]}
    left_out, notes = things_to_leave_out(data, suspicion)
    pairs = {f: _largest_pair(data, fit, f) for f in data.layout.factors}
    found: dict[str, list[tuple[Without, float]]] = {factor: [] for factor in pairs}
    moves: list[dict[str, Any]] = []
    for one in left_out:
        part = part_of_data(data, one.rows)
        try:
            new = fitted(part, locate=False)
        except (AnalysisError, np.linalg.LinAlgError):
            notes.append(f"not_without:{one.kind}:{one.member}")
            continue
        for factor, pair in pairs.items():
            if pair is None or _lost_a_level(data.layout, part.layout, factor):
                continue
            estimate = _difference(part, new, factor, pair)
            if estimate is not None:
                found[factor].append((one, estimate))
            if factor in verdicts:
                moved = moved_verdict(part, new, factor, verdicts[factor].verdict, worst)
                if moved is not None:
                    what = {"kind": one.kind, "member": one.member}
                    moves.append({"left_out": what, "factor": factor, **moved})
    factors = {
        factor: _ranges(data, pair, found[factor])
        for factor, pair in pairs.items()
        if pair is not None and found[factor]
    }
    if not factors:
        return None
    return {"factors": factors, "moves": moves, "notes": notes}


def things_to_leave_out(
    data: Data, suspicion: Mapping[str, float]
) -> tuple[tuple[Without, ...], list[str]]:
    """Return what is left out in turn, groups from large to small and then items; and notes."""
    layout, notes = data.layout, []
    out: list[Without] = []
    units = set(layout.units.values())
    for grouping in layout.groupings:
        own = grouping.path in units
        if grouping.implied or grouping.path == layout.item:
            continue
        if not own and grouping.members < LEAST_MEMBERS:
            continue
        if grouping.members > MOST_MEMBERS:
            notes.append(f"too_many_members:{grouping.path}")
            continue
        out += _each(grouping.path, grouping.coded)
    names = tuple(dict.fromkeys(data.items))
    place = {name: code for code, name in enumerate(names)}
    coded = Coded(names, np.array([place[name] for name in data.items], dtype=np.intp))
    items = _each(ITEM, coded)
    if len(items) > MOST_ITEMS:
        order = sorted(items, key=lambda one: -suspicion.get(one.member, 0.0))
        items = order[:SUSPECTS]
        notes.append(f"only_suspects:{SUSPECTS}")
    return (*out, *items), notes


def _each(kind: str, coded: Coded) -> list[Without]:
    return [
        Without(kind, name, np.flatnonzero(coded.codes != code))
        for code, name in enumerate(coded.levels)
    ]


def part_of_data(data: Data, rows: Codes) -> Data:
    """Return some rows of the data, with groups as they were in the whole."""
    return replace(
        data,
        layout=part_of(data.layout, rows),
        y=data.y[rows],
        items=tuple(data.items[row] for row in rows),
        runs=None,
        beside={},
    )


def moved_verdict(
    data: Data, fit: Fit, factor: str, before: str, worst: FailedWorst | None
) -> dict[str, Any] | None:
    """Return the verdict by this fit, if it is another one than ``before``."""
    found = _judged(data, fit, factor, worst)
    if found is None or found.verdict == before:
        return None
    return {
        "verdict": found.verdict,
        "reason": found.reason,
        "largest_difference": finite_or_none(found.pair.estimate),
    }


def _judged(data: Data, fit: Fit, factor: str, worst: FailedWorst | None) -> Judgement | None:
    """Return the judgement on a factor; within other factors' levels only where that counts."""
    family = parts.for_verdict(data, fit, factor)
    found = judgement_of(data, fit, factor, family, (), worst=worst)
    if found is None or found.verdict != "made no practical difference":
        return found
    inner = [
        one
        for test in fit.tests
        if factor in (names := test.hypothesis.term.factors)
        and len(names) == 2
        and test.hypothesis.df
        for one in parts.for_verdict(
            data, fit, factor, names[0] if names[1] == factor else names[1]
        )
    ]
    return judgement_of(data, fit, factor, family, inner, worst=worst)


Levels = tuple[str, str]


def _largest_pair(data: Data, fit: Fit, factor: str) -> tuple[Levels, float] | None:
    """Return the two levels furthest apart, the larger first, and their difference."""
    levels = data.layout.factors[factor].levels
    best: tuple[Levels, float] | None = None
    for one in parts.for_verdict(data, fit, factor):
        line = one.pair.line
        if line is None:
            continue
        if best is None or abs(line.estimate) > best[1] * (1 + _SAME):
            a, b = levels[one.pair.a], levels[one.pair.b]
            best = ((a, b) if line.estimate >= 0 else (b, a), abs(line.estimate))
    return best


def _difference(data: Data, fit: Fit, factor: str, pair: tuple[Levels, float]) -> float | None:
    """Return the first level minus the second, on the scale of analysis."""
    levels = data.layout.factors[factor].levels
    if not set(pair[0]) <= set(levels):
        return None
    first, second = (levels.index(name) for name in pair[0])
    low, high = sorted((first, second))
    row, _ = pair_line(fit.design, factor, low, high, weights=data.options.weights)
    if row is None:
        return None
    estimate = float(row @ fit.inference.beta)
    return estimate if first < second else -estimate


def _lost_a_level(whole: Layout, part: Layout, factor: str) -> bool:
    return len(part.factors[factor].levels) < len(whole.factors[factor].levels)


def _ranges(
    data: Data, pair: tuple[Levels, float], found: Sequence[tuple[Without, float]]
) -> dict[str, Any]:
    """Return how far the difference moves, by kind of what is left out."""
    (a, b), before = pair
    kinds = dict.fromkeys(one.kind for one, _ in found)
    ranges = []
    for kind in kinds:
        own = [(one.member, value) for one, value in found if one.kind == kind]
        values = np.array([value for _, value in own])
        low, high = _first(values, 1), _first(values, -1)
        ranges.append(
            {
                "kind": kind,
                "left_out": len(own),
                "lowest": {"member": own[low][0], "estimate": _gap(data, values[low])},
                "highest": {"member": own[high][0], "estimate": _gap(data, values[high])},
            }
        )
    most = _first(-np.abs(np.array([value for _, value in found]) - before), 1)
    one, value = found[most]
    return {
        "a": a,
        "b": b,
        "estimate": _gap(data, before),
        "ranges": ranges,
        "largest_change": {
            "kind": one.kind,
            "member": one.member,
            "estimate": _gap(data, value),
        },
    }


def _first(values: Floats, sign: int) -> int:
    """Return the place of the smallest value (largest, if ``sign`` is -1), the first of equals."""
    turned = sign * values
    room = _SAME * float(np.abs(values).max(initial=0.0))
    return int(np.flatnonzero(turned <= turned.min() + room)[0])


def _gap(data: Data, value: float) -> float | None:
    return finite_or_none(data.gap(float(value)))
