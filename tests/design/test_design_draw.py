"""Drawn plans: the class of 48, properties of small studies, and what can't be planned."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import event, given, reject, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.design.balance import Ledger
from trials.design.draw import draw, preview
from trials.design.factorials import check_factorial, full_factorial
from trials.design.saved import (
    csv_matches,
    plan_from_json,
    plan_to_csv,
    plan_to_dict,
    plan_to_json,
)
from trials.design.shuffle import plan_layout, plan_units
from trials.design.values import Plan
from trials.errors import PlanError, StudyError
from trials.study import (
    Limits,
    Response,
    Study,
    StudyFactor,
    StudyGroup,
    members_in_all,
    read_study,
)
from trials.words.forbidden import find_forbidden

DEMO = Path(__file__).parents[2] / "study_demo"


def counts(plan: Plan, group: str, factor: str) -> dict[str, Counter[str]]:
    """Return how often each level of a factor stands in each member of a group."""
    out: dict[str, Counter[str]] = {}
    for row in plan.rows:
        out.setdefault(row.groups[group], Counter())[row.factors[factor]] += 1
    return out


def test_every_firing_holds_one_slide_of_each_team(cells: Plan) -> None:
    firings = Counter(row.groups["firing"] for row in cells.rows)
    assert set(firings.values()) == {6}
    assert len(firings) == 8
    pairs = Counter((row.groups["firing"], row.groups["team"]) for row in cells.rows)
    assert set(pairs.values()) == {1}


def test_both_heats_have_two_firings_in_each_session(cells: Plan) -> None:
    firings = {(r.groups["session"], r.groups["firing"], r.factors["heat"]) for r in cells.rows}
    per_session = Counter((session, heat) for session, _, heat in firings)
    assert len(firings) == 8
    assert set(per_session.values()) == {2}


def test_every_firing_is_balanced(cells: Plan) -> None:
    assert all(set(c.values()) == {2} for c in counts(cells, "firing", "dye").values())
    for factor in ("soak", "coats"):
        assert all(set(c.values()) == {3} for c in counts(cells, "firing", factor).values())


def test_teams_are_balanced_as_far_as_eight_items_allow(cells: Plan) -> None:
    for factor in ("soak", "coats", "heat"):
        assert all(set(c.values()) == {4} for c in counts(cells, "team", factor).values())
    for team in counts(cells, "team", "dye").values():
        assert sorted(team.values()) == [2, 3, 3]


def test_every_recipe_is_made_twice(cells: Plan) -> None:
    recipes = Counter(tuple(row.factors.values()) for row in cells.rows)
    assert len(recipes) == 24
    assert set(recipes.values()) == {2}


def test_codes_and_orders(cells: Plan) -> None:
    codes = [row.item for row in cells.rows]
    assert len(set(codes)) == 48
    assert not set("".join(codes)) & set("AEIOUÄÖÜ01")
    assert sorted(row.run for row in cells.rows) == list(range(1, 49))
    assert sorted(row.measure for row in cells.rows) == list(range(1, 49))
    sessions = [row.groups["session"] for row in sorted(cells.rows, key=lambda r: r.measure)]
    assert len(list(dict.fromkeys(sessions))) == 2
    assert sessions == sorted(sessions, key=sessions.index)  # one session after the other
    firings = [row.groups["firing"] for row in sorted(cells.rows, key=lambda r: r.run)]
    assert sum(a != b for a, b in pairwise(firings)) == 7  # a firing is made in one go


def test_codes_and_orders_say_nothing(cells: Plan) -> None:
    """Neither a code's first sign nor a place in the order of measuring tells the version."""
    for factor in cells.factors:
        signs = [{r.item[0] for r in cells.rows if r.factors[factor.name] == level}
                 for level in factor.levels]  # fmt: skip
        assert set.intersection(*signs)
        places = {
            level: np.mean([r.measure for r in cells.rows if r.factors[factor.name] == level])
            for level in factor.levels
        }
        assert max(places.values()) - min(places.values()) < 15  # of 48; seeded


