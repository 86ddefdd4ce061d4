"""Bounds for one factor in equal blocks, from the moments of the canonical efficiency factors.

For v versions in b blocks of k items the nonzero eigenvalues of the information matrix have a sum
that is largest where every block holds different versions, and a sum of squares that is smallest
where all pairs of versions meet equally often; but numbers of meetings are whole. The harmonic mean
that such a sum and sum of squares allow is a bound. With equal replication, blocks and versions may
also change parts: the same efficiency factors, but for some that are 1.

Sources: R. G. Jarrett (1977), Bounds for the efficiency factor of block designs, Biometrika 64,
67-72; J. A. John and E. R. Williams (1982), Conjectures for optimal block designs, J. R. Statist.
Soc. B 44, 221-225; the same (1995), Cyclic and Computer Generated Designs, chapter 2.
"""

from __future__ import annotations

import math

import numpy as np

from trials.design.search.values import Problem
from trials.design.values import Balance


def block_bound(problem: Problem, *, balanced: bool) -> float:
    """Return the bound of criterion A for one factor in equal blocks; 0 for any other problem.

    ``balanced``: every layout looked at keeps the rules of balance.
    """
    blocks = [g for g in problem.groups if g.variance is None or g.variance > 0]
    factor = problem.factors[0]
    if len(problem.factors) > 1 or len(blocks) != 1 or problem.information is not None:
        return 0.0
    if factor.group is not None or factor.control is not None or factor.values is not None:
        return 0.0
    sizes = np.bincount(blocks[0].codes)
    sizes = sizes[sizes > 0]
    if (sizes != sizes[0]).any() or len(sizes) < 2:
        return 0.0
    v, k, b = factor.levels, int(sizes[0]), len(sizes)
    variance = blocks[0].variance
    theta = math.inf if variance is None else variance / problem.residual
    share = 1.0 if variance is None else k * theta / (1 + k * theta)
    equal = balanced and problem.n % v == 0 and Balance(factors=(factor.name,)) in problem.balance
    if equal:
        least = _least_equal(v, k, b, share)
    elif share == 1.0:
        least = _least_inverse(v, k, b, (0.0, 1.0))
    else:
        return 0.0
    return problem.residual * least / (v * (v - 1))


def _least_equal(v: int, k: int, b: int, share: float) -> float:
    """Return the least sum of inverse eigenvalues where every version comes b * k / v times.

    ``share`` of what blocks take is lost: 1 where they stand for themselves, less where differences
    between blocks tell something too.
    """
    r = b * k // v
    own = _least_inverse(v, k, b, (r * (1 - share), share))
    # a factor e has eigenvalue k * e in the exchanged design, r * (1 - share + share * e) here
    other = _least_inverse(b, r, v, (r * (1 - share), share * r / k)) if b > 1 else 0.0
    return max(own, other + (v - b) / r)


def _least_inverse(v: int, k: int, b: int, turned: tuple[float, float]) -> float:
    """Return the least sum of 1 / (shift + scale * x) over the eigenvalues x of a block design.

    Designs with a version twice in a block have a smaller sum of eigenvalues, but may have other
    numbers of meetings: they are looked at as long as the sum alone doesn't rule them out.
    """
    shift, scale = turned
    f, more = divmod(k, v)
    meetings = b * (k * k - more * (f + 1) ** 2 - (v - more) * f * f)  # k times the sum
    m = v - 1
    best = 0.0  # largest harmonic mean
    while meetings >= 0:
        mean = shift + scale * meetings / (k * m)
        if mean <= best:
            break
        best = max(best, _harmonic(mean, scale * _spread(v, k, meetings), m))
        meetings -= 2
    return m / best if best > 0 else math.inf


def _spread(v: int, k: int, meetings: int) -> float:
    """Return the least root of sum((x - mean)^2) / (m (m - 1)) of the m = v - 1 eigenvalues."""
    m = v - 1
    if m < 2:
        return 0.0
    pairs = v * m // 2
    f, more = divmod(meetings // 2, pairs)
    total = meetings / k
    squares = total**2 / v + 2 * (more * (f + 1) ** 2 + (pairs - more) * f * f) / k**2
    return math.sqrt(max(squares - total**2 / m, 0.0) / (m * (m - 1)))


def _harmonic(mean: float, spread: float, m: int) -> float:
    """Return the largest harmonic mean of m numbers: all but one equal, and one above."""
    if m < 2:
        return mean
    return mean - (m - 1) * spread**2 / (mean + (m - 2) * spread)
