"""The test of one pair of levels in every shuffle, whatever difference was taken off beforehand.

Where all factors move, the pair is tested as an interaction is: by what the model in which both
levels do the same leaves of the response. Where nothing but the pair's factor moves, the response
itself is tested: what the others did is in every layout's model. Either is linear in the difference
d taken off, so F is a ratio of two polynomials of second degree in d, and one pass over the
shuffles gives their coefficients.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trials.analysis.exchanges import CHUNK, FixedModel
from trials.analysis.inversion import Curves
from trials.analysis.layouts import CHUNK as LAYOUTS_CHUNK
from trials.analysis.layouts import Factors, Replayed, columns_of, inverses
from trials.model.layout import Codes, Floats
from trials.model.strata import orthonormal
from trials.model.terms import sum_to_zero

PairOf = tuple[str, int, int]  # factor, and the codes of two of its levels: first minus second


@dataclass(frozen=True)
class _Asked:
    """A pair in the observed layout: the model in which its levels do the same, and one column.

    ``both`` (2, u): what that model leaves of the response, and of a difference of 1; or what the
    groups around the units leave of the two.
    ``contrast`` (df,): the difference in the coefficients of the factor's columns.
    """

    fixed: FixedModel
    both: Floats
    contrast: Floats


@dataclass(frozen=True)
class Moves:
    """Exchanges of units, (m, u), and the new names of levels that go with them, (m, levels)."""

    places: Codes
    names: Mapping[str, Codes]

    def pairs(self, pair: PairOf) -> tuple[list[PairOf], Codes]:
        """Return the pairs that come to be called ``pair``, and which of them in each, (m,)."""
        factor, a, b = pair
        new = self.names.get(factor)
        if new is None:
            return [pair], np.zeros(len(self.places), dtype=np.intp)
        old = np.sort(np.argsort(new, axis=1)[:, [a, b]], axis=1)
        kinds, which = np.unique(old, axis=0, return_inverse=True)
        return [(factor, int(one), int(two)) for one, two in kinds], which.reshape(-1)


def pair_curves(
    units: Replayed,
    moves: Moves | None,
    terms: Sequence[Factors],
    pairs: Sequence[PairOf],
    *,
    alone: bool = False,
) -> dict[PairOf, Curves]:
    """Return the curves of the pairs that can be tested on some units.

    Parameters
    ----------
    moves : used instead of ``units.drawn``; None: the layouts are no exchanges.
    terms : the factors of all terms fitted on these units; those of the pairs are among them.
    alone : nothing but the factor of the pairs moves, and of its levels either all, if they are
        two, or those of the pair.
    """
    asked = {}
    for pair in pairs:
        one = _asked(units, terms, pair, alone=alone)
        if one is not None:
            asked[pair] = one
    if not asked:
        return {}
    found = (
        _in_layouts(units, terms, asked)
        if moves is None
        else {pair: _renamed(units, terms, pair, one, moves) for pair, one in asked.items()}
    )
    stay = np.arange(len(units.y), dtype=np.intp)[None, :]
    out = {}
    for pair, (top, rest) in found.items():
        own, own_rest = _moved(asked[pair], stay)
        # layouts that leave the pair as it is: nothing of the difference is left over but rounding
        small = 1e-10 * float(asked[pair].both[1] @ asked[pair].both[1])
        for left in (rest, own_rest):
            left[np.abs(left[:, 2]) * asked[pair].fixed.left < small, 1:] = 0.0
        out[pair] = Curves(top, rest, own[0], own_rest[0], units.complete)
    return out


def _renamed(
    units: Replayed, terms: Sequence[Factors], pair: PairOf, one: _Asked, moves: Moves
) -> tuple[Floats, Floats]:
    """Return what :func:`_moved` does, where other levels may get the names of the pair."""
    kinds, which = moves.pairs(pair)
    top, rest = np.full((len(which), 3), np.nan), np.full((len(which), 3), np.nan)
    for number, kind in enumerate(kinds):
        other = one if kind == pair else _asked(units, terms, kind)
        if other is not None:
            here = which == number
            fixed = replace(one.fixed, own=other.fixed.own)
            top[here], rest[here] = _moved(replace(one, fixed=fixed), moves.places[here])
    return top, rest


def _asked(
    units: Replayed, terms: Sequence[Factors], pair: PairOf, *, alone: bool = False
) -> _Asked | None:
    factor, a, b = pair
    levels = units.levels[factor]
    if len(np.unique(units.observed[factor])) < levels:
        return None
    coding = sum_to_zero(levels)
    contrast: Floats = coding[a] - coding[b]
    size = float(contrast @ contrast)
    same = orthonormal(np.eye(levels - 1) - np.outer(contrast, contrast) / size)
    own = units.columns((factor,))
    others = [units.columns(term) for term in terms if term != (factor,)]
    step = own @ contrast / size
    fixed = FixedModel.of(np.hstack([units.base, *others, own @ same]), [step[:, None]])
    if not fixed.own[0].shape[1] or fixed.left <= 0:
        return None
    responses = np.stack([units.y, step])
    if alone:
        inside = orthonormal(units.base)
        both = responses - responses @ inside @ inside.T
    else:
        both = np.stack([fixed.residual(0, response) for response in responses])
    return _Asked(fixed, both, contrast) if both[0].any() else None


def _moved(one: _Asked, moves: Codes) -> tuple[Floats, Floats]:
    """Return the coefficients of the pair's square and of what is left, (m, 3) each."""
    top, rest = np.empty((len(moves), 3)), np.empty((len(moves), 3))
    whole = one.fixed.whole
    rows = max(1, CHUNK // whole.size)
    totals = _products(one.both[:, None, :])
    for start in range(0, len(moves), rows):
        part = slice(start, start + rows)
        moved = [response[moves[part]] for response in one.both]
        top[part] = _products(np.stack([m @ one.fixed.own[0] for m in moved]))
        rest[part] = (totals - _products(np.stack([m @ whole for m in moved]))) / one.fixed.left
    return top, rest


def _products(both: Floats) -> Floats:
    """Return first by first, first by second and second by second of (2, m, q), (m, 3)."""
    first, second = both
    ways = ((first, first), (first, second), (second, second))
    return np.stack([np.einsum("mq,mq->m", one, other) for one, other in ways], axis=1)


def _in_layouts(
    units: Replayed, terms: Sequence[Factors], asked: dict[PairOf, _Asked]
) -> dict[PairOf, tuple[Floats, Floats]]:
    """Return what :func:`_moved` does for the layouts that were drawn or listed."""
    draws = len(next(iter(units.drawn.values())))
    out = {pair: (np.full((draws, 3), np.nan), np.full((draws, 3), np.nan)) for pair in asked}
    inside = orthonormal(units.base)
    responses = np.concatenate([one.both for one in asked.values()])
    width = sum(int(np.prod([units.levels[f] - 1 for f in term])) for term in terms)
    rows = max(1, LAYOUTS_CHUNK // (len(units.y) * max(1, width)))
    for start in range(0, draws, rows):
        part = slice(start, start + rows)
        X, ends = columns_of(terms, {f: c[part] for f, c in units.drawn.items()}, units.levels)
        held = inside.T @ X
        inverse, rank, unsure = inverses(X.transpose(0, 2, 1) @ X - held.transpose(0, 2, 1) @ held)
        cross = responses @ X  # (m, 2 pairs, p)
        beta = cross @ inverse
        left = len(units.y) - inside.shape[1] - rank
        for place, (pair, one) in enumerate(asked.items()):
            stop = ends[list(terms).index((pair[0],))]
            own = slice(stop - len(one.contrast), stop)
            b, x = (M[:, 2 * place : 2 * place + 2].transpose(1, 0, 2) for M in (beta, cross))
            size = np.einsum("p,mpq,q->m", one.contrast, inverse[:, own, own], one.contrast)
            known = (left > 0) & ~unsure[:, own].any(axis=1)
            lines = np.einsum("rmp,p->rm", b[:, :, own], one.contrast)[:, :, None]
            top = _products(lines) / np.where(known, size, np.nan)[:, None]
            first = np.einsum("mp,mp->m", b[0], x[0])
            mixed = np.einsum("mp,mp->m", b[0], x[1])
            second = np.einsum("mp,mp->m", b[1], x[1])
            explained = np.stack([first, mixed, second], axis=1)
            totals = _products(one.both[:, None, :])
            shared = np.where(known, left, np.nan)[:, None]
            out[pair][0][part], out[pair][1][part] = top, (totals - explained) / shared
    return out
