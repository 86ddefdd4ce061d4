"""Permutation tests: how often would a shuffle of the labels show as much?

Three tests, each with F as its statistic (units are compared with units of their own kind):

* one factor shuffled over its units within blocks, by full enumeration where that is possible
  (R. A. Fisher, 1935, The Design of Experiments, section 21);
* residuals shuffled under a reduced model, for interactions and covariates, approximate
  (D. Freedman and D. Lane, 1983, J. Business & Economic Statistics 1, 292-298);
* the layouts that a plan's own draw could have given, each with its F.

A sampled p is (b + 1) / (m + 1), which keeps the test valid (B. Phipson and G. K. Smyth, 2010,
Statist. Appl. Genet. Mol. Biol. 9, article 39).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from trials.analysis.exchanges import FixedModel

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

MOST_ENUMERATED = 200_000
_TIE = 1e-12  # of the sum of squares: far above rounding, far below a step of recorded readings


@dataclass(frozen=True)
class PermutationResult:
    """A p-value and where it comes from.

    ``p`` is None where the labels can't be shuffled at all. ``count`` arrangements of ``size`` (or
    of the ``drawn`` ones, the observed one included in both) showed as much as the observed one.
    ``size`` is the number of different arrangements, None where it isn't known. ``complete``: every
    arrangement was looked at. ``approximate``: the residual test. ``mc_error`` is the standard
    error of a sampled p. ``df`` is what of the term was tested, where that is known.
    """

    p: float | None
    count: int
    size: int | None
    drawn: int | None = None
    complete: bool = False
    approximate: bool = False
    mc_error: float | None = None
    df: int | None = None


def permute(
    y: Floats,
    levels: Codes,
    blocks: Codes | None,
    resamples: int,
    rng: np.random.Generator,
) -> PermutationResult:
    """Test one factor by shuffling its levels over the units within each block.

    Parameters
    ----------
    y : float array (n,), one value for each of the factor's own units.
    levels : int array (n,), code of the unit's level.
    blocks : int array (n,), code of the next larger group; None: all units may be exchanged.
    resamples : shuffles to draw where there are more than 200,000 arrangements; 0: none, p is None.

    Examples
    --------
    >>> y = np.array([1.0, 2.0, 3.0, 11.0, 12.0, 13.0])
    >>> found = permute(y, np.repeat([0, 1], 3), None, 999, np.random.default_rng(1))
    >>> found.count, found.size, found.p
    (2, 20, 0.1)
    """
    block = np.zeros(len(y), dtype=np.intp) if blocks is None else _recoded(blocks)
    level = _recoded(levels)
    layout = _Blocked.of(y, level, block)
    size = layout.size
    if size <= 1 or layout.rank == 0:
        return PermutationResult(None, 1, size)
    observed = layout.sums_of_squares(layout.observed_totals()[None, :])[0]
    if size <= MOST_ENUMERATED:
        found = layout.sums_of_squares(layout.all_totals())
        count = int(np.sum(found >= observed - layout.tie))
        return PermutationResult(count / size, count, size, complete=True)
    if resamples == 0:
        return PermutationResult(None, 0, size)
    found = layout.sums_of_squares(layout.drawn_totals(resamples, rng))
    return sampled(int(np.sum(found >= observed - layout.tie)), resamples, size)


def sampled(
    beyond: int,
    drawn: int,
    size: int | None = None,
    *,
    approximate: bool = False,
    df: int | None = None,
) -> PermutationResult:
    """Return the result of ``drawn`` shuffles, ``beyond`` of which showed as much or more.

    Examples
    --------
    >>> sampled(4, 99).p
    0.05
    """
    p = (beyond + 1) / (drawn + 1)
    return PermutationResult(
        p,
        beyond + 1,
        size,
        drawn + 1,
        approximate=approximate,
        mc_error=math.sqrt(p * (1 - p) / drawn),
        df=df,
    )


@dataclass(frozen=True)
class _Blocked:
    """Units in blocks. Shuffling within blocks leaves all of F alone but the totals of the levels.

    The sum of squares for the levels, adjusted for blocks, is ``q' G q`` with q the totals of the
    centred responses; G follows from how often each level stands in each block.
    """

    values: tuple[Floats, ...]  # centred responses of each block
    labels: tuple[Codes, ...]  # their levels
    inverse: Floats  # G, (levels, levels)
    rank: int
    levels: int
    tie: float

    @staticmethod
    def of(y: Floats, level: Codes, block: Codes) -> _Blocked:
        members = [np.flatnonzero(block == b) for b in range(int(block.max()) + 1)]
        count = int(level.max()) + 1
        centred = [y[rows] - y[rows].mean() for rows in members]
        counts = np.array([np.bincount(level[rows], minlength=count) for rows in members], float)
        within = np.diag(counts.sum(axis=0)) - (counts / counts.sum(axis=1)[:, None]).T @ counts
        total = float(sum(np.sum(part**2) for part in centred))
        return _Blocked(
            tuple(centred),
            tuple(level[rows] for rows in members),
            np.linalg.pinv(within, rcond=1e-10, hermitian=True),
            int(np.linalg.matrix_rank(within, tol=1e-9 * len(y), hermitian=True)),
            count,
            _TIE * total,
        )

    @property
    def size(self) -> int:
        """Number of different arrangements of the labels."""
        return math.prod(_arrangements(labels, self.levels) for labels in self.labels)

    def sums_of_squares(self, totals: Floats) -> Floats:
        """Return the adjusted sum of squares for each row of totals, (m, levels) to (m,)."""
        return np.asarray(np.einsum("ml,lk,mk->m", totals, self.inverse, totals, optimize=True))

    def observed_totals(self) -> Floats:
        """Return the totals as they are, (levels,)."""
        totals = np.zeros(self.levels)
        for values, labels in zip(self.values, self.labels, strict=True):
            totals += np.bincount(labels, weights=values, minlength=self.levels)
        return totals

    def all_totals(self) -> Floats:
        """Return the totals of every arrangement, (size, levels)."""
        totals = np.zeros((1, self.levels))
        for values, labels in zip(self.values, self.labels, strict=True):
            rows = arrangements(np.bincount(labels, minlength=self.levels))
            here = np.stack([(rows == level) @ values for level in range(self.levels)], axis=1)
            totals = (totals[:, None, :] + here[None, :, :]).reshape(-1, self.levels)
        return totals

    def drawn_totals(self, resamples: int, rng: np.random.Generator) -> Floats:
        """Return the totals of shuffles drawn at random, (resamples, levels)."""
        totals = np.zeros((resamples, self.levels))
        for values, labels in zip(self.values, self.labels, strict=True):
            if _arrangements(labels, self.levels) == 1:
                totals += np.bincount(labels, weights=values, minlength=self.levels)
                continue
            shuffled = rng.permuted(np.broadcast_to(values, (resamples, len(values))), axis=1)
            totals += shuffled @ np.eye(self.levels)[labels]
        return totals


def _arrangements(labels: Codes, levels: int) -> int:
    out, left = 1, len(labels)
    for count in np.bincount(labels, minlength=levels).tolist():
        out *= math.comb(left, count)
        left -= count
    return out


def arrangements(counts: Sequence[int] | Codes) -> Codes:
    """Return every way to give ``counts[i]`` labels i to a row of units, (ways, units).

    Examples
    --------
    >>> arrangements([1, 2]).tolist()
    [[0, 1, 1], [1, 0, 1], [1, 1, 0]]
    """
    left = int(sum(counts))
    rows = np.full((1, left), -1, dtype=np.intp)
    for level, count in enumerate(int(count) for count in counts):
        ways = math.comb(left, count)
        free = np.nonzero(rows < 0)[1].reshape(len(rows), left)
        picks = np.array(list(combinations(range(left), count)), dtype=np.intp)
        chosen = free[:, picks.reshape(ways, count)]
        rows = np.repeat(rows, ways, axis=0)
        np.put_along_axis(rows, chosen.reshape(len(rows), count), level, axis=1)
        left -= count
    return rows


def count_arrangements(levels: Codes, blocks: Codes) -> int:
    """Return in how many ways levels can be shuffled within blocks, codes of shape (u,) each.

    Examples
    --------
    >>> count_arrangements(np.array([0, 1, 0, 1]), np.array([0, 0, 1, 1]))
    4
    """
    level = _recoded(levels)
    count = int(level.max(initial=0)) + 1
    return math.prod(_arrangements(level[blocks == b], count) for b in np.unique(blocks))


def two_level_totals(
    values: Floats, first: Codes, blocks: Codes, resamples: int, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return sums over the units of one level, of values centred in their block.

    Parameters
    ----------
    values : float array (u, r). ``first``: 1 where a unit has the level, else 0, (u,).
    blocks : code of the block within which units are shuffled, (u,).
    resamples : shuffles to draw where there are more than 200,000 arrangements.

    Returns
    -------
    The observed sums (r,), and those of every arrangement or of the drawn ones, (m, r).
    """
    centred = values.copy()
    members = [np.flatnonzero(blocks == b) for b in np.unique(blocks)]
    for rows in members:
        centred[rows] -= values[rows].mean(axis=0)
    observed = first @ centred
    if count_arrangements(first, blocks) <= MOST_ENUMERATED:
        totals = np.zeros((1, values.shape[1]))
        for rows in members:
            here = arrangements(np.bincount(first[rows], minlength=2)) @ centred[rows]
            totals = (totals[:, None, :] + here[None, :, :]).reshape(-1, values.shape[1])
        return observed, totals
    return observed, first[_shuffles(blocks, resamples, rng)] @ centred