def test_the_skeleton_tests_heat_on_firings(cells: Plan) -> None:
    """Firings less sessions less (levels - 1): 8 - 2 - 1 = 5."""
    line = next(x for x in cells.skeleton if x.source == "heat" and x.tested_by)
    assert line.stratum == "session/firing"
    assert line.den_df == pytest.approx(5, abs=0.3)  # dye is one apart over teams: not quite exact
    assert sum(x.df for x in cells.skeleton if x.source == "heat") >= 1


def test_seed_decides(cells: Plan) -> None:
    study = read_study(DEMO / "planes" / "study.toml")
    assert draw(study, seed=3) == draw(study, seed=3)
    assert draw(study, seed=3).rows != draw(study, seed=4).rows
    tried = draw(study, seed=4, seeds_tried=(3,))
    assert tried.seeds_tried == (3, 4)
    assert cells.seed == 11


@pytest.mark.parametrize("name", ["cells", "tea", "greenhouse", "planes"])
def test_plans_survive_their_file_form(name: str, cells: Plan) -> None:
    plan = cells if name == "cells" else draw(read_study(DEMO / name / "study.toml"), seed=2)
    text = plan_to_json(plan)
    again = plan_from_json(text)
    assert again.digest() == plan.digest()
    assert again.rows == plan.rows
    table = plan_to_csv(plan)
    assert csv_matches(plan, table)
    assert not csv_matches(plan, table.replace(plan.rows[0].item, "ZZZ"))


