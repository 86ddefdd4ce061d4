"""The worth of a layout: what is drawn tells nearly as much as what was found, and so does its set.

Values are held against the formulas of a textbook (A. C. Atkinson, A. N. Donev and R. D. Tobias,
2007, Optimum Experimental Designs, with SAS, chapter 10: A is a mean of variances, D the
determinant of the information), worked out here without the search.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.design.unchecked import draw
from tests.sizes import examples
from trials.design.chain import Chain, Kept
from trials.design.extend import extend
from trials.design.factorials import Codes
from trials.design.planned import part_plans
from trials.design.saved import plan_from_json, plan_to_json
from trials.design.search import Criterion, layout_value
from trials.design.shuffle import (
    ENOUGH,
    make_shuffler,
    plan_layout,
    plan_shuffler,
    plan_units,
    shuffles,
    wide_enough,
)
from trials.design.units import Units
from trials.design.values import Balance, Plan, PlanFactor, PlanGroup, PlanGrouping, WorthRule
from trials.design.worth import TIMES, make_worth, recorded
from trials.model.layout import Floats
from trials.randomness import stream
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup, read_study

CELLS = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"
BAN = {"dye": "beetroot", "heat": "burner"}


def study_of(levels: tuple[int, ...], limits: Limits, *groups: StudyGroup,
             control: str | None = None) -> Study:  # fmt: skip
    names = "pqrst"
    factors = tuple(
        StudyFactor(
            name=names[place],
            levels=tuple("abcdefgh"[:count]),
            shared=False,
            control=control if place == 0 else None,
        )
        for place, count in enumerate(levels)
    )
    return Study(title="t", question="q", factors=factors, groups=groups,
                 responses=(Response(name="y"),), limits=limits)  # fmt: skip


def uneven() -> Study:
    return study_of((2, 2, 2), Limits(), StudyGroup(name="oven", count=3, sizes=(6, 4, 4)))


def with_ban() -> Study:
    return read_study(CELLS).model_copy(update={"limits": Limits(items=45, forbidden=(BAN,))})


def with_control() -> Study:
    oven = StudyGroup(name="oven", count=4, sizes=(7, 6, 6, 5))
    return study_of((5,), Limits(), oven, control="a")


def with_gaps() -> Study:
    """Nothing uneven is asked for, but 45 items leave three places empty."""
    return read_study(CELLS).model_copy(update={"limits": Limits(items=45)})


STUDIES = {"sizes": uneven, "ban": with_ban, "control": with_control, "gaps": with_gaps}


@cache
def plan_of(name: str) -> Plan:
    return draw(STUDIES[name](), seed=5)


@pytest.mark.parametrize("name", STUDIES)
def test_what_is_drawn_tells_nearly_as_much_as_what_was_found(name: str) -> None:
    plan = plan_of(name)
    rule = plan.shuffle.worth
    assert plan.shuffle.kind == "chain"
    assert plan.search is not None
    assert rule is not None
    assert rule.times == TIMES
    assert plan.search.value <= rule.found * TIMES * (1 + 1e-5)  # the rule has six digits
    worth = plan_shuffler(plan).chain
    assert worth is not None
    assert worth.worth is not None
    for layout in shuffles(plan, stream(3, "worth"), 100):
        assert worth.worth.value(layout) <= rule.found * TIMES * (1 + 1e-9)


def test_a_draw_is_worked_out_by_hand() -> None:
    # three ovens that stand for themselves: least squares with a mean for each, two-factor
    # interactions; the variance of half a difference is s2 (X'X)^-1, their mean is the criterion
    plan = plan_of("sizes")
    assert plan.shuffle.worth is not None
    oven = np.eye(3)[plan_units(plan).codes["oven"]]
    for layout in [plan_layout(plan), *shuffles(plan, stream(3, "hand"), 30)]:
        p, q, r = (2.0 * layout[name] - 1 for name in "pqr")
        X = np.column_stack([p, q, r, p * q, p * r, q * r])
        X = X - oven @ np.linalg.lstsq(oven, X, rcond=None)[0]
        value = np.trace(np.linalg.inv(X.T @ X)) / 6
        assert value <= plan.shuffle.worth.found * TIMES * (1 + 1e-9)


def test_a_class_with_a_ban_has_thousands_of_layouts_left() -> None:
    plan = plan_of("ban")
    chain = plan_shuffler(plan).chain
    assert chain is not None
    drawn = chain.draws(plan_layout(plan), 5000, stream(1, "many"), before=0)
    different = {b"".join(codes.tobytes() for codes in one.values()) for one in drawn}
    assert len(different) > 2000


def group(name: str, members: int) -> PlanGroup:
    return PlanGroup(
        name=name, path=name, within=None, step=None, role=None,
        members=tuple(f"{name}{n}" for n in range(members)), random=None,
    )  # fmt: skip


def factor(name: str, levels: int, control: str | None = None) -> PlanFactor:
    return PlanFactor(
        name=name, levels=tuple("abcd"[:levels]), unit="", kind="category", scale="linear",
        applied_to=None, control=control,
    )  # fmt: skip


SMALL = Units(6, (group("oven", 3),), {"oven": np.array([0, 0, 0, 1, 1, 2])})
PAIR = (factor("x", 2), factor("y", 2))
START = {"x": np.array([0, 1, 0, 1, 0, 1]), "y": np.array([0, 0, 1, 1, 1, 0])}
FIXED = (PlanGrouping(groups=("oven",), variance=None),)


def by_hand(x: Codes, y: Codes) -> float:
    """The mean variance of two half differences, with ovens that stand for themselves."""
    oven = np.eye(3)[SMALL.codes["oven"]]
    X = np.column_stack([2.0 * x - 1, 2.0 * y - 1])
    X = X - oven @ np.linalg.lstsq(oven, X, rcond=None)[0]
    M: Floats = X.T @ X
    if np.linalg.matrix_rank(M, tol=1e-9) < 2:
        return np.inf
    return float(np.trace(np.linalg.inv(M)) / 2)


@pytest.mark.long
def test_every_layout_that_is_worth_enough_is_drawn_equally_often() -> None:
    """Against a list of all 4^6 layouts, less those that break balance or are worth too little."""
    balance = (Balance(factors=("x",)), Balance(factors=("y",)),
               Balance(factors=("x",), within=("oven",)))  # fmt: skip
    found = by_hand(START["x"], START["y"])
    rule = WorthRule(criterion="A", found=found, times=1.1, interactions=1, groups=FIXED)
    even = [np.array(c) for c in product(range(2), repeat=6) if sum(c) == 3]
    spread = [x for x in even if x[:3].sum() in (1, 2) and x[3:5].sum() == 1]
    every = {(x.tobytes(), y.tobytes()) for x in spread for y in even
             if by_hand(x, y) <= 1.1 * found * (1 + 1e-9)}  # fmt: skip
    assert len(spread) * len(even) == 240
    assert len(every) == 120  # the rule leaves half of them out, 48 because they tell one thing
    chain = Chain(SMALL, PAIR, Kept(balance, worth=rule), {"x": (0, 1), "y": (0, 1)})
    drawn = Counter(  # far apart, so that draws are as good as independent
        (one["x"].tobytes(), one["y"].tobytes())
        for one in chain.draws(START, examples(5, 10) * len(every), np.random.default_rng(8), 250)
    )
    assert set(drawn) == every
    assert stats.chisquare(list(drawn.values())).pvalue > 0.001


@pytest.mark.parametrize("kind", ["A", "D", "I"])
@pytest.mark.parametrize("name", ["sizes", "ban", "control"])
def test_the_value_is_that_of_the_search(kind: str, name: str) -> None:
    plan = plan_of(name)
    assert plan.shuffle.worth is not None
    rule = WorthRule.model_validate({**plan.shuffle.worth.model_dump(), "criterion": kind})
    worth = make_worth(plan_units(plan), plan.factors, plan.shuffle.forbidden, rule)
    free = replace_rule(plan, None)
    for layout in shuffles(free, stream(2, kind), 20):
        value = layout_value(worth.ready.problem, layout, Criterion(rule.criterion))
        assert worth.value(layout) == pytest.approx(value, rel=1e-9)


def replace_rule(plan: Plan, rule: WorthRule | None) -> Plan:
    shuffle = plan.shuffle.model_copy(update={"worth": rule})
    return plan.model_copy(update={"shuffle": shuffle})


def test_what_leaves_something_open_is_worth_nothing() -> None:
    rule = WorthRule(criterion="A", found=1.0, times=None, interactions=1, groups=FIXED)
    worth = make_worth(SMALL, PAIR, (), rule)
    assert worth.holds(START)
    x = START["x"]
    for kind in ("A", "D", "I"):
        of_kind = make_worth(SMALL, PAIR, (), rule.model_copy(update={"criterion": kind}))
        assert not of_kind.holds({"x": x, "y": x})
        assert not of_kind.holds({"x": x, "y": np.array([0, 0, 0, 1, 1, 0])})


@pytest.mark.parametrize("name", ["sizes", "ban"])
def test_rounding_changes_no_draw(name: str) -> None:
    plan = plan_of(name)
    chain = plan_shuffler(plan).chain
    assert chain is not None
    assert chain.worth is not None
    before = list(chain.draws(plan_layout(plan), 200, stream(4, "rounding"), before=0))
    noise = 1e-14 * np.random.default_rng(1).standard_normal(chain.worth.ready.W.shape)
    W = chain.worth.ready.W * (1 + noise + noise.T)
    chain.worth = replace(chain.worth, ready=replace(chain.worth.ready, W=W))
    after = list(chain.draws(plan_layout(plan), 200, stream(4, "rounding"), before=0))
    for one, other in zip(before, after, strict=True):
        assert all((one[factor] == other[factor]).all() for factor in one)


def test_a_recorded_value_is_the_same_whatever_its_last_digits() -> None:
    for value in (1 / 12, 1 / 64, 1.0000005, 123456.5, 0.0321351):
        near = {recorded(value * (1 + 1e-15 * step)) for step in range(-20, 21)}
        assert len(near) == 1
        assert near.pop() == pytest.approx(value, rel=1e-5)


def test_the_rule_is_kept_in_the_file_and_counts_for_the_check_code() -> None:
    plan = plan_of("ban")
    assert plan_from_json(plan_to_json(plan)) == plan
    rule = plan.shuffle.worth
    assert rule is not None
    wider = replace_rule(plan, rule.model_copy(update={"times": 1.5}))
    assert wider.digest() != plan.digest()


def test_a_plan_without_the_rule_is_read_and_drawn_as_before() -> None:
    old = replace_rule(plan_of("sizes"), None)
    text = json.loads(plan_to_json(old))
    del text["shuffle"]["worth"]
    read = plan_from_json(json.dumps(text))
    assert read == old
    chain = plan_shuffler(read).chain
    assert chain is not None
    assert chain.worth is None


def test_complete_groups_need_no_rule() -> None:
    plan = draw(study_of((2, 3), Limits(items=12, forbidden=({"p": "a", "q": "b"},)),
                         StudyGroup(name="oven", count=2)), seed=1)  # fmt: skip
    assert plan.shuffle.kind != "chain"
    assert plan.shuffle.worth is None
    assert plan.search is not None
    rule = WorthRule(
        criterion="A", found=plan.search.value, times=1.0, interactions=2,
        groups=(PlanGrouping(groups=("oven",), variance=None),),
    )  # fmt: skip
    worth = make_worth(plan_units(plan), plan.factors, plan.shuffle.forbidden, rule)
    assert all(worth.holds(layout) for layout in shuffles(plan, stream(5, "complete"), 50))


def test_each_part_of_a_longer_plan_keeps_its_own_rule() -> None:
    team = StudyGroup(name="team", count=4, role="maker")
    study = study_of((3,), Limits(items=14), team, control="a")
    longer = extend(study, draw(study, seed=2), seed=3, items=11)
    for part in part_plans(longer):
        chain = plan_shuffler(part).chain
        assert chain is not None
        assert chain.worth is not None
        assert chain.worth.holds(plan_layout(part))
        assert all(chain.worth.holds(one) for one in shuffles(part, stream(1, "part"), 30))


@pytest.mark.parametrize(("above", "times"), [(1.0, TIMES), (1.19, 1.2), (2.0, None)])
def test_a_rule_that_leaves_too_few_layouts_is_widened(above: float, times: float | None) -> None:
    """Where no other layout is worth so much there is no test: 20 are needed for a p of 0.05."""
    units = Units(10, (group("oven", 2),), {"oven": np.array([0] * 8 + [1] * 2)})
    start, only = {"x": np.array([0, 1] * 5)}, (factor("x", 2),)  # as good: 70 in all, none better
    rule = WorthRule(criterion="A", found=1.0, times=TIMES, interactions=1, groups=FIXED)
    value = make_worth(units, only, (), rule).value(start)
    rule = rule.model_copy(update={"found": value / above})
    kept = Kept((Balance(factors=("x",)),), worth=rule)
    made, rules = wide_enough(make_shuffler(units, only, {}, kept), kept, start, 1)
    assert rules.worth is not None
    assert rules.worth.times == times
    drawn = made.draws(start, 400, stream(1, "wide"))
    assert len({one["x"].tobytes() for one in drawn}) >= ENOUGH