def _recoded(codes: Codes) -> Codes:
    return np.unique(codes, return_inverse=True)[1].astype(np.intp)


def unit_means(values: Floats, units: Codes) -> tuple[Floats, Codes, Codes]:
    """Return the mean of each unit (u,), the first row of each (u,) and how many rows it has (u,).

    The units come in the order of their codes; labels of a unit are those of its first row.

    Examples
    --------
    >>> means, first, sizes = unit_means(np.array([1.0, 5.0, 3.0]), np.array([0, 1, 0]))
    >>> means.tolist(), first.tolist(), sizes.tolist()
    ([2.0, 5.0], [0, 1], [2, 1])
    """
    _, first, inverse, sizes = np.unique(
        units, return_index=True, return_inverse=True, return_counts=True
    )
    return np.bincount(inverse, weights=values) / sizes, first, sizes


def residual_permutation(
    y: Floats,
    X: Floats,
    terms: Mapping[str, Sequence[int]],
    *,
    blocks: Codes | None,
    resamples: int,
    rng: np.random.Generator,
) -> dict[str, PermutationResult]:
    """Test terms of a linear model by shuffling the residuals of the model without each.

    Parameters
    ----------
    y : float array (n,), one value a unit.
    X : float array (n, p), the whole model; sum-to-zero columns give tests of type III.
    terms : name to the columns of X that make the term.
    blocks : int array (n,); residuals are exchanged only within a block. None: all may be.
    resamples : shuffles, the same ones for every term; 0: every p is None.

    Returns
    -------
    A result for each term, always marked approximate; p None where the term has no column of its
    own in the model or the model leaves no residual.
    """
    order = _shuffles(np.zeros(len(y), dtype=np.intp) if blocks is None else blocks, resamples, rng)
    rest = [c for c in range(X.shape[1]) if not any(c in own for own in terms.values())]
    model = FixedModel.of(X[:, rest], [X[:, list(own)] for own in terms.values()])
    residuals = [model.residual(place, y) for place in range(len(terms))]
    here = model.f(residuals, np.arange(len(y))[None, :])[0]
    found = model.f(residuals, order)
    return {
        name: sampled(int(np.sum(found[:, place] >= here[place] * (1 - 1e-10))), resamples,
                      approximate=True, df=model.own[place].shape[1])
        if resamples and np.isfinite(here[place])
        else PermutationResult(None, 0, None, approximate=True)
        for place, name in enumerate(terms)
    }  # fmt: skip


def _shuffles(blocks: Codes, resamples: int, rng: np.random.Generator) -> Codes:
    """Return orders of the rows that exchange only rows of one block, (resamples, n)."""
    order = np.broadcast_to(np.arange(len(blocks)), (resamples, len(blocks))).copy()
    for block in np.unique(blocks):
        rows = np.flatnonzero(blocks == block)
        if len(rows) > 1:
            order[:, rows] = rng.permuted(order[:, rows], axis=1)
    return order
