"""Failures per level against Fisher's exact test, published blocked tables, and scipy."""

from __future__ import annotations

import math
from collections import Counter
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trials.analysis.failures import Stage, count_tables, failure_p, failure_tables
from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow, Shuffle
from trials.randomness import stream
from trials.record.values import ItemValue, Status

RNG = stream(1, "tests")


def staged(tables: list[list[tuple[int, int]]]) -> Stage:
    """Make a stage from blocks of (made, failed) for each level; every item is its own unit."""
    rows = [
        (level, block, i < failed)
        for block, table in enumerate(tables)
        for level, (made, failed) in enumerate(table)
        for i in range(made)
    ]
    level, block, bad = (np.array(column) for column in zip(*rows, strict=True))
    return Stage(level, bad, np.arange(len(rows)), block)


@settings(derandomize=True, max_examples=80, deadline=None)
@given(*(st.integers(0, 7) for _ in range(4)))
def test_two_levels_without_blocks_is_fishers_test(a: int, b: int, c: int, d: int) -> None:
    if a + b == 0 or c + d == 0:
        return
    p, _ = failure_p(staged([[(a + b, a), (c + d, c)]]), RNG)
    if a + c == 0 or b + d == 0:
        assert p is None
    else:
        assert p == pytest.approx(stats.fisher_exact(np.array([[a, b], [c, d]])).pvalue, rel=1e-12)


def test_the_tea_tasting() -> None:
    """R. A. Fisher (1935), The Design of Experiments, chapter 2: 17 of 70 in one direction."""
    p, notes = failure_p(staged([[(4, 3), (4, 1)]]), RNG)
    assert p == pytest.approx(34 / 70, rel=1e-12)
    assert notes == ()


def test_rabbits_in_five_blocks() -> None:
    """Penicillin and rabbits, five doses; exact conditional p 0.040.

    As the example of mantelhaen.test(exact = TRUE) in R's documentation (from memory); A. Agresti
    (1990), Categorical Data Analysis.
    """
    doses = [
        [(6, 6), (5, 5)],
        [(6, 3), (6, 6)],
        [(6, 0), (6, 4)],
        [(6, 1), (6, 0)],
        [(2, 0), (5, 0)],
    ]
    p, _ = failure_p(staged(doses), RNG)
    assert p == pytest.approx(0.040, abs=0.0005)


def test_three_levels_equal_the_hypergeometric_law() -> None:
    table = [(5, 0), (4, 3), (6, 1)]
    p, _ = failure_p(staged([table]), RNG)
    law = stats.multivariate_hypergeom([5, 4, 6], 4)
    tables = [(a, b, 4 - a - b) for a in range(5) for b in range(5 - a)]
    chances = {t: float(law.pmf(t)) for t in tables}
    expected = sum(c for c in chances.values() if c <= chances[0, 3, 1] * (1 + 1e-9))
    assert p == pytest.approx(expected, rel=1e-9)


def test_blocks_change_the_answer() -> None:
    """All failures in one oven batch, evenly over the levels of that batch, say nothing."""
    apart = [[(2, 2), (4, 4)], [(4, 0), (2, 0)]]
    within, notes = failure_p(staged(apart), RNG)
    assert (within, notes) == (None, ("no_shuffle",))
    merged = staged([[(6, 2), (6, 4)]])
    p, _ = failure_p(merged, RNG)
    assert p is not None
    assert p < 1


BLOCK = st.lists(st.tuples(st.integers(0, 2), st.booleans()), min_size=2, max_size=5)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.lists(BLOCK, min_size=1, max_size=3))
def test_blocked_counts_equal_every_exchange_written_out(
    blocks: list[list[tuple[int, bool]]],
) -> None:
    """The conditional test by brute force: all orders of the levels within each block.

    M. Zelen (1971), Biometrika 58, 129-137, for two levels; here for any number of them.
    """
    level = np.array([one for rows in blocks for one, _ in rows])
    bad = np.array([one for rows in blocks for _, one in rows])
    block = np.repeat(np.arange(len(blocks)), [len(rows) for rows in blocks])
    stage = Stage(level, bad, np.arange(len(bad)), block)
    p, _ = failure_p(stage, RNG)
    counts: Counter[tuple[int, ...]] = Counter()
    for orders in product(*(permutations([one for one, _ in rows]) for rows in blocks)):
        dealt = np.array([one for order in orders for one in order])
        counts[tuple(np.bincount(dealt[bad], minlength=3))] += 1
    here = counts[tuple(np.bincount(level[bad], minlength=3))]
    if p is None:
        assert len(counts) == 1
    else:
        as_far = sum(count for count in counts.values() if count <= here)
        assert p == pytest.approx(as_far / sum(counts.values()), rel=1e-12)


def test_counting_adds_up_to_all_ways() -> None:
    weights = count_tables(staged([[(3, 1), (3, 0), (2, 1)], [(2, 1), (2, 1), (2, 1)]]))
    assert weights is not None
    assert sum(weights.values()) == math.comb(8, 2) * math.comb(6, 3)


def test_nothing_to_test() -> None:
    assert failure_p(staged([[(3, 0), (3, 0)]]), RNG) == (None, ("no_failures",))
    assert failure_p(staged([[(3, 3), (3, 3)]]), RNG) == (None, ("all_failed",))


