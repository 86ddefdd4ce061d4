"""Blocks, squares, confounding and control: against the books, and against trying everything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import combinations, product
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chisquare

from trials.design.draw import draw
from trials.design.families import (
    average_variance,
    confounded,
    control_counts,
    fewest_blocks,
    incomplete_blocks,
    latin_squares,
)
from trials.design.families.confounded import Confounded, schemes_of
from trials.design.families.seen import indicator
from trials.design.families.squares import reduced_squares, set_size
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup

# Versions, block size, blocks, copies, efficiency factor. W. G. Cochran and G. M. Cox, 1957,
# Experimental Designs, 2nd ed., Wiley, table 11.3, and R. A. Fisher and F. Yates, Statistical
# Tables, table XVIII (from memory; the factors are printed with two digits).
BOOKS = [
    (4, 2, 6, 3, 0.67),
    (4, 3, 4, 3, 0.89),
    (5, 2, 10, 4, 0.62),
    (5, 3, 10, 6, 0.83),
    (5, 4, 5, 4, 0.94),
    (6, 2, 15, 5, 0.60),
    (6, 3, 10, 5, 0.80),
    (6, 4, 15, 10, 0.90),
    (6, 5, 6, 5, 0.96),
    (7, 3, 7, 3, 0.78),
    (7, 4, 7, 4, 0.88),
    (8, 4, 14, 7, 0.86),
    (9, 3, 12, 4, 0.75),
    (9, 4, 18, 8, 0.84),
    (9, 5, 18, 10, 0.90),
    (9, 6, 12, 8, 0.94),
    (10, 3, 30, 9, 0.74),
    (10, 4, 15, 6, 0.83),
    (10, 5, 18, 9, 0.89),
    (10, 6, 15, 9, 0.93),
    (11, 5, 11, 5, 0.88),
    (11, 6, 11, 6, 0.92),
    (13, 3, 26, 6, 0.72),
    (13, 4, 13, 4, 0.81),
    (13, 9, 13, 9, 0.96),
    (15, 3, 35, 7, 0.71),
    (15, 7, 15, 7, 0.92),
    (15, 8, 15, 8, 0.94),
]


@pytest.mark.parametrize(("versions", "size", "blocks", "copies", "efficiency"), BOOKS)
def test_incomplete_blocks_are_those_of_the_books(
    versions: int, size: int, blocks: int, copies: int, efficiency: float
) -> None:
    found = incomplete_blocks(versions, size)
    assert found is not None
    assert (found.blocks, found.copies) == (blocks, copies)
    assert abs(found.efficiency - efficiency) <= 0.0051  # the books round 0.625 down


@pytest.mark.parametrize("versions", range(3, 16))
def test_every_size_is_balanced_and_as_small_as_counting_allows(versions: int) -> None:
    for size in range(2, versions):
        found = incomplete_blocks(versions, size)
        assert found is not None
        block, version = found.codes.T
        incidence = indicator(block).T @ indicator(version)
        information = found.copies * np.eye(versions) - incidence.T @ incidence / size
        kept = np.linalg.eigvalsh(information) / found.copies
        assert kept[0] == pytest.approx(0, abs=1e-9)
        assert kept[1:] == pytest.approx(found.efficiency)  # the same for every comparison
        meetings = next(
            m
            for m in range(1, found.meetings + 1)
            if m * (versions - 1) % (size - 1) == 0
            and m * (versions - 1) // (size - 1) * versions % size == 0
            and m * (versions - 1) // (size - 1) >= size  # R. A. Fisher, 1940: at least as many
        )  # blocks as versions
        missing = {(15, 5), (15, 10)}  # twice as many blocks as counting allows
        assert found.meetings == meetings * (2 if (versions, size) in missing else 1)
        assert found.blocks == fewest_blocks(versions, size) <= comb(versions, size)


def test_limits_of_incomplete_blocks() -> None:
    assert incomplete_blocks(8, 3, most=55) is None
    assert incomplete_blocks(7, 7) is None
    assert incomplete_blocks(16, 4) is None
    found = incomplete_blocks(15, 5, most=41)
    assert found is None


def test_numbers_of_latin_squares() -> None:
    # reduced squares 1, 1, 4, 56 and all 2, 12, 576, 161280 (R. A. Fisher and F. Yates, 1934)
    assert [sum(1 for _ in reduced_squares(size)) for size in range(2, 6)] == [1, 1, 4, 56]
    assert [set_size(size, "all") for size in range(2, 6)] == [2, 12, 576, 161280]
    # squares of the class of the cyclic one: 432 of 576, and of five 6 of 56 reduced ones (ibid.)
    assert set_size(4, "cyclic") == 432
    assert set_size(5, "cyclic") == 161280 * 6 // 56


@pytest.mark.parametrize(("versions", "draws"), [(3, 1200), (4, 5760)])
def test_each_latin_square_is_as_likely(versions: int, draws: int) -> None:
    table = latin_squares(versions, np.random.default_rng(5), draws).table
    counts = Counter(table)
    assert len(counts) == set_size(versions, "all")
    assert chisquare(list(counts.values())).pvalue > 0.001


@given(st.integers(2, 9), st.integers(1, 3), st.integers(0, 99))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_every_line_of_a_square_holds_every_version(versions: int, squares: int, seed: int) -> None:
    found = latin_squares(versions, np.random.default_rng(seed), squares)
    square, row, column, version = found.codes.T
    for line in (row, column):
        counts = Counter(zip(square.tolist(), line.tolist(), version.tolist(), strict=True))
        assert set(counts.values()) == {1}
        assert len(counts) == squares * versions**2
    with pytest.raises(ValueError, match="at least two"):
        latin_squares(1, np.random.default_rng(seed))


def lengths(found: Confounded) -> tuple[int, ...]:
    sizes = Counter(term.count(":") + 1 for term in found.gives_up)
    return tuple(sizes[size] for size in range(1, len(found.factors) + 1))


def spanned(words: str) -> tuple[int, ...]:
    """Return how many effects of each order some words and their products are."""
    span = [frozenset[str]()]
    for word in words.split():
        span += [other ^ frozenset(word) for other in span]
    sizes = Counter(map(len, span[1:]))
    return tuple(sizes[size] for size in range(1, 8))


# Effects lost: D. C. Montgomery, Design and Analysis of Experiments, suggested blocking of the 2^k
# factorial, after Box, Hunter and Hunter, 1978, Statistics for Experimenters (from memory).
SUGGESTED = [
    (3, 2, "ABC"),
    (3, 4, "AB AC"),
    (4, 2, "ABCD"),
    (4, 4, "ABC ACD"),
    (4, 8, "AB BC CD"),
    (5, 2, "ABCDE"),
    (5, 4, "ABC CDE"),
    (5, 8, "ABE BCE CDE"),
    (5, 16, "AB AC CD DE"),
    (6, 2, "ABCDEF"),
    (6, 4, "ABCF CDEF"),
    (6, 8, "ABEF ABCD ACE"),
    (6, 32, "AB BC CD DE EF"),
    (7, 2, "ABCDEFG"),
    (7, 4, "ABCFG CDEFG"),
]


@pytest.mark.parametrize(("factors", "blocks", "words"), SUGGESTED)
def test_confounding_loses_what_the_book_loses(factors: int, blocks: int, words: str) -> None:
    found = confounded("ABCDEFG"[:factors], blocks)
    assert found is not None
    assert lengths(found) == spanned(words)[:factors]
    assert found.partly == ()


@pytest.mark.parametrize(
    ("factors", "blocks", "words"), [(6, 16, "ABF ACF BDF DEF"), (7, 8, "ABC DEF AFG")]
)
def test_where_the_book_loses_more_of_low_order_we_do_better(
    factors: int, blocks: int, words: str
) -> None:
    found = confounded("ABCDEFG"[:factors], blocks)
    assert found is not None
    assert lengths(found) < spanned(words)[:factors]


def test_three_levels_lose_parts() -> None:
    # F. Yates, 1937: two of the four degrees of freedom of AB; of ABC two of eight
    third = confounded("AB", 3, 3)
    assert third is not None
    assert third.lost == (("A:B", 0.5),)
    three = confounded("ABC", 9, 3)
    assert three is not None
    assert three.lost == (("A:B", 0.5), ("A:C", 0.5), ("B:C", 0.5), ("A:B:C", 0.25))
    assert three.gives_up == ()
    assert np.bincount(three.block).tolist() == [3] * 9


def test_wanted_pairs_are_kept_from_the_blocks() -> None:
    usual = confounded("abcd", 4)
    assert usual is not None
    (lost,) = [term for term in usual.gives_up if term.count(":") == 1]
    one, two = lost.split(":")
    other = confounded("abcd", 4, keep=[(one, two)])
    assert other is not None
    assert lost not in other.gives_up
    assert lengths(other) == lengths(usual)


def test_copies_may_lose_different_effects() -> None:
    # partial confounding of the 2^3: AB, AC, BC and ABC lost in one copy each (F. Yates, 1937)
    found = confounded("abc", 2, copies=4, vary=True)
    assert found is not None
    assert found.lost == (("a:b", 0.25), ("a:c", 0.25), ("b:c", 0.25), ("a:b:c", 0.25))
    same = confounded("abc", 2, copies=4)
    assert same is not None
    assert same.gives_up == ("a:b:c",)
    assert same.block.max() + 1 == 8


@pytest.mark.parametrize(("factors", "blocks", "levels"), [(4, 4, 2), (5, 4, 2), (3, 3, 3)])
def test_what_is_told_as_lost_is_what_the_columns_show(
    factors: int, blocks: int, levels: int
) -> None:
    from trials.design.families.seen import Seen, lost_to, terms_up_to

    names = "abcde"[:factors]
    found = confounded(names, blocks, levels)
    assert found is not None
    codes = {name: found.codes[:, place] for place, name in enumerate(names)}
    seen = Seen(dict.fromkeys(names, levels), codes)
    gone, partly, _ = lost_to(seen, terms_up_to(names, factors), [found.block])
    assert (gone, partly) == (found.gives_up, found.partly)


def test_blocks_that_no_scheme_fits() -> None:
    assert confounded("abc", 3) is None
    assert confounded("abc", 8) is None  # one recipe a block
    assert confounded("ab", 2, levels=4) is None
    # all schemes are tried: planes of a space of 2^5 (a Gaussian binomial coefficient)
    assert sum(1 for _ in schemes_of(5, 2, 2)) == 155


@given(st.integers(1, 8), st.integers(2, 60))
@settings(derandomize=True, max_examples=80)
def test_control_counts_are_the_best_there_are(others: int, items: int) -> None:
    if items < others + 1:
        return
    counts = control_counts(others, items)
    assert sum(counts) == items
    assert max(counts[1:]) - min(counts[1:]) <= 1
    for first in range(1, items - others + 1):
        low, more = divmod(items - first, others)
        other = (first, *[low + 1] * more, *[low] * (others - more))
        assert average_variance(counts) <= average_variance(other) + 1e-9


def test_control_counts_follow_the_square_root() -> None:
    # C. W. Dunnett, 1955: about the square root of the number of versions
    assert control_counts(4, 24) == (8, 4, 4, 4, 4)
    assert control_counts(9, 48) == (12, *[4] * 9)
    with pytest.raises(ValueError, match="too few"):
        control_counts(4, 4)


def within_blocks(table: Sequence[tuple[int, ...]], versions: int) -> float:
    """Average variance of comparisons with version 0 by least squares, from the model's columns."""
    block = np.array([b for b, row in enumerate(table) for _ in row])
    version = np.array([v for row in table for v in row])
    X = np.hstack([indicator(block), (version[:, None] == np.arange(versions)).astype(float)])
    cov = np.linalg.pinv(X.T @ X)
    lines = [
        np.eye(X.shape[1])[len(table) + v] - np.eye(X.shape[1])[len(table)] for v in range(versions)
    ]
    return float(np.mean([line @ cov @ line for line in lines[1:]]))


