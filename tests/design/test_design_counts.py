"""How many layouts there are, and how small a p can be: counted against listing them all."""

from __future__ import annotations

from math import prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.design.unchecked import draw
from tests.sizes import examples
from trials.design.factorials import Codes
from trials.design.shuffle import all_layouts, plan_layout
from trials.design.symmetry import Grid, all_orders, count_layouts
from trials.design.values import Plan
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup

Layout = tuple[tuple[int, ...], ...]


def study_of(levels: tuple[int, ...], groups: tuple[StudyGroup, ...], items: int) -> Study:
    factors = tuple(
        StudyFactor(name="ab"[place], levels=tuple("xyzw"[:many]))
        for place, many in enumerate(levels)
    )
    return Study(title="t", question="q", factors=factors, groups=groups,
                 responses=(Response(name="y", primary=True),),
                 limits=Limits(items=items))  # fmt: skip


def sessions(count: int) -> tuple[StudyGroup, ...]:
    return (StudyGroup(name="session", count=count),)


NESTED = (*sessions(2), StudyGroup(name="pot", count=2, within="session"))
CROSSED = (*sessions(2), StudyGroup(name="team", count=2, role="maker"))

STRUCTURES = (
    study_of((2,), sessions(2), 4),
    study_of((2,), sessions(2), 8),
    study_of((2,), sessions(3), 6),
    study_of((2,), sessions(6), 12),
    study_of((3,), sessions(2), 6),
    study_of((3,), (), 6),
    study_of((2,), NESTED, 8),
    study_of((2,), CROSSED, 8),
    study_of((2, 2), (), 4),
    study_of((2, 2), sessions(2), 8),
    study_of((3, 2), (), 6),
    study_of((2, 2), CROSSED, 4),
)


def story(columns: list[Codes]) -> Layout:
    """Return what a layout tells but for the names of its levels, factor by factor."""
    out = []
    for codes in columns:
        names = {level: place for place, level in enumerate(dict.fromkeys(codes.tolist()))}
        out.append(tuple(names[level] for level in codes.tolist()))
    return tuple(out)


def share_alike(plan: Plan, names: list[str]) -> float:
    """Return the share of all layouts that no test can tell from the plan's own."""
    every = all_layouts(plan, names)
    assert every is not None
    own = story([plan_layout(plan)[name] for name in names])
    told = [story(list(columns)) for columns in zip(*every.values(), strict=True)]
    return told.count(own) / len(told)


@pytest.mark.long
@pytest.mark.parametrize("study", STRUCTURES)
@given(seed=st.integers(1, 10_000))
@settings(max_examples=examples(3, 6), deadline=None, derandomize=True)
def test_size_and_smallest_p_are_those_of_the_list(study: Study, seed: int) -> None:
    """Whatever the seed, what is counted by reasoning is what listing every layout finds."""
    plan = draw(study, seed=seed)
    every = all_layouts(plan)
    assert every is not None
    assert plan.shuffle.exact
    assert plan.shuffle.size == len(next(iter(every.values())))
    for term, smallest in plan.shuffle.smallest_p.items():
        assert smallest == pytest.approx(share_alike(plan, term.split(":")))


def test_a_study_has_the_same_size_for_every_seed() -> None:
    """Two against two, two sessions: 2 x 2 layouts, even where both sessions came out alike."""
    found = set()
    for seed in range(12):
        shuffle = draw(study_of((2,), sessions(2), 4), seed=seed).shuffle
        found.add((shuffle.size, shuffle.smallest_p["a"]))
    assert found == {(4.0, 0.5)}


def listed(grid: Grid, table: Codes) -> set[bytes]:
    """Return every layout that exchanges of places make of one, by making them all."""
    out, fresh = {table.tobytes()}, [table]
    steps = grid.steps()
    while fresh:
        at = fresh.pop()
        for step in steps:
            then = at[step]
            if then.tobytes() not in out:
                out.add(then.tobytes())
                fresh.append(then)
    return out


@given(data=st.data())
@settings(max_examples=120, deadline=None, derandomize=True)
def test_any_layout_is_counted_as_listing_does(data: st.DataObject) -> None:
    """Balanced or not, nested or crossed, one or more items in a cell: up to 8 places."""
    families, per_cell = data.draw(
        st.sampled_from(
            [
                (((2,),), 1), (((2,),), 2), (((2,),), 3), (((3,),), 2), (((2, 2),), 1),
                (((2, 2),), 2), (((2,), (2,)), 1), (((2,), (2,)), 2), (((2,), (3,)), 1),
                (((2, 2), (2,)), 1), ((), 6),
            ]
        )
    )  # fmt: skip
    shape = (*(prod(counts) for counts in families), per_cell)
    n, levels = prod(shape), data.draw(st.integers(2, 3))
    names = tuple((str(place),) for place in range(len(families)))
    grid = Grid(families, names, np.arange(n, dtype=np.intp).reshape(shape))
    versions = st.lists(st.integers(0, levels - 1), min_size=n, max_size=n)
    table: Codes = np.array(data.draw(versions), dtype=np.intp)
    renamings = list(all_orders((levels,)))
    held = None
    if data.draw(st.booleans()):
        marks: Codes = np.array(data.draw(versions), dtype=np.intp)
        grid = grid.holding(marks)
        held = marks[grid.places]
        exchanges = [*grid.steps(), *grid.exchanges(20, np.random.default_rng(n))]
        assert all((marks[exchange] == marks).all() for exchange in exchanges)
    counted = count_layouts(grid, table[grid.places], renamings, held=held)
    every = listed(grid, table)
    alike = sum(np.array(names)[table].tobytes() in every for names in renamings)
    assert (counted.layouts, counted.alike, counted.exact) == (len(every), alike, True)
