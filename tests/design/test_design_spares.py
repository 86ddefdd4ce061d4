"""Spares, and how many of each version a difference takes."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, nbinom
from statsmodels.stats.power import TTestIndPower  # type: ignore[import-untyped]  # it ships no types

from trials.design.spares import per_version, spares, surely_working, working_chance


@pytest.mark.parametrize(
    ("wanted", "failing"),
    list(itertools.product([1, 2, 4, 12, 48, 200], [0.01, 0.1, 0.25, 0.5, 0.8])),
)
def test_spares_are_the_failures_before_enough_work(wanted: int, failing: float) -> None:
    """Made one after another, the failures before so many work are negative binomial."""
    assert spares(wanted, failing) == int(nbinom.ppf(0.95, wanted, 1 - failing))


@given(st.integers(1, 1000), st.floats(0, 1), st.data())
@settings(max_examples=100, deadline=None)
def test_the_chance_that_enough_work_is_the_binomial_of_scipy(
    made: int, failing: float, data: st.DataObject
) -> None:
    """scipy.stats.binom; up to 900 are summed, more are left to scipy."""
    wanted = data.draw(st.integers(0, made + 1))
    found = working_chance(made, failing, wanted)
    assert found == pytest.approx(binom.cdf(made - wanted, made, failing), rel=1e-9, abs=1e-12)


def test_one_that_works_takes_five_tries_at_even_chances() -> None:
    """1 - 0.5^5 = 0.969 and 1 - 0.5^4 = 0.9375: by hand."""
    assert spares(1, 0.5) == 4
    assert working_chance(5, 0.5, 1) == pytest.approx(1 - 0.5**5)


def test_no_spares_where_nothing_fails_and_no_end_where_all_does() -> None:
    assert spares(24, 0.0) == 0
    assert spares(0, 0.5) == 0
    assert spares(24, 1.0) is None
    assert spares(24, 0.9999) is None


@pytest.mark.parametrize("failing", [0.05, 0.25, 0.6])
def test_what_can_be_counted_on_of_what_is_made(failing: float) -> None:
    sure = surely_working(30, failing)
    assert working_chance(30, failing, sure) >= 0.95 > working_chance(30, failing, sure + 1)


@pytest.mark.parametrize("d", [0.2, 0.5, 0.8, 1.0, 1.5, 2.0])
def test_how_many_of_each_version_agrees_with_statsmodels(d: float) -> None:
    n = per_version(d, 1.0)
    assert n is not None
    exact = TTestIndPower().solve_power(effect_size=d, alpha=0.05, power=0.8)
    assert n - 1 < exact <= n


def test_how_many_of_each_version_agrees_with_the_printed_table() -> None:
    """J. Cohen, 1988, Statistical Power Analysis, table 2.4.1: two-sided 5 %, power 0.80."""
    assert [per_version(d, 1.0) for d in (0.2, 0.5, 0.8, 1.0)] == [394, 64, 26, 17]


def test_more_than_anybody_could_make_is_none() -> None:
    assert per_version(1e-6, 1.0) is None
    assert per_version(1.0, 0.0) == 2


@pytest.mark.parametrize(("works", "made"), [(0.8, 5), (0.7, 6), (0.5, 9)])
def test_three_working_ones_with_a_chance_of_nine_in_ten(works: float, made: int) -> None:
    """By hand, from the binomial: 5 at 80 %: 0.942, 6 at 70 %: 0.930, 9 at 50 %: 0.910.

    One less: 0.819, 0.837 and 0.855.
    """
    assert 3 + (spares(3, 1 - works, chance=0.9) or 0) == made


@pytest.mark.parametrize(
    ("made", "most_failing", "chance"),
    [(5, 2, 0.8965), (5, 3, 0.9844), (10, 4, 0.9219), (10, 5, 0.9803), (15, 6, 0.9434),
     (15, 7, 0.9827), (20, 7, 0.8982), (20, 8, 0.9591)],
)  # fmt: skip
def test_working_chances_agree_with_the_printed_table(
    made: int, most_failing: int, chance: float
) -> None:
    """Cumulative binomial at p = 0.25 as statistics textbooks print it, four decimals, from memory.

    Such as the appendix of R. E. Walpole and R. H. Myers, Probability and Statistics for Engineers
    and Scientists, table A.1.
    """
    assert working_chance(made, 0.25, made - most_failing) == pytest.approx(chance, abs=5e-5)
