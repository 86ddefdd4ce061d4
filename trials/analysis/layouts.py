"""F of every term in every layout that a plan could have drawn, in one go.

Each layout gives its own columns of the same model; F asks of each term what it adds to all the
others and to the groups around the units. The response stays where it was measured.

Where combinations of levels are empty, at the places that were measured, a term is tested on what
of it can be estimated: (RSS without it - RSS) / df over RSS / residual df, with the ranks as df.
Layouts that leave a term another df, or another residual df, are compared by the tail of the F
distribution: any number computed from a layout and the response keeps the promise of the p-value.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from trials.analysis.permutation import PermutationResult, sampled
from trials.model.layout import Codes, Floats
from trials.model.strata import orthonormal
from trials.model.terms import sum_to_zero

CHUNK = 4_000_000  # numbers held at once
TIE = 1e-9  # relative: far above rounding
RANK = 1e-9  # of the largest eigenvalue: below it a combination of columns says nothing


@dataclass(frozen=True)
class Replayed:
    """Units with their response, the layout they had, and others they could have had.

    ``y`` (u,), one value a unit. ``observed``, ``drawn``: level codes of each factor, (u,) and
    (m, u). ``levels``: number of levels of each. ``walls`` (u, q): columns of the groups around the
    units; the constant is always among them. ``complete``: ``drawn`` are all layouts there are, the
    observed one included.
    """

    y: Floats
    observed: Mapping[str, Codes]
    drawn: Mapping[str, Codes]
    levels: Mapping[str, int]
    walls: Floats | None = None
    complete: bool = False


def replay(
    units: Replayed, terms: Sequence[tuple[str, ...]]
) -> dict[tuple[str, ...], PermutationResult]:
    """Compare F of each term with its F in layouts drawn as the plan's own was.

    ``terms`` are the factor names of each term of the model on these units.

    Returns
    -------
    A result for each term, with the df it was tested on; p None where nothing is left to judge
    chance by. A drawn layout in which F can't be computed counts as one that shows as much: the
    p-value errs on the safe side.
    """
    constant = np.ones((len(units.y), 1))
    inside = orthonormal(constant if units.walls is None else np.hstack([constant, units.walls]))
    width = sum(int(np.prod([units.levels[f] - 1 for f in term])) for term in terms)
    rest = units.y - inside @ (inside.T @ units.y)
    model = _Model(rest, inside, tuple(terms), units.levels)
    here = model.f({f: c[None, :] for f, c in units.observed.items()})
    draws = len(next(iter(units.drawn.values())))
    rows = max(1, CHUNK // (len(rest) * max(1, width)))
    found = [
        model.f({f: c[s : s + rows] for f, c in units.drawn.items()}) for s in range(0, draws, rows)
    ]
    out = {}
    for place, term in enumerate(terms):
        df = int(here.df[0, place])
        if not draws or not np.isfinite(here.f[0, place]):
            out[term] = PermutationResult(None, 0, None, df=df)
            continue
        beyond = sum(int(_shows_as_much(part, here, place).sum()) for part in found)
        result = (
            PermutationResult(beyond / draws, beyond, draws, complete=True)
            if units.complete
            else sampled(beyond, draws)
        )
        out[term] = dataclasses.replace(result, df=df)
    return out


@dataclass(frozen=True)
class _Found:
    """F of each term in each layout and its df, (m, terms), and the residual df, (m,).

    F is NaN where there is none.
    """

    f: Floats
    df: Codes
    left: Codes


def _shows_as_much(there: _Found, here: _Found, place: int) -> NDArray[np.bool_]:
    """Return for which layouts a term's F is at least as extreme as the one observed, (m,)."""
    f, df, left = there.f[:, place], there.df[:, place], there.left
    own, own_df, own_left = here.f[0, place], here.df[0, place], here.left[0]
    out: NDArray[np.bool_] = ~(f < own * (1 - TIE))
    other = np.isfinite(f) & ((df != own_df) | (left != own_left))
    tail = fdtrc(own_df, own_left, own)
    out[other] = ~(fdtrc(df[other], left[other], f[other]) > tail * (1 + TIE))
    return out


