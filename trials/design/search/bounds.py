"""What no layout can beat: lower bounds of the criterion.

Whatever the layout, a term's coefficients have a covariance of at least the inverse of their own
information, and that is at most the largest eigenvalue of W on functions of the term's unit times
what independent items would give. How often each version can occur is a whole number, which makes
the bound sharper. Where recipes are missing, or for criteria D and I, the best distribution over
the recipes that need not be whole numbers bounds all layouts (``measure``). For one factor in equal
blocks there are sharper bounds (``blocks``).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np

from trials.design.search.blocks import block_bound
from trials.design.search.coding import Coding, comparisons, kron, level_columns
from trials.design.search.information import top_on, without_mean
from trials.design.search.layouts import Ready
from trials.design.search.measure import ROUNDS, best_measure
from trials.design.search.values import Floats, Problem, SearchFactor, Term

CELLS_MOST = 5_000  # cells of one term
ROUNDS_EACH = 200  # of the algorithm for each term on its own


def lower_bound(ready: Ready, *, balanced: bool = True) -> float:
    """Return a value that no layout of the problem goes below; 0 where none is known.

    ``balanced``: only layouts that keep all rules of balance are meant.
    """
    if ready.criterion.kind == "A":
        blocks = block_bound(ready.problem, balanced=balanced)
        return max(_by_terms(ready), _by_measure(ready), blocks)
    return _by_measure(ready)


def _by_terms(ready: Ready) -> float:
    """Return the bound of criterion A that adds up what each term can reach."""
    problem = ready.problem
    terms = [term for term, _ in ready.coding.slices]
    tops = _Tops(ready)
    shares = np.array([ready.criterion.weight(t) for t in terms])
    shares = shares / shares.sum()
    best = np.zeros(len(terms))
    for number, term in enumerate(terms):
        if tops.over(term) > 0 and (ready.coding.full or _main_is_whole(ready, term)):
            best[number] = _alone(problem, term) / tops.over(term)
    if not ready.coding.full:
        return _with_measure(ready, shares, best)
    whole = [t for t in terms if _is_saturated(t, terms)]
    largest = [t for t in whole if not any(set(t) < set(other) for other in whole)]
    for number, term in enumerate(terms):
        for over in (over for over in largest if set(term) <= set(over)):
            own = _least(problem.n, _cell_weights(problem, term, over)) / tops.over(over)
            best[number] = max(best[number], own)
    total = float(shares @ best)
    for over in largest:  # all terms over the same cells share one set of counts
        inside = [number for number, t in enumerate(terms) if set(t) <= set(over)]
        weights = sum(shares[n] * _cell_weights(problem, terms[n], over) for n in inside)
        others = float(shares @ best) - float(shares[inside] @ best[inside])
        together = _least(problem.n, np.asarray(weights)) / tops.over(over)
        total = max(total, others + together)
    return total


def _main_is_whole(ready: Ready, term: Term) -> bool:
    """Return whether all comparisons of a main effect can be made although recipes are missing.

    Each then says in a model of this factor alone what it says in the whole model.
    """
    if len(term) > 1:
        return False
    place = ready.problem.place(term[0])
    number = [t for t, _ in ready.coding.slices].index(term)
    rank = np.linalg.matrix_rank(ready.coding.by_term[number], tol=1e-9)
    columns = level_columns(ready.problem.factors[place], main=True).shape[1]
    return bool(rank >= columns and ready.problem.factors[place].values is None)


def _with_measure(ready: Ready, shares: Floats, alone: Floats) -> float:
    """Return the bound where recipes are missing: some terms on their own, the rest together."""
    top = _Tops(ready).over(tuple(f.name for f in ready.problem.factors))
    n = ready.problem.n
    apart = [
        number
        for number in range(len(shares))
        if alone[number] > _bound_of(ready.coding, ((number, 1.0),), ROUNDS_EACH) / (n * top)
    ]
    rest = tuple((k, float(share)) for k, share in enumerate(shares) if k not in apart)
    together = _bound_of(ready.coding, rest, ROUNDS) / (n * top)
    return float(shares[apart] @ alone[apart]) + together


@lru_cache(maxsize=256)
def _bound_of(coding: Coding, shares: tuple[tuple[int, float], ...], rounds: int) -> float:
    """Return the bound of some terms together, each by number and share, for one item's worth.

    It is the same for all searches over the same recipes.
    """
    size = coding.X.shape[1]
    L = sum((share * coding.by_term[number] for number, share in shares), np.zeros((size, size)))
    return best_measure(coding.X, L, rounds).bound


@lru_cache(maxsize=16)
def _bound_of_all(coding: Coding, *, volume: bool) -> float:
    """Return the bound of a whole criterion for one item's worth, the same for all searches."""
    return best_measure(coding.X, None if volume else coding.weights).bound


