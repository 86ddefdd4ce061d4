"""Drawn plans: the class of 48, properties of small studies, and what can't be planned."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from trials.design.draw import draw, preview
from trials.design.saved import csv_matches, plan_from_json, plan_to_csv, plan_to_json
from trials.design.values import Plan
from trials.errors import PlanError, StudyError
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup, read_study

DEMO = Path(__file__).parents[2] / "study_demo"


@pytest.fixture(scope="module")
def cells() -> Plan:
    return draw(read_study(DEMO / "cells" / "study.toml"), seed=11)


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
def test_plans_survive_their_file_form(name: str) -> None:
    plan = draw(read_study(DEMO / name / "study.toml"), seed=2)
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
        limits=Limits(copies=copies),
    )


@settings(derandomize=True, max_examples=30, deadline=None)
@given(st.data())
def test_small_studies_keep_what_they_declare(data: st.DataObject) -> None:
    study = small_study(data.draw)
    try:
        plan = draw(study, seed=data.draw(st.integers(1, 999)))
    except PlanError as refused:
        event(refused.code)
        assume(not refused.do)
        raise
    recipes = Counter(tuple(row.factors.values()) for row in plan.rows)
    assert max(recipes.values()) - min(recipes.values()) <= 1
    assert len({row.item for row in plan.rows}) == len(plan.rows)
    for factor in plan.factors:
        levels = Counter(row.factors[factor.name] for row in plan.rows)
        if factor.applied_to is not None:
            pairs = {(r.groups["pot"], r.factors[factor.name]) for r in plan.rows}
            assert len(pairs) == len({r.groups["pot"] for r in plan.rows})
        else:
            assert max(levels.values()) - min(levels.values()) <= 1
    for group in plan.groups:
        if group.within is not None:
            inside = {(r.groups[group.name], r.groups[group.within]) for r in plan.rows}
            assert len(inside) == len({r.groups[group.name] for r in plan.rows})
        members = Counter(row.groups[group.name] for row in plan.rows)
        assert set(members) <= set(group.members)
        assert max(members.values()) - min(members.values()) <= 1
    for rule in plan.shuffle.balance:
        assert rule.excess >= 0
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


def test_a_preview_has_everything_but_a_promise() -> None:
    seen = preview(read_study(DEMO / "planes" / "study.toml"))
    assert seen.skeleton
    assert seen.power
    assert seen.verdict_chances
    assert seen.shuffle.size == 70