def test_a_changed_plan_is_refused(cells: Plan) -> None:
    text = plan_to_json(cells)
    changed = text.replace('"burner"', '"oven"', 5)
    for bad in (changed, text[: len(text) // 2], "[]", "", "\x00"):
        with pytest.raises(PlanError) as caught:
            plan_from_json(bad, "plan.json")
        assert caught.value.where.startswith("plan.json")
        assert caught.value.do


def small_study(draw_: Callable[[Any], Any]) -> Study:
    """A study of up to three factors and a few groups, nested or crossed."""
    sizes = draw_(st.lists(st.integers(2, 3), min_size=1, max_size=3))
    kind = draw_(st.sampled_from(["none", "blocks", "nested", "crossed"]))
    copies = draw_(st.integers(1, 2))
    unit = None
    groups: tuple[StudyGroup, ...] = ()
    items = copies * math.prod(sizes) + draw_(st.integers(0, 3))
    if kind == "blocks":
        groups = (StudyGroup(name="lesson", count=draw_(st.integers(2, 4))),)
    elif kind == "nested":
        groups = (
            StudyGroup(name="lesson", count=2),
            StudyGroup(name="pot", count=draw_(st.sampled_from([2, 4])), within="lesson"),
        )
        unit = "pot" if sizes[0] == 2 else None
    elif kind == "crossed":
        groups = (
            StudyGroup(name="lesson", count=draw_(st.integers(2, 3))),
            StudyGroup(name="team", count=draw_(st.integers(2, 4)), role="maker"),
        )
    factors = tuple(
        StudyFactor(
            name=f"f{place}",
            levels=tuple(f"v{level}" for level in range(size)),
            applied_to=unit if place == 0 else None,
        )
        for place, size in enumerate(sizes)
    )
    return Study(
        title="t",
        question="q",
        factors=factors,
        groups=groups,
        responses=(Response(name="y", primary=True),),
        limits=Limits(items=items),
    )


def with_room(study: Study, spare: int) -> Study:
    """The study with each group's capacity at what it just needs, or with some room to spare."""
    held = {group.name: -(-(study.limits.items or 0) // members_in_all(study, group.name))
            for group in study.groups}  # fmt: skip
    groups = tuple(g.model_copy(update={"capacity": held[g.name] + spare}) for g in study.groups)
    return study.model_copy(update={"groups": groups})


def check_rows(plan: Plan, study: Study) -> None:
    """Every number of rows: orders, codes, levels one apart, units whole, capacities kept."""
    n = len(plan.rows)
    assert n == study.limits.items
    assert [row.run for row in plan.rows] == list(range(1, n + 1))
    assert sorted(row.measure for row in plan.rows) == list(range(1, n + 1))
    assert len({row.item for row in plan.rows}) == n
    for factor in plan.factors:
        levels = Counter(row.factors[factor.name] for row in plan.rows)
        assert set(levels) == set(factor.levels)
        if factor.applied_to is not None:
            pairs = {(r.groups["pot"], r.factors[factor.name]) for r in plan.rows}
            assert len(pairs) == len({r.groups["pot"] for r in plan.rows})
            pots = Counter(level for _, level in pairs)
            assert max(pots.values()) - min(pots.values()) <= 1
        elif all(f.applied_to is None for f in plan.factors):
            assert max(levels.values()) - min(levels.values()) <= 1
    for group, asked in zip(plan.groups, (study.group(g.name) for g in plan.groups), strict=True):
        if group.within is not None:
            inside = {(r.groups[group.name], r.groups[group.within]) for r in plan.rows}
            assert len(inside) == len({r.groups[group.name] for r in plan.rows})
        members = Counter(row.groups[group.name] for row in plan.rows)
        assert set(members) == set(group.members)
        assert max(members.values()) - min(members.values()) <= 1
        assert asked.capacity is None or max(members.values()) <= asked.capacity


@pytest.mark.long
@settings(derandomize=True, max_examples=examples(6, 30), deadline=None)
@given(st.data())
def test_small_studies_keep_what_they_declare(data: st.DataObject) -> None:
    study = with_room(small_study(data.draw), data.draw(st.integers(0, 1)))
    plan: Plan | None
    try:
        plan = draw(study, seed=data.draw(st.integers(1, 999)))
    except PlanError as refused:
        event(refused.code)
        told = bool(refused.found and refused.do)
        plan = None
    if plan is None:
        assert told
        reject()
    check_rows(plan, study)
    recipes = Counter(tuple(row.factors.values()) for row in plan.rows)
    if all(factor.applied_to is None for factor in plan.factors):
        assert max(recipes.values()) - min(recipes.values()) <= 1
    for rule in plan.shuffle.balance:
        ledger = Ledger(
            {**plan_units(plan).codes, **plan_layout(plan)},
            {g.name: len(g.members) for g in plan.groups}
            | {f.name: len(f.levels) for f in plan.factors},
            len(plan.rows),
        )
        assert ledger.excess(rule) <= rule.excess  # what is said to be kept is kept
    assert plan_from_json(plan_to_json(plan)).rows == plan.rows


def test_what_cannot_be_planned_is_told_with_a_way_out() -> None:
    factor = StudyFactor(name="light", levels=("sun", "lamp"), applied_to="shelf")
    response = Response(name="y", primary=True)
    three = StudyGroup(name="shelf", count=1)
    study = Study(title="t", question="q", factors=(factor,), groups=(three,),
                  responses=(response,), limits=Limits(items=8))  # fmt: skip
    with pytest.raises(PlanError) as caught:
        draw(study, seed=1)
    assert caught.value.code == "plan.too_few_units"
    assert "shelf" in caught.value.text()
    narrow = StudyGroup(name="shelf", count=2, capacity=2)
    study = study.model_copy(update={"groups": (narrow,)})
    with pytest.raises((PlanError, StudyError)) as told:
        draw(study, seed=1)
    assert told.value.allowed
    assert told.value.do


FACTOR = StudyFactor(name="light", levels=("sun", "lamp", "none"))
IMPOSSIBLE: dict[str, dict[str, Any]] = {
    "plan.more_recipes_than_items": {"limits": Limits(items=2)},
    "plan.more_than_can_be_made": {"limits": Limits(items=8, copies=3)},
    "plan.empty_groups": {
        "groups": (StudyGroup(name="shelf", count=12),),
        "limits": Limits(items=9),
    },
    "plan.no_room": {
        "groups": (StudyGroup(name="shelf", count=2, capacity=4),),
        "limits": Limits(items=9),
    },
    "plan.members_dont_fit": {
        "groups": (StudyGroup(name="shelf", count=2, members=("top", "middle", "floor")),)
    },
    "plan.groups_in_a_ring": {
        "groups": (
            StudyGroup(name="shelf", count=2, within="room"),
            StudyGroup(name="room", count=2, within="shelf"),
        )
    },
    "plan.too_many_items": {"limits": Limits(items=5057)},
}


@pytest.mark.parametrize("code", IMPOSSIBLE)
def test_impossible_requests_name_what_is_possible(code: str) -> None:
    base: dict[str, Any] = {
        "title": "t", "question": "q", "factors": (FACTOR,),
        "responses": (Response(name="y", primary=True),), "limits": Limits(items=9),
    }  # fmt: skip
    with pytest.raises(PlanError) as caught:
        draw(Study(**(base | IMPOSSIBLE[code])), seed=1)
    assert caught.value.code == code
    assert caught.value.where
    assert caught.value.found
    assert caught.value.do
    assert not find_forbidden(f"{caught.value.what} {caught.value.do}")


@pytest.mark.parametrize(
    ("table", "fault"),
    [
        ([[0, 0], [0, 1], [1, 0]], "shape"),
        ([[0, 0], [0, 1], [1, 0], [1, 2]], "level"),
        ([[0, 0], [0, 1], [1, 0], [1, 0]], "twice"),
        ([[0, 0], [1, 1], [0, 0], [1, 1]], "told apart"),
        ([[0, 0], [0, 1], [0, 1], [1, 1]], "unequal"),
    ],
)
def test_a_list_of_recipes_is_checked(table: list[list[int]], fault: str) -> None:
    """A library's tables are not taken on trust: some are known to be wrong."""
    with pytest.raises(PlanError, match="not a full factorial") as caught:
        check_factorial(np.array(table, dtype=np.intp), [2, 2])
    assert fault in caught.value.found
    assert len(full_factorial([2, 3, 4])) == 24


@pytest.mark.parametrize("items", [0, -3, 2000])
def test_a_number_of_items_that_cannot_be(items: int) -> None:
    study = read_study(DEMO / "planes" / "study.toml")
    with pytest.raises(PlanError) as caught:
        draw(study, seed=1, items=items)
    assert caught.value.allowed
    assert caught.value.do


def test_more_layouts_than_a_number_of_a_file_can_hold() -> None:
    """1100 items of two versions: about 10^330 layouts, so at least 10^300 is said."""
    study = Study(
        title="t",
        question="q",
        factors=(StudyFactor(name="a", levels=("x", "y")),),
        responses=(Response(name="y", primary=True),),
        limits=Limits(items=1100),
    )
    plan = draw(study, seed=1)
    assert plan.shuffle.size == 1e300
    assert not plan.shuffle.exact
    assert plan_from_json(plan_to_json(plan)).shuffle == plan.shuffle


def test_a_preview_has_the_keys_of_a_plan() -> None:
    """The names that outside checks rely on."""
    seen = plan_to_dict(preview(read_study(DEMO / "planes" / "study.toml")))
    assert set(seen) >= {
        "format_version", "factors", "groups", "study_digest", "seed", "seeds_tried", "family",
        "criteria", "skeleton", "audit", "power", "verdict_chances", "shuffle", "locked", "digest",
    }  # fmt: skip
    drawn = plan_to_dict(draw(read_study(DEMO / "planes" / "study.toml"), seed=1))
    assert list(drawn) == list(seen)
    assert json.loads(json.dumps(seen)) == json.loads(json.dumps(seen, allow_nan=False))
    assert seen["seeds_tried"] == []


def test_a_preview_has_everything_but_a_promise() -> None:
    seen = preview(read_study(DEMO / "planes" / "study.toml"))
    assert seen.skeleton
    assert seen.power
    assert seen.verdict_chances
    assert seen.shuffle.size == 70
