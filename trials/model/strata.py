"""Strata: the layers of variation that a unit structure makes, and the test of orthogonality.

The space of the rows is split from large groups to small. In an orthogonal plan the covariance of
the rows is a constant on each part, every term lies in one part, and least squares with each part's
own mean square is exact (Nelder 1965).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import qr

from trials.model.hypotheses import Hypothesis
from trials.model.layout import Coded, Floats, Layout
from trials.model.terms import Design
from trials.model.variances import RESIDUAL

LARGEST = 1_000_000  # rows times members beyond which the split is not worth its time


@dataclass(frozen=True)
class Stratum:
    """One part of the space of the rows: orthonormal columns, shape (n, d)."""

    path: str  # of the grouping; "mean" for the first
    basis: Floats


@dataclass(frozen=True)
class Orthogonal:
    """What an orthogonal plan knows of itself; the last stratum is the residual.

    ``weights`` (s, c): the expected mean square of each stratum in the variance components (the
    random groups from large to small, then the residual). ``inverse`` holds for each stratum the
    (k, k) matrix B with Var(b) = sum of xi_s B_s. ``home`` gives each hypothesis' stratum.
    """

    strata: tuple[Stratum, ...]
    weights: Floats
    inverse: tuple[Floats, ...]
    left_df: tuple[int, ...]
    home: tuple[int | None, ...]

    def path(self, index: int) -> str:
        """Return the path of a stratum by its number."""
        return self.strata[index].path if index < len(self.strata) else RESIDUAL


def is_small_enough(layout: Layout) -> bool:
    """Return whether the rows can be split in reasonable time."""
    return layout.n * (1 + sum(g.members for g in layout.groupings)) <= LARGEST


def split(layout: Layout) -> tuple[Stratum, ...]:
    """Return the strata of a layout from the mean on; what they leave is the residual."""
    n = layout.n
    basis: Floats = np.full((n, 1), 1 / np.sqrt(n))
    strata = [Stratum("mean", basis)]
    for grouping in layout.groupings:
        Z = indicator(grouping.coded) / np.sqrt(grouping.coded.counts)
        own = orthonormal(Z - basis @ (basis.T @ Z))
        if own.shape[1]:
            strata.append(Stratum(grouping.path, own))
            basis = np.hstack([basis, own])
    return tuple(strata)


def indicator(coded: Coded) -> Floats:
    """Return one column of zeros and ones per level, shape (n, levels)."""
    Z = np.zeros((len(coded.codes), len(coded.levels)))
    Z[np.arange(len(coded.codes)), coded.codes] = 1.0
    return Z


def parts(strata: tuple[Stratum, ...], M: Floats) -> list[Floats]:
    """Return the part of M (n, m) in each stratum, the residual last."""
    out = [s.basis @ (s.basis.T @ M) for s in strata]
    rest = M - sum(out, np.zeros_like(M))
    for s in strata:  # once more, against rounding
        rest = rest - s.basis @ (s.basis.T @ rest)
    return [*out, rest]


def orthonormal(M: Floats) -> Floats:
    """Return an orthonormal basis (n, rank) of the columns of M, scaled to length 1 beforehand.

    Columns shorter than 1e-8 count as nothing: what a projection left over by rounding.

    Examples
    --------
    >>> orthonormal(np.array([[1.0, 2.0], [1.0, 2.0]])).shape
    (2, 1)
    """
    size = np.linalg.norm(M, axis=0)
    kept = M[:, size > 1e-8] / size[size > 1e-8]
    if kept.shape[1] == 0:
        return np.zeros((M.shape[0], 0))
    Q, R, _ = qr(kept, mode="economic", pivoting=True)  # many times faster than singular values
    left = np.abs(np.diag(R))
    basis: Floats = Q[:, : int((left > 1e-8 * left[0]).sum())]
    return basis


def orthogonal(design: Design, tests: tuple[Hypothesis, ...]) -> Orthogonal | None:
    """Return the orthogonal form of a plan, or None if it isn't orthogonal.

    Tested numerically: the covariance of every random group is a constant on each stratum; each
    stratum's part of the fixed columns stays among them; each test lies in one stratum.
    """
    layout = design.layout
    if not is_small_enough(layout) or not _equal_sizes(layout):
        return None
    strata = split(layout)
    weights = _weights(layout, strata)
    if weights is None:
        return None
    XK = design.XK
    Q, _ = np.linalg.qr(XK)
    pieces = parts(strata, XK)
    scale = np.abs(XK).max()
    if any(np.abs(piece - Q @ (Q.T @ piece)).max(initial=0.0) > 1e-8 * scale for piece in pieces):
        return None
    gram = np.linalg.inv(XK.T @ XK)
    inverse = tuple(gram @ (piece.T @ piece) @ gram for piece in pieces)
    home: list[int | None] = []
    for test in tests:
        where = _home(test, inverse)
        if where is None and test.df:
            return None
        home.append(where)
    sizes = [s.basis.shape[1] for s in strata]
    sizes.append(layout.n - sum(sizes))
    left = tuple(
        size - int(np.linalg.matrix_rank(piece, tol=1e-7 * scale * np.sqrt(layout.n)))
        for size, piece in zip(sizes, pieces, strict=True)
    )
    if not _components_follow(weights, left):
        return None
    return Orthogonal(strata, weights, inverse, left, tuple(home))


def _equal_sizes(layout: Layout) -> bool:
    return all(len(set(g.coded.counts.tolist())) == 1 for g in layout.random)


def _weights(layout: Layout, strata: tuple[Stratum, ...]) -> Floats | None:
    """Return each random group's eigenvalue of Z Z' on each stratum, or None if not constant."""
    out = np.zeros((len(strata) + 1, len(layout.random) + 1))
    out[:, -1] = 1.0
    for column, grouping in enumerate(layout.random):
        Z = indicator(grouping.coded)
        for row, stratum in enumerate(strata):
            cut = stratum.basis.T @ Z
            value = float((cut**2).sum() / cut.shape[0])
            image = Z @ cut.T
            if np.abs(image - value * stratum.basis).max() > 1e-8 * max(value, 1.0):
                return None
            out[row, column] = value if value > 1e-9 else 0.0
    return out


def _home(test: Hypothesis, inverse: tuple[Floats, ...]) -> int | None:
    if not test.df:
        return None
    sizes = np.array([np.abs(test.L @ B @ test.L.T).max() for B in inverse])
    hits = np.flatnonzero(sizes > 1e-9 * sizes.max())
    return int(hits[0]) if len(hits) == 1 else None


def _components_follow(weights: Floats, left: tuple[int, ...]) -> bool:
    """Return whether the strata with df left are no more than the components they inform.

    A stratum beyond that would tie two mean squares to one component, and pooling them is the
    business of REML.
    """
    informed = [row for row, df in enumerate(left) if df > 0]
    return bool(np.linalg.matrix_rank(weights[informed]) == len(informed))
