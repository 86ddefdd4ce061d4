"""All recipes in blocks too small for them: which joint effects are mixed up with the blocks.

Factors with two levels in 2, 4, 8 ... blocks, or with three levels in 3 or 9. A scheme is a set of
sums of the factors' codes, modulo the number of levels, that tell the block; every combination of
these sums is lost to the blocks. All schemes are tried, so that as few low-order effects as can be
are lost (F. Yates, 1937, *The Design and Analysis of Factorial Experiments*, Imperial Bureau of
Soil Science; W. G. Cochran and G. M. Cox, 1957, *Experimental Designs*, Wiley, chapter 6).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from trials.design.factorials import full_factorial
from trials.design.families.checks import Terms, check_distinct, refuse, term_of

if TYPE_CHECKING:
    from trials.design.factorials import Codes

Word = tuple[int, ...]
Scheme = tuple[Word, ...]  # independent sums

MOST_FACTORS: Mapping[int, int] = MappingProxyType({2: 7, 3: 4})


@dataclass(frozen=True)
class Confounded:
    """All recipes once in every copy, each copy divided over the same number of blocks.

    ``schemes`` gives for each copy the independent sums of codes that tell the block.
    """

    factors: tuple[str, ...]
    levels: int
    schemes: tuple[Scheme, ...]

    @property
    def blocks(self) -> int:
        """Blocks of one copy."""
        return int(self.levels ** len(self.schemes[0]))

    @cached_property
    def codes(self) -> Codes:
        """Level codes, shape (runs, factors), in the order of the blocks."""
        return self._whole[:, 1:]

    @cached_property
    def block(self) -> Codes:
        """The block of each run, shape (runs,); blocks of the second copy go on counting."""
        return self._whole[:, 0]

    @cached_property
    def _whole(self) -> Codes:
        recipes = full_factorial([self.levels] * len(self.factors))
        parts = []
        for copy, scheme in enumerate(self.schemes):
            place = np.zeros(len(recipes), dtype=np.intp)
            for word in scheme:
                place = place * self.levels + recipes @ np.array(word) % self.levels
            order = np.argsort(place, kind="stable")
            parts.append(np.column_stack([place[order] + copy * self.blocks, recipes[order]]))
        return np.vstack(parts)

    @cached_property
    def lost(self) -> tuple[tuple[str, float], ...]:
        """Each term that blocks touch, with the part of its information that is lost, up to 1."""
        parts: Counter[str] = Counter()
        for scheme in self.schemes:
            for word in words_of(scheme, self.levels):
                names = [n for n, sign in zip(self.factors, word, strict=True) if sign]
                parts[term_of(names, self.factors)] += 1
        out = []
        for term in sorted(parts, key=lambda t: (t.count(":"), self._place(t))):
            whole = (self.levels - 1) ** term.count(":") * len(self.schemes)
            out.append((term, parts[term] / whole))
        return tuple(out)

    @property
    def gives_up(self) -> Terms:
        """Terms that can't be told from the blocks at all."""
        return tuple(term for term, part in self.lost if part == 1)

    @property
    def partly(self) -> Terms:
        """Terms that lose a part of their information to the blocks."""
        return tuple(term for term, part in self.lost if part < 1)

    def _place(self, term: str) -> tuple[int, ...]:
        return tuple(self.factors.index(name) for name in term.split(":"))


def confounded(
    factors: Sequence[str],
    blocks: int,
    levels: int = 2,
    keep: Sequence[tuple[str, str]] = (),
    *,
    copies: int = 1,
    vary: bool = False,
) -> Confounded | None:
    """Return all recipes in blocks, losing the highest joint effects.

    Parameters
    ----------
    factors : names, at most seven of two levels or four of three, all alike.
    blocks : of one copy: a power of ``levels``, fewer than recipes over levels.
    keep : pairs of factors that are not to be lost, if that is possible.
    copies : how often all recipes are made.
    vary : lose other effects in every copy, so that each is told from the copies that keep it.

    Returns
    -------
    None where the sizes don't fit: such a plan has to be searched for.

    Examples
    --------
    >>> confounded("abc", 2).gives_up
    ('a:b:c',)
    >>> confounded("abcd", 4).gives_up
    ('a:d', 'a:b:c', 'b:c:d')
    >>> confounded("ab", 3, levels=3).lost
    (('a:b', 0.5),)
    """
    names = tuple(factors)
    check_distinct(names)
    sums = _power(blocks, levels)
    if sums is None or not sums < len(names) <= MOST_FACTORS.get(levels, 0) or copies < 1:
        return None
    index = {name: place for place, name in enumerate(names)}
    kept = frozenset(frozenset((index[one], index[other])) for one, other in keep)
    schemes = [_best(len(names), sums, levels, kept, Counter())]
    used: Counter[Word] = Counter()
    for _ in range(copies - 1):
        used.update(words_of(schemes[-1], levels) if vary else ())
        schemes.append(_best(len(names), sums, levels, kept, used) if vary else schemes[0])
    found = Confounded(names, levels, tuple(schemes))
    _check(found)
    return found


