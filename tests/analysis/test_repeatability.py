"""How repeatable each maker was: against textbook variances and Grubbs' estimates."""

from __future__ import annotations

import tracemalloc
from collections.abc import Sequence
from decimal import Decimal

import numpy as np
import pytest
from scipy.stats import chi2

from tests.report.made import make
from trials.analysis.data import Data
from trials.analysis.findings import Repeatability
from trials.analysis.repeatability import _shares, repeatability
from trials.analysis.studies import study_data
from trials.design.values import Plan
from trials.record.values import ItemValue, Measured
from trials.study.values import Study


def studied(
    teams: Sequence[str], recipes: Sequence[str], values: Sequence[float], sds: Sequence[float]
) -> tuple[Study, Plan, Measured]:
    """A study of one variable whose teams, in no other groups, made these items."""
    made = make("difference", failed=0)
    factor = made.study.factors[0].model_copy(update={"levels": tuple(dict.fromkeys(recipes))})
    group = made.study.groups[2].model_copy(update={"count": len(set(teams)), "random": True})
    study = made.study.model_copy(update={"factors": (factor,), "groups": (group,)})
    rows = tuple(
        made.plan.rows[0].model_copy(
            update={"run": i + 1, "measure": i + 1, "item": f"I{i}", "groups": {"team": team},
                    "factors": {"dye": recipe}}
        )
        for i, (team, recipe) in enumerate(zip(teams, recipes, strict=True))
    )  # fmt: skip
    plan = made.plan.model_copy(
        update={
            "rows": rows,
            "factors": (made.plan.factors[0].model_copy(update={"levels": factor.levels}),),
            "groups": (made.plan.groups[2].model_copy(
                update={"members": tuple(dict.fromkeys(teams)), "random": True}),),
        }
    )  # fmt: skip
    items = tuple(
        ItemValue(f"I{i}", "power", "measured", y, Decimal(str(y)), None, 3, reading_sd=sd)
        for i, (y, sd) in enumerate(zip(values, sds, strict=True))
    )
    return study, plan, Measured("d", items)


def told(study: Study, plan: Plan, measured: Measured) -> Repeatability:
    data: Data = study_data(study, plan, measured, study.responses[0])
    found = repeatability(plan, data, {v.item: v for v in measured.of("power")})
    assert found is not None
    return found


def test_three_makers_of_the_same_recipes_are_told_apart_as_grubbs_does() -> None:
    """F. E. Grubbs (1948): (var(1 - 2) + var(1 - 3) - var(2 - 3)) / 2 for the first of three."""
    rng = np.random.default_rng(1948)
    n = 12
    table = rng.normal(50, 10, n)[:, None] + rng.standard_normal((n, 3)) * [1.0, 2.0, 3.0]
    table = np.round(table, 3)
    teams = ["A", "B", "C"] * n
    recipes = [f"r{i:02d}" for i in range(n) for _ in range(3)]
    found = told(*studied(teams, recipes, table.ravel().tolist(), [0.1] * 3 * n))

    def v(i: int, j: int) -> float:
        return float(np.var(table[:, i] - table[:, j], ddof=1))

    grubbs = {
        "A": (v(0, 1) + v(0, 2) - v(1, 2)) / 2,
        "B": (v(0, 1) + v(1, 2) - v(0, 2)) / 2,
        "C": (v(0, 2) + v(1, 2) - v(0, 1)) / 2,
    }
    seen = {one.member: one for one in found.teams}
    assert any(one.making is not None for one in seen.values())
    for team, variance in grubbs.items():
        making = seen[team].making
        if making is not None:
            assert making**2 == pytest.approx(variance - 0.1**2 / 3, rel=1e-9)  # s^2 / k, readings


def test_makers_apart_have_plain_variances_and_their_textbook_range() -> None:
    """Intervals of a variance: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3.1."""
    rng = np.random.default_rng(5)
    y = np.round(rng.standard_normal(40) * np.repeat([1.0, 2.0, 1.0, 3.0], 10), 4)
    teams = list(np.repeat(["A", "B", "C", "D"], 10))
    # each team alone makes a recipe: recipe and team are the same, so only teams are taken off
    study, plan, measured = studied(teams, list(np.repeat(["r", "s"], 20)), y.tolist(), [0.0] * 40)
    found = told(study, plan, measured)
    for k, one in enumerate(found.teams):
        own = y[10 * k : 10 * k + 10]
        variance = float(np.var(own, ddof=1))
        assert one.making == pytest.approx(variance**0.5, rel=1e-9)
        assert one.making_df == pytest.approx(9)
        low, high = (float((9 * variance / chi2.ppf(q, 9)) ** 0.5) for q in (0.975, 0.025))
        assert one.making_interval == pytest.approx((low, high))
        assert one.reading == 0.0  # a meter without scatter, so nothing is taken off
        assert one.reading_df == 20
    assert found.p_making is not None


