"""The largest of several studentised differences, whatever their variances and correlations.

Where the differences of a family don't have the simple correlations that Tukey's and Dunnett's
integrals need, the single-step multivariate t adjusts them all the same. A normal vector is a
length times a direction. The length, with the estimated standard deviation, is integrated exactly:
its square over that of the standard deviation has an F distribution. What is left is an average
over directions (P. N. Somerville, 1998, J. Comput. Graph. Statist. 7, 529-544; A. Genz and F.
Bretz, 2009, Computation of Multivariate Normal and t Probabilities, Springer). It runs over eight
scrambled nets with fixed seeds (A. B. Owen, 1997, Ann. Statist. 25, 1541-1562), so that the answer
never changes and its error is known from how the eight differ. What a family of the same shape with
a known answer misses on the same directions is taken off (a control variate).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, fdtrc, ndtri, stdtr, stdtrit

from trials.model import dunnett, tukey

Array = NDArray[np.float64]

_NETS = 8
_ERRORS = 3.499  # Student's t, 7 degrees of freedom: in 99 of 100 cases the error is within it
_PARTS = 64  # a net's reaches are sorted and cut in equal parts, each kept by two values
_ALIKE = 0.4  # correlations further from those of the like family don't move with it
_NO_CHANCE = 1e-12
_NOTHING = 1e-9  # variance, of 1, below which a difference follows from those before it


@dataclass(frozen=True)
class Chance:
    """A chance and how far it may be off: in 99 of 100 such calculations by less than ``error``."""

    value: float
    error: float


@dataclass(frozen=True)
class Largest:
    """The distribution of the largest |t| (or t) of a family; see :func:`largest`.

    ``reach`` (nets, nodes): how far the widest of the differences goes in each direction of a unit
    vector in ``dims`` dimensions. ``known_reach`` and ``known`` are those of a like family with its
    exact chances.
    """

    reach: Array
    dims: int
    known_reach: Array | None = None
    known: Callable[[float, float], float] | None = None

    def beyond(self, t: float, df: float) -> Chance:
        """Return the chance that some studentised difference lies beyond ``t``, above 0."""
        if math.isnan(t):
            return Chance(math.nan, math.nan)
        if t <= 0:
            raise ValueError(f"{t} is not above 0")
        nets = _by_length(self.reach, self.dims, t, df)
        if self.known_reach is not None and self.known is not None:
            own = _by_length(self.known_reach, self.dims, t, df)
            nets = nets - own + self.known(t, df)
        error = _ERRORS * float(nets.std(ddof=1)) / math.sqrt(_NETS)
        return Chance(min(1.0, max(0.0, float(nets.mean()))), error)

    def adjusted_p(self, t: float, df: float) -> Chance:
        """Return the single-step p of one difference of a two-sided family.

        Never below the p of the difference alone.

        Parameters
        ----------
        t : difference over its standard error.
        df : degrees of freedom of the standard error, above 0, may be fractional or infinite.
        """
        if math.isnan(t):
            return Chance(math.nan, math.nan)
        if t == 0:
            return Chance(1.0, 0.0)
        alone = float(2 * stdtr(df, -abs(t)))
        found = self.beyond(abs(t), df)
        return Chance(max(alone, found.value), found.error)

    def critical(self, confidence: float, df: float) -> float:
        """Return how many standard errors the simultaneous intervals reach out.

        Raises
        ------
        ValueError : a confidence outside 0.5 to 1, or df not above 0.
        """
        if not 0.5 < confidence < 1:
            raise ValueError(f"confidence {confidence} is not between 0.5 and 1")
        if not df > 0:
            raise ValueError(f"degrees of freedom {df} are not above 0")
        alpha = 1 - confidence
        start = -float(stdtrit(df, alpha))  # of one difference, on one side

        def excess(c: float) -> float:
            # a chance too small for the nets to see still says that c is too large
            return math.log(max(self.beyond(c, df).value, _NO_CHANCE) / alpha)

        return _where_it_is_zero(excess, start)


def _where_it_is_zero(excess: Callable[[float], float], low: float) -> float:
    """Return where a decreasing function meets 0 from ``low`` up, to 1e-9 relative.

    ``low`` itself where it is not above 0 there: no family reaches out less than one difference.
    """
    from scipy.optimize import brentq

    high = low
    while excess(high) > 0:
        low, high = high, 1.3 * high
    return high if high == low else float(brentq(excess, low, high, rtol=1e-9))


def _by_length(reach: Array, dims: int, t: float, df: float) -> Array:
    """Return each net's average of the chance that a vector is long enough, (nets,)."""
    with np.errstate(divide="ignore", over="ignore"):
        square = (t / reach) ** 2
    chance = chdtrc(dims, square) if math.isinf(df) else fdtrc(dims, df, square / dims)
    nets: Array = np.asarray(chance, dtype=np.float64).mean(axis=1)
    return nets


