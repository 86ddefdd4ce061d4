"""The shuffle: every layout equally often, none that the plan forbids, sizes counted two ways."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, permutations, product
from math import comb, factorial
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.design.unchecked import draw
from tests.sizes import examples
from trials.design.balance import Ledger
from trials.design.factorials import Codes
from trials.design.shuffle import (
    all_layouts,
    plan_layout,
    plan_shuffler,
    plan_units,
    shuffles,
)
from trials.design.values import Plan
from trials.model.layout import Floats
from trials.randomness import stream
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup, read_study

DEMO = Path(__file__).parents[2] / "study_demo"
RESPONSE = (Response(name="y", primary=True),)


def one_factor(levels: int, items: int, groups: tuple[StudyGroup, ...] = ()) -> Study:
    factor = StudyFactor(name="a", levels=tuple("xyzw"[:levels]))
    return Study(title="t", question="q", factors=(factor,), groups=groups, responses=RESPONSE,
                 limits=Limits(items=items))  # fmt: skip


def blocks(count: int) -> tuple[StudyGroup, ...]:
    return (StudyGroup(name="lesson", count=count),)


def keys(layouts: dict[str, Codes]) -> list[bytes]:
    """Return one key a layout, all factors together."""
    return [row.tobytes() for row in np.stack(list(layouts.values()), axis=1)]


def shuffled(plan: Plan, rng: np.random.Generator, count: int) -> dict[str, Codes]:
    """Layouts from the plan's shuffle as one array of shape (count, rows) for each factor."""
    drawn = list(shuffles(plan, rng, count))
    return {f.name: np.array([one[f.name] for one in drawn]) for f in plan.factors}


def uniform_p(plan: Plan, draws: int = examples(4_000, 12_000)) -> tuple[float, int]:
    """Return the chi-square p of equal frequencies over all layouts, and how many there are."""
    seen = Counter(keys(shuffled(plan, stream(4, "uniform"), draws)))
    everything = all_layouts(plan)
    assert everything is not None
    known = set(keys(everything))
    assert set(seen) <= known
    return float(stats.chisquare([seen[key] for key in known]).pvalue), len(known)


def on_pots(groups: tuple[StudyGroup, ...]) -> Study:
    """A heat for each pot and a version for each item in it, 8 items."""
    factors = (
        StudyFactor(name="heat", levels=("hot", "cold"), applied_to="pot"),
        StudyFactor(name="a", levels=("x", "y")),
    )
    return Study(title="t", question="q", factors=factors, groups=groups, responses=RESPONSE,
                 limits=Limits(items=8))  # fmt: skip


NESTED = (StudyGroup(name="lesson", count=2), StudyGroup(name="pot", count=2, within="lesson"))
SQUARE = (StudyGroup(name="lesson", count=3), StudyGroup(name="team", count=3, role="maker"))


@pytest.mark.long
@pytest.mark.parametrize(
    ("study", "layouts"),
    [
        (one_factor(2, 6), comb(6, 3)),  # 3 against 3
        (one_factor(2, 8), comb(8, 4)),
        (one_factor(3, 6), 90),
        (one_factor(2, 8, blocks(2)), comb(4, 2) ** 2),
        (one_factor(3, 9, blocks(3)), 6**3),
        (one_factor(2, 7), 2 * comb(7, 3)),  # which version gets four is drawn too
        (one_factor(3, 9, SQUARE), 12),  # the Latin squares of order 3
        (on_pots((StudyGroup(name="pot", count=4),)), comb(4, 2) * 2**4),
        (on_pots(NESTED), 2**2 * 2**4),
    ],
)
def test_every_layout_is_equally_likely(study: Study, layouts: int) -> None:
    plan = draw(study, seed=9)
    p, size = uniform_p(plan)
    assert size == layouts == plan.shuffle.size
    assert plan.shuffle.kind == "units and levels"
    assert p > 0.001  # seeded: the same draw every time


def test_amounts_change_places_but_not_names() -> None:
    """A quantity's levels keep their order and spacing, so only units are exchanged."""
    factor = StudyFactor(name="a", levels=("10", "40"), kind="quantity", scale="log")
    study = Study(title="t", question="q", factors=(factor,), groups=blocks(2),
                  responses=RESPONSE, limits=Limits(items=8))  # fmt: skip
    plan = draw(study, seed=9)
    p, size = uniform_p(plan)
    assert (plan.shuffle.kind, plan.shuffle.relabelled) == ("units", ())
    assert size == plan.shuffle.size == comb(4, 2) ** 2
    assert p > 0.001


def test_every_layout_of_a_square_is_a_latin_square() -> None:
    """Forbidden layouts, a version twice in a row or column, never come."""
    plan = draw(one_factor(3, 9, SQUARE), seed=9)
    units = plan_units(plan)
    rows = shuffled(plan, stream(6, "square"), 500)["a"]
    for name in ("lesson", "team"):
        for member in range(3):
            inside = rows[:, units.codes[name] == member]
            assert (np.sort(inside, axis=1) == [0, 1, 2]).all()


