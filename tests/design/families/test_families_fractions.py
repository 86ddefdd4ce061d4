"""Two-level fractions: against published tables, and against all fractions of their size."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.design.families import fraction, fraction_sizes
from trials.design.families.assignment import column_sets, word_lengths
from trials.design.families.checks import check_balanced
from trials.design.families.fractions import Fraction, numeral, words_of_columns
from trials.design.families.generators import GENERATORS
from trials.errors import PlanError

NAMES = tuple("abcdefghijklmnop")

# Word-length patterns (words of 3, 4, 5 ... letters). A. Fries and W. G. Hunter, 1980,
# Technometrics 22, 601-608, and J. Chen, D. X. Sun and C. F. J. Wu, 1993, Int. Stat. Rev. 61,
# 131-145, tables of 8, 16, 32 and 64 runs; the first terms, from memory.
PUBLISHED = [
    (4, 8, (0, 1)),
    (5, 8, (2, 1)),
    (6, 8, (4, 3)),
    (7, 8, (7, 7, 0, 0, 1)),
    (5, 16, (0, 0, 1)),
    (6, 16, (0, 3)),
    (7, 16, (0, 7)),
    (8, 16, (0, 14, 0, 0, 0, 1)),
    (9, 16, (4, 14, 8, 0, 4, 1)),
    (10, 16, (8, 18, 16, 8, 8, 5)),
    (11, 16, (12, 26, 28, 24, 20, 13, 4)),
    (12, 16, (16, 39, 48, 48, 48, 39, 16, 0, 0, 1)),
    (6, 32, (0, 0, 0, 1)),
    (7, 32, (0, 1, 2)),
    (8, 32, (0, 3, 4)),
    (9, 32, (0, 6, 8, 0, 0, 1)),
    (10, 32, (0, 10, 16, 0, 0, 5)),
    (11, 32, (0, 25, 0, 27, 0, 10, 0, 1)),
    (12, 32, (0, 38, 0, 52, 0, 33, 0, 4)),
    (13, 32, (0, 55, 0, 96, 0, 87, 0, 16, 0, 1)),
    (14, 32, (0, 77, 0, 168, 0, 203, 0, 56, 0, 7)),
    (15, 32, (0, 105, 0, 280, 0, 435, 0, 168, 0, 35)),
    (16, 32, (0, 140, 0, 448, 0, 870, 0, 448, 0, 140, 0, 0, 0, 1)),
    (7, 64, (0, 0, 0, 0, 1)),
    (8, 64, (0, 0, 2, 1)),
    (9, 64, (0, 1, 4, 2)),
    (10, 64, (0, 2, 8, 4, 0, 1)),
    (11, 64, (0, 4, 14, 8, 0, 3, 2)),
    (12, 64, (0, 6, 24, 16, 0, 9, 8)),
]

# Resolutions, NIST/SEMATECH e-Handbook of Statistical Methods, table 5.3.3.4.7 (from memory).
NIST = {
    (3, 4): "III", (4, 8): "IV", (5, 8): "III", (6, 8): "III", (7, 8): "III",
    (5, 16): "V", (6, 16): "IV", (7, 16): "IV", (8, 16): "IV", (9, 16): "III", (10, 16): "III",
    (11, 16): "III", (15, 16): "III", (6, 32): "VI", (7, 32): "IV", (8, 32): "IV", (9, 32): "IV",
    (10, 32): "IV", (11, 32): "IV", (7, 64): "VII", (8, 64): "V", (9, 64): "IV", (10, 64): "IV",
    (11, 64): "IV",
}  # fmt: skip

# National Institute of Standards and Technology, Dataplot reference file DEXRES4 (smallest
# fractions of resolution IV): generators in the numbers of the first factors.
DEXRES4 = [
    (4, 8, "123"),
    (6, 16, "123 234"),
    (7, 16, "123 234 134"),
    (8, 16, "234 134 123 124"),
    (9, 32, "2345 1345 1245 1235"),
    (10, 32, "1234 1235 1245 1345 2345"),
    (11, 32, "123 234 345 134 145 245"),
    (12, 32, "123 124 125 134 135 145 234"),
    (13, 32, "123 124 125 134 135 145 234 235"),
    (14, 32, "123 124 125 134 135 145 234 235 245"),
    (15, 32, "123 124 125 134 135 145 234 235 245 345"),
    (16, 32, "123 124 125 134 135 145 234 235 245 345 12345"),
]


def made(factors: int, runs: int) -> Fraction:
    found = fraction(NAMES[:factors], runs)
    assert found is not None
    return found


@pytest.mark.parametrize(("factors", "runs", "pattern"), PUBLISHED)
def test_word_lengths_are_the_published_ones(
    factors: int, runs: int, pattern: tuple[int, ...]
) -> None:
    own = made(factors, runs).pattern
    assert own[: len(pattern)] == pattern
    assert not any(own[len(pattern) :])
    assert sum(own) == 2 ** (factors - runs.bit_length() + 1) - 1  # every word is counted


@pytest.mark.parametrize(("size", "resolution"), NIST.items())
def test_resolutions_are_those_of_the_handbook(size: tuple[int, int], resolution: str) -> None:
    assert numeral(made(*size).resolution) == resolution


@pytest.mark.parametrize(("factors", "runs", "generators"), DEXRES4)
def test_no_fraction_is_worse_than_that_of_the_reference_file(
    factors: int, runs: int, generators: str
) -> None:
    base = [1 << bit for bit in range(runs.bit_length() - 1)]
    added = [sum(1 << (int(digit) - 1) for digit in word) for word in generators.split()]
    other = Fraction(NAMES[:factors], runs, (*base, *added))
    assert made(factors, runs).pattern == other.pattern
    assert other.resolution == 4


SMALL = [size for size in GENERATORS if size[1] <= 16]
LARGER = [(6, 32), (7, 32), (8, 32), (9, 32), (10, 32), (11, 32), (7, 64), (8, 64), (9, 64)]


@pytest.mark.parametrize(("factors", "runs"), [*SMALL, *LARGER])
def test_no_other_choice_of_columns_has_less_aberration(factors: int, runs: int) -> None:
    patterns = word_lengths(column_sets(factors, runs), runs)
    least = min(map(tuple, np.unique(patterns, axis=0).tolist()))
    assert made(factors, runs).pattern == least


@pytest.mark.parametrize(("factors", "runs"), [(5, 8), (6, 16), (7, 16), (8, 32)])
def test_word_lengths_of_many_are_those_counted_one_by_one(factors: int, runs: int) -> None:
    sets = column_sets(factors, runs)
    patterns = word_lengths(sets, runs)
    for place in range(0, len(sets), 7):
        lengths = [word.bit_count() for word in words_of_columns(sets[place].tolist())]
        assert patterns[place].tolist() == [lengths.count(size) for size in range(3, factors + 1)]


@pytest.mark.parametrize(("factors", "runs"), list(GENERATORS))
def test_runs_words_and_aliases_agree(factors: int, runs: int) -> None:
    found = made(factors, runs)
    signs = 2 * found.codes - 1
    assert signs.shape == (runs, factors)
    at = {name: signs[:, place] for place, name in enumerate(found.factors)}
    columns: dict[tuple[str, ...], np.ndarray] = {(n,): column for n, column in at.items()}
    columns |= {(a, b): at[a] * at[b] for a, b in combinations(found.factors, 2)}
    told = {term: terms for terms in found.aliases for term in terms}
    for (one, x), (other, y) in combinations(columns.items(), 2):
        same = abs(int(x @ y)) == runs
        assert same == (":".join(other) in told.get(":".join(one), ()))
        assert same or x @ y == 0
    for name, others in found.generators:
        assert (at[name] == np.prod([at[o] for o in others], axis=0)).all()
    assert set(found.clear) | set(found.gives_up) == {":".join(t) for t in columns if len(t) > 1}


def test_names_are_those_of_the_study() -> None:
    found = fraction(("heat", "soak", "paste", "time", "lamp"), 8)
    assert found is not None
    assert found.generators == (("time", ("heat", "soak")), ("lamp", ("heat", "paste")))
    assert ("heat", "soak:time", "paste:lamp") in found.aliases
    assert "soak:lamp" in found.gives_up
    assert found.clear == ()


def test_wanted_pairs_stay_clear_where_they_can() -> None:
    # clear pairs in 32 runs of 7 factors: 15 of 21 (C. F. J. Wu and Y. Chen, 1992; from memory)
    assert len(made(7, 32).clear) == 15
    wanted = [("a", "b"), ("a", "c"), ("b", "c"), ("d", "e")]
    found = fraction(NAMES[:7], 32, wanted)
    assert found is not None
    assert (found.unclear, found.resolution, found.tabled) == ((), 4, True)
    assert {"a:b", "a:c", "b:c", "d:e"} <= set(found.clear)


def test_another_fraction_is_taken_where_the_table_has_no_clear_pair() -> None:
    assert made(6, 16).clear == ()
    found = fraction(NAMES[:6], 16, [("c", "f")])
    assert found is not None
    assert (found.unclear, found.tabled, found.resolution) == ((), False, 3)


def test_what_can_not_be_kept_is_named() -> None:
    found = fraction(NAMES[:4], 8, [("a", "b"), ("c", "d"), ("b", "a")])
    assert found is not None
    assert found.unclear  # ab = cd in any half of 16
    # mixed, if it must be, only with pairs that nobody asked for
    at = next(terms for terms in found.aliases if "a:b" in terms)
    assert "c:d" not in at or found.resolution == 3
    with pytest.raises(ValueError, match="not two of"):
        fraction(NAMES[:4], 8, [("a", "a")])
    with pytest.raises(ValueError, match="twice"):
        fraction(("a", "a", "b"), 4)


@given(
    st.sampled_from([(5, 16), (6, 16), (6, 32), (7, 32), (8, 32), (9, 32)]),
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=4),
)
@settings(derandomize=True, max_examples=40, deadline=None)
def test_any_wish_gives_a_sound_fraction(
    size: tuple[int, int], pairs: list[tuple[int, int]]
) -> None:
    factors, runs = size
    wanted = [(NAMES[a], NAMES[b]) for a, b in pairs if a != b and max(a, b) < factors]
    found = fraction(NAMES[:factors], runs, wanted)
    assert found is not None
    check_balanced(found.codes, (2,) * factors, "t", min(found.resolution - 1, 3))
    assert len(np.unique(found.codes, axis=0)) == runs
    assert set(found.unclear) <= set(found.gives_up)
    usual = made(factors, runs)
    lost = [pair for pair in {tuple(sorted(p)) for p in wanted} if ":".join(pair) in usual.gives_up]
    assert len(set(found.unclear)) <= len(lost)


def test_sizes_without_an_entry() -> None:
    assert fraction(NAMES[:5], 12) is None
    assert fraction(NAMES[:3], 8) is None  # all recipes are no fraction
    assert fraction_sizes(11) == (16, 32, 64)


def test_a_table_that_is_not_balanced_is_refused() -> None:
    with pytest.raises(PlanError, match="columns 1, 2"):
        check_balanced(np.array([[0, 0], [0, 0], [1, 1], [1, 1]]), (2, 2), "t")
