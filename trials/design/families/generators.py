"""Our own table of two-level fractions with the least aberration (mixing of low-order effects).

The first factors (A, B, C ...) make a full factorial; the columns of the others are the products
named. Sources: G. E. P. Box, W. G. Hunter and J. S. Hunter, 1978, *Statistics for Experimenters*,
Wiley, table 12.15 (from memory); A. Fries and W. G. Hunter, 1980, Technometrics 22, 601-608;
J. Chen, D. X. Sun and C. F. J. Wu, 1993, Int. Stat. Rev. 61, 131-145 (from memory); generators with
12 to 16 factors in 32 runs: National Institute of Standards and Technology, Dataplot reference
file DEXRES4. 12 factors in 64 runs: found by trying every set of columns. The tests do not take the
table on trust: they try all sets of columns for up to 11 factors in 32 runs.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

# (factors, runs) -> columns of the factors after the first log2(runs)
GENERATORS: Mapping[tuple[int, int], str] = MappingProxyType(
    {
        (3, 4): "AB",
        (4, 8): "ABC",
        (5, 8): "AB AC",
        (6, 8): "AB AC BC",
        (7, 8): "AB AC BC ABC",
        (5, 16): "ABCD",
        (6, 16): "ABC BCD",
        (7, 16): "ABC BCD ACD",
        (8, 16): "BCD ACD ABC ABD",
        (9, 16): "ABC BCD ACD ABD ABCD",
        (10, 16): "ABC BCD ACD ABD ABCD AB",
        (11, 16): "ABC BCD ACD ABD ABCD AB AC",
        (12, 16): "ABC BCD ACD ABD ABCD AB AC AD",
        (13, 16): "ABC BCD ACD ABD ABCD AB AC AD BC",
        (14, 16): "ABC BCD ACD ABD ABCD AB AC AD BC BD",
        (15, 16): "ABC BCD ACD ABD ABCD AB AC AD BC BD CD",
        (6, 32): "ABCDE",
        (7, 32): "ABCD ABDE",
        (8, 32): "ABC ABD BCDE",
        (9, 32): "BCDE ACDE ABDE ABCE",
        (10, 32): "ABCD ABCE ABDE ACDE BCDE",
        (11, 32): "ABC BCD CDE ACD ADE BDE",
        (12, 32): "ABC ABD ABE ACD ACE ADE BCD",
        (13, 32): "ABC ABD ABE ACD ACE ADE BCD BCE",
        (14, 32): "ABC ABD ABE ACD ACE ADE BCD BCE BDE",
        (15, 32): "ABC ABD ABE ACD ACE ADE BCD BCE BDE CDE",
        (16, 32): "ABC ABD ABE ACD ACE ADE BCD BCE BDE CDE ABCDE",
        (7, 64): "ABCDEF",
        (8, 64): "ABCD ABEF",
        (9, 64): "ABCD ACEF CDEF",
        (10, 64): "BCDF ACDF ABDE ABCE",
        (11, 64): "CDE ABCD ABF BDEF ADEF",
        (12, 64): "ABC ABD ACDE ACDF ABEF BCDEF",
    }
)


def table_columns(factors: int, runs: int) -> tuple[int, ...] | None:
    """Return the columns of the tabled fraction as bit masks over the first factors.

    Returns
    -------
    One mask a factor (A is 1, B 2, C 4 ...); None where the table has no entry.

    Examples
    --------
    >>> table_columns(4, 8)
    (1, 2, 4, 7)
    """
    words = GENERATORS.get((factors, runs))
    if words is None:
        return None
    base = tuple(1 << place for place in range(runs.bit_length() - 1))
    return base + tuple(sum(1 << "ABCDEF".index(letter) for letter in w) for w in words.split())


def fraction_sizes(factors: int) -> tuple[int, ...]:
    """Return the run counts in which the table has a fraction of so many factors.

    Examples
    --------
    >>> fraction_sizes(7)
    (8, 16, 32, 64)
    """
    return tuple(sorted(runs for k, runs in GENERATORS if k == factors))
