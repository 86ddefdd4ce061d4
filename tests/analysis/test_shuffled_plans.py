"""Shuffles and their intervals in whole plans: exact where they say so, the same both ways."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.design.unchecked import draw
from trials.analysis.centring import numbers
from trials.analysis.data import Data, on_scale
from trials.analysis.findings import ResponseFindings
from trials.analysis.layouts import moved, replay
from trials.analysis.plan_layouts import PlanLayouts, layouts_of
from trials.analysis.run import analyse
from trials.analysis.shuffle_intervals import planned_intervals
from trials.analysis.shuffling import bench_of, fitted_together, other_layouts, replay_shuffle
from trials.design.columns import items_layout
from trials.design.values import Plan
from trials.model.layout import Floats
from trials.model.terms import make_design
from trials.study import Limits, Options, Response, Study, StudyFactor
from trials.study.reading import read_study

CLASS_OF_48 = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"


def plan_of(*factors: StudyFactor, items: int, seed: int = 1) -> Plan:
    study = Study(
        title="Invented",
        question="Which?",
        factors=factors,
        responses=(Response(name="size"),),
        limits=Limits(items=items),
    )
    return draw(study, seed=seed)


def data_of(plan: Plan, y: Floats, lost: tuple[int, ...] = (), **options: Any) -> Data:
    items = tuple(row.item for place, row in enumerate(plan.rows) if place not in lost)
    kept = [f"{value:.4f}" for place, value in enumerate(y) if place not in lost]
    centred = numbers(kept, "size")
    chosen = Options(response="size", **{"resamples": 499, "seed": 1, **options})
    return Data(
        name="size",
        unit="",
        layout=items_layout(plan, items),
        y=on_scale(centred, chosen.compare, "size", items),
        centred=centred,
        items=items,
        options=chosen,
        scale=chosen.compare,
        randomised=True,
    )


def analysed(plan: Plan, data: Data) -> ResponseFindings:
    layouts = layouts_of(plan, data.options)
    intervals = planned_intervals(layouts, data)
    return analyse(data, replay_shuffle(layouts, data), intervals=intervals)


TWO = StudyFactor(name="a", levels=("x", "y"), shared=False)
THREE = StudyFactor(name="b", levels=("p", "q", "r"), shared=False)


def test_exchanges_of_a_plan_give_what_its_layouts_give() -> None:
    """Moving the response, and refitting each drawn layout with its new names of levels."""
    plan = plan_of(TWO, THREE, items=36)
    data = data_of(plan, np.random.default_rng(4).normal(size=36))
    layouts = layouts_of(plan, data.options)
    terms = make_design(data.layout, 2).treatments
    bench = bench_of(data, data.y, terms[0].factors)
    together = fitted_together(data.layout, terms, bench)
    units, moves = other_layouts(layouts, data, bench, together)
    assert moves is not None
    drawn = layouts.drawn
    slow = replay(replace(units, drawn=drawn), together)
    fast = moved(units, moves, together)
    assert {t: one.count for t, one in slow.items()} == {t: one.count for t, one in fast.items()}
    assert any((drawn["b"][k] != drawn["b"][0]).any() for k in range(5))


@pytest.mark.parametrize("effect", [0.0, 1.2, 1.6, 2.0, 4.0])
def test_an_only_factor_of_two_levels_has_an_exact_interval(effect: float) -> None:
    plan = plan_of(TWO, items=12)
    own = np.array([row.factors["a"] == "x" for row in plan.rows])
    y = np.random.default_rng(8).normal(size=12) + effect * own
    found = analysed(plan, data_of(plan, y))
    (pair,), (line,) = found.comparisons, found.effects
    assert pair.interval_randomisation is not None
    low, high = pair.interval_randomisation
    assert pair.interval_exact
    assert line.exact
    assert line.p_shuffle_error is None  # 924 layouts, all counted
    assert low is not None
    assert high is not None
    assert low < (pair.difference or 0.0) < high
    assert (low <= 0 <= high) == ((line.p_randomisation or 0.0) > 0.05)


def test_pairs_of_an_only_factor_hold_the_other_levels_where_they_are() -> None:
    plan = plan_of(THREE, items=15)
    y = np.random.default_rng(2).normal(size=15)
    usual = analysed(plan, data_of(plan, y))
    away = [row.factors["b"] == "r" for row in plan.rows]
    moved_on = analysed(plan, data_of(plan, y + 50.0 * np.array(away)))
    first, then = usual.comparisons[0], moved_on.comparisons[0]
    assert (first.a, first.b) == ({"b": "p"}, {"b": "q"})
    assert first.interval_exact
    assert then.interval_randomisation == pytest.approx(first.interval_randomisation)


@pytest.mark.parametrize("lost", [(), (3, 10)])
def test_pairs_of_several_factors_are_near_students_t(lost: tuple[int, ...]) -> None:
    """With normal errors the ends lie near those of t; exact, for each pair moves alone."""
    plan = plan_of(TWO, THREE, items=36, seed=3)
    y = np.random.default_rng(6).normal(size=36)
    found = analysed(plan, data_of(plan, y, lost, resamples=1999))
    pairs = [one for one in found.comparisons if ":" not in one.term]
    assert len(pairs) == 4
    for pair in pairs:
        assert pair.interval_randomisation is not None
        assert pair.interval_exact
        reach = (pair.interval[1] or 0.0) - (pair.difference or 0.0)
        assert pair.interval_randomisation == pytest.approx(pair.interval, abs=0.25 * reach)
    assert all(one.interval_randomisation is None for one in found.comparisons if ":" in one.term)
    assert all(one.p_shuffle_error is not None for one in found.effects)


def test_a_ratio_has_ends_that_are_ratios_and_a_control_turns_the_pair() -> None:
    plan = plan_of(TWO, items=12)
    own = np.array([row.factors["a"] == "x" for row in plan.rows])
    y = np.exp(np.random.default_rng(8).normal(scale=0.1, size=12) + 0.4 * own)
    plain = analysed(plan, data_of(plan, y, compare="ratio")).comparisons[0]
    turned = analysed(plan, data_of(plan, y, compare="ratio", control=(("a", "x"),)))
    other = turned.comparisons[0]
    assert (plain.a, other.a) == ({"a": "x"}, {"a": "y"})
    assert plain.interval_randomisation is not None
    assert other.interval_randomisation is not None
    low, high = plain.interval_randomisation
    assert low is not None
    assert high is not None
    assert 1 < low < math.exp(0.4) < high
    assert other.interval_randomisation == pytest.approx((1 / high, 1 / low))


def simulated(plan: Plan, rng: np.random.Generator) -> Floats:
    """Return logs of a class of 48 in which dye, heat and soak matter, and no two together."""
    of_group: dict[tuple[str, ...], float] = {}
    spread = {"session": 0.1, "team": 0.15, "firing": 0.15}
    effects = {"hibiscus": 0.78, "red cabbage": 0.53, "oven": 0.33, "40": 0.22}
    out = []
    for row in plan.rows:
        value = sum(effects.get(level, 0.0) for level in row.factors.values())
        for name, sd in spread.items():
            key = (name, row.groups[name], row.groups["session"] if name == "firing" else "")
            value += of_group.setdefault(key, float(rng.normal(scale=sd)))
        out.append(value + float(rng.normal(scale=0.3)))
    return np.array(out)


@pytest.mark.long
def test_the_class_of_48_keeps_the_promise_of_the_shuffle(
    effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """Interactions that do nothing are found in 5 % of classes, soak time by coats too.

    Two thirds of what this plan tells of that pair lies between teams within a session, where 3 to
    5 degrees of freedom judge it. The F test (Kenward and Roger) has about 4 denominator df there
    and rejects in 0.3 % of classes, with negative variances allowed or not: it is honest but blunt.
    The shuffle holds the groups and looks within them, and needs no estimate of their spread.
    """
    plan = draw(read_study(CLASS_OF_48), seed=0)
    repeats, rng = effort(4000), np.random.default_rng(77)
    hits: dict[str, int] = {}
    for number in range(repeats):
        data = data_of(plan, simulated(plan, rng), resamples=199, seed=number)
        for name, test in replay_shuffle(PlanLayouts(plan, number, 199), data).items():
            hits[name] = hits.get(name, 0) + (test.p is not None and test.p <= 0.05)
    rates = {name: count / repeats for name, count in hits.items()}
    evidence("class_of_48_shuffle", {"repeats": repeats, "found": rates})
    room = 3.5 * math.sqrt(0.05 * 0.95 / repeats)
    nothing = {name: rate for name, rate in rates.items() if ":" in name or name == "coats"}
    assert all(rate <= 0.05 + room for rate in nothing.values()), rates
    assert rates["soak:coats"] >= 0.05 - room
    assert rates["dye"] > 0.8
