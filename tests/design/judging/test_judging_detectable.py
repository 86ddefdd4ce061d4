"""The smallest difference that would show, against statsmodels and pingouin."""

from __future__ import annotations

import importlib
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.power import (  # type: ignore[import-untyped]  # it ships no types
    FTestAnovaPower,
    TTestIndPower,
)

from tests.design.judging.plans import make, response
from trials.design.columns import ready_of
from trials.design.judging import find_detectable, needed_noncentrality
from trials.design.power import f_test_power
from trials.design.values import Detectable, Plan
from trials.study import Study


def of(study: Study, plan: Plan, term: str, spread: str = "given") -> Detectable:
    rows = find_detectable(study, ready_of(study, plan))
    return next(row for row in rows if (row.term, row.spread) == (term, spread))


@pytest.mark.parametrize(("groups", "each"), [(2, 8), (3, 16), (4, 12)])
def test_one_factor_equals_statsmodels(groups: int, each: int) -> None:
    levels = [f"l{place}" for place in range(groups)] * each
    found = of(*make({"a": levels}, responses=[response(2.5)]), "a")
    for wanted, ours in ((0.8, found.at_80), (0.9, found.at_90)):
        f = FTestAnovaPower().solve_power(
            nobs=groups * each, k_groups=groups, alpha=0.05, power=wanted
        )
        assert ours == pytest.approx(f * 2.5 * math.sqrt(2 * groups), rel=1e-5)
    assert (found.num_df, found.den_df) == (groups - 1, groups * (each - 1))


@pytest.mark.parametrize(("first", "second"), [(4, 4), (8, 4), (12, 20)])
def test_two_groups_of_any_size_equal_statsmodels(first: int, second: int) -> None:
    found = of(*make({"a": ["x"] * first + ["y"] * second}, responses=[response(3.0)]), "a")
    d = TTestIndPower().solve_power(nobs1=first, ratio=second / first, alpha=0.05, power=0.8)
    assert found.at_80 == pytest.approx(3.0 * d, rel=1e-5)


def test_pingouin_agrees() -> None:
    pingouin = importlib.import_module("pingouin")
    found = of(*make({"a": ["x", "y"] * 10}, responses=[response()]), "a")
    d = pingouin.power_ttest(n=10, power=0.9, alpha=0.05)
    assert found.at_90 == pytest.approx(abs(d), rel=1e-4)
    three = of(*make({"a": ["x", "y", "z"] * 10}, responses=[response()]), "a")
    eta = pingouin.power_anova(k=3, n=10, power=0.8, alpha=0.05)
    assert three.at_80 == pytest.approx(math.sqrt(eta / (1 - eta)) * math.sqrt(6), rel=1e-4)


def split(groups: dict[str, float], *, ratio: bool = False) -> tuple[Study, Plan]:
    """Return 8 firings of 6 items: heat on firings, dye on items."""
    return make(
        {"heat": ["oven"] * 24 + ["burner"] * 24, "dye": ["x", "y"] * 24},
        {"firing": [f"f{place // 6}" for place in range(48)]},
        applied={"heat": "firing"},
        responses=[response(0.4, groups, ratio=ratio)],
    )


def test_a_factor_of_firings_is_a_comparison_of_firing_means() -> None:
    study, plan = split({"firing": 0.3})
    sd = math.sqrt(0.3**2 + 0.4**2 / 6)  # of a firing's mean
    d = TTestIndPower().solve_power(nobs1=4, ratio=1, alpha=0.05, power=0.8)
    assert of(study, plan, "heat").at_80 == pytest.approx(sd * d, rel=1e-5)
    assert of(study, plan, "heat").den_df == pytest.approx(6)
    wide = math.sqrt(0.6**2 + 0.4**2 / 6)
    assert of(study, plan, "heat", "twice").at_80 == pytest.approx(wide * d, rel=1e-5)
    # dye is compared inside firings: their spread doesn't enter
    assert of(study, plan, "dye", "twice").at_80 == pytest.approx(of(study, plan, "dye").at_80)


def test_an_interaction_is_a_difference_of_differences() -> None:
    study, plan = split({"firing": 0.0})
    dye, both = of(study, plan, "dye"), of(study, plan, "heat:dye")
    assert (both.at_80 or 0.0) == pytest.approx(2 * (dye.at_80 or 0.0), rel=1e-6)


def test_ratios_are_given_as_ratios() -> None:
    found = of(*make({"a": ["x", "y"] * 10}, responses=[response(0.3, ratio=True)]), "a")
    d = TTestIndPower().solve_power(nobs1=10, ratio=1, alpha=0.05, power=0.8)
    sd = math.sqrt(math.log1p(0.3**2))
    assert found.at_80 == pytest.approx(math.exp(sd * d), rel=1e-5)


def test_no_spread_no_sizes_and_no_repeats_no_test() -> None:
    study, plan = make({"a": ["x", "y"] * 3})
    assert find_detectable(study, ready_of(study, plan)) == ()
    lone = of(*make({"a": ["x", "y"]}, responses=[response()]), "a")
    assert (lone.at_80, lone.den_df) == (None, None)
    assert lone.note


def test_what_is_hidden_has_no_size() -> None:
    half = {"a": list("1122") * 3, "b": list("1212") * 3, "c": list("2112") * 3}
    study, plan = make(half, responses=[response()])
    for term in ("a", "a:b"):  # a is b:c, and a:b is c
        hidden = of(study, plan, term)
        assert (hidden.num_df, hidden.at_80) == (0, None)
        assert hidden.note
    # whoever declares that no two matter together can find a
    assert of(*make(half, responses=[response()], interactions=1), "a").at_80 is not None


def test_a_forbidden_recipe_leaves_the_pairs_that_can_be_compared() -> None:
    cells = [(a, b) for a in "123" for b in "xy" if (a, b) != ("3", "y")] * 4
    study, plan = make(
        {"a": [a for a, _ in cells], "b": [b for _, b in cells]}, responses=[response()]
    )
    both = of(study, plan, "a:b")
    four = of(
        *make(
            {"a": [a for a, _ in cells if a != "3"], "b": [b for a, b in cells if a != "3"]},
            responses=[response()],
        ),
        "a:b",
    )
    # only levels 1 and 2 tell of it; the third adds a little to judge chance by
    assert both.num_df == 1
    assert (both.at_80 or 0) < (four.at_80 or 0) < 1.05 * (both.at_80 or 0)
    assert of(study, plan, "a").at_80 is not None


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.integers(1, 6), st.floats(1.0, 200.0), st.floats(0.3, 0.97))
def test_the_noncentrality_gives_the_power_back(num: int, den: float, wanted: float) -> None:
    size = needed_noncentrality(num, den, wanted)
    assert size is not None
    assert f_test_power(num, den, size) == pytest.approx(wanted, abs=1e-8)


@settings(derandomize=True, max_examples=15, deadline=None)
@given(st.integers(2, 4), st.integers(2, 8), st.floats(0.1, 10.0))
def test_more_is_needed_for_more_and_less_with_more_items(
    levels: int, each: int, sd: float
) -> None:
    names = [f"l{place}" for place in range(levels)]
    few = of(*make({"a": names * each}, responses=[response(sd)]), "a")
    many = of(*make({"a": names * (each + 1)}, responses=[response(sd)]), "a")
    assert few.at_80 is not None
    assert few.at_90 is not None
    assert many.at_80 is not None
    assert many.at_80 < few.at_80 < few.at_90
