"""Items made otherwise than planned: answers as planned and as made, and what failures unsettle."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any, Literal

import numpy as np
import pytest
from scipy import stats

from tests.design.unchecked import draw
from trials.analysis.findings import MadeFindings, ResponseFindings
from trials.analysis.studies import analyse_study
from trials.record.otherwise import plan_as_made
from trials.record.values import ItemValue, Measured, Otherwise
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup

EACH = 6


def study(**response: Any) -> Study:
    return Study(
        title="t",
        question="q",
        factors=(StudyFactor(name="dye", levels=("a", "b")),),
        responses=(Response(name="y", worthwhile=0.5, primary=True, **response),),
        limits=Limits(items=2 * EACH, copies=EACH),
    )


PLAN = draw(study(), seed=5)
VALUES = {
    row.item: round({"a": 10.0, "b": 8.0}[row.factors["dye"]] + 0.4 * float(z), 3)
    for row, z in zip(PLAN.rows, np.random.default_rng(8).normal(size=2 * EACH), strict=True)
}


def value(item: str, number: float | None) -> ItemValue:
    if number is None:
        return ItemValue(item, "y", "failed", None, None, None, 0)
    return ItemValue(item, "y", "measured", number, None, None, 1)


def otherwise(item: str, made: str, name: str = "dye") -> Otherwise:
    kind: Literal["factor", "group"] = "factor" if name in ("dye", "heat") else "group"
    return Otherwise(item, kind, name, made, "wrong jar", "T3", "2024-05-01")


def record(*changes: Otherwise, failed: tuple[str, ...] = ()) -> Measured:
    values = tuple(
        value(item, None if item in failed else number) for item, number in VALUES.items()
    )
    return Measured(digest="0", values=values, otherwise=changes)


def found(measured: Measured, **response: Any) -> ResponseFindings:
    return analyse_study(study(**response), PLAN, measured).responses[0]


def as_made(findings: ResponseFindings) -> MadeFindings:
    assert findings.as_made is not None
    return findings.as_made


def items_of(level: str) -> list[str]:
    return [row.item for row in PLAN.rows if row.factors["dye"] == level]


def test_as_made_is_students_interval_of_what_was_made() -> None:
    """Outside: scipy's two-sample t interval with the labels as they were really made."""
    moved = items_of("a")[0]
    findings = found(record(otherwise(moved, "b")))
    made = as_made(findings)
    assert made.items == (moved,)
    a = [VALUES[item] for item in items_of("a") if item != moved]
    b = [VALUES[item] for item in (*items_of("b"), moved)]
    outside = stats.ttest_ind(a, b).confidence_interval(0.95)
    (pair,) = made.comparisons
    assert pair.interval == pytest.approx((outside.low, outside.high), rel=1e-9)
    planned = stats.ttest_ind([*a, VALUES[moved]], b[:-1]).confidence_interval(0.95)
    assert findings.comparisons[0].interval == pytest.approx((planned.low, planned.high), rel=1e-9)


def test_the_verdict_stays_that_of_the_plan() -> None:
    plain = found(record())
    changes = [otherwise(item, "b") for item in items_of("a")[:2]]
    changes += [otherwise(item, "a") for item in items_of("b")[:2]]
    moved = found(record(*changes))
    assert plain.as_made is None
    assert moved.model_copy(update={"as_made": None}) == plain
    assert plain.verdicts[0].verdict == "mattered"
    assert as_made(moved).verdicts[0].verdict == "not settled"


def test_a_level_the_plan_has_not_is_left_out() -> None:
    moved = items_of("a")[0]
    made = as_made(found(record(otherwise(moved, ""))))
    assert (made.left_out, made.n_items) == ((moved,), 2 * EACH - 1)
    a = [VALUES[item] for item in items_of("a") if item != moved]
    outside = stats.ttest_ind(a, [VALUES[i] for i in items_of("b")]).confidence_interval(0.95)
    assert made.comparisons[0].interval == pytest.approx((outside.low, outside.high), rel=1e-9)


def test_an_item_without_a_value_changes_nothing() -> None:
    moved = items_of("a")[0]
    whole = record(otherwise(moved, "b"))
    lost = tuple(replace(v, status="lost", value=None) if v.item == moved else v
                 for v in whole.values)  # fmt: skip
    assert found(replace(whole, values=lost)).as_made is None


def test_failures_are_counted_by_what_was_made() -> None:
    """All of b failed but the one that was planned as a: as made, one of seven b's works."""
    a, b = items_of("a"), items_of("b")
    made = as_made(found(record(otherwise(a[0], "b"), failed=tuple(b))))
    assert made.n_items == EACH
    assert {v.factor for v in made.verdicts} == {"dye"}


def test_when_too_little_is_left_there_is_no_answer_as_made() -> None:
    changes = [otherwise(item, "") for item in VALUES]
    made = as_made(found(record(*changes)))
    assert (made.n_items, made.comparisons, made.verdicts) == (0, (), ())


# ---- moved to another place ------------------------------------------------------------------


