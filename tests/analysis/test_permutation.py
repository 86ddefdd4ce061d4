"""Permutation tests against full enumeration in R, Fisher's own count, and scipy.

Counts: R 4.2.2, statistics compared as integers. Data: sleep, Cushny & Peebles (1905) via Student
(1908), Biometrika 6; maize, Darwin's, in Fisher (1935), The Design of Experiments, section 21
(863 of 32,768 in one direction); oats, Yates (1935), J. R. Statist. Soc. Suppl. 2, 181-247, whole
plot totals; 16c and 16g were made up for the purpose.
"""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trials.analysis.permutation import (
    Codes,
    Floats,
    permute,
    residual_permutation,
    unit_means,
)
from trials.randomness import stream

FOLDER = Path(__file__).parents[1] / "reference" / "r"
RNG = stream(1, "tests")


def read(name: str) -> dict[str, list[str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    return {key: [row[key] for row in rows] for key in rows[0]}


def codes(labels: list[str]) -> Codes:
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)


def values(texts: list[str]) -> Floats:
    return np.array(texts, dtype=np.float64)


@pytest.mark.parametrize(
    ("columns", "count", "size"),
    [
        (("16c_permutation_small", "y", "group", None), 5, 462),
        (("16d_sleep", "extra", "group", None), 15048, 184756),
        (("16d_sleep", "extra", "group", "ID"), 4, 1024),
        (("16f_oats_wholeplots", "total", "V", "B"), 13506, 46656),
        (("16g_permutation_three_groups", "y", "group", None), 24, 1680),
    ],
)
def test_counts_equal_full_enumeration_in_r(
    columns: tuple[str, str, str, str | None], count: int, size: int
) -> None:
    name, response, factor, block = columns
    table = read(name)
    blocks = None if block is None else codes(table[block])
    found = permute(values(table[response]), codes(table[factor]), blocks, 0, RNG)
    assert (found.count, found.size, found.complete) == (count, size, True)
    assert found.p == count / size


@pytest.mark.parametrize("scale", [1.0, 0.125, 1e-6, 1e9])
@pytest.mark.parametrize("shift", [0.0, 1e6])
def test_darwins_maize_counts_ties_whatever_the_unit(scale: float, shift: float) -> None:
    """Ties of decimal readings are lost if floats are compared without a tolerance."""
    differences = values(read("16e_darwin_maize")["difference_eighths"])
    y = np.concatenate([differences, np.zeros(15)]) * scale + shift * scale
    found = permute(y, np.repeat([0, 1], 15), np.tile(np.arange(15), 2), 0, RNG)
    assert (found.count, found.size) == (2 * 863, 32768)


def test_sampling_agrees_with_the_full_count() -> None:
    table = read("16d_sleep")
    y, group = values(table["extra"]), codes(table["group"])
    twice = permute(np.tile(y, 2), np.tile(group, 2), np.repeat([0, 1], 20), 9999, stream(3, "a"))
    assert not twice.complete
    assert twice.size == 184756**2
    assert twice.p is not None
    assert twice.mc_error == pytest.approx(np.sqrt(twice.p * (1 - twice.p) / 9999))


def test_same_seed_same_p_and_p_is_never_zero() -> None:
    y = np.concatenate([np.arange(20.0), 100 + np.arange(20.0)])
    levels = np.repeat([0, 1], 20)
    first = permute(y, levels, None, 999, stream(5, "x"))
    assert first == permute(y, levels, None, 999, stream(5, "x"))
    assert first.p == 1 / 1000
    other = np.tile(np.arange(20.0), 2) + RNG.normal(size=40)
    assert (
        permute(other, levels, None, 999, stream(5, "x")).p
        != permute(other, levels, None, 999, stream(6, "x")).p
    )


def test_two_groups_equal_scipys_exact_test() -> None:
    rng = np.random.default_rng(8)
    a, b = rng.normal(size=6), rng.normal(0.8, 1, size=5)
    expected = stats.permutation_test(
        (a, b), lambda x, y: abs(np.mean(x) - np.mean(y)), alternative="greater", n_resamples=10**6
    )
    found = permute(np.concatenate([a, b]), np.repeat([0, 1], [6, 5]), None, 0, RNG)
    assert found.p == pytest.approx(expected.pvalue, rel=1e-12)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 2), st.integers(0, 1), st.integers(0, 5)), min_size=4, max_size=7
    )
)
def test_unequal_blocks_equal_the_slow_way(rows: list[tuple[int, int, int]]) -> None:
    """Every arrangement within blocks, each with its F by least squares."""
    level = codes([str(row[0]) for row in rows])
    block = codes([str(row[1]) for row in rows])
    y = np.array([float(row[2]) for row in rows])
    found = permute(y, level, block, 0, RNG)
    members = [np.flatnonzero(block == b) for b in np.unique(block)]
    layouts = set()
    for parts in itertools.product(*(itertools.permutations(level[m]) for m in members)):
        row = level.copy()
        for rows_of_block, labels in zip(members, parts, strict=True):
            row[rows_of_block] = labels
        layouts.add(tuple(row.tolist()))
    assert found.size == len(layouts)
    if found.p is None:
        return
    N = np.eye(int(block.max()) + 1)[block]
    L = int(level.max()) + 1

    def between(layout: tuple[int, ...]) -> float:
        full = np.column_stack([N, np.eye(L)[list(layout)]])
        fitted = full @ np.linalg.lstsq(full, y, rcond=None)[0]
        plain = N @ np.linalg.lstsq(N, y, rcond=None)[0]
        return float(np.sum((fitted - plain) ** 2))

    here = between(tuple(level.tolist()))
    assert found.count == sum(between(one) >= here - 1e-8 for one in layouts)


