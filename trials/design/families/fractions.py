"""Two-level fractional factorials: which recipes to make, and what is mixed up with what.

A fraction is a set of columns, one a factor, each a product of the first factors' columns. Products
that are constant over all runs are its words; their lengths say how strongly low-order effects mix.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trials.design.families.checks import (
    Terms,
    check_balanced,
    check_distinct,
    pair_terms,
    refuse,
    term_of,
)
from trials.design.families.generators import table_columns

if TYPE_CHECKING:
    from trials.design.factorials import Codes

Pair = tuple[str, str]

_ROMAN = ("0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII", "XIII",
          "XIV", "XV", "XVI")  # fmt: skip


@dataclass(frozen=True)
class Fraction:
    """A two-level fraction of a full factorial.

    ``columns`` are bit masks over the first ``log2(runs)`` independent columns. ``asked``: pairs of
    factors that were to stay clear of all others; ``tabled``: whether it is the fraction with the
    least aberration of its size.
    """

    factors: tuple[str, ...]
    runs: int
    columns: tuple[int, ...]
    asked: tuple[Pair, ...] = ()
    tabled: bool = True

    @cached_property
    def codes(self) -> Codes:
        """Level codes 0 and 1, shape (runs, factors); each run is a different recipe.

        It is the fraction in which every word has a product of +1 (1 is the high level).
        """
        run = np.arange(self.runs)
        bits = self.runs.bit_length() - 1
        base = (run[:, None] >> np.arange(bits - 1, -1, -1)) & 1  # the first changes slowest
        codes = np.empty((self.runs, len(self.factors)), dtype=np.intp)
        for place, mask in enumerate(self.columns):
            picked = [bit for bit in range(bits) if mask >> bit & 1]
            codes[:, place] = (base[:, picked].sum(axis=1) + len(picked) + 1) % 2
        return codes

    @cached_property
    def words(self) -> tuple[tuple[str, ...], ...]:
        """The defining relation: factors whose product is constant, shortest words first."""
        return tuple(
            tuple(self.factors[place] for place in range(len(self.factors)) if word >> place & 1)
            for word in sorted(
                words_of_columns(self.columns), key=lambda word: (word.bit_count(), word)
            )
        )

    @property
    def pattern(self) -> tuple[int, ...]:
        """The word-length pattern: how many words have 3, 4, 5 ... letters."""
        lengths = Counter(len(word) for word in self.words)
        return tuple(lengths[size] for size in range(3, len(self.factors) + 1))

    @property
    def resolution(self) -> int:
        """The length of the shortest word."""
        return len(self.words[0])

    @property
    def generators(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Each added factor with the factors whose product is its column."""
        home = {
            mask: name
            for name, mask in zip(self.factors, self.columns, strict=True)
            if mask.bit_count() == 1
        }
        return tuple(
            (name, tuple(home[1 << bit] for bit in range(mask.bit_length()) if mask >> bit & 1))
            for name, mask in zip(self.factors, self.columns, strict=True)
            if mask.bit_count() > 1
        )

    @cached_property
    def aliases(self) -> tuple[Terms, ...]:
        """Sets of single factors and pairs of factors that can't be told apart, in names."""
        return alias_sets(self.factors, self.columns)

    @property
    def clear(self) -> Terms:
        """Pairs of factors that are mixed up with no factor and no other pair."""
        mixed = {term for terms in self.aliases for term in terms}
        return tuple(t for t in pair_terms(self.factors) if t not in mixed)

    @property
    def gives_up(self) -> Terms:
        """Pairs of factors whose joint effect can't be told from something else."""
        mixed = {term for terms in self.aliases for term in terms}
        return tuple(t for t in pair_terms(self.factors) if t in mixed)

    @property
    def unclear(self) -> Terms:
        """Those of the pairs asked for that could not be kept clear."""
        lost = set(self.gives_up)
        return tuple(term for one in self.asked if (term := term_of(one, self.factors)) in lost)