def test_what_the_pots_get_never_splits_a_pot() -> None:
    plan = draw(on_pots(NESTED), seed=9)
    units = plan_units(plan)
    found = shuffled(plan, stream(6, "pots"), 500)
    for pot in range(4):
        inside = units.codes["pot"] == pot
        assert (np.ptp(found["heat"][:, inside], axis=1) == 0).all()
        assert (found["a"][:, inside].sum(axis=1) == 1).all()


def test_the_plan_itself_is_drawn_from_its_set() -> None:
    """Over many seeds the plans of 4 against 4 cover their 70 layouts evenly."""
    study = one_factor(2, 8)
    found = Counter()  # type: Counter[bytes]
    for seed in range(1, 401):
        plan = draw(study, seed=seed)
        by_item = {row.run: row.factors["a"] for row in plan.rows}
        found["".join(by_item[run] for run in sorted(by_item)).encode()] += 1
    assert stats.chisquare([*found.values(), *[0] * (70 - len(found))]).pvalue > 0.001


@pytest.mark.parametrize(("each", "smallest"), [(3, 0.10), (4, 2 / 70), (5, 2 / 252)])
def test_the_smallest_p_is_known_before_building(each: int, smallest: float) -> None:
    """3 against 3 can't go below 0.10; 4 against 4 reaches 0.029: counted, 2 / C(2n, n)."""
    plan = draw(one_factor(2, 2 * each), seed=1)
    assert plan.shuffle.smallest_p["a"] == pytest.approx(smallest)


def test_heat_on_eight_firings_has_36_layouts(cells: Plan) -> None:
    assert cells.shuffle.smallest_p["heat"] == pytest.approx(2 / comb(4, 2) ** 2)
    heat = all_layouts(cells, ["heat"])
    assert heat is not None
    assert len(heat["heat"]) == 36


def test_blocks_equal_the_slow_enumeration() -> None:
    plan = draw(one_factor(3, 6, blocks(2)), seed=3)
    found = all_layouts(plan)
    assert found is not None
    lesson = [row.groups["lesson"] for row in plan.rows]
    places = [[i for i, g in enumerate(lesson) if g == name] for name in dict.fromkeys(lesson)]
    expected = set()
    for ways in product(permutations(range(3)), repeat=2):
        layout = np.zeros(6, dtype=np.intp)
        for where, way in zip(places, ways, strict=True):
            layout[where] = way
        expected.add(layout.tobytes())
    assert {row.tobytes() for row in found["a"]} == expected


def test_a_control_keeps_its_name() -> None:
    factor = StudyFactor(name="a", levels=("none", "x", "y"), control="none")
    study = Study(title="t", question="q", factors=(factor,), responses=RESPONSE,
                  limits=Limits(items=9))  # fmt: skip
    layouts = all_layouts(draw(study, seed=2))
    assert layouts is not None
    assert len(layouts["a"]) == factorial(9) // factorial(3) ** 3


def test_incomplete_structures_walk_a_chain_that_keeps_the_balance() -> None:
    """Four teams in three lessons with ten items: no complete crossing."""
    groups = (
        StudyGroup(name="lesson", count=3),
        StudyGroup(name="team", count=4, role="maker"),
    )
    plan = draw(one_factor(2, 10, groups), seed=5)
    assert plan.shuffle.kind == "chain"
    rows = shuffled(plan, stream(1, "chain"), 300)["a"]
    own = plan_layout(plan)["a"]
    assert {tuple(sorted(np.bincount(row).tolist())) for row in rows} == {
        tuple(sorted(np.bincount(own).tolist()))
    }
    assert len({row.tobytes() for row in rows}) > 20
    for rule in plan.shuffle.balance:
        if rule.factors != ("a",) or rule.counted is not None:
            continue
        for row in rows:
            for member in {tuple(r.groups[g] for g in rule.within) for r in plan.rows}:
                here = [
                    i
                    for i, r in enumerate(plan.rows)
                    if tuple(r.groups[g] for g in rule.within) == member
                ]
                count = np.bincount(row[here], minlength=2)
                assert count.max() - count.min() <= 1 + rule.excess


UNEVEN = (
    one_factor(2, 8, (StudyGroup(name="lesson", count=2), StudyGroup(name="team", count=3))),
    one_factor(2, 7, blocks(2)),
)


