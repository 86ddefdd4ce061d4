"""How many are needed: the curve's sizes against other libraries and the formulas of textbooks."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.power import (  # type: ignore[import-untyped]  # it ships no types
    FTestAnovaPower,
    TTestIndPower,
)

from tests.design.unchecked import draw
from trials.design.draw import draw as draw_checked
from trials.design.growing import is_lopsided
from trials.design.howmany import CHANCES, TIMES, how_many
from trials.study import Limits, Response, Spread, Study, StudyFactor, StudyGroup


def one_factor(levels: int, copies: int = 4) -> Study:
    """A completely randomised study: SD 2, worthwhile 2, hoped for 5."""
    shape = StudyFactor(name="shape", levels=tuple("abcdef"[:levels]), shared=False)
    response = Response(name="y", worthwhile=2.0, expected=5.0, spread=Spread(items=2.0))
    return Study(title="t", question="q", factors=(shape,), responses=(response,),
                 limits=Limits(copies=copies))  # fmt: skip


def split_plot(**firing: object) -> Study:
    """Heat for a whole firing of six, dye for each item, in two sessions of two firings."""
    heat = StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing")
    dye = StudyFactor(name="dye", levels=("a", "b", "c"), shared=False)
    groups = (
        StudyGroup(name="session", count=2),
        StudyGroup(name="firing", within="session", **{"count": 2, "capacity": 6} | firing),
    )
    spread = Spread(items=1.0, groups={"firing": 0.5})
    response = Response(name="y", worthwhile=1.0, expected=2.0, spread=spread)
    return Study(title="t", question="q", factors=(heat, dye), groups=groups,
                 responses=(response,), limits=Limits(items=24))  # fmt: skip


def test_two_versions_equal_the_t_test_of_statsmodels() -> None:
    study = one_factor(2)
    (curve,) = how_many(study, draw(study, seed=1))
    assert len(curve.points) > 8
    for point in curve.points:
        for gap, told in ((2.0, point.worthwhile), (5.0, point.expected)):
            wanted = TTestIndPower().power(gap / 2.0, point.per_level, 0.05)
            if np.isfinite(wanted):  # it has no answer where the power is 1 to all digits
                assert told == pytest.approx(float(wanted), abs=1e-7)
        for power, size in ((0.8, point.at_80), (0.9, point.at_90)):
            wanted = TTestIndPower().solve_power(None, point.per_level, 0.05, power)
            assert size == pytest.approx(2.0 * float(wanted), rel=1e-5)
    needed = TTestIndPower().solve_power(1.0, None, 0.05, 0.8)
    enough = curve.first("worthwhile")
    before = max(p.per_level for p in curve.points if p.per_level < needed)
    assert enough is not None
    assert before < needed <= enough.per_level


@pytest.mark.parametrize("levels", [3, 4, 6])
def test_several_versions_equal_the_anova_of_statsmodels(levels: int) -> None:
    """Two differ, the others half-way: f = (gap / SD) sqrt(1 / 2k); Cohen (1988), section 8.2.1."""
    study = one_factor(levels)
    (curve,) = how_many(study, draw(study, seed=1))
    f = 1.0 * (1 / (2 * levels)) ** 0.5
    for point in curve.points:
        wanted = FTestAnovaPower().power(f, point.items, 0.05, levels)
        assert point.worthwhile == pytest.approx(float(wanted), abs=2e-7)


def test_what_is_applied_to_a_firing_is_counted_in_firings() -> None:
    """Noncentral F by the textbook: firings less sessions and one as df, half the firings each."""
    study = split_plot()
    curves = {c.factor: c for c in how_many(study, draw(study, seed=1))}
    heat, dye = curves["heat"], curves["dye"]
    assert (heat.unit, dye.unit) == ("firing", None)
    for point in heat.points:
        assert point.items == 6 * point.units
        assert point.groups == {"firing": point.units}
        assert point.per_level * 2 == point.units
        df = point.units - 2 - 1
        if df < 1:
            assert point.worthwhile is None
        if df < 1 or point.times % 1:
            continue  # a half has no session with both kinds of heat, and says less
        size = point.units * 0.25 / (0.25 + 1 / 6)
        critical = stats.f.isf(0.05, 1, df)
        assert point.worthwhile == pytest.approx(float(stats.ncf.sf(critical, 1, df, size)))
    whole = {point.times: point for point in heat.points}
    assert (whole[1.0].units, whole[3.0].units) == (4, 12)
    assert [p.units for p in dye.points] == [p.items for p in dye.points]


def test_more_items_in_the_same_groups_do_not_help_what_is_applied_to_the_groups() -> None:
    """Pots hold any number: the curve of the pot's factor adds pots, that of the item's items."""
    study = split_plot(capacity=None)
    curves = {c.factor: c for c in how_many(study, draw(study, seed=1))}
    assert all(point.groups == {} for point in curves["dye"].points)
    assert [p.groups["firing"] for p in curves["heat"].points] == [
        p.units for p in curves["heat"].points
    ]


def test_sizes_of_uneven_groups_are_whole_repeats() -> None:
    study = split_plot(sizes=(4, 8), capacity=None)
    curves = how_many(study, draw(study, seed=1))
    for curve in curves:
        assert {point.times for point in curve.points} <= {t for t in TIMES if t == int(t)}
        assert curve.points[0].times == 1.0
        powers = [p.worthwhile for p in curve.points if p.worthwhile is not None]
        assert powers == sorted(powers)


def test_the_present_size_says_what_the_plan_says() -> None:
    study = split_plot()
    plan = draw(study, seed=1)
    for curve in how_many(study, plan):
        now = next(point for point in curve.points if point.times == 1.0)
        told = {(r.term, r.difference): r.power for r in plan.power if r.spread == "given"}
        assert now.worthwhile == pytest.approx(told[curve.factor, 1.0])
        assert now.expected == pytest.approx(told[curve.factor, 2.0])
        chances = {(c.factor, c.truth): c for c in plan.verdict_chances}
        assert now.none_settled == chances[curve.factor, "zero"].no_practical_difference
        assert now.expected_settled == chances[curve.factor, "expected"].mattered
        assert set(curve.to_dict()["enough"]) == set(CHANCES)


def test_nothing_is_said_without_a_spread() -> None:
    study = one_factor(2)
    bare = study.responses[0].model_copy(update={"spread": None})
    study = study.model_copy(update={"responses": (bare,)})
    assert how_many(study, draw(study, seed=1)) == ()


def small_fraction(**limits: object) -> Study:
    dye = StudyFactor(name="dye", levels=("hibiscus", "beetroot", "spinach"), shared=False)
    heat = StudyFactor(name="heat", levels=("oven", "burner"), applied_to="load")
    groups = (StudyGroup(name="lesson", count=2),
              StudyGroup(name="load", count=4, within="lesson"))  # fmt: skip
    power = Response(name="power", unit="µW", compare="ratio", worthwhile=1.3, expected=2.0,
                     spread=Spread(items=0.3, groups={"lesson": 0.1, "load": 0.1}))  # fmt: skip
    return Study(title="", question="", factors=(dye, heat), groups=groups, responses=(power,),
                 limits=Limits(**({"items": 8, "fraction": True} | limits)))  # fmt: skip


def test_larger_sizes_of_a_plan_that_leaves_recipes_out_are_drawn_anew() -> None:
    study = small_fraction()
    plan = draw_checked(study, seed=3)
    assert is_lopsided(study, plan)
    for curve in how_many(study, plan):
        settled = [p.expected_settled or 0.0 for p in curve.points]
        assert settled == sorted(settled)
        # ten repeats of the 8 cells would still not tell the dyes apart
        assert curve.first("expected_settled") is not None
    told = {finding.code for finding in plan.audit}
    assert "no_verdict" in told
    assert "margin_unreachable" not in told


def test_a_clear_answer_is_out_of_reach_only_if_a_larger_plan_drawn_anew_gives_none() -> None:
    study = small_fraction()
    spread = Spread(items=3.0, groups={"lesson": 0.1, "load": 2.0})
    wide = study.responses[0].model_copy(update={"spread": spread})
    study = study.model_copy(update={"responses": (wide,)})
    plan = draw_checked(study, seed=3)
    names = {
        name for f in plan.audit if f.code == "margin_unreachable" for name in f.facts["factors"]
    }
    assert names == {"dye", "heat"}
    large = draw(small_fraction(items=80).model_copy(update={"responses": (wide,)}), seed=3)
    clear = {c.factor: c.mattered for c in large.verdict_chances if c.truth == "expected"}
    assert max(clear.values()) < 0.8
