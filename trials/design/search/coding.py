"""From recipes to columns: the coding of levels, and the comparisons that a criterion is about.

A factor of L levels has L - 1 orthogonal columns of which each sums to zero over the levels and has
the sum of squares L, so that a row's squared length is L - 1: with n items of variance 1 spread
evenly over all combinations every coefficient has variance 1/n. A quantity has orthogonal
polynomials of its values in place of these. Interactions are products.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.values import Criterion, Floats, Kind, Problem, SearchFactor, Term

RANK = 1e-9  # relative size below which a direction can't be told


@dataclass(frozen=True, eq=False)
class Coding:
    """Columns of the model over the recipes, in coordinates that the recipes can tell apart.

    ``X``: shape (R, q), one row a recipe. ``basis``: shape (p, q), from the p columns of the full
    coding (intercept, then each term's at ``slices``); the identity where ``full``, that is, where
    missing recipes cost nothing. ``weights``: L of shape (q, q), so that criteria A and I are
    trace(L M^-1). ``by_term``: each term's part of L before weighting, for criteria A and D.
    """

    X: Floats
    basis: Floats
    slices: tuple[tuple[Term, slice], ...]
    full: bool
    weights: Floats
    by_term: tuple[Floats, ...]


def level_columns(factor: SearchFactor, *, main: bool) -> Floats:
    """Return the columns of one factor for each of its levels, shape (levels, df).

    Examples
    --------
    >>> level_columns(SearchFactor("a", 2), main=True).tolist()
    [[1.0], [-1.0]]
    """
    count = factor.levels
    if factor.values is not None:
        numbers = np.array(factor.values, dtype=np.float64)
        degree = min(factor.degree if main else 1, count - 1)
        centred = (numbers - numbers.mean()) / np.ptp(numbers)
        table = np.vander(centred, degree + 1, increasing=True)
    else:
        table = np.hstack([np.ones((count, 1)), np.eye(count)[:, : count - 1]])
    Q, R = np.linalg.qr(table)
    own: Floats = np.sqrt(count) * (Q * np.sign(np.diag(R)))[:, 1:]
    return own


def full_columns(problem: Problem, recipes: Codes) -> tuple[Floats, tuple[tuple[Term, slice], ...]]:
    """Return the columns of intercept and all terms at some recipes, shape (R, p)."""
    blocks: list[Floats] = [np.ones((len(recipes), 1))]
    slices = []
    start = 1
    for term in problem.model_terms:
        columns = term_columns(problem, term, recipes)
        slices.append((term, slice(start, start + columns.shape[1])))
        start += columns.shape[1]
        blocks.append(columns)
    return np.hstack(blocks), tuple(slices)


def term_columns(problem: Problem, term: Term, recipes: Codes) -> Floats:
    """Return the columns of one term at some recipes, shape (R, df)."""
    out = np.ones((len(recipes), 1))
    for name in term:
        place = problem.place(name)
        own = level_columns(problem.factors[place], main=len(term) == 1)[recipes[:, place]]
        out = (out[:, :, None] * own[:, None, :]).reshape(len(out), -1)
    return out


def make_coding(problem: Problem, criterion: Criterion, recipes: Codes) -> Coding:
    """Return columns and comparisons for a problem; the same value for the same question.

    It hangs on recipes, terms and criterion, not on groups and positions: many searches share it.

    Parameters
    ----------
    recipes : shape (R, factors); the allowed ones and those of kept items.
    """
    return _coded(
        tuple(replace(factor, group=None) for factor in problem.factors),
        tuple((term, criterion.weight(term)) for term in problem.model_terms),
        criterion.kind,
        _as_tuples(problem.allowed),
        _as_tuples(recipes),
    )


def _as_tuples(recipes: Codes) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(row) for row in recipes.tolist())


@lru_cache(maxsize=16)
def _coded(
    factors: tuple[SearchFactor, ...],
    weighted: tuple[tuple[Term, float], ...],
    kind: Kind,
    allowed: tuple[tuple[int, ...], ...],
    given: tuple[tuple[int, ...], ...],
) -> Coding:
    """Return the coding of the recipes ``given``; each term has its weight."""
    recipes = np.array(given, dtype=np.intp)
    terms = tuple(term for term, _ in weighted)
    problem = Problem(1, factors, recipes=np.array(allowed, dtype=np.intp), terms=terms)
    full, slices = full_columns(problem, recipes)
    singular = np.linalg.svd(full, compute_uv=False)
    rank = int((singular > RANK * singular[0]).sum())
    complete = rank == full.shape[1]
    if complete:
        basis = np.eye(full.shape[1])
    else:
        _, _, Vt = np.linalg.svd(full, full_matrices=False)
        basis = Vt[:rank].T
    X = full @ basis
    if kind == "I":
        at = full_columns(problem, problem.allowed)[0] @ basis
        return Coding(X, basis, slices, complete, at.T @ at / len(at), ())
    parts = []
    for term, columns in slices:
        if complete:
            part = np.zeros((full.shape[1], full.shape[1]))
            part[columns, columns] = comparisons(factors, term)
        else:
            part = basis.T @ _possible_comparisons(problem, term, slices, full) @ basis
        parts.append(part)
    shares = np.array([weight for _, weight in weighted])
    shares = shares / shares.sum()
    weights = sum((w * part for w, part in zip(shares, parts, strict=True)), np.zeros((rank, rank)))
    return Coding(X, basis, slices, complete, weights, tuple(parts))


def comparisons(factors: Sequence[SearchFactor], term: Term) -> Floats:
    """Return G of shape (df, df), so that trace(G S) is a term's share of criterion A.

    S is the covariance of the term's coefficients. All pairs of levels, or each against the
    control; for an interaction, differences of differences. The trace of G is 1.
    """
    out: Floats = np.ones((1, 1))
    named = {factor.name: factor for factor in factors}
    for name in term:
        factor = named[name]
        H = level_columns(factor, main=len(term) == 1)
        C = H[_pairs(factor)[:, 0]] - H[_pairs(factor)[:, 1]]
        out = kron(out, C.T @ C)
    return out / float(np.trace(out))


def kron(a: Floats, b: Floats) -> Floats:
    """Return the Kronecker product."""
    return np.asarray(np.kron(a, b), dtype=np.float64)


def _pairs(factor: SearchFactor) -> Codes:
    """Return the pairs of levels that are compared, shape (pairs, 2)."""
    if factor.control is not None:
        pairs = [(a, factor.control) for a in range(factor.levels) if a != factor.control]
    else:
        pairs = list(combinations(range(factor.levels), 2))
    return np.array(pairs, dtype=np.intp)


def _possible_comparisons(
    problem: Problem,
    term: Term,
    slices: Sequence[tuple[Term, slice]],
    full: Floats,
) -> Floats:
    """Return sum of c c' over the comparisons that missing combinations leave, shape (p, p).

    A pair of levels is averaged over the combinations that both have, as the analysis does; of an
    interaction, the differences of differences that can be estimated count.
    """
    _, s, Vt = np.linalg.svd(full, full_matrices=False)
    seen = Vt[s > RANK * s[0]]
    lines = _full_lines(problem, term, slices, full.shape[1])
    ok = np.abs(lines - lines @ seen.T @ seen).max(axis=1) < 1e-7 * np.abs(lines).max()
    if len(term) == 1 and not ok.all():
        shared = [
            _shared_line(problem, term[0], a, b)
            for (a, b), fine in zip(
                _pairs(problem.factors[problem.place(term[0])]).tolist(), ok, strict=True
            )
            if not fine
        ]
        lines = np.vstack([lines[ok], *(line[None] for line in shared if line is not None)])
        if not len(lines):  # no two levels share a combination
            return np.zeros((full.shape[1], full.shape[1]))
        ok = np.abs(lines - lines @ seen.T @ seen).max(axis=1) < 1e-7 * np.abs(lines).max()
    lines = lines[ok]
    if not len(lines):
        return np.zeros((full.shape[1], full.shape[1]))
    whole = _full_lines(problem, term, slices, full.shape[1])
    # scaled as if all comparisons were there, so that a term keeps its weight
    scale = len(whole) / len(lines) / float((whole**2).sum())
    out: Floats = lines.T @ lines * scale
    return out


def _full_lines(
    problem: Problem, term: Term, slices: Sequence[tuple[Term, slice]], p: int
) -> Floats:
    own: Floats = np.ones((1, 1))
    for name in term:
        factor = problem.factors[problem.place(name)]
        H = level_columns(factor, main=len(term) == 1)
        pairs = _pairs(factor)
        own = kron(own, H[pairs[:, 0]] - H[pairs[:, 1]])
    lines = np.zeros((len(own), p))
    lines[:, dict(slices)[term]] = own
    return lines


def _shared_line(problem: Problem, name: str, a: int, b: int) -> Floats | None:
    """Return level a minus level b averaged over the combinations of partners that both have.

    Factors without a declared interaction with this one drop out.
    """
    place = problem.place(name)
    partners = sorted(
        {problem.place(f) for term in problem.model_terms if name in term for f in term} - {place}
    )
    allowed = problem.allowed

    def at(level: int) -> dict[tuple[int, ...], Codes]:
        rows = allowed[allowed[:, place] == level]
        return {tuple(row[partners].tolist()): row for row in rows}

    first, second = at(a), at(b)
    both = sorted(first.keys() & second.keys())
    if not both:
        return None
    one = np.array([first[key] for key in both])
    other = one.copy()
    other[:, place] = b
    line: Floats = (full_columns(problem, one)[0] - full_columns(problem, other)[0]).mean(axis=0)
    return line
