"""What failed items share, against counting all ways of failing and a published demonstration."""

from __future__ import annotations

import math
from collections.abc import Sequence, Set
from itertools import combinations, product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from tests.kept import REPORTS
from trials.analysis.failed_alike import failed_alike
from trials.analysis.findings import FailedAlike
from trials.analysis.plan_layouts import PlanLayouts
from trials.design.saved import plan_from_json
from trials.design.values import PlanFactor
from trials.randomness import stream
from trials.record.values import ItemValue

FACTORS = (("dye", ("a", "b", "c")), ("heat", ("low", "high")), ("coats", ("1", "2")))


def layouts(rows: Sequence[tuple[int, ...]], draws: int = 0, *, by_lot: bool = True) -> Any:
    """Return a plan with these level codes whose items may trade places freely."""
    codes = np.array(rows)
    rng = stream(7, "tests of what failed items share")
    moves = np.array([rng.permutation(len(rows)) for _ in range(draws)], dtype=np.intp)
    names = [name for name, _ in FACTORS]
    factors = [
        PlanFactor(
            name=name, levels=levels, unit="", kind="category", scale="linear", applied_to=None
        )
        for name, levels in FACTORS
    ]
    items = [SimpleNamespace(item=f"K{place}") for place in range(len(rows))]
    return SimpleNamespace(
        plan=SimpleNamespace(rows=items, factors=factors, by_lot=by_lot),
        own={name: codes[:, at] for at, name in enumerate(names)},
        drawn={name: codes[moves][:, :, at] for at, name in enumerate(names)} if draws else {},
        resamples=draws,
    )


def values(of: Any, failed: Set[int], lost: Set[int] = frozenset()) -> dict[str, ItemValue]:
    def status(place: int) -> Any:
        return "failed" if place in failed else "lost" if place in lost else "measured"

    return {
        row.item: ItemValue(row.item, "power", status(place), None, None, None, 1)
        for place, row in enumerate(of.plan.rows)
    }


TWICE = [row for row in product(range(3), range(2), range(2)) for _ in range(2)]  # 24 items


def places(**levels: int) -> list[int]:
    at = [name for name, _ in FACTORS]
    return [
        place
        for place, row in enumerate(TWICE)
        if all(row[at.index(name)] == level for name, level in levels.items())
    ]


def corner(rows: np.ndarray[Any, Any], failed: tuple[int, ...]) -> int:
    """Return how many rows have what all of some have in common, counted one by one."""
    common = [
        (at, rows[failed[0], at])
        for at in range(rows.shape[1])
        if len({rows[place, at] for place in failed}) == 1
    ]
    return sum(all(row[at] == level for at, level in common) for row in rows)


def test_what_all_failed_items_share() -> None:
    of = layouts(TWICE)
    failed = set(places(dye=2, coats=1)) - {places(dye=2, coats=1)[0]}  # three of the four
    found = failed_alike(of, values(of, failed, lost={0}))
    assert found == FailedAlike(
        levels={"dye": "c", "coats": "2"}, made=4, failed=3, of_made=23, of_failed=3, p=None
    )


def test_nothing_is_told_of_one_factor_alone_or_of_one_item() -> None:
    of = layouts(TWICE)
    apart = {places(dye=2, heat=0, coats=0)[0], places(dye=2, heat=1, coats=1)[0]}
    for failed in (apart, {3}, set(), set(range(24))):
        assert failed_alike(of, values(of, failed)) is None


def test_one_of_five_may_lie_elsewhere_and_one_of_four_may_not() -> None:
    of = layouts(TWICE)
    four = set(places(dye=2, coats=1))
    found = failed_alike(of, values(of, {*four, 0}))
    assert found is not None
    assert (found.levels, found.failed, found.of_failed) == ({"dye": "c", "coats": "2"}, 4, 5)
    assert failed_alike(of, values(of, {*list(four)[:3], 0})) is None


def test_the_p_is_the_share_of_all_ways_of_failing() -> None:
    """Items that may trade places freely fail by luck as any three of them would: count all."""
    of = layouts(TWICE, draws=4000)
    failed = set(places(dye=2, coats=1)[:3])
    found = failed_alike(of, values(of, failed))
    rows = np.array(TWICE)
    ways = [corner(rows, three) for three in combinations(range(24), 3)]
    exact = sum(made <= 4 for made in ways) / math.comb(24, 3)
    assert found is not None
    assert found.p == pytest.approx(exact, abs=3.5 * math.sqrt(exact * (1 - exact) / 4000))


def test_a_plan_that_could_have_been_no_other_tells_nothing_of_luck() -> None:
    of = layouts(TWICE, draws=10, by_lot=False)
    found = failed_alike(of, values(of, set(places(dye=2, coats=1)[:3])))
    assert found is not None
    assert found.p is None


def test_the_corner_of_the_demo_and_its_luck() -> None:
    """All three cells of the demo that failed were beetroot with two coats, as 8 of 47 were.

    Had the corner been named beforehand, its chance would be 56 of 16215 (hypergeometric). Counting
    all threes of the 47, and what each shares, 0.0592 are as close; the plan's shuffle, which keeps
    teams and firings whole, gives more.
    """
    plan = plan_from_json((REPORTS / "cells" / "plan.json").read_text("utf-8"))
    gone = {"XJD": "failed", "MDP": "failed", "XKH": "failed", "RX3": "lost"}
    known: dict[str, Any] = {
        row.item: ItemValue(row.item, "power", gone.get(row.item, "measured"), None, None, None, 3)  # type: ignore[arg-type]  # one of the states
        for row in plan.rows
    }
    found = failed_alike(PlanLayouts(plan, 1, 1999), known)
    assert found is not None
    assert (found.levels, found.made, found.of_made) == ({"dye": "beetroot", "coats": "2"}, 8, 47)
    assert math.comb(8, 3) / math.comb(47, 3) == pytest.approx(stats.hypergeom.sf(2, 47, 3, 8))
    rows = np.array(
        [
            [factor.levels.index(row.factors[factor.name]) for factor in plan.factors]
            for row in plan.rows
            if row.item != "RX3"
        ]
    )
    free = [corner(rows, three) <= 8 for three in combinations(range(47), 3)]
    assert sum(free) / len(free) == pytest.approx(0.0592, abs=0.00005)
    assert found.p == pytest.approx(0.08, abs=0.02)
