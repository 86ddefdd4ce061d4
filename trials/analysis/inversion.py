"""Intervals from shuffles: the differences that the shuffle test would not reject.

If going from level b to level a adds d to whatever an item gives, then taking d off the units that
had a leaves a response to which the pair makes no difference, and the shuffle test may be asked
about it. The interval holds the d that it doesn't reject. All d meet the same shuffles, so the
share of shuffles that show as much changes with d alone.

Sources, from memory: P. H. Garthwaite (1996), Confidence intervals from randomization tests,
Biometrics 52, 1387-1393; M. D. Ernst (2004), Permutation methods: a basis for exact inference,
Statistical Science 19, 676-685.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.analysis.permutation import MOST_ENUMERATED, count_arrangements, two_level_totals
from trials.model.layout import Codes, Floats

Ends = tuple[float | None, float | None]

_SAME = 1e-12  # relative: shuffles that leave the pair as it is, or turn it round
_TIE = 1e-9
_DOUBLINGS, _HALVINGS = 20, 60


@dataclass(frozen=True)
class ShuffleInterval:
    """The ends of an interval on the scale of analysis; None where there is none."""

    ends: Ends
    exact: bool


def two_level_interval(
    y: Floats,
    first: Codes,
    blocks: Codes,
    *,
    alpha: float,
    resamples: int,
    rng: np.random.Generator,
) -> Ends:
    """Return the interval of a difference of two levels shuffled within blocks, in closed form.

    The sum of squares between the two, adjusted for blocks, is a square of one sum T of the centred
    responses of the units that have the first level. With t and s its values for the levels
    themselves and for y, in units of the observed t, a shuffle shows as much as the observed layout
    at d if ``|s - d t| >= |D - d|``, D the observed difference: for the d between
    ``(D - s) / (1 - t)`` and ``(D + s) / (1 + t)``. Each end is one of these, in order.

    Parameters
    ----------
    y : float array (u,), one value a unit. ``first``: 1 where it has the first level, else 0, (u,).
    blocks : code of the block, (u,).
    alpha : 1 minus the confidence.
    resamples : shuffles to draw where there are more than 200,000; 0: no ends.

    Examples
    --------
    >>> y, first = np.array([1.0, 2.0, 3.0, 11.0, 12.0, 13.0]), np.repeat([0, 1], 3)
    >>> rng = np.random.default_rng(1)
    >>> ends = two_level_interval(y, first, np.zeros(6, int), alpha=0.1, resamples=0, rng=rng)
    >>> [round(end, 6) for end in ends]
    [8.0, 12.0]
    """
    size = count_arrangements(first, blocks)
    if size <= 1 or (size > MOST_ENUMERATED and not resamples):
        return None, None
    both = np.stack([y, first.astype(np.float64)], axis=1)
    observed, others = two_level_totals(both, first, blocks, resamples, rng)
    if size > MOST_ENUMERATED:
        others = np.vstack([observed, others])
    difference = float(observed[0] / observed[1])
    s, t = others[:, 0] / observed[1], others[:, 1] / observed[1]
    always = np.abs(np.abs(t) - 1) < _SAME
    t = np.where(always, 0.0, t)
    one, other = (difference - s) / (1 - t), (difference + s) / (1 + t)
    low = np.sort(np.where(always, -np.inf, np.minimum(one, other)))
    high = np.sort(np.where(always, np.inf, np.maximum(one, other)))
    needed = int(np.floor(alpha * len(others) * (1 + _SAME)))  # so many are rejected
    return _finite(low[needed]), _finite(high[len(high) - 1 - needed])


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


@dataclass(frozen=True)
class Curves:
    """How F of a pair depends on the difference d taken off, in each shuffle.

    ``top`` and ``rest`` (m, 3) hold c0, c1, c2 of c0 - 2 c1 d + c2 d^2: the square of the pair and
    the mean square left over. ``own``, ``own_rest`` (3,): those of the observed layout.
    ``complete``: the shuffles are all there are, the observed one included. NaN: not known, counts
    as showing as much.
    """

    top: Floats
    rest: Floats
    own: Floats
    own_rest: Floats
    complete: bool

    def p(self, d: float) -> float:
        """Return the p of the shuffle test once ``d`` was taken off."""
        powers = np.array([1.0, -2.0 * d, d * d])
        there = (self.top @ powers) * float(self.own_rest @ powers)
        here = float(self.own @ powers) * (self.rest @ powers)
        beyond = int((~(there < here * (1 - _TIE))).sum())
        return beyond / len(self.top) if self.complete else (beyond + 1) / (len(self.top) + 1)


def invert(curves: Curves, alpha: float) -> Ends:
    """Return the ends between which the test isn't rejected, by halving from the estimate outwards.

    At the estimate p is 1; far out it is the share of shuffles that leave the pair as it is. Where
    p should cross ``alpha`` more than once on a side, an end is one of these places.
    """
    square, spread = float(curves.own[2]), float(curves.own_rest[0])
    if not square > 0 or not spread > 0:
        return None, None
    estimate = float(curves.own[1]) / square
    unit = float(np.sqrt(spread / square))
    return _end(curves, alpha, estimate, -unit), _end(curves, alpha, estimate, unit)


def _end(curves: Curves, alpha: float, estimate: float, step: float) -> float | None:
    inside, outside = 0.0, step
    for _ in range(_DOUBLINGS):
        if curves.p(estimate + outside) <= alpha:
            break
        inside, outside = outside, 2 * outside
    else:
        return None
    for _ in range(_HALVINGS):
        middle = (inside + outside) / 2
        if curves.p(estimate + middle) > alpha:
            inside = middle
        else:
            outside = middle
    return estimate + inside
