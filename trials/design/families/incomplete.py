"""Balanced incomplete blocks: blocks too small for all versions, every two together equally often.

R. A. Fisher and F. Yates, *Statistical Tables*, table XVIII; W. G. Cochran and G. M. Cox, 1957,
*Experimental Designs*, Wiley, chapter 11. The blocks come from a few first blocks whose versions
are moved on together, or are the complements of such, or all choices. Up to 15 versions the fewest
blocks that exist are known for every size: the first blocks here reach the smallest number that
counting allows, but for 15 versions in blocks of 5, where 21 blocks would be allowed and don't
exist (M. Hall and W. S. Connor, 1954, Canad. J. Math. 6, 35-41, from memory) and the next is 42.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from math import comb
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from trials.design.families.checks import refuse

if TYPE_CHECKING:
    from trials.design.factorials import Codes

MOST_VERSIONS = 15

# (versions, block size) -> how many versions move on in a ring, and the first blocks. Versions come
# in rings of that length; what is left over stays. Versions are written 0-9, A-E.
_FIRST: Mapping[tuple[int, int], tuple[int, str]] = MappingProxyType(
    {
        (6, 3): (5, "013 015"),
        (7, 3): (7, "015"),
        (8, 4): (7, "0125 0157"),
        (9, 3): (8, "016 048"),
        (9, 4): (9, "0127 0146"),
        (10, 3): (9, "016 019 024 036"),
        (10, 4): (5, "0136 0157 0789"),
        (10, 5): (9, "01257 01349"),
        (11, 3): (11, "016 018 018 024 028"),
        (11, 4): (11, "0127 0134 0158 0179 0257"),
        (11, 5): (11, "01269"),
        (12, 3): (12, "017 01A 029 048 048"),
        (12, 4): (12, "0129 015A 0268 0369"),
        (12, 5): (12, "01234 01348 01348 01348 0138A 0138A 01467 01467 01467 01467 02468"),
        (12, 6): (12, "01238A 014589 01467A"),
        (13, 3): (13, "01A 028"),
        (13, 4): (13, "018A"),
        (13, 5): (13, "0127B 01356 0157A"),
        (13, 6): (13, "01289B 01356A"),
        (14, 3): (13, "01A 01A 01A 01A 01D 01D 028 028 028 028 028 02D 036 048"),
        (14, 4): (14, "0167 019B 019B 019B 019B 024B 037A"),
        (14, 5): (
            14,
            "01234 0126C 0126C 0126C 0126C 01279 01589 01589 0158B 0169C 0247B 0247B 0257B",
        ),
        (14, 6): (14, "012456 01269A 012789 01347B 01356B 01379C 0138AC"),
        (14, 7): (13, "012689B 0127ABD"),
        (15, 3): (15, "01C 029 05A"),
        (15, 4): (15, "0145 016D 016D 016D 019D 027B 028C"),
        (15, 5): (14, "01356 016AC 0178E 037AE"),
        (15, 6): (15, "013578 0139BC 0156AB"),
        (15, 7): (15, "01279CD"),
    }
)


@dataclass(frozen=True)
class Blocks:
    """A balanced incomplete block design: which versions each block holds.

    ``table`` has shape (blocks, size) of version codes, each row sorted.
    """

    versions: int
    size: int
    table: tuple[tuple[int, ...], ...]

    @property
    def blocks(self) -> int:
        """How many blocks there are."""
        return len(self.table)

    @property
    def copies(self) -> int:
        """How many items of each version there are."""
        return self.blocks * self.size // self.versions

    @property
    def meetings(self) -> int:
        """How many blocks any two versions share."""
        return self.copies * (self.size - 1) // (self.versions - 1)

    @property
    def efficiency(self) -> float:
        """How much of the information stays within blocks, against whole blocks with like items."""
        return self.meetings * self.versions / (self.copies * self.size)

    @cached_property
    def codes(self) -> Codes:
        """Block and version of each run, shape (runs, 2)."""
        pairs = [(b, version) for b, row in enumerate(self.table) for version in row]
        return np.array(pairs, dtype=np.intp)


def incomplete_blocks(versions: int, size: int, most: int | None = None) -> Blocks | None:
    """Return the balanced incomplete block design with the fewest blocks.

    Parameters
    ----------
    versions : 3 to 15.
    size : items in a block, from 2, fewer than ``versions``.
    most : largest number of blocks; None for any.

    Returns
    -------
    None where there is none within ``most`` blocks, or the sizes are out of range. A design taken
    several times over is balanced as well.

    Raises
    ------
    PlanError : a table that is not balanced.

    Examples
    --------
    >>> seven = incomplete_blocks(7, 3)
    >>> seven.blocks, seven.copies, seven.meetings, round(seven.efficiency, 4)
    (7, 3, 1, 0.7778)
    >>> incomplete_blocks(8, 3, most=40) is None  # it takes all 56 choices
    True
    """
    if not (3 <= versions <= MOST_VERSIONS and 2 <= size < versions):
        return None
    if fewest_blocks(versions, size) > (most or comb(versions, size)):
        return None
    small = min(size, versions - size)
    rows = _small(versions, small)
    if small < size:
        rows = [tuple(v for v in range(versions) if v not in row) for row in rows]
    found = Blocks(versions, size, tuple(sorted(tuple(sorted(row)) for row in rows)))
    _check(found)
    return found


def fewest_blocks(versions: int, size: int) -> int:
    """Return how many blocks the smallest balanced design has.

    Examples
    --------
    >>> fewest_blocks(9, 3), fewest_blocks(15, 5)
    (12, 42)
    """
    small = min(size, versions - size)
    if (versions, small) not in _FIRST:
        return comb(versions, small)
    ring, words = _FIRST[versions, small]
    return sum(_length(_read(word), versions, ring) for word in words.split())


def _small(versions: int, size: int) -> list[tuple[int, ...]]:
    if (versions, size) not in _FIRST:
        return list(combinations(range(versions), size))
    ring, words = _FIRST[versions, size]
    rows = []
    for word in words.split():
        row = _read(word)
        for _ in range(_length(row, versions, ring)):
            rows.append(row)
            row = _moved(row, versions, ring)
    return rows


def _read(word: str) -> tuple[int, ...]:
    return tuple(int(letter, 16) for letter in word)


def _moved(row: tuple[int, ...], versions: int, ring: int) -> tuple[int, ...]:
    """Return a block with every version of a ring moved on by one."""
    whole = versions // ring * ring
    return tuple(sorted(v if v >= whole else v // ring * ring + (v % ring + 1) % ring for v in row))


def _length(row: tuple[int, ...], versions: int, ring: int) -> int:
    """Return after how many steps a block comes back."""
    steps, at = 1, _moved(row, versions, ring)
    while at != tuple(sorted(row)):
        steps, at = steps + 1, _moved(at, versions, ring)
    return steps


def _check(found: Blocks) -> None:
    incidence = np.zeros((found.blocks, found.versions), dtype=np.intp)
    for place, row in enumerate(found.table):
        incidence[place, list(row)] = 1
    together = incidence.T @ incidence
    apart = ~np.eye(found.versions, dtype=bool)
    sizes = set(incidence.sum(axis=1).tolist())
    copies, meetings = set(np.diag(together).tolist()), set(together[apart].tolist())
    if (sizes, copies, meetings) != ({found.size}, {found.copies}, {found.meetings}):
        raise refuse(
            f"{found.versions} versions in blocks of {found.size}",
            f"sizes {sorted(sizes)}, copies {sorted(copies)}, meetings {sorted(meetings)}",
            "every version, and every two versions together, equally often",
        )