def fired() -> Study:
    return Study(
        title="t",
        question="q",
        factors=(
            StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing"),
            StudyFactor(name="dye", levels=("a", "b")),
        ),
        groups=(
            StudyGroup(name="session", count=2),
            StudyGroup(name="firing", within="session", count=2),
            StudyGroup(name="team", count=4, role="maker"),
        ),
        responses=(Response(name="y", worthwhile=1.0, primary=True),),
        limits=Limits(items=16, copies=4),
    )


FIRED = draw(fired(), seed=2)


def test_what_belongs_to_a_place_goes_along() -> None:
    row = FIRED.rows[0]
    other = next(
        r for r in FIRED.rows
        if r.factors["heat"] != row.factors["heat"] and r.groups["session"] != row.groups["session"]
    )  # fmt: skip
    made = plan_as_made(FIRED, [otherwise(row.item, other.groups["firing"], "firing")])
    moved = made.plan.row(row.item)
    assert moved.groups["session"] == other.groups["session"]
    assert moved.factors["heat"] == other.factors["heat"]
    assert (moved.factors["dye"], moved.groups["team"]) == (row.factors["dye"], row.groups["team"])
    assert made.misfits == ()
    assert [r for r in made.plan.rows if r.item != row.item] == list(FIRED.rows[1:])


def test_one_item_can_not_have_a_firing_of_its_own() -> None:
    row = FIRED.rows[0]
    level = next(v for v in ("oven", "burner") if v != row.factors["heat"])
    firing = row.groups["firing"]
    one = plan_as_made(FIRED, [otherwise(row.item, level, "heat")])
    assert one.misfits == (("heat", "firing", firing),)
    mates = [r.item for r in FIRED.rows if r.groups["firing"] == firing]
    assert plan_as_made(FIRED, [otherwise(item, level, "heat") for item in mates]).misfits == ()


def test_a_move_makes_no_new_yardstick() -> None:
    """Teams cross firings with one item in each; two in one of them are no unit of anything."""
    row = FIRED.rows[0]
    other = next(r for r in FIRED.rows if r.groups["firing"] != row.groups["firing"])
    rng = np.random.default_rng(4)
    values = tuple(
        value(r.item, round(5 + 2 * (r.factors["dye"] == "a") + float(rng.normal(scale=0.3)), 3))
        for r in FIRED.rows
    )
    change = otherwise(row.item, other.groups["firing"], "firing")
    measured = Measured(digest="0", values=values, otherwise=(change,))
    findings = analyse_study(fired(), FIRED, measured).responses[0]
    assert {v.to_settle.group for v in as_made(findings).verdicts if v.to_settle} <= {
        "residual", "session/firing",
    }  # fmt: skip


# ---- three answers about failures ------------------------------------------------------------


def test_the_rank_test_is_wilcoxons_with_ties() -> None:
    """Every way to deal the levels, mid-ranks, failed items tied lowest: counted one by one.

    F. Wilcoxon (1945), Biometrics Bulletin 1, 80-83; ties by mid-ranks.
    """
    failed = tuple(items_of("b")[:3])
    p = found(record(failed=failed)).failures[0].p_as_worst
    order = [row.item for row in PLAN.rows]
    ranks = stats.rankdata([-1.0 if item in failed else VALUES[item] for item in order])
    own = sum(ranks[order.index(item)] for item in items_of("a"))
    middle = ranks.sum() / 2
    sums = [sum(ranks[list(some)]) for some in combinations(range(2 * EACH), EACH)]
    beyond = sum(abs(one - middle) >= abs(own - middle) - 1e-9 for one in sums)
    assert p == pytest.approx(beyond / len(sums), rel=1e-12)


@pytest.mark.parametrize(
    ("better", "failed_level", "reason"),
    [("high", "b", "beyond"), ("high", "a", "failures_disagree"), ("low", "a", "beyond")],
)
def test_which_level_fails_decides_whether_the_verdict_stands(
    better: str, failed_level: str, reason: str
) -> None:
    findings = found(record(failed=tuple(items_of(failed_level)[:4])), better=better)
    assert findings.verdicts[0].reason == reason


def test_uneven_failing_unsettles_no_difference() -> None:
    """Six of six against none: Fisher's exact p is 2 / 924; the one left of b is like the a's."""
    wide = Study.model_validate({**study().model_dump(), "limits": {"items": 20, "copies": 10}})
    plan = draw(wide, seed=3)
    b = [row.item for row in plan.rows if row.factors["dye"] == "b"]
    rng = np.random.default_rng(3)
    values = tuple(
        value(row.item, None if row.item in b[:6] else round(8 + float(rng.normal(scale=0.2)), 3))
        for row in plan.rows
    )
    findings = analyse_study(wide, plan, Measured(digest="0", values=values)).responses[0]
    p = findings.failures[0].p
    assert p == pytest.approx(stats.fisher_exact(np.array([[0, 10], [6, 4]])).pvalue, rel=1e-9)
    assert p is not None
    assert p < 0.05
    assert findings.verdicts[0].reason == "failures_disagree"
