"""What each line of an analysis of variance tests: sums of squares of type I, II and III.

A hypothesis is a matrix L over the kept coefficients; it says L b = 0. Type III compares equally
weighted means. Where combinations are empty, a pair of levels is averaged over the combinations
that both have, and an interaction is tested on what of it can be estimated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.model.layout import Codes, Floats
from trials.model.terms import Design, Term, Weights, mean_line, observed_cells, partners


@dataclass(frozen=True)
class Hypothesis:
    """L of shape (df, k) for one term; ``full_df`` is what a complete layout would have."""

    term: Term
    L: Floats
    full_df: int
    notes: tuple[str, ...] = ()

    @property
    def df(self) -> int:
        """Degrees of freedom that can be estimated."""
        return int(self.L.shape[0])


def hypotheses(design: Design, sums: str = "III") -> tuple[Hypothesis, ...]:
    """Return one hypothesis per treatment term and covariate, in the order of the terms."""
    if sums == "III":
        return tuple(_type_three(design, term) for term in design.treatments)
    return tuple(_adjusted(design, term, sums) for term in design.treatments)


def asks_what_is_added(design: Design, asked: Hypothesis) -> bool:
    """Return whether a test asks what its term adds to all others, in the coding that sums to zero.

    Type III does, but for main effects where combinations are empty: these are averaged over the
    combinations that both levels have. Types II and I do where the numbers are equal.
    """
    usual = _type_three(design, asked.term)
    if usual.df != asked.df or (usual.notes and len(asked.term.factors) < 2):
        return False
    return len(row_basis(np.vstack([asked.L, usual.L]))) == asked.df


def row_basis(L: Floats) -> Floats:
    """Return rows that span the rows of L, each of length one, shape (rank, k)."""
    if L.size == 0:
        return L[:0]
    sizes = np.linalg.norm(L, axis=1, keepdims=True)
    L = (L / np.where(sizes > 0, sizes, 1.0))[sizes[:, 0] > 0]
    if L.size == 0:
        return L
    _, s, Vt = np.linalg.svd(L, full_matrices=False)
    basis: Floats = Vt[s > 1e-8 * max(s[0], 1e-300)]
    return basis


def _adjusted(design: Design, term: Term, sums: str) -> Hypothesis:
    """Type I: adjusted for what comes before. Type II: for all terms that don't contain it."""
    own = set(term.factors)
    before: list[Term] = []
    for other in design.terms:
        if other.name == term.name:
            if sums == "I":
                break
            continue
        contains = term.role == "treatment" and own < set(other.factors)
        if sums == "I" or not contains:
            before.append(other)
    columns = np.concatenate([np.arange(t.columns.start, t.columns.stop) for t in before])
    base = design.X[:, columns]
    Q, s, _ = np.linalg.svd(base, full_matrices=False)
    Q = Q[:, s > 1e-9 * s[0]]
    own_columns = design.X[:, term.columns]
    rest = own_columns - Q @ (Q.T @ own_columns)
    L = row_basis(_clean(rest.T @ design.XK, own_columns, design))
    full = term.columns.stop - term.columns.start
    return Hypothesis(term, L, full)


def _clean(L: Floats, own: Floats, design: Design) -> Floats:
    scale = np.linalg.norm(own) * np.linalg.norm(design.XK, axis=0).max(initial=1.0)
    L[np.abs(L) < 1e-11 * scale] = 0.0
    return L


def _type_three(design: Design, term: Term) -> Hypothesis:
    full = term.columns.stop - term.columns.start
    lines = np.zeros((full, design.X.shape[1]))
    lines[:, term.columns] = np.eye(full)
    short, ok = design.reduce(lines)
    if ok.all() and not _touches_empty(design, term):
        return Hypothesis(term, short, full)
    if term.role == "covariate":
        return Hypothesis(term, short[ok], full, () if ok.all() else ("not_estimable",))
    if len(term.factors) == 1:
        return _main_effect_with_gaps(design, term, full)
    return _interaction_with_gaps(design, term, full)


def _touches_empty(design: Design, term: Term) -> bool:
    """Return whether some combination that the term's test would average over is empty."""
    layout = design.layout
    if any(layout.structure.factor(f).trend for f in term.factors):
        return False
    for other in design.terms:
        if other.role == "treatment" and set(term.factors) <= set(other.factors):
            sizes = [len(layout.factors[f].levels) for f in other.factors]
            if len(observed_cells(layout, other.factors)) < int(np.prod(sizes)):
                return True
    return False


def _main_effect_with_gaps(design: Design, term: Term, full: int) -> Hypothesis:
    factor = term.factors[0]
    levels = len(design.layout.factors[factor].levels)
    lines = []
    for a in range(levels):
        for b in range(a + 1, levels):
            line, _ = pair_line(design, factor, a, b)
            if line is not None:
                lines.append(line)
    L = row_basis(np.array(lines)) if lines else np.zeros((0, len(design.kept)))
    return Hypothesis(term, L[:full], full, ("averaged_over_shared_combinations",))


