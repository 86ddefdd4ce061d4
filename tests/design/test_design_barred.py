"""What is forbidden to one team: never drawn, never shuffled to, and shared out fairly.

Everything small is held against a list of all layouts, made here by trying every one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cache
from itertools import combinations, product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.design.unchecked import draw as drawn_plan
from tests.sizes import examples
from trials.design import Plan, shuffles
from trials.design.audit import audit
from trials.design.conflicts import smallest_conflict
from trials.design.demands import Demands
from trials.design.extend import extend
from trials.design.search import (
    Barred,
    Criterion,
    Problem,
    SearchFactor,
    SearchGroup,
    layout_value,
    search,
)
from trials.design.sharing import member_shares
from trials.design.values import Balance
from trials.errors import PlanError
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup
from trials.words.bans import bans_sentence

NEVER = {"team": "T3", "heat": "burner"}


def study(**change: Any) -> Study:
    """Two ways of heating and three dyes in six teams; team 3 may not use the burner."""
    base: dict[str, Any] = {
        "title": "t",
        "question": "q",
        "factors": (
            StudyFactor(name="heat", levels=("oven", "burner"), shared=False),
            StudyFactor(name="dye", levels=("a", "b", "c"), shared=False),
        ),
        "groups": (
            StudyGroup(name="team", count=6, role="maker"),
            StudyGroup(name="session", count=2),
        ),
        "responses": (Response(name="y", primary=True),),
        "limits": Limits(items=36, forbidden=(NEVER,)),
    }
    return Study(**(base | change))


@cache
def planned(seed: int) -> Plan:
    """Draw a plan of it, once for all tests."""
    return drawn_plan(study(), seed=seed)


def breaks(plan: Plan, layout: Mapping[str, Any] | None = None) -> int:
    """Count the items of team 3 with a burner, in the plan or in a layout of it."""
    heat = next(f for f in plan.factors if f.name == "heat")
    found = 0
    for place, row in enumerate(plan.rows):
        has = row.factors["heat"] if layout is None else heat.levels[layout["heat"][place]]
        found += row.groups["team"] == "T3" and has == "burner"
    return found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_team_never_gets_what_it_may_not_have(seed: int) -> None:
    plan = planned(seed)
    assert plan.shuffle.forbidden == (NEVER,)
    assert not breaks(plan)
    met = Counter((row.groups["team"], row.factors["heat"]) for row in plan.rows)
    # 18 of each in all; what team 3 doesn't make the five others share, one apart
    assert met["T3", "oven"] == 6
    others = [met[f"T{n}", "burner"] for n in (1, 2, 4, 5, 6)]
    assert sum(others) == 18
    assert max(others) - min(others) == 1
    dyes = Counter((row.groups["team"], row.factors["dye"]) for row in plan.rows)
    assert set(dyes.values()) == {2}


@pytest.mark.long
def test_no_shuffle_gives_a_team_what_it_may_not_have() -> None:
    plan = planned(1)
    layouts = list(shuffles(plan, np.random.default_rng(1), examples(100, 400)))
    assert not any(breaks(plan, one) for one in layouts)
    assert len({one["heat"].tobytes() for one in layouts}) > 0.75 * len(layouts)


def test_an_extension_keeps_the_ban_of_a_team() -> None:
    first = planned(1)
    plan = extend(study(), first, seed=2)
    assert len(plan.rows) > len(first.rows)
    assert not breaks(plan)
    assert not any(breaks(plan, one) for one in shuffles(plan, np.random.default_rng(1), 100))
    assert plan.bans == (NEVER,)


def test_what_a_session_may_not_have_is_free_in_a_later_one() -> None:
    ban = {"session": "S1", "dye": "c"}
    asked = study(limits=Limits(items=36, forbidden=(ban,)))
    plan = extend(asked, drawn_plan(asked, seed=1), seed=2)
    met = Counter((row.groups["session"], row.factors["dye"]) for row in plan.rows)
    assert not met["S1", "c"]
    assert met["S3", "c"]


def test_firings_within_a_team_keep_its_ban() -> None:
    heat = StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing")
    asked = study(
        factors=(heat, study().factors[1]),
        groups=(
            StudyGroup(name="team", count=6, role="maker"),
            StudyGroup(name="firing", count=2, within="team"),
        ),
    )
    plan = drawn_plan(asked, seed=1)
    assert not breaks(plan)
    assert not any(breaks(plan, one) for one in shuffles(plan, np.random.default_rng(1), 100))


# ---- against trying everything -------------------------------------------------------------------


@pytest.mark.parametrize("rule", [None, "team"])
def test_the_best_layout_found_is_the_best_there_is(rule: str | None) -> None:
    """Two teams of three, one of them without the third of three versions."""
    team = np.array([0, 0, 0, 1, 1, 1])
    barred = Barred(team == 1, {0: 2})
    balance = (Balance(factors=("x",)),) if rule else ()
    problem = Problem(
        6,
        (SearchFactor("x", 3),),
        (SearchGroup("team", team, None),),
        barred=(barred,),
        balance=balance,
    )
    found = search(problem, rng=np.random.default_rng(1))
    best = np.inf
    for layout in product(range(3), repeat=6):
        codes = np.array(layout)
        if (codes[3:] == 2).any() or (rule and (np.bincount(codes, minlength=3) != 2).any()):
            continue
        best = min(best, layout_value(problem, {"x": codes}, Criterion()))
    assert found.value == pytest.approx(best, rel=1e-9)
    assert not (found.codes["x"][3:] == 2).any()


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_shares_are_the_most_even_ones_that_the_bans_allow(data: st.DataObject) -> None:
    """Of all ways to share, the one of largest entropy.

    It is the only one with the given sums in which all cross-product ratios of what may be had are
    one (Y. Bishop, S. Fienberg and P. Holland, 1975, Discrete Multivariate Analysis, ch. 5, on
    incomplete tables; from memory).
    """
    teams, levels, size = data.draw(st.integers(2, 4)), data.draw(st.integers(2, 3)), 6
    may = np.ones((teams, levels), dtype=bool)
    may[teams - 1, data.draw(st.integers(0, levels - 1))] = False
    counts = np.full(levels, teams * size // levels)
    counts[0] += teams * size - counts.sum()
    members = np.repeat(np.arange(teams), size)
    shares = member_shares(may[members], members, counts)
    assert shares.sum(axis=1) == pytest.approx(np.ones(teams), abs=1e-3)
    assert (shares[~may] == 0).all()
    assert size * shares.sum(axis=0) == pytest.approx(counts, abs=0.01)

    for one, other in combinations(range(teams), 2):
        for k, m in combinations(range(levels), 2):
            if may[[one, one, other, other], [k, m, k, m]].all():
                crossed = shares[one, k] * shares[other, m], shares[one, m] * shares[other, k]
                assert crossed[0] == pytest.approx(crossed[1], abs=1e-4)


# ---- what can't be -------------------------------------------------------------------------------


def conflict(asked: Study) -> list[tuple[str | int, ...]]:
    demands = Demands(asked)
    found = smallest_conflict(len(demands.lines), demands.hold)
    assert found is not None
    assert found.smallest
    return [demands.lines[one] for one in found.demands]


def test_a_team_that_may_have_nothing_is_refused_with_the_lines_to_blame() -> None:
    bans = ({"heat": "oven", "dye": "a"}, NEVER, {"team": "3", "heat": "oven"})
    asked = study(limits=Limits(items=36, forbidden=bans))
    with pytest.raises(PlanError):
        drawn_plan(asked, seed=1)
    assert conflict(asked) == [
        ("limits", "forbidden", 1), ("limits", "forbidden", 2), ("groups", "team", "count"),
    ]  # fmt: skip


@pytest.mark.parametrize("second", ["oven", "burner"])
def test_two_teams_that_leave_nothing_to_compare_are_refused(second: str) -> None:
    bans = ({"team": "T1", "heat": "burner"}, {"team": "T2", "heat": second})
    asked = study(
        groups=(StudyGroup(name="team", count=2, role="maker"),),
        limits=Limits(items=36, forbidden=bans),
    )
    with pytest.raises(PlanError):
        drawn_plan(asked, seed=1)
    assert conflict(asked) == [("limits", "forbidden", 0), ("limits", "forbidden", 1)]


def test_a_ban_in_firings_that_hold_items_of_every_team_is_refused() -> None:
    heat = StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing")
    asked = study(
        factors=(heat, study().factors[1]),
        groups=(StudyGroup(name="team", count=6, role="maker"), StudyGroup(name="firing", count=6)),
    )
    with pytest.raises(PlanError):
        drawn_plan(asked, seed=1)
    assert conflict(asked) == [
        ("limits", "forbidden", 0), ("groups", "team", "count"), ("factors", "heat", "applied_to"),
    ]  # fmt: skip


# ---- what is told --------------------------------------------------------------------------------


def test_the_check_tells_which_team_has_one_version_only() -> None:
    plan = planned(1)
    barred = next(f for f in audit(study(), plan) if f.code == "barred")
    assert barred.severity == "warn"
    assert barred.facts["missing"] == {"T3": ["burner"]}
    assert barred.facts["single"] == {"T3": "oven"}
    assert "team T3 never has burner" in barred.message


def test_the_method_tells_every_kind_of_ban() -> None:
    told = bans_sentence([(["heat oven", "dye a"], []), (["heat burner"], ["team T3"])])
    assert told.endswith("heat oven with dye a; heat burner by team T3.")
    assert not bans_sentence([])
