"""Plans side by side: each can be taken as told, and shows what it says."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.power import TTestIndPower  # type: ignore[import-untyped]  # it ships no types

from tests.sizes import cases
from trials.design.alternatives import Alternative, alternatives, one_more
from trials.design.draw import sketch
from trials.design.resizing import fitted
from trials.study import (
    Limits,
    Response,
    Spread,
    Study,
    StudyFactor,
    StudyGroup,
    check_study,
    read_study,
    with_changes,
)

DEMO = Path(__file__).parents[2] / "study_demo"


def study_of(count: int, items: int) -> Study:
    names = "pqrstuv"[:count]
    return Study(
        title="t",
        question="q",
        factors=tuple(StudyFactor(name=n, levels=("a", "b"), shared=False) for n in names),
        responses=(Response(name="y", spread=Spread(items=1.0)),),
        limits=Limits(items=items),
    )


@cache
def told(count: int, items: int) -> tuple[Alternative, ...]:
    """Return the plans for such a study, found once for all tests."""
    return alternatives(study_of(count, items))


def taken(study: Study, one: Alternative) -> Study:
    kept = tuple(f for f in study.factors if f.name != one.without)
    steps = tuple(
        s.model_copy(update={"factors": tuple(f for f in s.factors if f != one.without)})
        for s in study.steps
    )
    study = study.model_copy(update={"factors": kept, "steps": steps})
    return with_changes(study, one.lines)


@pytest.mark.parametrize("name", ["cells", "tea", "greenhouse", "planes"])
def test_every_plan_can_be_taken_as_told(name: str) -> None:
    study = read_study(DEMO / name / "study.toml")
    found = alternatives(study)
    assert 3 <= len(found) <= 5
    assert [one.items for one in found] == sorted(one.items for one in found)
    assert sum(one.code == "as_asked" for one in found) == 1
    for one in found:
        other = taken(study, one)
        check_study(other)
        plan = sketch(other)
        assert len(plan.rows) == one.items
        assert {g.name: len(g.members) for g in plan.groups} == one.groups
        assert set(one.shows) == {factor.name for factor in other.factors}
        assert all(size is not None for size in one.shows.values())


def test_more_items_show_smaller_differences() -> None:
    for count, items in ((2, 16), (5, 32)):
        found = {one.code: one for one in told(count, items)}
        asked, more = found["as_asked"], found["more"]
        for name, size in asked.shows.items():
            bigger = more.shows[name]
            assert size is not None
            assert bigger is not None
            assert bigger < size


def test_what_shows_agrees_with_a_reference_library() -> None:
    # one factor at two levels is the t test of two groups
    (asked,) = (one for one in told(1, 24) if one.code == "as_asked")
    wanted = TTestIndPower().solve_power(nobs1=12, alpha=0.05, power=0.8, ratio=1.0)
    assert asked.shows["p"] == pytest.approx(wanted, rel=1e-4)
    assert asked.response == "y"


def test_a_smaller_plan_of_five_factors_is_a_published_one() -> None:
    found = {one.code: one for one in told(5, 32)}
    # R. L. Plackett and J. P. Burman (1946), Biometrika 33: twelve runs
    assert "Plackett-Burman" in found["singly"].family
    assert found["without"].without == "t"
    assert "t" not in found["without"].shows


def test_one_more_of_each_buys_something() -> None:
    study = read_study(DEMO / "cells" / "study.toml")
    bought = {one.what: one for one in one_more(study)}
    assert set(bought) == {"session", "firing"}  # there is no room for one more cell
    for one in bought.values():
        assert one.after < one.before
        assert one.factor == "heat"  # tested on firings, of which there are fewest
    (plane,) = one_more(read_study(DEMO / "planes" / "study.toml"))
    assert (plane.what, plane.items) == (None, 9)


def test_without_a_spread_sizes_are_in_standard_deviations() -> None:
    bare = study_of(1, 24).model_copy(update={"responses": (Response(name="y"),)})
    for known, unknown in zip(told(1, 24), alternatives(bare), strict=True):
        assert unknown.response is None
        assert unknown.shows == known.shows  # the spread was 1


def sized(*groups: StudyGroup, levels: int = 3, limits: Limits | None = None) -> Study:
    firing = any(group.name == "firing" for group in groups)
    heat = StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing")
    dye = StudyFactor(name="dye", levels=tuple("abcd"[:levels]), shared=False)
    return Study(
        title="t",
        question="q",
        factors=(dye, heat) if firing else (dye,),
        groups=groups,
        responses=(Response(name="y", spread=Spread(items=1.0)),),
        limits=limits or Limits(),
    )


UNEQUAL = StudyGroup(name="team", count=6, role="maker", sizes=(8, 8, 8, 7, 7, 7))
EIGHT = StudyGroup(name="firing", count=8, capacity=6)
SIZED = {
    "a class of 45 in unequal teams": sized(UNEQUAL, EIGHT, limits=Limits(items=48)),
    "firings of unequal size": sized(
        StudyGroup(name="firing", count=8, sizes=(6, 6, 6, 6, 6, 5, 5, 5), capacity=6)
    ),
    "firings in lessons": sized(
        StudyGroup(name="lesson", count=2),
        StudyGroup(name="firing", count=4, within="lesson", sizes=(6, 6, 6, 5), capacity=6),
    ),
    "sizes inside sizes": sized(
        StudyGroup(name="lesson", count=2, sizes=(12, 10)),
        StudyGroup(name="team", count=2, within="lesson", sizes=(6, 6, 5, 5)),
    ),
    "members with names": sized(
        StudyGroup(name="team", count=3, members=("p", "q", "r"), sizes=(6, 5, 5)), levels=4
    ),
}


SOME_SIZED = cases(
    SIZED, "a class of 45 in unequal teams", "sizes inside sizes", "members with names"
)


@pytest.mark.long
@pytest.mark.parametrize("study", SOME_SIZED.values(), ids=SOME_SIZED)
def test_smaller_and_larger_plans_are_told_where_groups_have_sizes(study: Study) -> None:
    check_study(study)
    found = alternatives(study)
    assert 3 <= len(found) <= 5
    (asked,) = (one for one in found if one.code == "as_asked")
    assert min(one.items for one in found) < asked.items < max(one.items for one in found)
    for one in found:
        other = taken(study, one)
        check_study(other)
        plan = sketch(other)
        assert len(plan.rows) == one.items
        for group in other.groups:
            held = Counter(row.groups[group.name] for row in plan.rows)
            if group.sizes:
                assert sorted(held.values()) == sorted(
                    group.sizes * (len(held) // len(group.sizes))
                )
            assert group.capacity is None or max(held.values()) <= group.capacity


def test_one_more_is_told_where_groups_have_sizes() -> None:
    bought = {one.what: one for one in one_more(SIZED["a class of 45 in unequal teams"])}
    assert bought[None].items == 46
    assert (bought["firing"].factor, bought["firing"].items) == ("heat", 50)
    assert all(one.after < one.before for one in bought.values())


def test_a_version_fewer_is_offered_with_all_that_goes_with_it() -> None:
    found = {one.code: one for one in alternatives(SIZED["members with names"])}
    one = found["level"]
    assert one.of == "dye d"
    assert one.lines == ((("factors", "dye", "levels"), ("a", "b", "c")),)


@given(st.lists(st.integers(1, 9), min_size=1, max_size=6), st.integers(1, 60))
@settings(derandomize=True, max_examples=80)
def test_sizes_are_made_to_add_up_in_the_smallest_steps(sizes: list[int], total: int) -> None:
    new = fitted(sizes, total, 9)
    if new is None:
        assert total < len(sizes) or total > 9 * len(sizes)
        return
    assert sum(new) == total
    assert min(new) >= 1
    changes = {(b > a) - (b < a) for a, b in zip(sizes, new, strict=True)}
    assert not {-1, 1} <= changes  # nobody gets more while another gets fewer
    moved = [b for a, b in zip(sizes, new, strict=True) if a != b]
    assert not moved or max(moved) - min(moved) <= 1
