"""Which factor on which column of a fraction, so that wanted pairs of factors stay clear.

A pair is clear if its product column is nobody else's: no factor's and no other pair's (C. F. J. Wu
and Y. Chen, 1992, Technometrics 34, 162-175). The search over assignments is complete for the
fraction at hand unless it grows past a limit; then other fractions of the same size are tried, in
order of aberration.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import comb

import numpy as np
import numpy.typing as npt

from trials.design.families.fractions import Fraction

MOST_SETS = 70_000  # fractions of one size that are compared
MOST_PATTERNS = 40  # different word-length patterns that are tried
MOST_STEPS = 40_000  # of one search over assignments

CLEAR, SHARED, LOST = 0, 1, 100  # cost of a pair: alone; with pairs not asked for; with something


@dataclass
class _Search:
    """A search with bounds over the places of the factors that the wanted pairs name."""

    columns: tuple[int, ...]
    pairs: tuple[tuple[int, int], ...]
    shared: Counter[int]
    best: int
    places: dict[int, int] | None = None
    steps: int = 0

    def run(self) -> None:
        met = Counter(factor for pair in self.pairs for factor in pair)
        self._next([factor for factor, _ in met.most_common()], {}, 0)

    def _next(self, waiting: list[int], placed: dict[int, int], cost: int) -> None:
        self.steps += 1
        if cost >= self.best or self.steps > MOST_STEPS:
            return
        if not waiting:
            self.best, self.places = cost, dict(placed)
            return
        factor, rest = waiting[0], waiting[1:]
        for place in range(len(self.columns)):
            if place in placed.values():
                continue
            placed[factor] = place
            self._next(rest, placed, self._cost(placed))
            del placed[factor]
            if not self.best:
                return

    def _cost(self, placed: dict[int, int]) -> int:
        products = [
            self.columns[placed[one]] ^ self.columns[placed[other]]
            for one, other in self.pairs
            if one in placed and other in placed
        ]
        taken = Counter(products)
        return sum(
            LOST
            if product in self.columns or taken[product] > 1
            else (SHARED if self.shared[product] > 1 else CLEAR)
            for product in products
        )


def keep_clear(start: Fraction) -> Fraction:
    """Return a fraction of the same size that does best by the pairs asked for.

    Pairs that can't be clear are mixed, where possible, only with pairs that nobody asked for.
    """
    index = {name: place for place, name in enumerate(start.factors)}
    pairs = tuple(dict.fromkeys(tuple(sorted((index[a], index[b]))) for a, b in start.asked))
    wanted = tuple((one, other) for one, other in pairs)
    best, found = LOST * (len(wanted) + 1), start
    for columns in _designs(start):
        search = _Search(columns, wanted, _shared(columns), best)
        search.run()
        if search.places is not None:
            best = search.best
            placed = _arranged(columns, search.places)
            found = replace(start, columns=placed, tabled=columns == start.columns)
        if not best:
            break
    return _named_first(found)


def _shared(columns: Sequence[int]) -> Counter[int]:
    return Counter(a ^ b for a, b in combinations(columns, 2))


def _arranged(columns: Sequence[int], places: dict[int, int]) -> tuple[int, ...]:
    """Return the columns in the order of the factors; factors without a place take what is left."""
    left = iter([place for place in range(len(columns)) if place not in places.values()])
    return tuple(columns[places[f] if f in places else next(left)] for f in range(len(columns)))


def _designs(start: Fraction) -> Iterator[tuple[int, ...]]:
    """Yield the fraction itself, then others of its size, least aberration first."""
    yield start.columns
    rest = len(start.factors) - (start.runs.bit_length() - 1)
    if comb(start.runs - start.runs.bit_length(), rest) > MOST_SETS:
        return
    sets = column_sets(len(start.factors), start.runs)
    patterns = word_lengths(sets, start.runs)
    _, first = np.unique(patterns, axis=0, return_index=True)  # in order of aberration
    for place in first[:MOST_PATTERNS]:
        yield tuple(int(column) for column in sets[place])


def column_sets(factors: int, runs: int) -> npt.NDArray[np.intp]:
    """Return every choice of columns for the factors after the first ``log2(runs)``.

    Any fraction that has so many different recipes is one of these but for the names of factors.

    Returns
    -------
    Bit masks, shape (choices, factors).
    """
    bits = runs.bit_length() - 1
    base = [1 << bit for bit in range(bits)]
    others = [mask for mask in range(1, runs) if mask.bit_count() > 1]
    chosen = np.array(list(combinations(others, factors - bits)), dtype=np.intp)
    return np.hstack([np.tile(base, (len(chosen), 1)), chosen])


def word_lengths(sets: npt.NDArray[np.intp], runs: int) -> npt.NDArray[np.intp]:
    """Return the word-length patterns of many fractions at once.

    From the numbers of high levels in the runs, by the identity of MacWilliams (F. J. MacWilliams
    and N. J. A. Sloane, 1977, *The Theory of Error-Correcting Codes*, North-Holland, chapter 5).

    Returns
    -------
    Numbers of words with 3, 4, 5 ... letters, shape (sets, factors - 2).
    """
    factors = sets.shape[1]
    run = np.arange(runs)
    parity = np.array([[(int(c) & int(x)).bit_count() % 2 for x in run] for c in run], np.int8)
    high = np.zeros((len(sets), runs), dtype=np.int8)
    for column in range(factors):
        high += parity[sets[:, column]]
    out = np.empty((len(sets), factors - 2), dtype=np.intp)
    for size in range(3, factors + 1):
        value = np.array([_krawtchouk(size, w, factors) for w in range(factors + 1)], np.int32)
        out[:, size - 3] = value[high].sum(axis=1) // runs
    return out


def _krawtchouk(size: int, weight: int, factors: int) -> int:
    return sum(
        (-1) ** i * comb(weight, i) * comb(factors - weight, size - i) for i in range(size + 1)
    )


def _named_first(found: Fraction) -> Fraction:
    """Return the same fraction with single columns for the first independent factors.

    So that generators can be told in names; the runs are the same but for their order.
    """
    bits = found.runs.bit_length() - 1
    basis: dict[int, tuple[int, int]] = {}  # top bit -> (column left, sum of chosen factors)
    chosen = 0
    out = []
    for column in found.columns:
        left, used = column, 0
        while left and (top := left.bit_length()) in basis:
            left ^= basis[top][0]
            used ^= basis[top][1]
        if left and chosen < bits:
            basis[left.bit_length()] = (left, used ^ (1 << chosen))
            used = 1 << chosen
            chosen += 1
        out.append(used)
    return replace(found, columns=tuple(out))