def _power(blocks: int, levels: int) -> int | None:
    sums = 0
    while levels**sums < blocks:
        sums += 1
    return sums if sums > 0 and levels**sums == blocks else None


def words_of(scheme: Scheme, levels: int) -> tuple[Word, ...]:
    """Return all combinations of the sums of a scheme, the first sign of each being 1.

    Examples
    --------
    >>> words_of(((1, 0, 1), (0, 1, 1)), 2)
    ((0, 1, 1), (1, 0, 1), (1, 1, 0))
    """
    out = []
    for weights in product(range(levels), repeat=len(scheme)):
        first = next((weight for weight in weights if weight), 0)
        if first != 1:
            continue
        word = tuple(
            sum(weight * row[place] for weight, row in zip(weights, scheme, strict=True)) % levels
            for place in range(len(scheme[0]))
        )
        out.append(word)
    return tuple(out)


def _best(
    factors: int, sums: int, levels: int, kept: frozenset[frozenset[int]], used: Counter[Word]
) -> Scheme:
    """Return the scheme that loses fewest: kept pairs, then single factors, then pairs, and so on.

    Words that earlier copies lost come before all but single factors.
    """

    def cost(scheme: Scheme) -> tuple[int, ...]:
        words = words_of(scheme, levels)
        supports = [tuple(place for place, sign in enumerate(word) if sign) for word in words]
        sizes = Counter(len(support) for support in supports)
        hurt = sum(1 for support in supports if len(support) == 2 and frozenset(support) in kept)
        again = sum(used[word] for word in words)
        by_size = [sizes[size] for size in range(2, factors + 1)]
        return (sizes[1], hurt, again, *by_size)

    return min(schemes_of(factors, sums, levels), key=cost)


def schemes_of(factors: int, sums: int, levels: int) -> Iterator[Scheme]:
    """Yield every scheme once: the sums in echelon form.

    Examples
    --------
    >>> len(list(schemes_of(4, 2, 2)))  # planes of a space of 16
    35
    """
    for pivots in combinations(range(factors), sums):
        free = [
            (row, place)
            for row, pivot in enumerate(pivots)
            for place in range(pivot + 1, factors)
            if place not in pivots
        ]
        for values in product(range(levels), repeat=len(free)):
            rows = [[0] * factors for _ in pivots]
            for row, pivot in enumerate(pivots):
                rows[row][pivot] = 1
            for (row, place), value in zip(free, values, strict=True):
                rows[row][place] = value
            yield tuple(tuple(row) for row in rows)


def _check(found: Confounded) -> None:
    """Refuse blocks of unequal size, or in which a sum that is told as lost is not constant."""
    where = f"{len(found.factors)} factors in {found.blocks} blocks"
    sizes = np.bincount(found.block)
    if len(set(sizes.tolist())) > 1 or len(sizes) != found.blocks * len(found.schemes):
        raise refuse(where, f"blocks of {sorted(set(sizes.tolist()))}", "equal blocks")
    for copy, scheme in enumerate(found.schemes):
        inside = found.block // found.blocks == copy
        words = words_of(scheme, found.levels)
        if len(set(words)) * (found.levels - 1) != found.blocks - 1:
            raise refuse(where, f"{len(set(words))} sums", "as many as blocks can hide")
        for word in words:
            sums = found.codes[inside] @ np.array(word) % found.levels
            block = found.block[inside]
            if any(len(set(sums[block == b].tolist())) > 1 for b in np.unique(block)):
                raise refuse(where, f"sum {word} is not constant", "constant in every block")
