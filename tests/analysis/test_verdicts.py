"""The verdict's cases by name, its chances against brute-force simulation, and published power."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trials.analysis.verdicts import (
    Judgement,
    PairInterval,
    Present,
    Scale,
    Settled,
    chance_of_verdict,
    judge,
    margin_width,
    to_settle,
    verdict_chances,
)
from trials.model import tukey


def pair(low: float | None, high: float | None, estimate: float | None = None) -> PairInterval:
    middle = ((low or 0.0) + (high or 0.0)) / 2 if estimate is None else estimate
    return PairInterval({"heat": "a"}, {"heat": "b"}, middle, low, high)


def judged(
    pairs: list[PairInterval], margin: float = 1.0, scale: Scale = "difference"
) -> Judgement:
    found = judge(pairs, margin, scale)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("intervals", "verdict", "reason"),
    [
        ([(1.1, 2.0)], "mattered", "beyond"),
        ([(-2.0, -1.1)], "mattered", "beyond"),
        ([(-0.5, 0.5), (1.1, 9.0), (-3, 3)], "mattered", "beyond"),
        ([(-0.9, 0.9)], "made no practical difference", "inside"),
        ([(-0.9, 0.9), (0.1, 0.9)], "made no practical difference", "clear_but_small"),
        ([(-0.9, -0.1)], "made no practical difference", "clear_but_small"),
        ([(0.1, 1.5)], "not settled", "clear_not_surely_big"),
        ([(-1.5, -0.1), (-3, 3)], "not settled", "clear_not_surely_big"),
        ([(-0.1, 1.5)], "not settled", "wide"),
        ([(0.1, 0.9), (-0.5, 1.0)], "not settled", "wide"),
        ([(1.0, 2.0)], "not settled", "clear_not_surely_big"),  # touching isn't beyond
        ([(-1.0, 0.5)], "not settled", "wide"),  # touching isn't inside
        ([(None, None)], "not settled", "no_replication"),
        ([(None, None), (1.2, 2.0)], "mattered", "beyond"),
        ([(None, None), (-0.1, 0.1)], "not settled", "wide"),
        ([(math.nan, math.nan)], "not settled", "no_replication"),
    ],
)
def test_every_case(
    intervals: list[tuple[float | None, float | None]], verdict: str, reason: str
) -> None:
    found = judged([pair(low, high) for low, high in intervals])
    assert (found.verdict, found.reason) == (verdict, reason)


@pytest.mark.parametrize("margin", [1.25, 0.8])
@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (1.26, 1.5, "mattered"),
        (0.5, 0.79, "mattered"),
        (0.81, 1.24, "made no practical difference"),
        (0.79, 1.1, "not settled"),
        (0.0, 1.1, "not settled"),
    ],
)
def test_ratios_reach_from_one_over_r_to_r(
    low: float, high: float, verdict: str, margin: float
) -> None:
    assert judged([pair(low, high, 1.0)], margin, "ratio").verdict == verdict


def test_the_pair_shown_is_the_largest_of_those_that_decide() -> None:
    beyond = PairInterval({"d": "a"}, {"d": "b"}, 3.0, 1.1, 4.9)
    larger = PairInterval({"d": "a"}, {"d": "c"}, -4.0, -8.5, 0.5)
    assert judged([beyond, larger]).pair is beyond
    assert judged([larger, pair(-0.5, 3.0)]).pair is larger
    halved = PairInterval({"d": "a"}, {"d": "c"}, 0.4, 0.3, 1.1)
    more = PairInterval({"d": "a"}, {"d": "b"}, 2.0, 0.7, 4.0)
    assert judged([more, halved], 1.2, "ratio").pair is halved  # 0.4 is further from 1 than 2


def test_simple_effects_stand_in_the_way_of_no_practical_difference() -> None:
    average = [pair(-0.4, 0.4)]
    fine = [pair(-0.9, 0.9)]
    oven = PairInterval({"d": "a"}, {"d": "b"}, 0.2, -0.8, 1.2, {"heat": "oven"})
    found = judge(average, 1.0, "difference", [*fine, oven])
    assert found is not None
    assert (found.verdict, found.reason, found.simple) == (
        "not settled",
        "inside_on_average",
        (oven,),
    )
    burner = PairInterval({"d": "a"}, {"d": "b"}, -0.1, -1.4, 0.6, {"heat": "burner"})
    both = judge(average, 1.0, "difference", [oven, *fine, burner])
    assert both is not None
    assert both.simple == (
        oven,
        burner,
    )  # every one that stands in the way
    ok = judge(average, 1.0, "difference", fine)
    assert ok is not None
    assert ok.verdict == "made no practical difference"
    missing = judge(average, 1.0, "difference", [pair(None, None)])
    assert missing is not None
    assert missing.reason == "inside_on_average"
    wide = judge([pair(-2, 2)], 1.0, "difference", [oven])
    assert wide is not None
    assert wide.reason == "wide"


def test_no_margin_no_verdict() -> None:
    assert judge([pair(0, 1)], None) is None
    assert judge([], 1.0) is None


@pytest.mark.parametrize(
    ("margin", "scale"),
    [(0.0, "difference"), (-1.0, "difference"), (1.0, "ratio"), (0.0, "ratio"), (-2.0, "ratio")],
)
def test_margins_that_are_none(margin: float, scale: Scale) -> None:
    with pytest.raises(ValueError, match="margin"):
        margin_width(margin, scale)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-3, 3), st.floats(0.01, 3)), min_size=1, max_size=4),
    st.floats(0.1, 2),
)
def test_one_verdict_and_its_meaning(middles: list[tuple[float, float]], d: float) -> None:
    pairs = [pair(middle - half, middle + half, middle) for middle, half in middles]
    found = judged(pairs, d)
    limits = [(p.low or 0.0, p.high or 0.0) for p in pairs]
    some_beyond = any(low > d or high < -d for low, high in limits)
    all_inside = all(-d < low and high < d for low, high in limits)
    assert (found.verdict == "mattered") == some_beyond
    assert (found.verdict == "made no practical difference") == (all_inside and not some_beyond)


def simulate(levels: int, per_level: int, difference: float, margin: float) -> tuple[float, float]:
    """Return how often one-way experiments with error SD 1 ended in each verdict."""
    runs = 6000
    rng = np.random.default_rng(20)
    means = np.zeros(levels)
    means[0], means[-1] = -difference / 2, difference / 2
    y = rng.normal(size=(runs, levels, per_level)) + means[:, None]
    se = np.sqrt(2 * y.var(axis=2, ddof=1).mean(axis=1) / per_level)
    reach = tukey.critical(0.95, levels, levels * (per_level - 1)) * se
    found = y.mean(axis=2)
    words = []
    for run in range(runs):
        pairs = [
            pair(
                found[run, a] - found[run, b] - reach[run],
                found[run, a] - found[run, b] + reach[run],
            )
            for a, b in itertools.combinations(range(levels), 2)
        ]
        words.append(judged(pairs, margin).verdict)
    return (
        words.count("mattered") / runs,
        words.count("made no practical difference") / runs,
    )


@pytest.mark.parametrize(
    ("levels", "per_level", "difference", "margin"),
    [(2, 4, 0.0, 2.2), (2, 9, 2.0, 0.7), (3, 6, 0.0, 1.6), (4, 5, 2.5, 0.9), (3, 12, 0.9, 1.3)],
)
def test_chances_equal_brute_force(
    levels: int, per_level: int, difference: float, margin: float
) -> None:
    """A label of our own making: 6,000 simulated experiments, within 4 Monte Carlo errors."""
    present = Present(
        math.sqrt(2 / per_level), levels * (per_level - 1), levels * per_level, levels
    )
    chances = verdict_chances(present, margin, difference)
    mattered, none = simulate(levels, per_level, difference, margin)
    for found, simulated in (
        (chances.mattered, mattered),
        (chances.no_practical_difference, none),
    ):
        error = math.sqrt(max(found * (1 - found), 1e-4) / 6000)
        assert found == pytest.approx(simulated, abs=4 * error)


def test_two_levels_equal_the_published_power_of_equivalence() -> None:
    """Two one-sided tests at alpha 0.025 each, known spread: closed form with the normal law.

    K. F. Phillips (1990), J. Pharmacokinetics and Biopharmaceutics 18, 137-144.
    """
    se, margin = 0.3, 1.0
    present = Present(se, math.inf, 40, 2)
    for truth in (0.0, 0.2, 0.5):
        z = stats.norm.isf(0.025)
        edge = margin / se - z
        inside = stats.norm.cdf(edge - truth / se) - stats.norm.cdf(-edge - truth / se)
        beyond = stats.norm.sf((margin - truth) / se + z) + stats.norm.sf((margin + truth) / se + z)
        chances = verdict_chances(present, margin, truth)
        assert chances.no_practical_difference == pytest.approx(inside, rel=1e-10)
        assert chances.mattered == pytest.approx(beyond, rel=1e-8)


def test_margin_equal_to_what_the_power_was_set_for() -> None:
    """80 % power for d, margin d: a true d is not settled 95 % of the time, 2d is mattered 80 %."""
    se = 1 / (stats.norm.isf(0.025) + stats.norm.isf(0.2))
    present = Present(se, math.inf, 40, 2)
    assert 1 - chance_of_verdict(present, 1.0, 1.0) == pytest.approx(0.95, abs=0.001)
    assert verdict_chances(present, 1.0, 2.0).mattered == pytest.approx(0.80, abs=0.001)


def test_contexts_can_only_lower_the_chance_of_no_practical_difference() -> None:
    plain = Present(0.3, 20, 24, 3)
    inside = Present(0.3, 20, 24, 3, simple_se=0.4, contexts=2)
    worse = Present(0.3, 20, 24, 3, simple_se=0.4, contexts=4)
    chances = [
        verdict_chances(one, 1.8, 0.0).no_practical_difference for one in (plain, inside, worse)
    ]
    assert chances == sorted(chances, reverse=True)
    assert chances[2] > 0.1


def test_to_settle_is_the_first_number_that_reaches_80_percent() -> None:
    present = Present(se=1.0, df=9, units=12, levels=3)
    found = to_settle(present, 2.5, 0.3)
    assert found == Settled(found.count if found else 0, "none")
    assert found is not None
    assert found.count % 3 == 0

    def chance(units: int) -> float:
        then = Present(math.sqrt(12 / units), 9 * units / 12, units, 3)
        return chance_of_verdict(then, 2.5, 0.0)

    assert chance(found.count) >= 0.8 > chance(found.count - 3)


def test_to_settle_asks_for_at_least_one_more_of_each_level() -> None:
    """An unlucky table: as many units would be likely to settle it, and yet didn't."""
    present = Present(se=0.25, df=20, units=24, levels=2)
    assert chance_of_verdict(present, 1.0, 0.0) >= 0.8
    assert to_settle(present, 1.0, 0.9) == Settled(26, "none")
    assert to_settle(replace(present, units=25), 1.0, 0.9) == Settled(27, "none")


def test_to_settle_takes_whichever_truth_needs_fewer() -> None:
    present = Present(se=1.0, df=14, units=16, levels=2)
    big = to_settle(present, 1.0, 5.0)
    assert big is not None
    assert big.assumption == "as_estimated"
    ratio = to_settle(present, math.e, math.exp(-5.0), "ratio")
    assert ratio == big


def test_to_settle_uses_the_rule_for_the_degrees_of_freedom() -> None:
    present = Present(se=1.0, df=2, units=4, levels=2)
    plain = to_settle(present, 2.6, 0.0)
    richer = to_settle(present, 2.6, 0.0, df_at=lambda units: units - 2)
    assert plain is not None
    assert richer is not None
    assert richer.count <= plain.count
    assert to_settle(present, 2.6, 0.0, df_at=lambda _: 0.0) is None


def test_to_settle_gives_up_above_ten_times_the_size() -> None:
    assert to_settle(Present(se=1.0, df=6, units=8, levels=2), 0.5, 0.4) is None
    assert to_settle(Present(se=0.0, df=6, units=8, levels=2), 0.5, 0.4) is None
    assert to_settle(Present(se=1.0, df=0, units=8, levels=2), 0.5, 0.4) is None
