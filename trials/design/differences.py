"""The differences that power is worked out for, as coefficients of the model.

Two levels differ and the others lie half-way; of an interaction, the difference of differences
between two levels of each factor. Of all such sets of levels the one that is told apart worst
counts; a set with an empty combination can't be compared in full and is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, product

import numpy as np

from trials.model import Layout, Precision
from trials.model.layout import Floats
from trials.model.terms import Design, observed_cells, term_name

Term = tuple[str, ...]
Pairs = tuple[tuple[int, int], ...]


def pattern(sizes: Sequence[int], pairs: Sequence[tuple[int, int]], difference: float) -> Floats:
    """Return the effects of a term at each combination of levels, flattened, summing to zero.

    Examples
    --------
    >>> pattern([3], [(0, 2)], 1.0).tolist()
    [0.5, 0.0, -0.5]
    """
    effects = np.array([difference])
    for size, (a, b) in zip(sizes, pairs, strict=True):
        own = np.zeros(size)
        own[a], own[b] = 0.5, -0.5
        effects = np.outer(effects, own).ravel()
    return effects


def coefficients(design: Design, term: Term, effects: Floats) -> Floats:
    """Return the kept coefficients of the model in which a term has these effects and no other."""
    sizes = _sizes(design.layout, term)
    table = effects.reshape(sizes)[tuple(slice(0, size - 1) for size in sizes)]
    full = np.zeros(design.X.shape[1])
    full[design.term(term_name(term)).columns] = table.ravel()
    kept: Floats = design.spread @ full
    return kept


def worst_difference(known: Precision, term: Term) -> tuple[float, Floats] | None:
    """Return the noncentrality of a term's test at a true difference of 1, and that difference.

    The difference is given as coefficients of the model, shape (k,). None where no pair (or set of
    four, eight ... combinations) can be compared in full, or the term is not tested at all.
    """
    test = known.term(term_name(term))
    if not test.num_df or test.den_df is None:
        return None
    found = unit_differences(known.design, term)
    if not found:
        return None
    shifts = np.array([test.L @ row for row in found])
    sizes = np.einsum("ij,ji->i", shifts, np.linalg.solve(test.cov, shifts.T))
    worst = int(np.argmin(sizes))
    return float(sizes[worst]), found[worst]


def unit_noncentrality(known: Precision, term: Term) -> float | None:
    """Return the noncentrality of a term's test at a true difference of 1, for the worst pair."""
    worst = worst_difference(known, term)
    return None if worst is None else worst[0]


def unit_differences(design: Design, term: Term) -> list[Floats]:
    """Return the coefficients of the model for a difference of 1, one row for each set of levels.

    Only sets all of whose combinations occur are given.
    """
    sizes = _sizes(design.layout, term)
    cells = {tuple(int(c) for c in cell) for cell in observed_cells(design.layout, term)}
    return [
        coefficients(design, term, pattern(sizes, pairs, 1.0))
        for pairs in _sets(sizes)
        if all(cell in cells for cell in product(*pairs))
    ]


def _sizes(layout: Layout, term: Term) -> list[int]:
    return [len(layout.factors[name].levels) for name in term]


def _sets(sizes: Sequence[int]) -> Iterator[Pairs]:
    yield from product(*(tuple(combinations(range(size), 2)) for size in sizes))
