"""One variable shuffled with all others held where they lie: the right set, the right p.

The p is held against counting by hand: every layout of the plan's whole set is listed, those in
which another variable lies elsewhere are struck out (R. A. Fisher, 1935, The Design of Experiments,
section 21: the layouts that could have been drawn), and F of each is a difference of two
least-squares fits by LAPACK.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy import stats

from tests.analysis.test_shuffled_plans import data_of
from tests.design.unchecked import draw
from tests.sizes import examples
from trials.analysis.inversion import invert
from trials.analysis.layouts import moved, replay
from trials.analysis.pair_curves import Moves, pair_curves
from trials.analysis.plan_layouts import MOST_CHAINED, PlanLayouts, layouts_of
from trials.analysis.run import analyse
from trials.analysis.shuffle_intervals import planned_intervals
from trials.analysis.shuffling import bench_of, fitted_together, other_layouts, replay_shuffle
from trials.design.balance import Ledger
from trials.design.extend import extend
from trials.design.planned import part_plans
from trials.design.shuffle import (
    Moving,
    all_layouts,
    moving_alone,
    plan_layout,
    plan_shuffler,
    plan_units,
    shuffles,
)
from trials.design.values import Plan
from trials.model.layout import Codes, Floats
from trials.model.terms import make_design
from trials.randomness import stream
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup

TWO = StudyFactor(name="a", levels=("x", "y"), shared=False)
OTHER = StudyFactor(name="b", levels=("p", "q"), shared=False)
THREE = StudyFactor(name="b", levels=("p", "q", "r"), shared=False)
HEAT = StudyFactor(name="heat", levels=("low", "high"), applied_to="firing")
ROW = StudyFactor(name="r", levels=("m", "n"), applied_to="row")
COLUMN = StudyFactor(name="c", levels=("u", "v"), applied_to="column")


def study_of(*factors: StudyFactor, items: int, groups: dict[str, int] | None = None) -> Study:
    return Study(
        title="Invented",
        question="Which?",
        factors=factors,
        groups=tuple(StudyGroup(name=n, count=count) for n, count in (groups or {}).items()),
        responses=(Response(name="size"),),
        limits=Limits(items=items),
    )


IN_LESSONS = study_of(TWO, OTHER, items=12, groups={"lesson": 3})
ON_FIRINGS = study_of(HEAT, OTHER, items=16, groups={"firing": 8})
ON_ROWS = study_of(ROW, COLUMN, items=16, groups={"row": 8, "column": 2})


def least_squares(y: Floats, X: Floats) -> tuple[float, int]:
    beta, _, rank, _ = np.linalg.lstsq(X, y, rcond=1e-10)
    return float(np.sum((y - X @ beta) ** 2)), len(y) - int(rank)


def f_of(y: Floats, own: Codes, other: Codes | None, walls: Codes | None) -> float:
    """Return F of two levels, adjusted for two levels of another, both together, and walls."""
    one: Floats = np.ones((len(y), 1)) if walls is None else np.eye(int(walls.max()) + 1)[walls]
    a = np.array([-1.0, 1.0])[own][:, None]
    rest: list[Floats] = [one]
    if other is not None:
        b = np.array([-1.0, 1.0])[other][:, None]
        rest += [b, np.asarray(a * b, np.float64)]
    less, _ = least_squares(y, np.hstack(rest))
    whole, left = least_squares(y, np.hstack([a, *rest]))
    return (less - whole) / (whole / left)


def by_hand(plan: Plan, factor: str, y: Floats, at: Codes) -> tuple[int, set[bytes], float]:
    """Return how many layouts have all others held, these, and the share that shows as much."""
    every, own = all_layouts(plan), plan_layout(plan)
    assert every is not None
    alike = np.all([(every[f] == own[f]).all(axis=1) for f in own if f != factor], axis=0)
    kept = every[factor][alike]
    unit = next(f.applied_to for f in plan.factors if f.name == factor)
    units = plan_units(plan)
    if unit is None:  # items, in lessons or firings
        walls = next(iter(units.codes.values()))[at]
        other = next(own[f] for f in own if f != factor)[at]
        found = [f_of(y, codes[at], other, walls) for codes in kept]
    else:  # whole firings or rows, each with the mean of its items
        code = units.codes[unit][at]
        first = np.unique(code, return_index=True)[1]
        means = np.bincount(code, weights=y) / np.bincount(code)
        found = [f_of(means, codes[at][first], None, None) for codes in kept]
    here = found[kept.tolist().index(own[factor].tolist())]
    share = float(np.mean(np.array(found) >= here * (1 - 1e-9)))
    return len(kept), {one.tobytes() for one in kept}, share


@pytest.mark.parametrize(
    ("study", "factor", "layouts", "lost"),
    [
        (IN_LESSONS, "a", 2**6, ()),
        (IN_LESSONS, "b", 2**6, (2,)),
        (ON_FIRINGS, "heat", math.comb(8, 4), (2,)),
        (ON_FIRINGS, "b", 2**8, ()),
        (ON_ROWS, "r", math.comb(8, 4), ()),
    ],
)
def test_the_set_and_its_p_are_those_counted_by_hand(
    study: Study, factor: str, layouts: int, lost: tuple[int, ...]
) -> None:
    plan = draw(study, seed=3)
    y = np.round(np.random.default_rng(layouts).normal(size=len(plan.rows)), 4)
    at = np.array([place for place in range(len(y)) if place not in lost], dtype=np.intp)
    count, kept, share = by_hand(plan, factor, y[at], at)
    alone = moving_alone(plan, Moving(factor))
    assert (alone.size, alone.smallest_p, alone.exact) == (layouts, 2 / layouts, True)
    assert count == layouts
    every = all_layouts(plan, [factor], moving=Moving(factor))
    assert every is not None
    assert {one.tobytes() for one in every[factor]} == kept
    data = data_of(plan, y, lost)
    found = replay_shuffle(layouts_of(plan, data.options), data)[factor]
    assert found.p == pytest.approx(share, abs=1e-12)
    assert (found.exact, found.alone, found.mc_error) == (True, alone, None)


def test_what_another_variable_did_moves_the_exact_p_not_at_all() -> None:
    """The other variable adds 1000 to some items, and more in the third lesson: F is the same in
    every layout. Where all variables move at once it is not, which is why that p is approximate."""
    plan = draw(IN_LESSONS, seed=3)
    y = np.random.default_rng(5).normal(size=12)
    lesson = plan_units(plan).codes["lesson"]
    far = y + 1000.0 * plan_layout(plan)["b"] + 300.0 * lesson
    near, away = (data_of(plan, one) for one in (y, far))
    layouts = layouts_of(plan, near.options)
    usual, then = (replay_shuffle(layouts, data)["a"] for data in (near, away))
    assert usual.exact
    assert (then.p, then.exact) == (usual.p, True)
    whole = replay_shuffle(_all_moving(layouts), near)["a"].p
    assert not replay_shuffle(_all_moving(layouts), near)["a"].exact
    assert replay_shuffle(_all_moving(layouts), away)["a"].p != pytest.approx(whole, abs=0.01)


def _all_moving(layouts: PlanLayouts) -> PlanLayouts:
    """Return the same layouts, of which none is known to move one factor alone."""
    out = replace(layouts)
    for factor in plan_layout(layouts.plan):
        out._only[Moving(factor)] = None
    return out


def relaid(plan: Plan, factor: str, codes: Codes) -> Plan:
    """Return the plan as it would have been had the factor been dealt so."""
    levels = next(f.levels for f in plan.factors if f.name == factor)
    rows = tuple(
        row.model_copy(update={"factors": {**row.factors, factor: levels[code]}})
        for row, code in zip(plan.rows, codes.tolist(), strict=True)
    )
    return plan.model_copy(update={"rows": rows})


@pytest.mark.parametrize("study", [IN_LESSONS, ON_FIRINGS])
def test_a_null_is_rejected_as_often_as_can_be_and_no_more(study: Study) -> None:
    """Whatever a class measured, over all that could have been dealt: p is at most any level just
    as often as the number of layouts allows. The other variable does a lot, and spreads a lot."""
    plan = draw(study, seed=3)
    factor = plan.factors[0].name
    rng, other = np.random.default_rng(12), plan_layout(plan)["b"]
    y = 40.0 * other + rng.standard_t(2, size=len(other)) * (1 + 9 * other)
    every = all_layouts(plan, [factor], moving=Moving(factor))
    assert every is not None
    found = []
    for codes in every[factor]:
        now = relaid(plan, factor, codes)
        data = data_of(now, y, resamples=1)  # every layout is listed
        test = replay_shuffle(layouts_of(now, data.options), data, (factor,))[factor]
        assert test.exact
        found.append(test.p or 0.0)
    size = len(found)
    # two layouts that differ in the names of two versions only have the same F
    assert sorted(found) == pytest.approx([2 * (place // 2 + 1) / size for place in range(size)])
    assert np.mean(np.array(found) <= 0.05) == 2 * (size // 40) / size


@pytest.mark.long
def test_the_class_of_a_strong_variable_keeps_the_promise(
    effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """Of a set too large to list: 24 items in two lessons, three versions of b that do a lot.

    p is one of 1 / 100, 2 / 100, ...: 5 % of classes have 0.05 or less, as near as can be.
    """
    plan = draw(study_of(TWO, THREE, items=24, groups={"lesson": 2}), seed=3)
    repeats, rng = effort(10_000), np.random.default_rng(21)
    hits = 0
    for number, layout in enumerate(shuffles(plan, rng, repeats)):
        now = relaid(relaid(plan, "a", layout["a"]), "b", layout["b"])
        y = 10.0 * layout["b"] + rng.exponential(size=24) * (1 + 3 * (layout["b"] == 2))
        data = data_of(now, y)
        tests = replay_shuffle(PlanLayouts(now, number, 99), data, ("a",))
        assert tests["a"].exact
        hits += (tests["a"].p or 0.0) <= 0.05
    evidence("one_variable_moves_alone", {"repeats": repeats, "rate": hits / repeats})
    room = 3.5 * math.sqrt(0.05 * 0.95 / repeats)
    assert abs(hits / repeats - 0.05) <= room


def test_exchanges_give_what_refitting_each_layout_gives() -> None:
    plan = draw(study_of(TWO, THREE, items=36), seed=1)
    data = data_of(plan, np.random.default_rng(4).normal(size=36))
    alone = layouts_of(plan, data.options).only("b")
    assert alone is not None
    terms = make_design(data.layout, 2).treatments
    bench = bench_of(data, data.y, ("b",))
    together = fitted_together(data.layout, terms, bench)
    units, moves = other_layouts(alone, data, bench, together)
    assert moves is not None
    assert (alone.drawn["a"] == alone.own["a"]).all()
    slow = replay(replace(units, drawn=alone.drawn), together)
    assert slow["b",].count == moved(units, moves, together)["b",].count
    pair = [("b", 0, 2)]
    apart = layouts_of(plan, data.options).only("b", (0, 2))
    assert apart is not None
    units, moves = other_layouts(apart, data, bench, together)
    assert moves is not None
    by_places = pair_curves(units, Moves(moves, apart.names), together, pair, alone=True)
    units = replace(units, drawn=apart.drawn)
    refitted = pair_curves(units, None, together, pair, alone=True)
    ends = [invert(curves[pair[0]], 0.05) for curves in (by_places, refitted)]
    assert None not in ends[0]
    assert ends[0] == pytest.approx(ends[1], rel=1e-9)
    # 18 items have each version of a: six of them have each of the three versions of b
    assert alone.alone is not None
    assert alone.alone.size == (math.factorial(18) // math.factorial(6) ** 3) ** 2
    assert alone.alone.smallest_p == pytest.approx(math.factorial(3) / alone.alone.size)


def refused(y: Floats, plan: Plan, every: Codes, shift: Floats, alpha: float) -> bool:
    """Return whether the shuffle rejects that a shift was all the pair did, each F fitted anew."""
    own = plan_layout(plan)
    walls = plan_units(plan).codes["lesson"]
    b = np.eye(3)[own["b"]] - 1 / 3

    def f(codes: Codes) -> float:
        a = np.array([-1.0, 1.0])[codes][:, None]
        # b against its levels stays; the pair of a is asked with both together in the model
        rest = np.hstack([np.eye(2)[walls], b, a * b])
        less, _ = least_squares(y - shift, rest)
        whole, left = least_squares(y - shift, np.hstack([a, rest]))
        return (less - whole) / (whole / left)

    here = f(own["a"])
    return float(np.mean([f(codes) >= here * (1 - 1e-9) for codes in every])) <= alpha


def test_the_ends_of_a_pair_are_where_refits_begin_to_refuse() -> None:
    """Each end is held against fits of every layout at a difference just within and just beyond."""
    plan = draw(study_of(TWO, THREE, items=12, groups={"lesson": 2}), seed=3)
    layout = plan_layout(plan)
    y = np.round(np.random.default_rng(2).normal(size=12) + 20 * layout["b"], 4)
    data = data_of(plan, y, confidence=0.9)
    found = planned_intervals(layouts_of(plan, data.options), data)["a", 0, 1]
    assert found.exact
    every = all_layouts(plan, ["a"], moving=Moving("a"))
    assert every is not None
    assert len(every["a"]) == 2**6
    first = (layout["a"] == 0).astype(float)
    for end, side in zip(found.ends, (-1, 1), strict=True):
        assert end is not None
        assert not refused(y, plan, every["a"], (end - side * 1e-4) * first, 0.1)
        assert refused(y, plan, every["a"], (end + side * 1e-4) * first, 0.1)


@pytest.mark.parametrize("lost", [(), (4,)])
def test_pairs_of_several_versions_leave_the_others_where_they_are(lost: tuple[int, ...]) -> None:
    """What another variable did, and a third version, moves no end of an exact interval."""
    plan = draw(study_of(TWO, THREE, items=36), seed=1)
    layout = plan_layout(plan)
    y = np.round(np.random.default_rng(4).normal(size=36), 4)
    far = y + 1000.0 * layout["a"] + 500.0 * (layout["b"] == 2)
    usual, then = (
        planned_intervals(layouts_of(plan, data.options), data)
        for data in (data_of(plan, one, lost) for one in (y, far))
    )
    assert usual["b", 0, 1].exact
    assert None not in usual["b", 0, 1].ends
    assert then["b", 0, 1].ends == pytest.approx(usual["b", 0, 1].ends, abs=1e-6)
    # of 12 items with either version, each half of them with one version of a
    alone = moving_alone(plan, Moving("b", (0, 1)))
    assert alone.size == math.comb(12, 6) ** 2
    assert alone.smallest_p == 2 / alone.size


def test_an_interval_holds_zero_just_where_its_p_says_so() -> None:
    plan = draw(IN_LESSONS, seed=3)
    for seed, shift in enumerate((0.0, 1.0, 1.5, 2.0, 6.0)):
        y = np.random.default_rng(seed).normal(size=12) + shift * plan_layout(plan)["a"]
        data = data_of(plan, y)
        layouts = layouts_of(plan, data.options)
        low, high = planned_intervals(layouts, data)["a", 0, 1].ends
        p = replay_shuffle(layouts, data, ("a",))["a"].p
        assert p is not None
        inside = (-math.inf if low is None else low) <= 0 <= (math.inf if high is None else high)
        assert inside == (p > 0.05)


@pytest.mark.long
def test_exact_intervals_hold_the_truth_as_often_as_they_promise(
    effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """A difference of 3 for every item, the other variable strong and spreading: of 64 layouts two
    are refused, so the interval holds the truth in 31 of 32 classes, the least above 95 %."""
    plan = draw(study_of(TWO, THREE, items=12, groups={"lesson": 2}), seed=3)
    repeats, rng = effort(5000), np.random.default_rng(22)
    hits = 0
    for number, layout in enumerate(shuffles(plan, rng, repeats)):
        now = relaid(relaid(plan, "a", layout["a"]), "b", layout["b"])
        y = 3.0 * (layout["a"] == 0) + 9.0 * layout["b"]
        y += rng.exponential(size=12) * (1 + 3 * (layout["b"] == 2))
        data = data_of(now, y)
        low, high = planned_intervals(PlanLayouts(now, number, 1), data)["a", 0, 1].ends
        hits += (low is None or low <= 3) and (high is None or high >= 3)
    evidence("interval_of_one_variable_alone", {"repeats": repeats, "held": hits / repeats})
    assert abs(hits / repeats - 31 / 32) <= 3.5 * math.sqrt(31 / 32**2 / repeats)


def test_too_few_layouts_leave_the_p_as_it_was() -> None:
    """Eight items, two by two: 36 layouts hold b, but each tells the same as its mirror image."""
    plan = draw(study_of(TWO, OTHER, items=8), seed=3)
    assert moving_alone(plan, Moving("a")).size == 36
    assert not moving_alone(plan, Moving("a")).enough
    data = data_of(plan, np.random.default_rng(4).normal(size=8))
    layouts = layouts_of(plan, data.options)
    found, whole = replay_shuffle(layouts, data), replay_shuffle(_all_moving(layouts), data)
    assert found == whole
    assert not found["a"].exact
    assert "approximate_shuffle" in found["a"].notes


@pytest.mark.long
def test_a_chain_of_one_variable_reaches_what_keeps_the_rules_equally_often() -> None:
    """Against counting: all ways to choose the items of one version, less those that break a rule
    of balance while the other variable stays."""
    plan = draw(study_of(TWO, OTHER, items=10, groups={"lesson": 2, "team": 3}), seed=5)
    assert plan.shuffle.kind == "chain"
    units, own = plan_units(plan), plan_layout(plan)
    levels = {group.name: len(group.members) for group in units.groups} | {"a": 2, "b": 2}
    shuffler = plan_shuffler(plan, Moving("a"))
    assert shuffler.chain is not None
    fair = set()
    for chosen in itertools.chain(*(combinations(range(10), many) for many in (4, 5, 6))):
        codes = np.zeros(10, dtype=np.intp)
        codes[list(chosen)] = 1
        ledger = Ledger({**units.codes, "a": codes, "b": own["b"]}, levels, 10)
        worth = shuffler.chain.worth
        if all(ledger.excess(rule) <= rule.excess for rule in plan.shuffle.balance) and (
            worth is None or worth.holds({"a": codes, "b": own["b"]})
        ):
            fair.add(codes.tobytes())
    seen: Counter[bytes] = Counter()
    at, rng = own, stream(2, "one variable")
    for _ in range(examples(250, 600)):
        at = shuffler.chain.walk(at, 250, rng)  # so far apart that they are as good as independent
        assert (at["b"] == own["b"]).all()
        seen[at["a"].tobytes()] += 1
    assert set(seen) == fair
    assert stats.chisquare(list(seen.values())).pvalue > 0.001


def test_a_chain_says_how_far_it_was_counted_and_drawn() -> None:
    plan = draw(study_of(TWO, THREE, items=13, groups={"lesson": 2}), seed=5)
    assert plan.shuffle.kind == "chain"
    data = data_of(plan, np.random.default_rng(4).normal(size=13), resamples=2999)
    tests = replay_shuffle(layouts_of(plan, data.options), data, ("a",))
    effect = analyse(data, tests, sensitivity=False).effects[0]
    assert effect.others_held is not None
    assert not effect.others_held.counted
    assert effect.exact
    assert f"resamples:{MOST_CHAINED}" in effect.notes


def test_the_parts_of_an_extended_plan_move_each_by_itself() -> None:
    study = study_of(TWO, OTHER, items=8)
    longer = extend(study, draw(study, seed=3), seed=4)
    sizes = [moving_alone(part, Moving("a")).size for part in part_plans(longer)]
    assert moving_alone(longer, Moving("a")).size == math.prod(sizes) == 36**2
    every = all_layouts(longer, ["a"], moving=Moving("a"))
    assert every is not None
    assert len(every["a"]) == 36**2
    data = data_of(longer, np.random.default_rng(4).normal(size=len(longer.rows)))
    found = replay_shuffle(layouts_of(longer, data.options), data)["a"]
    assert found.exact
    assert found.mc_error is None