@pytest.mark.long
@pytest.mark.parametrize("study", UNEVEN)
def test_a_chain_reaches_every_fair_layout_equally_often(study: Study) -> None:
    """Against counting: all ways of choosing, less those that break a declared rule."""
    plan = draw(study, seed=5)
    assert plan.shuffle.kind == "chain"
    units, own = plan_units(plan), plan_layout(plan)
    levels = {group.name: len(group.members) for group in units.groups} | {"a": 2}
    fair = set()
    for many in (units.n // 2, units.n - units.n // 2):
        for chosen in combinations(range(units.n), many):
            codes = np.zeros(units.n, dtype=np.intp)
            codes[list(chosen)] = 1
            ledger = Ledger({**units.codes, "a": codes}, levels, units.n)
            if all(ledger.excess(rule) <= rule.excess for rule in plan.shuffle.balance):
                fair.add(codes.tobytes())
    chain, rng = plan_shuffler(plan).chain, stream(2, "chain")
    assert chain is not None
    at, seen = own, Counter()  # type: dict[str, Codes], Counter[bytes]
    for _ in range(examples(400, 1000)):
        at = chain.walk(at, 40, rng)  # so far apart that draws are as good as independent
        seen[at["a"].tobytes()] += 1
    assert set(seen) == fair
    assert plan.shuffle.size is not None
    assert plan.shuffle.size <= len(fair)  # a lower bound, and said to be one
    assert not plan.shuffle.exact
    assert stats.chisquare(list(seen.values())).pvalue > 0.001


def test_a_chain_of_two_units_reaches_every_fair_layout() -> None:
    """Nine items in four pots: heat for the pot, a version for the item."""
    base = on_pots((StudyGroup(name="pot", count=4),))
    plan = draw(base.model_copy(update={"limits": Limits(items=9)}), seed=5)
    units = plan_units(plan)
    levels = {"pot": 4, "heat": 2, "a": 2}
    fair = set()
    for hot, ones in product(combinations(range(4), 2), product((0, 1), repeat=9)):
        heat = np.isin(units.codes["pot"], hot).astype(np.intp)
        columns = {**units.codes, "heat": heat, "a": np.array(ones, dtype=np.intp)}
        ledger = Ledger(columns, levels, 9)
        if all(ledger.excess(rule) <= rule.excess for rule in plan.shuffle.balance):
            fair.add(heat.tobytes() + columns["a"].tobytes())
    chain, rng = plan_shuffler(plan).chain, stream(3, "chain")
    assert chain is not None
    at, seen = plan_layout(plan), Counter()  # type: dict[str, Codes], Counter[bytes]
    for _ in range(2000):
        at = chain.walk(at, 25, rng)
        seen[at["heat"].tobytes() + at["a"].tobytes()] += 1
    assert set(seen) == fair
    assert stats.chisquare(list(seen.values())).pvalue > 0.001


def gap(y: Floats, codes: Codes) -> float:
    """Return how far the means of the two versions are apart."""
    return abs(float(y[codes == 0].mean() - y[codes == 1].mean()))


@pytest.mark.long
def test_a_test_on_a_chain_keeps_its_promise() -> None:
    """Draws of one run, few steps apart, still give an exact p: nothing did anything, and p <= 0.10
    comes at most once in ten (Besag and Clifford 1989, the serial method)."""
    plan = draw(one_factor(2, 7, blocks(2)), seed=5)
    chain, rng = plan_shuffler(plan).chain, stream(8, "promise")
    assert chain is not None
    at, hits, runs = plan_layout(plan), 0, examples(100, 300)
    for _ in range(runs):
        at = chain.walk(at, 40, rng)
        y = rng.exponential(size=7)
        here = gap(y, at["a"])
        beyond = sum(gap(y, one["a"]) >= here - 1e-12 for one in chain.draws(at, 19, rng, steps=4))
        hits += (beyond + 1) / 20 <= 0.10
    assert hits <= 0.10 * runs + 3.5 * np.sqrt(0.09 * runs)


@pytest.mark.long
def test_whole_firings_trade_places_in_a_class_with_gaps() -> None:
    """45 cells leave three places empty: what a firing gets must still be able to move."""
    study = read_study(DEMO / "cells" / "study.toml")
    limits = Limits(items=45)
    plan = draw(study.model_copy(update={"limits": limits}), seed=1)
    assert plan.shuffle.kind == "chain"
    drawn = shuffled(plan, stream(6, "gaps"), examples(100, 400))
    firing = plan_units(plan).codes["firing"]
    for row in drawn["heat"]:
        assert len({(f, h) for f, h in zip(firing, row, strict=True)}) == 8
    assert len({row.tobytes() for row in drawn["heat"]}) >= 10
    levels = {group.name: len(group.members) for group in plan.groups}
    levels |= {factor.name: len(factor.levels) for factor in plan.factors}
    for place in (0, 49, -1):
        columns = {**plan_units(plan).codes, **{name: rows[place] for name, rows in drawn.items()}}
        ledger = Ledger(columns, levels, len(plan.rows))
        assert all(ledger.excess(rule) <= rule.excess for rule in plan.shuffle.balance)
