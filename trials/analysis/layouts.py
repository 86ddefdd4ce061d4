"""F of every term in every layout that a plan could have drawn, in one go.

Each layout gives its own columns of the same model; F asks of each term what it adds to all the
others and to the groups around the units. The response stays where it was measured.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trials.analysis.permutation import PermutationResult, sampled
from trials.model.layout import Codes, Floats
from trials.model.strata import orthonormal
from trials.model.terms import sum_to_zero

CHUNK = 4_000_000  # numbers held at once
TIE = 1e-9  # relative: far above rounding


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
    A result for each term; p None where nothing is left to judge chance by. A drawn layout in which
    F can't be computed counts as one that shows as much: the p-value errs on the safe side.
    """
    constant = np.ones((len(units.y), 1))
    inside = orthonormal(constant if units.walls is None else np.hstack([constant, units.walls]))
    width = sum(int(np.prod([units.levels[f] - 1 for f in term])) for term in terms)
    rest = units.y - inside @ (inside.T @ units.y)
    model = _Model(rest, inside, tuple(terms), units.levels, len(rest) - inside.shape[1] - width)
    here = model.f({f: c[None, :] for f, c in units.observed.items()})[0]
    draws = len(next(iter(units.drawn.values())))
    rows = max(1, CHUNK // (len(rest) * max(1, width)))
    found = [
        model.f({f: c[s : s + rows] for f, c in units.drawn.items()}) for s in range(0, draws, rows)
    ]
    values = np.vstack(found) if found else np.zeros((0, len(terms)))
    out = {}
    for place, term in enumerate(terms):
        if not draws or not np.isfinite(here[place]):
            out[term] = PermutationResult(None, 0, None)
            continue
        beyond = int((~(values[:, place] < here[place] * (1 - TIE))).sum())
        out[term] = (
            PermutationResult(beyond / draws, beyond, draws, complete=True)
            if units.complete
            else sampled(beyond, draws)
        )
    return out


@dataclass(frozen=True)
class _Model:
    """A response with the walls taken off, and the terms to fit; ``left`` residual df."""

    rest: Floats
    inside: Floats
    terms: tuple[tuple[str, ...], ...]
    levels: Mapping[str, int]
    left: int

    def f(self, codes: Mapping[str, Codes]) -> Floats:
        """Return F of each term in each layout, (m, terms); NaN where there is none."""
        blocks = [_columns(term, codes, self.levels) for term in self.terms]
        X = np.concatenate(blocks, axis=2)
        out = np.full((len(X), len(blocks)), np.nan)
        if self.left <= 0:
            return out
        X = X - self.inside @ (self.inside.T @ X)
        gram = X.transpose(0, 2, 1) @ X
        cross = self.rest @ X
        good = np.linalg.eigvalsh(gram)[:, 0] > 1e-8
        inverse = np.linalg.inv(gram[good])
        beta = np.einsum("mpq,mq->mp", inverse, cross[good])
        total = float(self.rest @ self.rest)
        error = (total - np.einsum("mp,mp->m", beta, cross[good])) / self.left
        start = 0
        for place, block in enumerate(blocks):
            own = slice(start, start + block.shape[2])
            start = own.stop
            b = beta[:, own]
            inner = np.linalg.solve(inverse[:, own, own], b[..., None])[..., 0]
            square = np.einsum("mp,mp->m", b, inner)
            out[good, place] = square / block.shape[2] / np.maximum(error, 1e-14 * total)
        return out


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
