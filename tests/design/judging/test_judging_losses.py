"""What a loss does: against the plan without its rows judged from scratch, one after another."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.power import TTestIndPower  # type: ignore[import-untyped]  # it ships no types

from tests.design.judging.plans import make, response
from trials.design.columns import items_layout
from trials.design.differences import coefficients, pattern
from trials.design.judging import find_losses, judge, judged, judgement_of
from trials.design.judging.losses import assumed_for
from trials.design.power import f_test_power
from trials.design.saved import plan_from_json, plan_to_json
from trials.design.values import Loss, Plan
from trials.errors import AnalysisError
from trials.model import Layout, precision
from trials.study import Study, read_study

CELLS = Path(__file__).parents[3] / "study_demo" / "cells" / "study.toml"


def by_name(losses: tuple[Loss, ...]) -> dict[tuple[str | None, str], Loss]:
    return {(loss.group, loss.factor): loss for loss in losses}


def from_scratch(study: Study, layout: Layout, factor: str) -> float | None:
    """Return the log of the ratio, or the difference, found in 80 % of repeats, by bisection."""
    known = precision(layout, assumed_for(study).variances(layout), study.analysis.interactions)
    test = known.term(factor)
    levels = len(layout.factors[factor].levels)
    if test.den_df is None or test.num_df < levels - 1:
        return None
    size = math.inf
    for a in range(levels):
        for b in range(a + 1, levels):
            row = test.L @ coefficients(known.design, (factor,), pattern([levels], [(a, b)], 1.0))
            size = min(size, float(row @ np.linalg.inv(test.cov) @ row))
    low, high = 0.0, 1e3
    for _ in range(200):
        middle = (low + high) / 2
        if f_test_power(test.num_df, test.den_df, middle**2 * size) < 0.8:
            low = middle
        else:
            high = middle
    return high


def without(study: Study, plan: Plan, items: set[str], factor: str) -> float | None:
    """Return what is left when these items are lost, as the analysis would take the rest."""
    kept = tuple(row.item for row in plan.rows if row.item not in items)
    layout = items_layout(plan, kept, study.analysis.random)
    if len(layout.factors[factor].levels) < len(study.factor(factor).levels):
        return None
    try:
        return from_scratch(study, layout, factor)
    except AnalysisError:
        return None


def test_the_class_of_48_against_every_loss_judged_from_scratch(cells: Plan) -> None:
    study = read_study(CELLS)
    losses = by_name(find_losses(study, cells))
    for group in (*cells.groups, None):
        name = None if group is None else group.name
        lots = (
            [{row.item} for row in cells.rows[::3]]
            if group is None
            else [
                {row.item for row in cells.rows if row.groups[group.name] == member}
                for member in group.members
            ]
        )
        for factor in ("dye", "heat"):
            sizes = [without(study, cells, lot, factor) for lot in lots]
            told = losses[name, factor]
            if any(size is None for size in sizes):
                assert told.effect in ("test lost", "estimate lost")
                continue
            worst = max(size for size in sizes if size is not None)
            assert told.after is not None
            ours = math.log(told.after)
            if group is None or len(lots) > 8:  # told from a short list: never less than the rest
                assert ours >= worst * (1 - 2e-3)
            else:
                assert ours == pytest.approx(worst, rel=1e-6)


def test_the_named_member_is_the_one_whose_loss_gives_the_number(cells: Plan) -> None:
    study = read_study(CELLS)
    for loss in find_losses(study, cells):
        lot = {
            row.item
            for row in cells.rows
            if (row.item if loss.group is None else row.groups[loss.group]) == loss.member
        }
        assert len(lot) == loss.items
        again = without(study, cells, lot, loss.factor)
        if loss.after is None:
            assert again is None
        else:
            assert math.log(loss.after) == pytest.approx(again, rel=1e-6)


def test_one_of_eight_equals_statsmodels() -> None:
    study, plan = make({"a": ["x"] * 4 + ["y"] * 4}, responses=[response(2.0)])
    (loss,) = find_losses(study, plan)
    four = TTestIndPower().solve_power(nobs1=4, ratio=1, alpha=0.05, power=0.8)
    three = TTestIndPower().solve_power(nobs1=3, ratio=4 / 3, alpha=0.05, power=0.8)
    assert (loss.group, loss.items, loss.effect) == (None, 1, "weaker")
    assert loss.before == pytest.approx(2 * four, rel=1e-5)
    assert loss.after == pytest.approx(2 * three, rel=1e-5)
    assert loss.growth == pytest.approx(three / four, rel=1e-5)
    assert (loss.df_before, loss.df_after) == (6, 5)


def test_losing_the_only_firing_of_a_version_loses_the_estimate() -> None:
    study, plan = make(
        {"heat": ["oven"] * 8 + ["burner"] * 4, "dye": ["x", "y"] * 6},
        {"firing": [f"f{place // 4}" for place in range(12)]},
        applied={"heat": "firing"},
        responses=[response(1.0, {"firing": 0.5})],
    )
    loss = by_name(find_losses(study, plan))["firing", "heat"]
    assert (loss.effect, loss.member, loss.after) == ("estimate lost", "f2", None)


def test_losing_one_of_two_firings_a_version_loses_the_test() -> None:
    study, plan = make(
        {"heat": ["oven"] * 4 + ["burner"] * 8, "dye": ["x", "y"] * 6},
        {"firing": [f"f{place // 4}" for place in range(12)]},
        applied={"heat": "firing"},
        responses=[response(1.0, {"firing": 0.5})],
    )
    losses = by_name(find_losses(study, plan))
    assert losses["firing", "heat"].effect == "estimate lost"
    assert losses["firing", "dye"].effect == "weaker"


def test_without_a_spread_the_growth_is_told_and_no_size() -> None:
    study, plan = make({"a": ["x"] * 4 + ["y"] * 4})
    (loss,) = find_losses(study, plan)
    assert (loss.response, loss.before, loss.after) == (None, None, None)
    assert (loss.growth or 0) > 1


def test_the_spread_of_the_primary_response_is_taken() -> None:
    first = response(1.0).model_copy(update={"name": "z", "primary": False})
    study, plan = make({"a": ["x"] * 4 + ["y"] * 4}, responses=[first, response(2.0)])
    assert {loss.response for loss in find_losses(study, plan)} == {"y"}


def test_a_judged_plan_is_read_back_as_it_was(cells: Plan) -> None:
    study = read_study(CELLS)
    plan = judged(study, cells)
    assert plan.digest() == cells.digest()
    assert plan_from_json(plan_to_json(plan)) == plan
    assert judgement_of(plan) == judge(study, plan)


def test_a_practice_run_has_nothing_to_lose() -> None:
    study, plan = make({"a": list("xyxy")}, {"team": list("uuvv")})
    bare = plan.model_copy(update={"factors": ()})
    found = judge(study.model_copy(update={"factors": ()}), bare)
    assert found.worst_loss == ()
    assert found.aliases == ()
    assert found.detectable == ()
    assert {tie.first for tie in found.ties} == {"team", "run"}


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.data())
def test_any_layout_can_be_judged_and_a_loss_never_helps(data: st.DataObject) -> None:
    n = data.draw(st.integers(2, 16))
    columns = {
        name: data.draw(st.lists(st.sampled_from("xyz"), min_size=n, max_size=n))
        for name in "ab"[: data.draw(st.integers(1, 2))]
    }
    groups = {
        name: data.draw(st.lists(st.sampled_from("pqrs"), min_size=n, max_size=n))
        for name in ("team", "firing")[: data.draw(st.integers(0, 2))]
    }
    study, plan = make(columns, groups, responses=[response(1.0, dict.fromkeys(groups, 0.4))])
    found = judge(study, plan)
    names = set(columns)
    assert {loss.factor for loss in found.worst_loss} <= names
    if not groups:
        assert all(loss.growth is None or loss.growth >= 1 - 1e-9 for loss in found.worst_loss)
    for loss in found.worst_loss:
        assert (loss.effect == "weaker") == (loss.growth is not None)
        assert loss.effect != "weaker" or loss.after is not None