def numeral(size: int) -> str:
    """Return a number up to 16 in Roman numerals.

    Examples
    --------
    >>> numeral(4)
    'IV'
    """
    return _ROMAN[size]


def words_of_columns(columns: Sequence[int]) -> list[int]:
    """Return all words as bit masks over the factors, by Gauss's elimination over two elements.

    Examples
    --------
    >>> words_of_columns((1, 2, 3))  # all three together
    [7]
    """
    basis: dict[int, tuple[int, int]] = {}
    null: list[int] = []
    for place, column in enumerate(columns):
        left, used = column, 1 << place
        while left and (top := left.bit_length()) in basis:
            left ^= basis[top][0]
            used ^= basis[top][1]
        if left:
            basis[left.bit_length()] = (left, used)
        else:
            null.append(used)
    span = [0]
    for word in null:
        span += [other ^ word for other in span]
    return span[1:]


def alias_sets(factors: Sequence[str], columns: Sequence[int]) -> tuple[Terms, ...]:
    """Return the sets of factors and pairs of factors that share a column; sets of one left out.

    Examples
    --------
    >>> alias_sets(("a", "b", "c"), (1, 2, 3))
    (('a', 'b:c'), ('b', 'a:c'), ('c', 'a:b'))
    """
    sets: dict[int, list[str]] = {}
    for name, column in zip(factors, columns, strict=True):
        sets.setdefault(column, []).append(name)
    for (one, a), (other, b) in combinations(zip(factors, columns, strict=True), 2):
        sets.setdefault(a ^ b, []).append(f"{one}:{other}")
    return tuple(tuple(terms) for terms in sets.values() if len(terms) > 1)


def fraction(factors: Sequence[str], runs: int, clear: Sequence[Pair] = ()) -> Fraction | None:
    """Return the two-level fraction with the least aberration, or one that keeps pairs clear.

    Parameters
    ----------
    factors : names, each with two levels.
    runs : 4, 8, 16, 32 or 64, fewer than all recipes.
    clear : pairs of factors whose joint effect is to be told apart from every single factor and
        every other pair. The assignment of factors to columns that does best by them is taken, and
        another fraction of the same size where that does better; :attr:`Fraction.unclear` names
        what could not be kept.

    Returns
    -------
    The fraction; None where the table has none of that size.

    Raises
    ------
    ValueError : a pair that is not two of the factors.
    PlanError : a fraction that fails its own check.

    Examples
    --------
    >>> half = fraction(("heat", "soak", "paste", "time"), 8)
    >>> half.pattern, half.resolution, half.aliases[0]
    ((0, 1), 4, ('heat:soak', 'paste:time'))
    >>> fraction("abcde", 16, clear=[("a", "e")]).unclear
    ()
    """
    names = tuple(factors)
    check_distinct(names)
    for pair in clear:
        if len(set(pair)) != 2 or not set(pair) <= set(names):
            raise ValueError(f"{pair} are not two of {names}")
    columns = table_columns(len(names), runs)
    if columns is None:
        return None
    found = Fraction(names, runs, columns, tuple(clear))
    if found.unclear:
        from trials.design.families.assignment import keep_clear

        found = keep_clear(found)
    _check(found)
    return found


def _check(found: Fraction) -> None:
    """Refuse a fraction whose runs don't show the words and the resolution it names."""
    where = f"fraction of {len(found.factors)} factors in {found.runs} runs"
    codes = found.codes
    if len(np.unique(codes, axis=0)) < found.runs:
        raise refuse(where, "a recipe that comes twice", "every recipe at most once")
    strength = min(found.resolution - 1, 4)
    check_balanced(codes, (2,) * len(found.factors), where, strength)
    signs = 2 * codes - 1
    place = {name: column for column, name in enumerate(found.factors)}
    for word in found.words:
        if (signs[:, [place[name] for name in word]].prod(axis=1) != 1).any():
            raise refuse(where, f"{'*'.join(word)} is not constant", "every word is constant")