def test_a_poor_meter_is_not_poor_making() -> None:
    """The variance of an average of k readings is s^2 / k more: any textbook of statistics."""
    rng = np.random.default_rng(11)
    teams = list(np.repeat(["A", "B", "C", "D"], 12))
    making = rng.standard_normal(48)
    meter = np.repeat([9.0, 0.9, 0.3, 0.1], 12)
    readings = making[:, None] + meter[:, None] * rng.standard_normal((48, 3))
    y, sds = readings.mean(axis=1), readings.std(axis=1, ddof=1)
    y = np.round(y, 6)
    # each pair of teams makes a recipe, so only teams are taken off
    found = told(*studied(teams, list(np.repeat(["r", "s"], 24)), y.tolist(), sds.tolist()))
    for k, one in enumerate(found.teams):
        own = slice(12 * k, 12 * k + 12)
        read = float(np.mean(sds[own] ** 2))
        left = float(np.var(y[own], ddof=1)) - read / 3
        low, high = one.making_interval
        assert one.reading == pytest.approx(read**0.5)
        if left <= 0:
            assert (one.making, low, high) == (None, None, None)
        else:
            assert one.making is not None
            assert one.making == pytest.approx(left**0.5, rel=1e-6)
            assert low is not None
            assert high is not None
            assert low < left**0.5 < high
            assert low == 0.0 or one.member != "A"  # its meter may be all of it
    assert found.teams[3].making == pytest.approx(1.0, rel=0.5)  # as simulated


def test_no_array_of_items_by_items_is_needed() -> None:
    rng = np.random.default_rng(3)
    basis = np.linalg.qr(rng.standard_normal((30, 5)))[0]
    member = np.zeros((3, 30))
    member[rng.integers(0, 3, 30), np.arange(30)] = 1
    left = np.eye(30) - basis @ basis.T
    assert _shares(basis, member) == pytest.approx(member @ (left * left) @ member.T, rel=1e-12)


def test_two_makers_of_the_same_recipes_cannot_be_told_apart() -> None:
    rng = np.random.default_rng(2)
    recipes = [f"r{i:02d}" for i in range(9) for _ in range(2)]
    y = np.round(rng.standard_normal(18), 3).tolist()
    found = told(*studied(["A", "B"] * 9, recipes, y, [0.1] * 18))
    assert [one.making for one in found.teams] == [None, None]
    assert "makers_not_apart" in found.notes
    assert found.p_making is None  # what is left over of one mirrors the other


def test_with_groups_left_in_the_makers_are_not_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trials.analysis.diagnostics.MOST_COLUMNS", 3)
    y = np.round(np.random.default_rng(4).standard_normal(40), 4).tolist()
    found = told(*studied(["A", "B", "C", "D"] * 10, ["r"] * 20 + ["s"] * 20, y, [0.1] * 40))
    assert found.notes == ("groups_left_in",)
    assert found.p_making is None
    assert found.making is None  # nor is it told what the groups' differences add to


def test_thousands_of_items_need_no_square_of_their_number() -> None:
    """A table of 3,000 by 3,000 numbers alone is 72 million bytes."""
    n = 3000
    rng = np.random.default_rng(3)
    y = np.round(rng.standard_normal(n), 3)
    teams, recipes = list("ABCD") * (n // 4), list(np.repeat(["r", "s"], n // 2))
    study, plan, measured = studied(teams, recipes, y.tolist(), [0.1] * n)
    data = study_data(study, plan, measured, study.responses[0])
    values = {v.item: v for v in measured.of("power")}
    tracemalloc.start()
    try:
        found = repeatability(plan, data, values)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert found is not None
    assert peak < 30e6
    for k, one in enumerate(found.teams):  # so many that what is taken off hardly matters
        variance = float(np.var(y[k::4], ddof=1)) - 0.1**2 / 3  # without the three readings' part
        assert one.making == pytest.approx(variance**0.5, rel=2e-3)