def largest(
    covariance: ArrayLike, *, levels: int | None = None, two_sided: bool = True
) -> Largest | None:
    """Return the distribution of the largest of a family's studentised differences.

    Parameters
    ----------
    covariance : array (m, m) of the m differences, any scale; may be singular.
    levels : say how many, where the differences are all pairs of levels, in the order of
        ``itertools.combinations``; the answer is then more precise.
    two_sided : whether a difference counts whichever its sign.

    Returns
    -------
    None where a difference has no variance or the covariance is not finite.

    Examples
    --------
    >>> pairs = np.array([[1.0, -1, 0], [1, 0, -1], [0, 1, -1]])
    >>> p = largest(pairs @ pairs.T, levels=3).adjusted_p(3.10278717791766, df=27)
    >>> round(p.value, 6), p.error < 1e-6
    (0.012006, True)
    """
    R = _correlations(covariance)
    if R is None:
        return None
    A = _root(R)
    like = _like_family(R, levels, two_sided=two_sided) if A.shape[1] > 2 else None
    A0 = None if like is None else _root(like[0])
    dims = max(A.shape[1], 0 if A0 is None else A0.shape[1])
    power = 12 if dims < 3 else 13 if dims == 3 else 14 if like is not None else 15
    reach, known_reach = [], []
    for net in range(_NETS):
        u = _directions(dims, net, power)
        reach.append(_reach(u, A, two_sided=two_sided))
        if A0 is not None:
            known_reach.append(_reach(u, A0, two_sided=two_sided))
    return Largest(
        np.array(reach),
        dims,
        np.array(known_reach) if known_reach else None,
        None if like is None else like[1],
    )


def _correlations(covariance: ArrayLike) -> Array | None:
    V = np.asarray(covariance, dtype=np.float64)
    if not np.all(np.isfinite(V)) or np.any(np.diag(V) <= 0):
        return None
    sd = np.sqrt(np.diag(V))
    return np.asarray(V / np.outer(sd, sd))


def _root(R: Array) -> Array:
    """Return A (m, rank) with A A' = R, rows of length one; the columns follow the rows' order."""
    A = np.zeros_like(R)
    rank = 0
    for row in range(len(R)):
        for column in range(rank):
            first = int(np.flatnonzero(np.abs(A[:row, column]) > 0)[0])
            rest = R[row, first] - A[row, :column] @ A[first, :column]
            A[row, column] = rest / A[first, column]
        left = 1.0 - float(A[row, :rank] @ A[row, :rank])
        if left > _NOTHING:
            A[row, rank] = math.sqrt(left)
            rank += 1
    kept = A[:, :rank]
    return np.asarray(kept / np.sqrt((kept**2).sum(axis=1, keepdims=True)))


def _reach(u: Array, A: Array, *, two_sided: bool) -> Array:
    """Return the reach in the directions u (n, dims) and against them, condensed to nodes."""
    along = u[:, : A.shape[1]] @ A.T
    ends = (
        np.abs(along).max(axis=1)
        if two_sided
        else np.concatenate([along.max(axis=1), -along.min(axis=1)]).clip(0.0)
    )
    ends.sort()
    parts = ends.reshape(_PARTS, -1)
    middle, spread = parts.mean(axis=1), parts.std(axis=1)
    return np.concatenate([middle - spread, middle + spread]).clip(0.0)


@lru_cache(maxsize=16)
def _directions(dims: int, net: int, power: int) -> Array:
    """Return about 2**power unit vectors, spread evenly over half of all directions, (n, dims)."""
    if dims == 1:
        return np.ones((_PARTS, 1))
    if dims == 2:
        n = 2**power
        angle = math.pi * (np.arange(n) + net / _NETS) / n
        u = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    else:
        from scipy.stats.qmc import Sobol

        drawn = Sobol(dims, rng=np.random.default_rng((dims, net))).random_base2(power)
        u = ndtri(drawn.clip(1e-15, 1 - 1e-15))
        u /= np.linalg.norm(u, axis=1, keepdims=True)
    u.setflags(write=False)
    return np.asarray(u)


def _like_family(
    R: Array, levels: int | None, *, two_sided: bool
) -> tuple[Array, Callable[[float, float], float]] | None:
    """Return the correlations of a family much like this one, and its exact chances."""
    if levels is not None and two_sided:
        pairs = np.array(
            [np.eye(levels)[a] - np.eye(levels)[b] for a, b in combinations(range(levels), 2)]
        )
        return pairs @ pairs.T / 2, lambda t, df: tukey.adjusted_p(t, levels, df)
    m = len(R)
    common = float((R.sum() - m) / (m * (m - 1)))
    like = np.full((m, m), common) + (1 - common) * np.eye(m)
    if not 0 < common < 1 - 1e-6 or np.abs(R - like).max() > _ALIKE:
        return None
    loadings = (math.sqrt(common),) * m
    return like, lambda t, df: dunnett.beyond(t, loadings, df, two_sided=two_sided)
