"""Groups of different sizes, and shares that are meant to be unequal."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.design.balance import excess_of, fair_range
from trials.design.treatments import amount
from trials.design.units import make_units
from trials.errors import PlanError
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup


def study_of(*groups: StudyGroup, limits: Limits | None = None) -> Study:
    return Study(
        title="t",
        question="q",
        factors=(StudyFactor(name="shape", levels=("a", "b")),),
        groups=groups,
        responses=(Response(name="y"),),
        limits=limits or Limits(),
    )


def counts_of(study: Study, group: str, seed: int = 1) -> list[int]:
    n = amount(study).items
    codes = make_units(study, n, np.random.default_rng(seed)).codes[group]
    return [int(count) for count in np.bincount(codes)]


def test_each_member_has_its_size() -> None:
    study = study_of(
        StudyGroup(name="session", count=2),
        StudyGroup(name="firing", count=3, within="session", sizes=(6, 6, 1)),
        StudyGroup(name="team", count=4, role="maker"),
    )
    assert amount(study).items == 26
    assert counts_of(study, "firing") == [6, 6, 1, 6, 6, 1]
    assert sorted(counts_of(study, "team")) == [6, 6, 7, 7]


@given(st.lists(st.integers(1, 9), min_size=1, max_size=6), st.integers(1, 5))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_a_crossing_group_is_spread_over_members_of_any_size(sizes: list[int], teams: int) -> None:
    n = sum(sizes)
    if n < 2 or teams > n:
        return
    study = study_of(
        StudyGroup(name="team", count=teams),
        StudyGroup(name="firing", count=len(sizes), sizes=tuple(sizes)),
    )
    units = make_units(study, n, np.random.default_rng(3))
    assert np.bincount(units.codes["firing"]).tolist() == sizes
    table = np.zeros((len(sizes), teams), dtype=int)
    np.add.at(table, (units.codes["firing"], units.codes["team"]), 1)
    meant = np.outer(sizes, table.sum(axis=0)) / n
    assert (np.abs(table - meant) < 2).all()


def test_sizes_that_do_not_add_up_are_refused() -> None:
    firing = StudyGroup(name="firing", count=2, sizes=(4, 4))
    with pytest.raises(PlanError, match="sizes of a group"):
        amount(study_of(firing), items=10)
    other = StudyGroup(name="shelf", count=2, sizes=(5, 4))
    with pytest.raises(PlanError) as caught:
        counts_of(study_of(firing, other), "shelf")
    assert (caught.value.code, caught.value.found) == ("plan.sizes_sum", "9 items")


def test_a_fraction_may_have_fewer_items_than_recipes() -> None:
    with pytest.raises(PlanError, match="more recipes than items"):
        amount(study_of(), items=1)
    assert amount(study_of(limits=Limits(fraction=True)), items=1).items == 1


@given(st.lists(st.integers(1, 8), min_size=2, max_size=5), st.integers(1, 60))
@settings(derandomize=True, max_examples=80)
def test_a_fair_range_holds_what_was_meant(weights: list[int], total: int) -> None:
    shares = [weight / sum(weights) for weight in weights]
    low, high = fair_range([total], len(shares), shares)
    assert (low <= high).all()
    assert (high - low <= 1).all()
    assert low.sum() <= total <= high.sum()
    exact = [weight * sum(weights) // sum(weights) for weight in weights]
    versions = np.repeat(np.arange(len(weights)), exact)
    assert excess_of(versions, len(weights), np.zeros_like(versions), shares) == 0


@pytest.mark.parametrize("seed", range(1, 7))
def test_what_a_larger_group_holds_follows_from_the_sizes_inside_it(seed: int) -> None:
    study = study_of(
        StudyGroup(name="lesson", count=2),
        StudyGroup(name="load", count=4, within="lesson", sizes=(6, 6, 6, 5, 6, 6, 5, 5)),
        StudyGroup(name="team", count=3),
    )
    assert counts_of(study, "lesson", seed) == [23, 22]
    assert counts_of(study, "load", seed) == [6, 6, 6, 5, 6, 6, 5, 5]
    assert sorted(counts_of(study, "team", seed)) == [15, 15, 15]


@given(st.lists(st.integers(1, 5), min_size=8, max_size=8), st.integers(0, 5))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_sizes_pass_up_through_every_level(sizes: list[int], seed: int) -> None:
    study = study_of(
        StudyGroup(name="term", count=2),
        StudyGroup(name="lesson", count=2, within="term"),
        StudyGroup(name="load", count=2, within="lesson", sizes=tuple(sizes)),
    )
    assert counts_of(study, "load", seed) == sizes
    assert counts_of(study, "lesson", seed) == [sum(sizes[p : p + 2]) for p in (0, 2, 4, 6)]
    assert counts_of(study, "term", seed) == [sum(sizes[:4]), sum(sizes[4:])]


def test_sizes_that_no_plan_can_have_are_refused_on_every_seed() -> None:
    study = study_of(
        StudyGroup(name="lesson", count=2, sizes=(7, 8)),
        StudyGroup(name="load", count=2, within="lesson", sizes=(4, 4, 4, 3)),
    )
    for seed in range(4):
        with pytest.raises(PlanError) as refused:
            counts_of(study, "load", seed)
        assert refused.value.code == "plan.sizes_sum"
        assert "8 items in one lesson" in str(refused.value.found)
    apart = study_of(StudyGroup(name="bench", count=2, sizes=(4, 4)))
    with pytest.raises(PlanError) as refused:
        make_units(apart, 9, np.random.default_rng(1))
    assert refused.value.found == "8 items"
