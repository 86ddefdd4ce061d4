"""A new part beside what is made: it makes up for what the earlier rows lack, and never moves them.

The values it is held against are worked out here by least squares, not by the search.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import combinations_with_replacement

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.design.unchecked import draw
from tests.sizes import examples
from trials.design.balance import Ledger
from trials.design.extend import extend
from trials.design.planned import part_plans
from trials.design.saved import plan_from_json, plan_to_json
from trials.design.search import Problem, SearchFactor, SearchGroup, search
from trials.design.shuffle import plan_layout, plan_units, shuffles
from trials.design.values import Balance, Plan, PlanRow
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup

CELLS = [(a, b) for a in (0, 1) for b in (0, 1)]


def study(levels: Sequence[int] = (2, 2), teams: int = 0, limits: Limits | None = None) -> Study:
    """Return a study of paper planes: everything in it is invented."""
    names = ("wing", "paper", "nose")
    return Study(
        title="Planes",
        question="Which flies further?",
        factors=tuple(
            StudyFactor(name=name, levels=tuple("abcd"[:count]), shared=False)
            for name, count in zip(names, levels, strict=False)
        ),
        responses=(Response(name="distance", unit="m"),),
        limits=limits or Limits(copies=4),
        groups=(StudyGroup(name="team", count=teams, role="maker"),) if teams else (),
    )


def recipe(row: PlanRow) -> tuple[str, ...]:
    return tuple(row.factors.values())


def new_rows(plan: Plan) -> tuple[PlanRow, ...]:
    return plan.rows[-plan.parts[-1].items :]


def open_variance(counts: Sequence[Sequence[int]]) -> float:
    """Return the mean variance of the three comparisons of a 2 x 2 study in blocks that stand for
    themselves: counts of the four combinations in each block."""
    rows = []
    for block, own in enumerate(counts):
        for (a, b), times in zip(CELLS, own, strict=True):
            x, z = 1 - 2 * a, 1 - 2 * b
            blocks = [float(block == one) for one in range(len(counts))]
            rows += [[*blocks, x, z, x * z]] * times
    X = np.array(rows, dtype=float)
    if np.linalg.matrix_rank(X) < X.shape[1]:
        return float("inf")
    return float(np.trace(np.linalg.inv(X.T @ X)[-3:, -3:]))


def test_a_combination_that_was_lost_is_made_more_often() -> None:
    here = study()
    plan = draw(here, seed=3)
    lost = [row.item for row in plan.rows if recipe(row) == ("a", "a")]
    longer = extend(here, plan, seed=9, lost=lost)
    made = Counter(recipe(row) for row in new_rows(longer))
    assert longer.parts[-1].makes_up
    assert longer.parts[-1].without == tuple(lost)
    assert made["a", "a"] > max(count for what, count in made.items() if what != ("a", "a"))
    # of all ways of making 16, none leaves less open
    best = min(
        open_variance([(0, 4, 4, 4), [pick.count(cell) for cell in range(4)]])
        for pick in combinations_with_replacement(range(4), 16)
    )
    own = [made["ab"[a], "ab"[b]] for a, b in CELLS]
    assert open_variance([(0, 4, 4, 4), own]) == pytest.approx(best, rel=1e-9)
    assert best < 0.98 * open_variance([(0, 4, 4, 4), (4, 4, 4, 4)])


def test_an_even_plan_is_extended_evenly() -> None:
    here = study()
    plan = draw(here, seed=3)
    longer = extend(here, plan, seed=9)
    assert not longer.parts[-1].makes_up
    assert set(Counter(recipe(row) for row in new_rows(longer)).values()) == {4}
    assert longer.parts[-1].shuffle.relabelled == ("wing", "paper")


def test_the_part_stays_a_study_of_its_own() -> None:
    here = study()
    plan = draw(here, seed=3)
    lost = [row.item for row in plan.rows if recipe(row) == ("a", "a")]
    longer = extend(here, plan, seed=9, items=8, lost=lost)
    made = Counter(recipe(row) for row in new_rows(longer))
    own = [made["ab"[a], "ab"[b]] for a, b in CELLS]
    assert made["a", "a"] == 3
    assert open_variance([(2, 2, 2, 2)]) >= 0.8 * open_variance([own])


def test_what_makes_up_is_in_every_layout_of_the_set() -> None:
    here = study()
    plan = draw(here, seed=3)
    lost = [row.item for row in plan.rows if recipe(row) == ("a", "a")]
    longer = plan_from_json(plan_to_json(extend(here, plan, seed=9, lost=lost)))
    counts = Counter(recipe(row) for row in new_rows(longer))
    layouts = list(shuffles(longer, np.random.default_rng(1), 40))
    for layout in layouts:
        new = zip(layout["wing"][16:].tolist(), layout["paper"][16:].tolist(), strict=True)
        assert Counter(("ab"[a], "ab"[b]) for a, b in new) == counts
    assert len({layout["wing"].tobytes() for layout in layouts}) > 30


def test_a_team_that_lost_a_version_builds_more_of_it() -> None:
    here = study((2,), 3, Limits(copies=12))
    plan = draw(here, seed=2)
    lost = [
        row.item for row in plan.rows if (row.groups["team"], row.factors["wing"]) in
        (("T1", "a"), ("T2", "b"))
    ]  # fmt: skip
    longer = extend(here, plan, seed=4, items=24, lost=lost)
    part = longer.parts[-1]
    assert part.makes_up
    met = Counter((row.groups["team"], row.factors["wing"]) for row in new_rows(longer))
    assert met["T1", "a"] > met["T1", "b"]
    assert met["T2", "b"] > met["T2", "a"]
    # and so it is in every layout that could have been drawn
    assert any(rule.each for rule in part.shuffle.balance)
    alone = part_plans(longer)[-1]
    teams = plan_units(alone).codes["team"]
    for layout in shuffles(alone, np.random.default_rng(1), 40):
        own = np.bincount(2 * teams + layout["wing"], minlength=6)
        assert own.tolist() == [met[f"T{t}", v] for t in (1, 2, 3) for v in "ab"]
    ledger = Ledger({"team": teams, **plan_layout(alone)}, {"team": 3, "wing": 2}, len(alone.rows))
    assert all(ledger.excess(rule) <= rule.excess for rule in part.shuffle.balance)


def test_a_rule_with_shares_for_each_member_counts_what_is_beyond() -> None:
    rule = Balance(factors=("wing",), within=("team",), shares=(0.75, 0.25, 0.25, 0.75), each=True)
    team = np.array([0] * 4 + [1] * 4)
    levels = {"team": 2, "wing": 2}
    as_meant = {"team": team, "wing": np.array([0, 0, 0, 1, 0, 1, 1, 1])}
    other_way = {"team": team, "wing": np.array([0, 1, 1, 1, 0, 0, 0, 1])}
    assert Ledger(as_meant, levels, 8).excess(rule) == 0
    assert Ledger(other_way, levels, 8).excess(rule) == 8


@pytest.mark.long
@settings(max_examples=examples(2, 8), deadline=None)
@given(st.data())
def test_earlier_rows_never_change(data: st.DataObject) -> None:
    teams = data.draw(st.sampled_from([0, 2, 3]))
    here = study((2, 2), teams, Limits(items=data.draw(st.integers(8, 14))))
    plan = draw(here, seed=data.draw(st.integers(1, 99)))
    items = [row.item for row in plan.rows]
    lost = data.draw(st.lists(st.sampled_from(items), unique=True, max_size=len(items)))
    longer = extend(here, plan, seed=7, lost=lost, items=data.draw(st.integers(6, 10)))
    for before, after in zip(plan.rows, longer.rows, strict=False):
        assert (before.run, before.measure, before.item) == (after.run, after.measure, after.item)
        assert before.factors == after.factors
        assert before.groups.items() <= after.groups.items()
    first, last = part_plans(longer)
    assert first.shuffle == plan.shuffle
    # what was drawn is in the set that is recorded
    units = plan_units(last)
    columns = {**units.codes, **plan_layout(last)}
    levels = {group.name: len(group.members) for group in units.groups}
    levels |= {factor.name: len(factor.levels) for factor in last.factors}
    ledger = Ledger(columns, levels, units.n)
    assert all(ledger.excess(rule) <= rule.excess for rule in last.shuffle.balance)
    assert extend(here, plan, seed=7, lost=lost, items=longer.parts[-1].items) == longer


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**31), st.integers(3, 8), st.integers(0, 3))
def test_the_search_fills_a_gap_in_fixed_rows(seed: int, free: int, gap: int) -> None:
    """The free rows make the combination that the fixed ones lack, and fixed rows stay."""
    rng = np.random.default_rng(seed)
    there = [cell for number, cell in enumerate(CELLS) if number != gap] * 2
    fixed = dict(enumerate(there))
    n = len(there) + free
    block = np.array([0] * len(there) + [1] * free)
    problem = Problem(
        n,
        (SearchFactor("wing", 2), SearchFactor("paper", 2)),
        (SearchGroup("part", block, None),),
        fixed=fixed,
    )
    found = search(problem, rng=rng, starts=4)
    cells = list(zip(found.codes["wing"].tolist(), found.codes["paper"].tolist(), strict=True))
    assert cells[: len(there)] == there
    assert CELLS[gap] in cells[len(there) :]
    old = [int(number != gap) * 2 for number in range(4)]
    own = [cells[len(there) :].count(cell) for cell in CELLS]
    best = min(
        open_variance([old, [pick.count(cell) for cell in range(4)]])
        for pick in combinations_with_replacement(range(4), free)
    )
    assert open_variance([old, own]) == pytest.approx(best, rel=1e-6)
