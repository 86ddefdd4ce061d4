"""The fewest of many demands that can't all hold.

First demands are left out one after another while the others still contradict each other: what is
left is irreducible, but another choice might be smaller. Then the smallest is looked for by its
duality with what has to be given up: a contradiction holds one of every set of demands whose loss
lets the others hold. So the fewest demands that meet all such sets known are tried; if they hold
together, another such set is found, else they are a smallest contradiction (A. Ignatiev, A.
Previti, M. Liffiton and J. Marques-Silva, 2015, "Smallest MUS extraction with minimal hitting set
dualization", CP 2015; cited from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

MOST_TESTS = 400  # whether some demands hold together
MOST_CHOICES = 20_000  # of demands that are held against the sets known

Holds = Callable[[frozenset[int]], bool]


@dataclass(frozen=True)
class Conflict:
    """Demands, by number, that can't all hold; none can be left out.

    ``smallest``: no fewer demands contradict each other.
    """

    demands: tuple[int, ...]
    smallest: bool


class _TooLongError(Exception):
    """The tests or choices are used up."""


def smallest_conflict(count: int, holds: Holds, most: int = MOST_TESTS) -> Conflict | None:
    """Return the fewest of ``count`` demands that can't all hold; None where all do.

    Parameters
    ----------
    holds : whether some demands can hold together; fewer demands never hold worse.
    most : tests after which what has been found is returned.

    Examples
    --------
    >>> smallest_conflict(4, lambda kept: not ({0, 1, 2} <= kept or {2, 3} <= kept))
    Conflict(demands=(2, 3), smallest=True)
    """
    tests = _Tests(holds, most)
    every = frozenset(range(count))
    if holds(every):
        return None
    best = every
    try:
        best = tests.irreducible(every)
        found = tests.smallest(every, best)
    except _TooLongError:
        return Conflict(tuple(sorted(best)), smallest=len(best) <= 1)
    return Conflict(tuple(sorted(found)), smallest=True)


class _Tests:
    """Asks whether demands hold together, each question once."""

    def __init__(self, holds: Holds, most: int) -> None:
        self.holds = holds
        self.left = most
        self.known: dict[frozenset[int], bool] = {}

    def hold(self, demands: frozenset[int]) -> bool:
        if demands not in self.known:
            if not self.left:
                raise _TooLongError
            self.left -= 1
            self.known[demands] = self.holds(demands)
        return self.known[demands]

    def irreducible(self, demands: frozenset[int]) -> frozenset[int]:
        """Leave out one demand after another as long as the others contradict each other."""
        kept = demands
        for one in sorted(demands):
            if not self.hold(kept - {one}):
                kept -= {one}
        return kept

    def smallest(self, every: frozenset[int], known: frozenset[int]) -> frozenset[int]:
        """Return the fewest demands that contradict each other, of which ``known`` are some."""
        losses: list[frozenset[int]] = []
        while True:
            tried = _fewest(sorted(every), losses, len(known) - 1)
            if tried is None:
                return known  # whatever meets all losses is as large
            if not self.hold(tried):
                return tried
            losses.append(every - self._grown(tried, every))

    def _grown(self, demands: frozenset[int], every: frozenset[int]) -> frozenset[int]:
        """Return as many demands that hold together as adding one after another gives."""
        kept = demands
        for one in sorted(every - demands):
            if self.hold(kept | {one}):
                kept |= {one}
        return kept


def _fewest(
    demands: Sequence[int], losses: Iterable[frozenset[int]], most: int
) -> frozenset[int] | None:
    """Return the fewest demands with one of every loss, at most ``most``; None if none are."""
    tried = 0
    for size in range(most + 1):
        for some in combinations(demands, size):
            tried += 1
            if tried > MOST_CHOICES:
                raise _TooLongError
            if all(loss.intersection(some) for loss in losses):
                return frozenset(some)
    return None
