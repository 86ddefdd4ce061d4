"""Terms of the treatment structure and their columns, coded to sum to zero.

The coding is fixed here, so that no test depends on how somebody happened to code a factor.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations
from typing import Any, Literal

import numpy as np

from trials.model.layout import Coded, Codes, Floats, Layout

Weights = Literal["equal", "proportional"]

TOLERANCE = 1e-9  # on columns scaled to length one
_MOST_CELLS = 1_000_000  # combinations that are ticked off one by one


@dataclass(frozen=True)
class Term:
    """A main effect, an interaction, a covariate or a fixed group; ``columns`` index into X."""

    name: str
    factors: tuple[str, ...]
    columns: slice
    role: str  # "treatment", "covariate", "group", "mean"


@dataclass(frozen=True)
class Design:
    """The fixed part: X of shape (n, p) in full coding and what of it can be estimated.

    ``kept`` lists the columns of a basis; ``spread`` (k, p) writes every column in that basis, so
    that a linear function l of the p coefficients is estimable if l = l[kept] @ spread.
    """

    layout: Layout
    X: Floats
    terms: tuple[Term, ...]
    kept: Codes
    spread: Floats

    @property
    def XK(self) -> Floats:
        """The kept columns of X, shape (n, k)."""
        kept: Floats = self.X[:, self.kept]
        return kept

    @property
    def treatments(self) -> tuple[Term, ...]:
        """The terms that are tested: treatments and covariates."""
        return tuple(t for t in self.terms if t.role in ("treatment", "covariate"))

    @cached_property
    def pairs(self) -> dict[tuple[Any, ...], tuple[Floats | None, tuple[str, ...]]]:
        """Differences between levels that were worked out already, for use by hypotheses."""
        return {}

    def term(self, name: str) -> Term:
        """Return the term of that name; KeyError if there is none."""
        for term in self.terms:
            if term.name == name:
                return term
        raise KeyError(name)

    def reduce(self, lines: Floats) -> tuple[Floats, np.ndarray]:
        """Return ``lines`` (r, p) in the kept coordinates (r, k), and which are estimable (r,)."""
        short: Floats = np.atleast_2d(lines)[:, self.kept]
        gap = np.abs(np.atleast_2d(lines) - short @ self.spread).max(axis=1, initial=0.0)
        return short, gap < 1e-7


def term_name(factors: tuple[str, ...]) -> str:
    """Return the name of a term: its factors in the order of the study, joined by colons."""
    return ":".join(factors)


def treatment_terms(factors: tuple[str, ...], interactions: int) -> tuple[tuple[str, ...], ...]:
    """Return main effects, then interactions of up to ``interactions`` factors.

    Examples
    --------
    >>> treatment_terms(("a", "b", "c"), 2)
    (('a',), ('b',), ('c',), ('a', 'b'), ('a', 'c'), ('b', 'c'))
    """
    sizes = range(1, min(interactions, len(factors)) + 1)
    return tuple(combo for size in sizes for combo in combinations(factors, size))


def make_design(layout: Layout, interactions: int = 2) -> Design:
    """Return the coded fixed part: mean, fixed groups, covariates, treatments.

    Fixed groups come first, so that what a treatment shares with one is charged to the group.
    """
    blocks: list[Floats] = [np.ones((layout.n, 1))]
    terms: list[Term] = [Term("mean", (), slice(0, 1), "mean")]

    def add(name: str, factors: tuple[str, ...], columns: Floats, role: str) -> None:
        start = sum(block.shape[1] for block in blocks)
        blocks.append(columns)
        terms.append(Term(name, factors, slice(start, start + columns.shape[1]), role))

    for grouping in layout.fixed:
        columns = sum_to_zero(len(grouping.coded.levels))[grouping.coded.codes]
        add(grouping.path, (), columns, "group")
    for name, numbers in layout.covariates.items():
        centred = numbers - numbers.mean()
        scale = float(np.abs(centred).max(initial=0.0)) or 1.0
        add(name, (), (centred / scale)[:, None], "covariate")
    for factors in treatment_terms(tuple(layout.factors), interactions):
        add(term_name(factors), factors, rows_of(layout, factors, _codes(layout)), "treatment")
    X = np.hstack(blocks)
    kept, spread = basis_in_order(X)
    return Design(layout, X, tuple(terms), kept, spread)


def _codes(layout: Layout) -> Mapping[str, Codes]:
    return {name: coded.codes for name, coded in layout.factors.items()}


@lru_cache(maxsize=128)
def sum_to_zero(levels: int) -> Floats:
    """Return the coding of a factor, shape (levels, levels - 1), each column summing to zero."""
    coding: Floats = np.vstack([np.eye(levels - 1), -np.ones((1, levels - 1))])
    coding.flags.writeable = False
    return coding


def level_coding(layout: Layout, factor: str) -> Floats:
    """Return the columns of one factor for each of its levels, shape (levels, df)."""
    coded = layout.factors[factor]
    if not layout.structure.factor(factor).trend:
        return sum_to_zero(len(coded.levels))
    values = layout.values(factor)
    centred = values - values[coded.codes].mean()
    column: Floats = (centred / (np.abs(centred).max() or 1.0))[:, None]
    return column


def rows_of(layout: Layout, factors: tuple[str, ...], codes: Mapping[str, Codes]) -> Floats:
    """Return the columns of a term at the given level codes, one row each."""
    out = np.ones((len(next(iter(codes.values()))), 1))
    for factor in factors:
        own = level_coding(layout, factor)[codes[factor]]
        out = (out[:, :, None] * own[:, None, :]).reshape(len(out), -1)
    return out


def basis_in_order(X: Floats) -> tuple[Codes, Floats]:
    """Return the first independent columns of X and all columns written in them.

    Columns are scaled to length one and taken from the left, so that what is left out is always the
    later term. Shapes: kept (k,), spread (k, p).
    """
    n, p = X.shape
    norms = np.linalg.norm(X, axis=0)
    scaled = X / np.where(norms > 0, norms, 1.0)
    Q = np.zeros((n, min(n, p)))
    kept: list[int] = []
    for column in range(p):
        rest = scaled[:, column].copy()
        for _ in range(2):
            rest -= Q[:, : len(kept)] @ (Q[:, : len(kept)].T @ rest)
        size = float(np.linalg.norm(rest))
        if size > TOLERANCE * 10 and len(kept) < n:
            Q[:, len(kept)] = rest / size
            kept.append(column)
    indices = np.array(kept, dtype=np.intp)
    if len(kept) == p:
        return indices, np.eye(p)
    spread, *_ = np.linalg.lstsq(scaled[:, indices], scaled, rcond=None)
    spread = spread / norms[indices][:, None] * norms[None, :]
    spread[np.abs(spread) < 1e-10] = 0.0
    spread[:, indices] = np.eye(len(kept))
    return indices, spread


def mean_line(design: Design, levels: Mapping[str, int], weights: Weights = "equal") -> Floats:
    """Return the coefficients of the mean at some levels, averaged over all else, (p,).

    ``weights``: every combination of the others counts equally, or as often as it occurs among the
    rows (fixed groups too).
    """
    line = np.zeros(design.X.shape[1])
    line[0] = 1.0
    layout = design.layout
    if weights == "proportional":
        codes = {
            name: np.full(layout.n, levels[name]) if name in levels else coded.codes
            for name, coded in layout.factors.items()
        }
        for term in design.terms:
            if term.role == "treatment":
                line[term.columns] = rows_of(layout, term.factors, codes).mean(axis=0)
            elif term.role == "group":
                line[term.columns] = design.X[:, term.columns].mean(axis=0)
        return line
    own = {name: _at_or_over(layout, name, levels.get(name)) for name in layout.factors}
    for term in design.terms:
        if term.role == "treatment":
            first, *others = (own[name] for name in term.factors)
            for other in others:
                first = (first[:, None] * other).ravel()
            line[term.columns] = first
    return line


def _at_or_over(layout: Layout, factor: str, level: int | None) -> Floats:
    """Return the columns of one factor at a level, or averaged over its levels, (df,)."""
    coding = level_coding(layout, factor)
    own: Floats = coding.mean(axis=0) if level is None else coding[level]
    return own


def partners(design: Design, factors: tuple[str, ...]) -> tuple[str, ...]:
    """Return the other factors that share an interaction of the model with any of ``factors``."""
    found = [
        other
        for term in design.terms
        if term.role == "treatment" and set(factors) & set(term.factors)
        for other in term.factors
        if other not in factors
    ]
    order = list(design.layout.factors)
    return tuple(sorted(set(found), key=order.index))


def observed_cells(layout: Layout, factors: tuple[str, ...]) -> Codes:
    """Return the combinations of ``factors`` that occur, shape (m, len(factors))."""
    coded = [layout.factors[f] for f in factors]
    sizes = tuple(len(c.levels) for c in coded)
    if math.prod(sizes) > _MOST_CELLS:
        return np.unique(np.stack([c.codes for c in coded], axis=1), axis=0).astype(np.intp)
    seen = np.zeros(sizes, dtype=np.bool_)
    seen[tuple(c.codes for c in coded)] = True
    return np.argwhere(seen).astype(np.intp)


def unit_codes(layout: Layout, factors: Sequence[str]) -> Codes:
    """Return a code a row for the unit that a term of these factors varies on, (n,)."""
    codes = []
    for factor in factors:
        path = layout.units[factor] or layout.item
        if path is None:
            return np.arange(layout.n, dtype=np.intp)
        codes.append(layout.grouping(path).coded)
    return combined(tuple(codes))


def combined(coded: tuple[Coded, ...]) -> Codes:
    """Return one code a row for the combination of several columns, shape (n,)."""
    stacked = np.stack([c.codes for c in coded], axis=1)
    _, inverse = np.unique(stacked, axis=0, return_inverse=True)
    return inverse.reshape(-1).astype(np.intp)
