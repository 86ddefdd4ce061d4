"""Lines of a study that can't all hold: against drawing itself, and against all sets of them."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.design.conflicts import smallest_conflict
from trials.design.demands import Demands
from trials.design.settling import try_out
from trials.design.tied import check_apart
from trials.errors import PlanError, TrialsError
from trials.study import (
    Limits,
    Options,
    Response,
    Study,
    StudyFactor,
    StudyGroup,
    check_study,
)


@st.composite
def studies(draw: st.DrawFn, most_items: int = 14) -> Study:
    """Small studies, most of them impossible in one way or another."""
    groups = []
    if draw(st.booleans()):
        count = draw(st.integers(1, 4))
        sizes = draw(st.sampled_from([(), tuple(draw(st.integers(1, 5)) for _ in range(count))]))
        capacity = draw(st.sampled_from([None, draw(st.integers(2, 8))]))
        groups.append(StudyGroup(name="g", count=count, sizes=sizes, capacity=capacity))
        if draw(st.booleans()):
            within = draw(st.sampled_from([None, "g"]))
            groups.append(StudyGroup(name="h", count=draw(st.integers(1, 3)), within=within))
    names = "abc"[: draw(st.integers(1, 3))]
    applied = st.sampled_from([None, None, *(group.name for group in groups)])
    factors = tuple(
        StudyFactor(
            name=n, levels=tuple("xyz"[: draw(st.integers(2, 3))]), applied_to=draw(applied)
        )
        for n in names
    )
    pair = st.lists(
        st.sampled_from(factors), min_size=2, max_size=len(names), unique_by=lambda f: f.name
    )
    combination = pair.flatmap(
        lambda some: st.fixed_dictionaries({f.name: st.sampled_from(f.levels) for f in some})
    )
    lists = st.lists(combination, max_size=3) if len(names) > 1 else st.just([])
    limits = Limits(
        items=draw(st.sampled_from([None, draw(st.integers(2, most_items))])),
        copies=draw(st.sampled_from([None, None, 1, 2])),
        fraction=draw(st.booleans()),
        forbidden=tuple(draw(lists)),
        required=tuple(draw(lists)),
    )
    return Study(
        title="t",
        question="q",
        factors=factors,
        groups=tuple(groups),
        responses=(Response(name="y", primary=True),),
        limits=limits,
        analysis=Options(interactions=draw(st.integers(1, 2))),
    )


@pytest.mark.long
@given(studies())
@settings(derandomize=True, max_examples=examples(50, 150), deadline=None)
def test_what_can_be_drawn_contradicts_nothing(study: Study) -> None:
    try:
        check_study(study)
        try_out(study)
    except TrialsError:
        return
    assert Demands(study).hold()


@pytest.mark.long
@given(studies())
@settings(derandomize=True, max_examples=examples(40, 120), deadline=None)
def test_fewer_lines_never_hold_worse(study: Study) -> None:
    demands = Demands(study)
    every = frozenset(range(len(demands.lines)))
    assume(demands.hold(every))
    for left_out in every:
        assert demands.hold(every - {left_out})


@pytest.mark.long
@given(studies())
@settings(derandomize=True, max_examples=examples(20, 60), deadline=None)
def test_the_lines_named_are_as_few_as_can_be(study: Study) -> None:
    demands = Demands(study)
    count = len(demands.lines)
    assume(count <= 8 and not demands.hold())
    assume(demands.hold(frozenset()))
    found = smallest_conflict(count, demands.hold)
    assert found is not None
    assert found.smallest
    assert not demands.hold(frozenset(found.demands))
    for size in range(len(found.demands)):
        for some in combinations(range(count), size):
            assert demands.hold(frozenset(some)), [demands.lines[one] for one in some]


def two_by(*bans: dict[str, str]) -> Study:
    return Study(
        title="t",
        question="q",
        factors=tuple(StudyFactor(name=n, levels=("x", "y")) for n in "ab"),
        responses=(Response(name="y", primary=True),),
        limits=Limits(items=12, forbidden=bans),
    )


def test_bans_that_tie_two_factors_are_seen_here_and_when_drawing() -> None:
    tying = two_by({"a": "x", "b": "x"}, {"a": "y", "b": "y"})
    assert not Demands(tying).hold()
    with pytest.raises(PlanError) as caught:
        try_out(tying)
    assert caught.value.code == "plan.tied_by_bans"
    assert Demands(two_by({"a": "x", "b": "x"})).hold()


def test_a_refused_tie_names_the_bans_for_every_item_only() -> None:
    """What one team may not do ties nothing, however many such bans stand first."""
    teams = [{"team": f"T{n}", "a": "x"} for n in range(1, 7)]
    study = two_by(*teams, {"a": "x", "b": "x"}, {"a": "y", "b": "y"}).model_copy(
        update={"groups": (StudyGroup(name="team", count=8, role="maker"),)}
    )
    with pytest.raises(PlanError) as caught:
        check_apart(study)
    assert caught.value.found == "a x with b x; a y with b y"
    only_teams = study.limits.model_copy(update={"forbidden": tuple(teams)})
    check_apart(study.model_copy(update={"limits": only_teams}))


def test_a_version_that_is_a_control_for_both_factors_ties_neither() -> None:
    # 'nothing' with 'nothing', and every version with every other: a usual plan with a control
    bans = tuple(
        {"a": one, "b": other}
        for one, other in (("none", "p"), ("none", "q"), ("x", "none"), ("y", "none"))
    )
    study = Study(
        title="t",
        question="q",
        factors=(
            StudyFactor(name="a", levels=("none", "x", "y")),
            StudyFactor(name="b", levels=("none", "p", "q")),
        ),
        responses=(Response(name="y", primary=True),),
        limits=Limits(items=20, forbidden=bans),
    )
    assert Demands(study).hold()
    assert try_out(study) == 20


def test_a_factor_of_a_group_that_is_just_like_another_can_be_drawn() -> None:
    study = Study(
        title="t",
        question="q",
        factors=(
            StudyFactor(name="a", levels=("x", "y")),
            StudyFactor(name="b", levels=("x", "y"), applied_to="h"),
        ),
        groups=(StudyGroup(name="g", count=6), StudyGroup(name="h", count=1, within="g")),
        responses=(Response(name="y", primary=True),),
        limits=Limits(items=24, required=({"a": "x", "b": "y"},)),
        analysis=Options(interactions=1),
    )
    assert try_out(study) == 24
