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
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from trials.analysis.exchanges import SMALLEST, FixedModel
from trials.analysis.permutation import PermutationResult, sampled
from trials.model.layout import Codes, Floats
from trials.model.strata import orthonormal
from trials.model.terms import sum_to_zero

CHUNK = 4_000_000  # numbers held at once
TIE = 1e-9  # relative: far above rounding
RANK = 1e-9  # of the largest eigenvalue: below it a combination of columns says nothing

Factors = tuple[str, ...]  # of a term


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

    @property
    def base(self) -> Floats:
        """The columns that no layout changes, (u, q + 1)."""
        constant = np.ones((len(self.y), 1))
        return constant if self.walls is None else np.hstack([constant, self.walls])

    def columns(self, term: Factors) -> Floats:
        """Return a term's columns in the observed layout, over the levels that occur, (u, df)."""
        out = np.ones((len(self.y), 1))
        for factor in term:
            codes = np.unique(self.observed[factor], return_inverse=True)[1]
            own = sum_to_zero(int(codes.max()) + 1)[codes]
            out = (out[:, :, None] * own[:, None, :]).reshape(len(out), -1)
        return out


def replay(
    units: Replayed, terms: Sequence[Factors], adjusted: Sequence[Factors] = ()
) -> dict[Factors, PermutationResult]:
    """Compare F of each term with its F in layouts drawn as the plan's own was.

    Parameters
    ----------
    terms : the factor names of each term of the model on these units.
    adjusted : the terms for which the other layouts meet what the model without the term leaves of
        the response, instead of the response: what other terms did is then no part of the chance
        that the term is held against. Such a p is approximate.

    Returns
    -------
    A result for each term, with the df it was tested on; p None where nothing is left to judge
    chance by. A drawn layout in which F can't be computed counts as one that shows as much: the
    p-value errs on the safe side.
    """
    model = _model(units, terms, adjusted)
    here = model.f({f: c[None, :] for f, c in units.observed.items()})
    draws = len(next(iter(units.drawn.values())))
    width = sum(int(np.prod([units.levels[f] - 1 for f in term])) for term in terms)
    rows = max(1, CHUNK // (len(units.y) * max(1, width)))
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
        out[term] = counted(beyond, draws, df, complete=units.complete)
    return out


def moved(
    units: Replayed, moves: Codes, terms: Sequence[Factors], adjusted: Sequence[Factors] = ()
) -> dict[Factors, PermutationResult]:
    """Return what :func:`replay` does where the layouts are exchanges of places, much faster.

    Parameters
    ----------
    moves : unit i gets the response of unit ``moves[k, i]``, (m, u), which leaves the walls as they
        are. ``units.drawn`` isn't looked at.
    """
    fixed = FixedModel.of(units.base, [units.columns(term) for term in terms])
    inside = orthonormal(units.base)
    rest = units.y - inside @ (inside.T @ units.y)
    responses = [
        fixed.residual(place, units.y) if term in adjusted else rest
        for place, term in enumerate(terms)
    ]
    here = fixed.f(responses, np.arange(len(units.y), dtype=np.intp)[None, :])[0]
    found = fixed.f(responses, moves)
    out = {}
    for place, term in enumerate(terms):
        df = fixed.own[place].shape[1]
        if not len(moves) or not np.isfinite(here[place]):
            out[term] = PermutationResult(None, 0, None, df=df)
            continue
        beyond = int((found[:, place] >= here[place] * (1 - TIE)).sum())
        out[term] = counted(beyond, len(moves), df, complete=False)
    return out


def unit_moves(exchanges: Codes, places: Codes, unit: Codes) -> Codes | None:
    """Return exchanges of rows as exchanges of units, (m, u); None where they tear units apart.

    Parameters
    ----------
    exchanges : row i takes what stood at row ``exchanges[k, i]``, (m, rows).
    places : the row of each value, (rows,). ``unit``: code of its unit, (rows,).
    """
    _, first, inverse = np.unique(unit, return_index=True, return_inverse=True)
    unit_at = np.empty(len(places), dtype=np.intp)
    unit_at[places] = inverse
    moves: Codes = unit_at[exchanges[:, places[first]]]
    whole = len(first) == len(places) or (np.sort(moves, axis=1) == np.arange(len(first))).all()
    return moves if whole else None


def counted(beyond: int, draws: int, df: int, *, complete: bool) -> PermutationResult:
    """Return the result of a term of which ``beyond`` of ``draws`` layouts showed as much."""
    result = (
        PermutationResult(beyond / draws, beyond, draws, complete=True)
        if complete
        else sampled(beyond, draws)
    )
    return dataclasses.replace(result, df=df)


def _model(units: Replayed, terms: Sequence[Factors], adjusted: Sequence[Factors]) -> _Model:
    inside = orthonormal(units.base)
    rest = units.y - inside @ (inside.T @ units.y)
    responses, which = [rest], [0] * len(terms)
    if adjusted:
        fixed = FixedModel.of(units.base, [units.columns(term) for term in terms])
        for place, term in enumerate(terms):
            if term in adjusted:
                which[place] = len(responses)
                responses.append(fixed.residual(place, units.y))
    return _Model(np.array(responses), tuple(which), inside, tuple(terms), units.levels)


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
    """Responses (r, u) with the walls taken off, and the terms to fit, each to one of them."""

    responses: Floats
    which: tuple[int, ...]
    inside: Floats
    terms: tuple[Factors, ...]
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
        X, ends = columns_of(self.terms, codes, levels)
        inside = self.inside.T @ X
        gram = X.transpose(0, 2, 1) @ X - inside.transpose(0, 2, 1) @ inside
        cross = self.responses @ X  # (m, r, p): the responses have nothing inside the walls
        inverse, rank, unsure = inverses(gram)
        beta = cross @ inverse
        explained = np.einsum("mrp,mrp->mr", beta, cross)
        totals = np.einsum("ru,ru->r", self.responses, self.responses)
        left = self.responses.shape[1] - self.inside.shape[1] - rank
        shared = np.where((left > 0)[:, None] & (totals > 0), left[:, None], np.nan)
        error = np.maximum((totals - explained) / shared, SMALLEST * totals)
        f = np.full((len(X), len(self.terms)), np.nan)
        df = np.zeros(f.shape, np.intp)
        for place, (start, stop) in enumerate(pairwise((0, *ends))):
            own, response = slice(start, stop), self.which[place]
            square = np.empty(len(X))
            known = ~unsure[:, own].any(axis=1)
            b = beta[known, response, own]
            inner = np.linalg.solve(inverse[known, own, own], b[..., None])[..., 0]
            square[known] = np.einsum("mp,mp->m", b, inner)
            df[known, place] = stop - start
            if not known.all():
                part = ~known
                less, fewer = _without(gram[part], cross[part, response], own)
                square[part] = np.maximum(explained[part, response] - less, 0.0)
                df[part, place] = rank[part] - fewer
            some = df[:, place] > 0
            f[some, place] = square[some] / df[some, place] / error[some, response]
        return _Found(f, df, left)


def inverses(gram: Floats) -> tuple[Floats, Codes, NDArray[np.bool_]]:
    """Return inverses of ``gram`` (m, p, p), ranks (m,) and what can't be estimated (m, p).

    The inverse of a singular matrix is the Moore-Penrose one.
    """
    m, p, _ = gram.shape
    rank, unsure = np.full(m, p, dtype=np.intp), np.zeros((m, p), dtype=np.bool_)
    if not p:
        return gram, rank, unsure
    inverse, regular = _plain_inverses(gram)
    if regular.all():
        return inverse, rank, unsure
    sizes, V = np.linalg.eigh(gram[~regular])
    kept = sizes > RANK * np.maximum(sizes[:, -1:], 1.0)
    scaled = V * np.where(kept, 1 / np.where(kept, sizes, 1.0), 0.0)[:, None, :]
    inverse[~regular] = scaled @ V.transpose(0, 2, 1)
    rank[~regular] = kept.sum(axis=1)
    unsure[~regular] = ((V * ~kept[:, None, :]) ** 2).sum(axis=2) > 1e-8
    return inverse, rank, unsure


def _plain_inverses(gram: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return inverses (m, p, p), and which are surely far from singular, (m,).

    The condition number is at most the product of the Frobenius norms of a matrix and its inverse.
    """
    try:
        inverse: Floats = np.asarray(np.linalg.inv(gram), np.float64)
    except np.linalg.LinAlgError:  # one is singular to the last digit
        sizes = np.linalg.eigvalsh(gram)
        regular = sizes[:, 0] > RANK * sizes[:, -1]
        inverse = np.zeros_like(gram)
        inverse[regular] = np.linalg.inv(gram[regular])
        return inverse, regular
    size = np.einsum("mpq,mpq->m", gram, gram) * np.einsum("mpq,mpq->m", inverse, inverse)
    return inverse, size < RANK**-2


def _without(gram: Floats, cross: Floats, own: slice) -> tuple[Floats, Codes]:
    """Return what all columns but ``own`` explain, (m,), and their rank, (m,)."""
    gram = np.delete(np.delete(gram, own, axis=1), own, axis=2)
    cross = np.delete(cross, own, axis=1)
    inverse, rank, _ = inverses(gram)
    return np.einsum("mp,mpq,mq->m", cross, inverse, cross), rank


def columns_of(
    terms: Sequence[Factors], codes: Mapping[str, Codes], levels: Mapping[str, int]
) -> tuple[Floats, list[int]]:
    """Return the columns of all terms in each layout, coded to sum to zero, (m, u, p), and ends.

    The columns of a unit follow from its combination of levels, so they are looked up.
    """
    names = list(levels)
    cell = np.zeros(np.shape(next(iter(codes.values()))), dtype=np.intp)
    for name in names:
        cell = cell * levels[name] + codes[name]
    seen = np.unique(cell)
    at = dict(zip(names, np.unravel_index(seen, [levels[name] for name in names]), strict=True))
    blocks = []
    for term in terms:
        block = np.ones((len(seen), 1))
        for factor in term:
            own = sum_to_zero(levels[factor])[at[factor]]
            block = (block[:, :, None] * own[:, None, :]).reshape(len(seen), -1)
        blocks.append(block)
    ends = np.cumsum([block.shape[1] for block in blocks]).tolist()
    return np.hstack(blocks)[np.searchsorted(seen, cell)], ends