@dataclass(frozen=True)
class _Model:
    """A response with the walls taken off, and the terms to fit."""

    rest: Floats
    inside: Floats
    terms: tuple[tuple[str, ...], ...]
    levels: Mapping[str, int]

    def f(self, codes: Mapping[str, Codes]) -> _Found:
        """Return F of each term in each layout, over the levels that occur in that layout."""
        present = np.concatenate(
            [(codes[f][..., None] == np.arange(n)).any(axis=1) for f, n in self.levels.items()],
            axis=1,
        )
        if present.all():
            return self._fitted(codes, self.levels)
        ends = np.cumsum(list(self.levels.values()))[:-1]
        kinds, which = np.unique(present, axis=0, return_inverse=True)
        shape = (len(present), len(self.terms))
        out = _Found(np.full(shape, np.nan), np.zeros(shape, np.intp), np.zeros(shape[0], np.intp))
        for number, kind in enumerate(kinds):
            rows = np.flatnonzero(which.reshape(-1) == number)
            seen = dict(zip(self.levels, np.split(kind, ends), strict=True))
            part = self._fitted(
                {f: (np.cumsum(seen[f]) - 1)[codes[f][rows]] for f in self.levels},
                {f: int(seen[f].sum()) for f in self.levels},
            )
            out.f[rows], out.df[rows], out.left[rows] = part.f, part.df, part.left
        return out

    def _fitted(self, codes: Mapping[str, Codes], levels: Mapping[str, int]) -> _Found:
        blocks = [_columns(term, codes, levels) for term in self.terms]
        X = np.concatenate(blocks, axis=2)
        X = X - self.inside @ (self.inside.T @ X)
        gram = X.transpose(0, 2, 1) @ X
        cross = self.rest @ X
        inverse, rank, unsure = _inverses(gram)
        beta = np.einsum("mpq,mq->mp", inverse, cross)
        explained = np.einsum("mp,mp->m", beta, cross)
        total = float(self.rest @ self.rest)
        left = len(self.rest) - self.inside.shape[1] - rank
        error = np.maximum((total - explained) / np.where(left > 0, left, np.nan), 1e-14 * total)
        f = np.full((len(X), len(blocks)), np.nan)
        df = np.zeros(f.shape, np.intp)
        start = 0
        for place, block in enumerate(blocks):
            own = slice(start, start + block.shape[2])
            start = own.stop
            square = np.empty(len(X))
            known = ~unsure[:, own].any(axis=1)
            b = beta[known, own]
            inner = np.linalg.solve(inverse[known, own, own], b[..., None])[..., 0]
            square[known] = np.einsum("mp,mp->m", b, inner)
            df[known, place] = block.shape[2]
            if not known.all():
                part = ~known
                less, fewer = _without(gram[part], cross[part], own)
                square[part] = np.maximum(explained[part] - less, 0.0)
                df[part, place] = rank[part] - fewer
            some = df[:, place] > 0
            f[some, place] = square[some] / df[some, place] / error[some]
        return _Found(f, df, left)


def _inverses(gram: Floats) -> tuple[Floats, Codes, NDArray[np.bool_]]:
    """Return inverses of ``gram`` (m, p, p), ranks (m,) and what can't be estimated (m, p).

    The inverse of a singular matrix is the Moore-Penrose one.
    """
    m, p, _ = gram.shape
    rank, unsure = np.full(m, p, dtype=np.intp), np.zeros((m, p), dtype=np.bool_)
    if not p:
        return gram, rank, unsure
    sizes = np.linalg.eigvalsh(gram)
    regular = sizes[:, 0] > RANK * sizes[:, -1]
    if regular.all():
        return np.asarray(np.linalg.inv(gram), np.float64), rank, unsure
    inverse: Floats = np.empty_like(gram)
    inverse[regular] = np.linalg.inv(gram[regular])
    sizes, V = np.linalg.eigh(gram[~regular])
    kept = sizes > RANK * np.maximum(sizes[:, -1:], 1.0)
    scaled = V * np.where(kept, 1 / np.where(kept, sizes, 1.0), 0.0)[:, None, :]
    inverse[~regular] = scaled @ V.transpose(0, 2, 1)
    rank[~regular] = kept.sum(axis=1)
    unsure[~regular] = ((V * ~kept[:, None, :]) ** 2).sum(axis=2) > 1e-8
    return inverse, rank, unsure


def _without(gram: Floats, cross: Floats, own: slice) -> tuple[Floats, Codes]:
    """Return what all columns but ``own`` explain, (m,), and their rank, (m,)."""
    gram = np.delete(np.delete(gram, own, axis=1), own, axis=2)
    cross = np.delete(cross, own, axis=1)
    inverse, rank, _ = _inverses(gram)
    return np.einsum("mp,mpq,mq->m", cross, inverse, cross), rank


def _columns(
    term: tuple[str, ...], codes: Mapping[str, Codes], levels: Mapping[str, int]
) -> Floats:
    """Return a term's columns in each layout, coded to sum to zero, (m, u, df)."""
    out: Floats | None = None
    for factor in term:
        own = sum_to_zero(levels[factor])[codes[factor]]
        if out is None:
            out = own
        else:
            out = (out[..., :, None] * own[..., None, :]).reshape(*own.shape[:2], -1)
    return out if out is not None else np.zeros((0, 0, 0))
