"""Plans side by side: each can be taken as told, and shows what it says."""

from __future__ import annotations

from pathlib import Path

import pytest
from statsmodels.stats.power import TTestIndPower  # type: ignore[import-untyped]  # it ships no types

from trials.design.alternatives import Alternative, alternatives, one_more
from trials.design.draw import sketch
from trials.study import (
    Limits,
    Response,
    Spread,
    Study,
    StudyFactor,
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
    for study in (study_of(2, 16), study_of(5, 32)):
        found = {one.code: one for one in alternatives(study)}
        asked, more = found["as_asked"], found["more"]
        for name, size in asked.shows.items():
            bigger = more.shows[name]
            assert size is not None
            assert bigger is not None
            assert bigger < size


def test_what_shows_agrees_with_a_reference_library() -> None:
    # one factor at two levels is the t test of two groups
    study = study_of(1, 24)
    (asked,) = (one for one in alternatives(study) if one.code == "as_asked")
    wanted = TTestIndPower().solve_power(nobs1=12, alpha=0.05, power=0.8, ratio=1.0)
    assert asked.shows["p"] == pytest.approx(wanted, rel=1e-4)
    assert asked.response == "y"


def test_a_smaller_plan_of_five_factors_is_a_published_one() -> None:
    found = {one.code: one for one in alternatives(study_of(5, 32))}
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
    study = study_of(1, 24)
    bare = study.model_copy(update={"responses": (Response(name="y"),)})
    for known, unknown in zip(alternatives(study), alternatives(bare), strict=True):
        assert unknown.response is None
        assert unknown.shows == known.shows  # the spread was 1
