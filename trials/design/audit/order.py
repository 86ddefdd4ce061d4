"""The order of making and measuring, and how often chance was asked."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from trials.design.audit.view import Found, View
from trials.design.factorials import Codes

ORDERED = 6  # units below which an order by chance is often a tidy one
DRIFT = 0.6  # share of the order's variation that versions may explain
RUNS = -3.0  # normal score below which like follows like too often: about 1 fair draw in 700
ALIKE = 0.95  # correlation above which two orders are one


def time_order(view: View) -> Iterator[Found]:
    """The versions come one after the other."""
    for factor in view.plan.factors:
        for kind in ("making", "measuring"):
            if _ordered(_sequence(view, factor.name, kind)):
                yield Found(
                    (factor.name, kind), {"factor": view.labels[factor.name], "order": kind}
                )


def carry_over(view: View) -> Iterator[Found]:
    """Like follows like when measuring, so what one item leaves behind stays with its version."""
    for factor in view.plan.factors:
        if view.unit[factor.name] is not None:
            continue  # items of one unit may well be measured together
        sequence = _sequence(view, factor.name, "measuring")
        score = _runs_score(sequence)
        if score is not None and score < RUNS and not _ordered(sequence):
            yield Found((factor.name,), {"factor": view.labels[factor.name]})


def same_order(view: View) -> Iterator[Found]:
    """The items are measured in the order in which they are made, or backwards."""
    made = np.array([row.run for row in view.plan.rows], dtype=float)
    measured = np.array([row.measure for row in view.plan.rows], dtype=float)
    block = _kept_together(view, made, measured)
    a, b = _ranks_within(made, block), _ranks_within(measured, block)
    size = math.sqrt(float((a**2).sum() * (b**2).sum()))
    if len(a) - len(np.unique(block)) < ORDERED - 1 or size == 0:
        return
    alike = float((a * b).sum()) / size
    if abs(alike) > ALIKE:
        yield Found(("order",), {"backwards": alike < 0})


def several_draws(view: View) -> Iterator[Found]:
    """The plan was drawn more than once."""
    tried = len(view.plan.seeds_tried)
    if tried > 1:
        yield Found(("draws",), {"draws": tried})


def _sequence(view: View, factor: str, kind: str) -> Codes:
    """Return the versions in their order: of units as they are made, of items as measured."""
    making = kind == "making"
    places = [row.run if making else row.measure for row in view.plan.rows]
    unit = view.units.of_unit(view.unit[factor] if making else None)
    order = np.argsort(places, kind="stable")
    _, first = np.unique(unit[order], return_index=True)
    out: Codes = view.codes[factor][order][np.sort(first)]
    return out


def _ordered(sequence: Codes) -> bool:
    """Return whether versions follow each other in time instead of being mixed.

    Either each version comes in one run, or the place in the order explains most of the version.
    """
    n, kinds = len(sequence), len(np.unique(sequence))
    if n < ORDERED or kinds < 2 or kinds > n / 2:
        return False
    if int((np.diff(sequence) != 0).sum()) == kinds - 1:
        return True
    place = np.arange(n) - (n - 1) / 2
    sums = np.bincount(sequence, weights=place)
    counts = np.bincount(sequence)
    between = float((sums[counts > 0] ** 2 / counts[counts > 0]).sum())
    return between / float((place**2).sum()) > DRIFT


def _runs_score(sequence: Codes) -> float | None:
    """Return how many standard deviations the number of runs is above what chance gives.

    Mean and variance for several kinds: D. E. Barton and F. N. David (1957), Biometrika 44, 168.

    Examples
    --------
    >>> import numpy as np
    >>> _runs_score(np.array([0, 0, 0, 0, 0, 1, 1, 1, 1, 1])) < -2.5
    True
    """
    n = len(sequence)
    sizes = np.bincount(sequence).astype(float)
    squares, cubes = float((sizes**2).sum()), float((sizes**3).sum())
    variance = (squares * (squares + n * (n + 1)) - 2 * n * cubes - n**3) / (n**2 * (n - 1))
    if n < ORDERED or variance <= 0:
        return None
    runs = 1 + int((np.diff(sequence) != 0).sum())
    return (runs - (n * (n + 1) - squares) / n) / math.sqrt(variance)


def _kept_together(view: View, made: np.ndarray, measured: np.ndarray) -> Codes:
    """Return the finest groups whose items follow each other in both orders."""
    best = np.zeros(view.units.n, dtype=np.intp)
    for codes in view.units.codes.values():
        if len(np.unique(codes)) <= len(np.unique(best)):
            continue
        orders = (codes[np.argsort(made)], codes[np.argsort(measured)])
        if all((np.diff(o) != 0).sum() == len(np.unique(codes)) - 1 for o in orders):
            best = codes
    return best


def _ranks_within(numbers: np.ndarray, block: Codes) -> np.ndarray:
    out = np.zeros(len(numbers))
    for member in np.unique(block):
        inside = block == member
        ranks = np.argsort(np.argsort(numbers[inside])).astype(float)
        out[inside] = ranks - ranks.mean()
    return out