def test_what_cannot_be_shuffled_has_no_p() -> None:
    y = np.array([1.0, 2.0, 3.0, 4.0])
    none = permute(y, np.array([0, 0, 1, 1]), np.array([0, 0, 1, 1]), 999, RNG)
    assert (none.p, none.size) == (None, 1)
    assert permute(y, np.zeros(4, dtype=np.intp), None, 999, RNG).p is None
    big = permute(np.arange(40.0), np.repeat([0, 1], 20), None, 0, RNG)
    assert big.p is None
    assert big.size == 137846528820


def test_equal_readings_are_all_ties() -> None:
    found = permute(np.full(6, 0.1), np.repeat([0, 1], 3), None, 0, RNG)
    assert found.p == 1.0


def test_residuals_without_nuisance_are_the_plain_test() -> None:
    table = read("16c_permutation_small")
    y, group = values(table["y"]), codes(table["group"])
    X = np.column_stack([np.ones(11), 2.0 * group - 1])
    found = residual_permutation(
        y, X, {"group": [1]}, blocks=None, resamples=19999, rng=stream(2, "t")
    )["group"]
    assert found.approximate
    assert found.p == pytest.approx(5 / 462, abs=4 * 0.0008)


def test_residual_test_of_an_interaction_is_near_f() -> None:
    """Normal errors: the shuffled p must lie near that of the F distribution."""
    rng = np.random.default_rng(12)
    a, b = np.repeat([-1.0, 1.0], 12), np.tile(np.repeat([-1.0, 1.0], 6), 2)
    x = rng.normal(size=24)
    X = np.column_stack([np.ones(24), a, b, a * b, x])
    y = X @ np.array([5.0, 3.0, -2.0, 0.45, 1.0]) + rng.normal(size=24)
    found = residual_permutation(
        y, X, {"a": [1], "a:b": [3], "x": [4]}, blocks=None, resamples=9999, rng=stream(4, "t")
    )
    beta, rss = np.linalg.lstsq(X, y, rcond=None)[:2]
    covariance = np.linalg.inv(X.T @ X) * rss[0] / 19
    for name, column in (("a", 1), ("a:b", 3), ("x", 4)):
        p = 2 * stats.t.sf(abs(beta[column]) / np.sqrt(covariance[column, column]), 19)
        assert found[name].p == pytest.approx(p, abs=0.02)


def test_residual_test_says_when_there_is_nothing_to_test() -> None:
    y, one = np.array([1.0, 2.0, 4.0, 3.0]), np.ones((4, 1))
    half = np.array([[0.0], [0.0], [1.0], [1.0]])
    X = np.column_stack([one, half, half])
    twin = residual_permutation(y, X, {"t": [2]}, blocks=None, resamples=99, rng=RNG)["t"]
    assert twin.p is None
    full = residual_permutation(y, np.eye(4), {"t": [3]}, blocks=None, resamples=99, rng=RNG)["t"]
    assert full.p is None
    none = residual_permutation(y, X[:, :2], {"t": [1]}, blocks=None, resamples=0, rng=RNG)["t"]
    assert none.p is None
    flat = residual_permutation(one[:, 0], X[:, :2], {"t": [1]}, blocks=None, resamples=9, rng=RNG)
    assert flat["t"].p is None


def test_residuals_stay_in_their_blocks() -> None:
    y = np.array([0.0, 1.0, 100.0, 101.0, 0.5, 1.5, 99.0, 103.0])
    block = np.array([0, 0, 1, 1, 0, 0, 1, 1])
    level = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0])
    X = np.column_stack([np.ones(8), level])
    inside = residual_permutation(
        y, X, {"t": [1]}, blocks=block, resamples=1999, rng=stream(1, "t")
    )["t"]
    outside = residual_permutation(
        y, X, {"t": [1]}, blocks=None, resamples=1999, rng=stream(1, "t")
    )["t"]
    assert inside.p is not None
    assert outside.p is not None
    assert inside.p < 0.2 < outside.p


def test_means_of_units() -> None:
    means, first, sizes = unit_means(np.array([4.0, 1.0, 2.0, 3.0]), np.array([7, 3, 7, 3]))
    assert means.tolist() == [2.0, 3.0]
    assert first.tolist() == [1, 0]
    assert sizes.tolist() == [2, 2]