class _Tops:
    """The largest eigenvalue of W, less the mean, on functions of a term's units."""

    def __init__(self, ready: Ready) -> None:
        self.problem = ready.problem
        self.W = without_mean(ready.W)
        self.known: dict[frozenset[str | None], float] = {}

    def over(self, term: Term) -> float:
        groups = frozenset(self.problem.factors[self.problem.place(f)].group for f in term)
        if groups not in self.known:
            unit = np.zeros(self.problem.n, dtype=np.intp)
            for group in groups:
                joint = unit * self.problem.n + self.problem.unit(group)
                unit = np.unique(joint, return_inverse=True)[1].reshape(-1).astype(np.intp)
            self.known[groups] = top_on(self.W, unit)
        return self.known[groups]


def _is_saturated(term: Term, terms: list[Term]) -> bool:
    """Return whether the model has every term inside this one."""
    have = {frozenset(t) for t in terms}
    return all(frozenset(part) in have for part in _parts(term))


def _parts(term: Term) -> Iterator[tuple[str, ...]]:
    for number in range(1, 2 ** len(term)):
        yield tuple(f for place, f in enumerate(term) if number >> place & 1)


def _cell_weights(problem: Problem, term: Term, over: Term) -> Floats:
    """Return g, so that a term's share of criterion A is sum(g / counts) in a model of cell means.

    Cells are the combinations of the factors of ``over``, shape (cells,).
    """
    factors = tuple(replace(problem.factors[problem.place(f)], group=None) for f in over)
    return _weights_of(factors, term)


@lru_cache(maxsize=64)
def _weights_of(factors: tuple[SearchFactor, ...], term: Term) -> Floats:
    """Return what :func:`_cell_weights` does, the same for all problems with these factors."""
    if (
        any(f.values is not None for f in factors)
        or np.prod([f.levels for f in factors]) > CELLS_MOST
    ):
        return np.zeros(1)
    own: Floats = np.ones((1, 1))
    for factor in factors:
        H = level_columns(factor, main=True) if factor.name in term else np.ones((factor.levels, 1))
        own = kron(own, H)
    G = comparisons(factors, term)
    cells = len(own)
    out: Floats = np.einsum("cq,qr,cr->c", own, G, own) / cells**2
    out.setflags(write=False)
    return out


def _alone(problem: Problem, term: Term) -> float:
    """Return the bound of a term on its own, for independent items of variance 1."""
    factor = problem.factors[problem.place(term[0])]
    if len(term) == 1 and factor.values is None:
        return _least(_units_of(problem, factor.group), _cell_weights(problem, term, term))
    G = comparisons(problem.factors, term)
    # tr(G M^-1) tr(M) >= tr(G^1/2)^2, and a row's squared length is at most ``row``
    roots = np.sqrt(np.maximum(np.linalg.eigvalsh(G), 0.0)).sum()
    row = 1.0
    for name in term:
        H = level_columns(problem.factors[problem.place(name)], main=len(term) == 1)
        row *= float((H**2).sum(axis=1).max())
    return float(roots**2 / (problem.n * row))


def _units_of(problem: Problem, group: str | None) -> tuple[int, int]:
    """Return how many units there are and how many items in each; items where units differ."""
    sizes = np.bincount(problem.unit(group))
    sizes = sizes[sizes > 0]
    if (sizes == sizes[0]).all():
        return len(sizes), int(sizes[0])
    return problem.n, 1


def _least(total: int | tuple[int, int], weights: Floats) -> float:
    """Return the smallest sum of weights / counts for whole counts that add up to ``total``.

    Each further item goes where it helps most, which is best since 1/count is convex. Cells of
    weight 0 take none. ``total`` as (units, size): counts are whole multiples of ``size``.

    Examples
    --------
    >>> _least(5, np.array([1.0, 1.0]))
    0.8333333333333333
    """
    units, size = total if isinstance(total, tuple) else (total, 1)
    weights = weights[weights > 1e-15] / size
    if not len(weights):
        return 0.0
    if units < len(weights):
        return float(np.sqrt(weights).sum() ** 2 / units)
    heap = [(-w / 2, 1, w) for w in weights.tolist()]
    heapq.heapify(heap)
    for _ in range(units - len(weights)):
        _, count, w = heap[0]
        heapq.heapreplace(heap, (-w / ((count + 1) * (count + 2)), count + 1, w))
    return float(sum(w / count for _, count, w in heap))


def _by_measure(ready: Ready) -> float:
    """Return the bound from the best distribution over the recipes, whole numbers or not."""
    n = ready.problem.n
    W = without_mean(ready.W)
    everything = np.arange(n, dtype=np.intp)
    top = top_on(W, everything)
    if ready.volume:
        # the mean has its own information; the rest has at most ``top`` times that of n items
        p = ready.coding.X.shape[1]
        log = np.log(ready.W.sum()) - np.log(n) + (p - 1) * np.log(top) + p * np.log(n)
        return float(np.exp(-log / p)) * _bound_of_all(ready.coding, volume=True)
    if ready.criterion.kind == "I":
        top = max(top, float(np.linalg.eigvalsh(ready.W)[-1]))
    return _bound_of_all(ready.coding, volume=False) / (n * top)