def test_units_are_shuffled_whole() -> None:
    """Twelve items in four batches; a batch fails or doesn't: 2 of 6 ways, not Fisher's 0.002."""
    unit = np.repeat(np.arange(4), 3)
    level = np.repeat([0, 0, 1, 1], 3)
    failed = level == 1
    found = failure_p(Stage(level, failed, unit, np.zeros(12, dtype=np.intp)), RNG)
    assert found == (2 / 6, ("by_units",))


def test_many_tables_are_sampled() -> None:
    rng = np.random.default_rng(4)
    n = 240
    level = np.tile(np.arange(6), n // 6)
    block = np.repeat(np.arange(4), n // 4)
    failed = rng.random(n) < np.where(level == 0, 0.6, 0.3)
    p, notes = failure_p(Stage(level, failed, np.arange(n), block), stream(2, "many"))
    assert notes == ("sampled",)
    assert p is not None
    assert p < 0.1
    chi = stats.chi2_contingency([np.bincount(level[failed]), np.bincount(level[~failed])])
    assert p == pytest.approx(chi.pvalue, abs=0.02)


def make_plan() -> Plan:
    heats, soaks = ("oven", "burner"), ("1", "5")
    rows = []
    for number in range(16):
        firing = number // 4
        rows.append(
            PlanRow(
                run=number + 1,
                measure=number + 1,
                item=f"K{number}",
                groups={"session": f"s{firing // 2}", "firing": f"f{firing}"},
                factors={"heat": heats[firing % 2], "soak": soaks[number % 2]},
            )
        )
    factor = {"unit": "", "kind": "category", "scale": "linear"}
    return Plan.model_validate(
        {
            "program_version": "0",
            "study_digest": "",
            "seed": 1,
            "seeds_tried": (1,),
            "family": "factorial",
            "factors": (
                PlanFactor.model_validate(
                    {"name": "heat", "levels": heats, "applied_to": "session/firing", **factor}
                ),
                PlanFactor.model_validate(
                    {"name": "soak", "levels": soaks, "applied_to": None, **factor}
                ),
            ),
            "groups": tuple(
                PlanGroup(
                    name=name, path=path, within=None, step=None, role=None, members=(), random=None
                )
                for name, path in (("session", "session"), ("firing", "session/firing"))
            ),
            "rows": tuple(rows),
            "criteria": {},
            "skeleton": (),
            "audit": (),
            "power": (),
            "verdict_chances": (),
            "shuffle": Shuffle(kind="units", size=None, smallest_p={}),
        }
    )


def value(item: str, status: Status) -> ItemValue:
    return ItemValue(item, "y", status, None, None, None, 0)


def test_tables_of_a_plan() -> None:
    plan = make_plan()
    statuses: dict[str, Status] = {f"K{n}": "measured" for n in range(16)}
    statuses |= {"K0": "failed", "K2": "failed", "K4": "failed", "K8": "failed", "K3": "lost"}
    values = {item: value(item, status) for item, status in statuses.items()}
    heat, soak = failure_tables(plan, values)
    assert (heat.made, heat.failed) == ({"oven": 7, "burner": 8}, {"oven": 3, "burner": 1})
    assert set(heat.notes) == {"by_units", "within:session"}
    assert (soak.made, soak.failed) == ({"1": 8, "5": 7}, {"1": 4, "5": 0})
    assert soak.notes == ("within:session/firing",)
    # By hand: of 3 * 4 * 4 ways to place the failures within firings 4, 16, 20 and 8 give the soak
    # of one minute 4, 3, 2 and 1 of them.
    assert soak.p == pytest.approx(4 / 48, rel=1e-12)


def test_groups_that_cross_are_respected_both() -> None:
    """Two teams by two sessions, two items of each level in each: exchanged within all four."""
    plan = make_plan()
    crossed = tuple(
        PlanGroup(name=name, path=name, within=None, step=None, role=None, members=(), random=None)
        for name in ("session", "team")
    )
    rows = tuple(
        row.model_copy(
            update={
                "groups": {"session": f"s{n // 8}", "team": f"t{n // 4 % 2}"},
                "factors": {"heat": "oven", "soak": ("1", "5")[n % 2]},
            }
        )
        for n, row in enumerate(plan.rows)
    )
    factors = tuple(f.model_copy(update={"applied_to": None}) for f in plan.factors)
    plan = plan.model_copy(update={"groups": crossed, "rows": rows, "factors": factors})
    bad = {"K0", "K2", "K4", "K6"}  # team t0 and t1 of session s0: all of the soak of 1 min
    values = {row.item: value(row.item, "failed" if row.item in bad else "measured")
              for row in rows}  # fmt: skip
    soak = failure_tables(plan, values)[1]
    assert soak.notes == ("within:session and team",)
    # 6 ways in each of two cells: 36 in all; 4 failures of one level, and 4 of the other, once each
    assert soak.p == pytest.approx(2 / 36, rel=1e-12)


def test_a_plan_nothing_of_which_was_made() -> None:
    heat, _ = failure_tables(make_plan(), {})
    assert (heat.p, heat.made) == (None, {"oven": 0, "burner": 0})
    assert heat.notes == ("no_failures",)
