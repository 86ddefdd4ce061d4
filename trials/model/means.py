"""Means and comparisons that follow from a fit, averaged over everything else."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from trials.model.fit import Fit
from trials.model.hypotheses import pair_line
from trials.model.inference import Line
from trials.model.layout import Floats
from trials.model.terms import Weights, mean_line, partners


@dataclass(frozen=True)
class LevelMean:
    """The mean at one combination of levels; ``line`` is None where it can't be estimated.

    ``row`` (k,) are its coefficients.
    """

    factors: tuple[str, ...]
    levels: tuple[int, ...]
    n: int
    line: Line | None
    row: Floats | None


@dataclass(frozen=True)
class Pair:
    """Level a minus level b of ``factor``, the rest averaged or, in ``at``, held.

    ``row`` (k,) are the coefficients, None where the pair can't be compared.
    """

    factor: str
    a: int
    b: int
    at: tuple[tuple[str, int], ...]
    row: Floats | None
    line: Line | None
    notes: tuple[str, ...]


def level_means(
    fit: Fit, factors: tuple[str, ...], weights: Weights = "equal"
) -> tuple[LevelMean, ...]:
    """Return the means at every combination of ``factors``, the last factor changing fastest."""
    layout = fit.design.layout
    sizes = [range(len(layout.factors[f].levels)) for f in factors]
    counts = _counts(fit, factors)
    out = []
    for cell in product(*sizes):
        line = mean_line(fit.design, dict(zip(factors, cell, strict=True)), weights)
        short, ok = fit.design.reduce(line)
        n = counts.get(cell, 0)
        estimable = bool(ok[0]) and n > 0 and not _averages_over_gaps(fit, factors, cell)
        line_there = fit.inference.line(short[0]) if estimable else None
        out.append(LevelMean(factors, cell, n, line_there, short[0] if estimable else None))
    return tuple(out)


def _counts(fit: Fit, factors: tuple[str, ...]) -> dict[tuple[int, ...], int]:
    layout = fit.design.layout
    stacked = np.stack([layout.factors[f].codes for f in factors], axis=1)
    cells, counts = np.unique(stacked, axis=0, return_counts=True)
    return {tuple(int(c) for c in cell): int(n) for cell, n in zip(cells, counts, strict=True)}


def _averages_over_gaps(fit: Fit, factors: tuple[str, ...], cell: tuple[int, ...]) -> bool:
    """Return whether the mean would average over a combination that never occurred."""
    layout = fit.design.layout
    if any(f.trend for f in layout.structure.factors):
        return False
    for other in partners(fit.design, factors):
        joint = [layout.factors[f].codes for f in factors]
        here = np.all([codes == level for codes, level in zip(joint, cell, strict=True)], axis=0)
        linked = any(other in t.factors and set(t.factors) & set(factors) for t in fit.design.terms)
        seen = set(layout.factors[other].codes[here].tolist())
        if linked and len(seen) < len(layout.factors[other].levels):
            return True
    return False


def factor_pairs(fit: Fit, factor: str, weights: Weights = "equal") -> tuple[Pair, ...]:
    """Return all pairs of levels of a factor, averaged over the other factors."""
    return tuple(_pairs_at(fit, factor, (), weights))


def simple_pairs(
    fit: Fit, factor: str, within: str, weights: Weights = "equal"
) -> tuple[Pair, ...]:
    """Return all pairs of levels of a factor within each level of another."""
    levels = len(fit.design.layout.factors[within].levels)
    return tuple(
        pair
        for level in range(levels)
        for pair in _pairs_at(fit, factor, ((within, level),), weights)
    )


def recipe_means(fit: Fit, most: int) -> tuple[LevelMean, ...]:
    """Return the mean of every recipe that the model can tell of, made or not.

    A recipe is one level of each factor. Where there are more than ``most``, only those made.
    """
    factors = tuple(fit.design.layout.factors)
    if not factors:
        return ()
    counts = _counts(fit, factors)
    sizes = [len(fit.design.layout.factors[f].levels) for f in factors]
    cells = product(*map(range, sizes)) if math.prod(sizes) <= most else sorted(counts)
    out = []
    for cell in cells:
        short, ok = fit.design.reduce(mean_line(fit.design, dict(zip(factors, cell, strict=True))))
        line = fit.inference.line(short[0]) if ok[0] else None
        out.append(LevelMean(factors, cell, counts.get(cell, 0), line, short[0] if ok[0] else None))
    return tuple(out)


def _pairs_at(
    fit: Fit, factor: str, at: tuple[tuple[str, int], ...], weights: Weights
) -> Iterator[Pair]:
    levels = len(fit.design.layout.factors[factor].levels)
    for a, b in combinations(range(levels), 2):
        row, notes = pair_line(fit.design, factor, a, b, dict(at), weights=weights)
        line = None if row is None else fit.inference.line(row)
        yield Pair(factor, a, b, at, row, line, notes)