def _interaction_with_gaps(design: Design, term: Term, full: int) -> Hypothesis:
    """Test what the term adds to all others, on its estimable df."""
    basis = row_basis(_adjusted_rest(design, term))
    lines = np.zeros((len(basis), design.X.shape[1]))
    lines[:, term.columns] = basis
    short, ok = design.reduce(lines)
    return Hypothesis(term, row_basis(short[ok]), full, ("some_combinations_empty",))


def _adjusted_rest(design: Design, term: Term) -> Floats:
    others = [t for t in design.terms if t.name != term.name]
    columns = np.concatenate([np.arange(t.columns.start, t.columns.stop) for t in others])
    base = design.X[:, columns]
    Q, s, _ = np.linalg.svd(base, full_matrices=False)
    Q = Q[:, s > 1e-9 * s[0]]
    own = design.X[:, term.columns]
    rest: Floats = own - Q @ (Q.T @ own)
    rest[np.abs(rest) < 1e-10] = 0.0
    return rest


def pair_line(
    design: Design,
    factor: str,
    a: int,
    b: int,
    at: dict[str, int] | None = None,
    *,
    weights: Weights = "equal",
) -> tuple[Floats | None, tuple[str, ...]]:
    """Return the kept coefficients of level a minus level b, (k,), and notes.

    ``at`` holds other factors at a level (a simple effect). With empty combinations the pair is
    averaged over the combinations that both levels have, equally; None where there are none.
    """
    key = (factor, a, b, tuple((at or {}).items()), weights)
    if key not in design.pairs:
        design.pairs[key] = _pair_line(design, {factor: a}, {factor: b}, at or {}, weights)
    return design.pairs[key]


def _pair_line(
    design: Design, a: dict[str, int], b: dict[str, int], at: dict[str, int], weights: Weights
) -> tuple[Floats | None, tuple[str, ...]]:
    (factor,) = a
    first, second = {**a, **at}, {**b, **at}
    line = mean_line(design, first, weights) - mean_line(design, second, weights)
    short, ok = design.reduce(line)
    others = tuple(f for f in partners(design, (factor,)) if f not in at)
    shared = _shared(design, first, second, others)
    if ok[0] and shared is None:
        return short[0], ()
    if shared is None:
        return None, ("not_estimable",)
    if not len(shared):
        return None, ("no_shared_combination",)
    lines = _at_cells(design, first, others, shared) - _at_cells(design, second, others, shared)
    short, ok = design.reduce(lines.mean(axis=0))
    if not ok[0]:
        return None, ("not_estimable",)
    names = tuple(_cell_name(design, others, cell) for cell in shared)
    return short[0], ("averaged_over:" + ";".join(names),)


def _shared(
    design: Design, first: dict[str, int], second: dict[str, int], others: tuple[str, ...]
) -> Codes | None:
    """Return the combinations of ``others`` seen at both places; None where none is missing.

    A place is a level of each of the named factors.
    """
    layout = design.layout
    if not others or any(layout.structure.factor(f).trend for f in (*first, *others)):
        return None
    cells = observed_cells(layout, (*first, *others))

    def at(place: dict[str, int]) -> set[tuple[int, ...]]:
        rows = cells[(cells[:, : len(place)] == list(place.values())).all(axis=1)]
        return {tuple(int(c) for c in row[len(place) :]) for row in rows}

    both = at(first) & at(second)
    everything = int(np.prod([len(layout.factors[f].levels) for f in others]))
    factor = next(name for name in first if first[name] != second[name])
    levels = (first[factor], second[factor])
    if len(both) == everything or _all_pairs_present(design, factor, levels, others):
        return None
    return np.array(sorted(both), dtype=np.intp).reshape(len(both), len(others))


def _all_pairs_present(
    design: Design, factor: str, levels: tuple[int, int], others: tuple[str, ...]
) -> bool:
    """Return whether every interaction of the model that holds the factor is complete."""
    layout = design.layout
    for term in design.terms:
        if term.role != "treatment" or factor not in term.factors or len(term.factors) < 2:
            continue
        if not set(term.factors) - {factor} <= set(others):
            continue
        cells = observed_cells(layout, term.factors)
        place = term.factors.index(factor)
        need = int(np.prod([len(layout.factors[f].levels) for f in term.factors if f != factor]))
        if any((cells[:, place] == level).sum() < need for level in levels):
            return False
    return True


def _at_cells(
    design: Design, place: dict[str, int], others: tuple[str, ...], cells: Codes
) -> Floats:
    lines = []
    for cell in cells:
        there = dict(zip(others, (int(c) for c in cell), strict=True))
        lines.append(mean_line(design, {**place, **there}))
    return np.array(lines)


def _cell_name(design: Design, others: tuple[str, ...], cell: Codes) -> str:
    return ", ".join(
        f"{f} {design.layout.factors[f].levels[int(c)]}" for f, c in zip(others, cell, strict=True)
    )