@pytest.mark.parametrize(
    ("others", "sizes"), [(2, (3, 3)), (3, (3, 3)), (2, (2, 2, 2)), (4, (6, 6, 6, 6))]
)
def test_control_in_blocks_is_as_good_as_can_be(others: int, sizes: tuple[int, ...]) -> None:
    """A study with a control in blocks, planned, against every arrangement or the bound."""
    found = within_blocks(planned_blocks(others, sizes), others + 1)
    if sum(sizes) > 9:  # blocks alike, with the counts of the square root: nothing is better
        assert found == pytest.approx(average_variance(control_counts(others, sum(sizes))))
        return
    rows = [
        [r for r in product(range(others + 1), repeat=size) if list(r) == sorted(r)]
        for size in sizes
    ]
    values = []
    for table in product(*rows):
        links = np.zeros((others + 1, others + 1))
        for row in table:
            for a, b in combinations(set(row), 2):
                links[a, b] = links[b, a] = 1
        reach = np.linalg.matrix_power(links + np.eye(others + 1), others + 1)
        if (reach[0] > 0).all():
            values.append(within_blocks(table, others + 1))
    assert found == pytest.approx(min(values))


def planned_blocks(others: int, sizes: tuple[int, ...]) -> list[tuple[int, ...]]:
    """The versions in each block of a plan; 0 is the control."""
    levels = tuple(f"v{place}" for place in range(others + 1))
    shape = StudyFactor(name="a", levels=levels, control="v0", shared=False)
    study = Study(
        title="t",
        question="q",
        factors=(shape,),
        groups=(StudyGroup(name="block", count=len(sizes)),),
        responses=(Response(name="y"),),
        limits=Limits(items=sum(sizes)),
    )
    plan = draw(study, seed=1)
    return [
        tuple(levels.index(r.factors["a"]) for r in plan.rows if r.groups["block"] == member)
        for member in plan.groups[0].members
    ]


def test_control_in_small_blocks_is_as_good_as_a_published_design() -> None:
    # R. E. Bechhofer and A. C. Tamhane, 1981, Technometrics 23, 45-57: balanced treatment
    # incomplete blocks; 4 versions and a control in 6 blocks of 3, each pair of versions with it
    published = [(0, a, b) for a, b in combinations(range(1, 5), 2)]
    found = within_blocks(planned_blocks(4, (3,) * 6), 5)
    assert found <= within_blocks(published, 5) + 1e-9
