"""Residual diagnostics against statsmodels, scipy and R's values; every number fit for JSON."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trials.analysis.centring import numbers
from trials.analysis.data import Data
from trials.analysis.diagnostics import (
    Leftovers,
    diagnose,
    equal_spread,
    largest,
    leftovers,
    normal_shape,
    spread,
)
from trials.model import FitOptions, Structure, fit_rows, make_layout
from trials.study.options import Options

SPREAD = json.loads(
    (Path(__file__).parents[1] / "reference" / "spread" / "one_way.json").read_text("utf-8")
)


def diagnosed(
    columns: dict[str, list[str]], y: list[float], structure: Structure, **more: Any
) -> tuple[Data, dict[str, Any], Leftovers]:
    layout = make_layout(structure, columns, item=more.pop("item", None))
    centred = numbers(y, "y")
    items = tuple(columns.get("plant", [f"p{i}" for i in range(len(y))]))
    data = Data("y", "g", layout, centred.values, centred, items, Options(), **more)
    fit = fit_rows(layout, data.y, FitOptions())
    found = diagnose(data, fit)
    json.dumps(found, allow_nan=False)
    return data, found, leftovers(data, fit)[0]


def one_way(case: dict[str, Any]) -> tuple[dict[str, list[str]], list[float]]:
    rows = [(level, value) for level, values in case["data"].items() for value in values]
    return {"feed": [level for level, _ in rows]}, [value for _, value in rows]


@pytest.mark.parametrize("case", SPREAD["cases"], ids=lambda case: str(case["case"]))
def test_one_factor_without_groups_equals_r(case: dict[str, Any]) -> None:
    """R 4.2.2 and car 3.1.1; InsectSprays (Beall, 1942) and chickwts."""
    columns, y = one_way(case)
    _, found, left = diagnosed(columns, y, Structure(["feed"]))
    test, known = found["equal_spread"]["feed"], case["brown_forsythe_levene_median"]
    assert (test["f"], test["p"]) == pytest.approx((known["F"], known["p"]), rel=1e-9)
    assert found["welch"]["f"] == pytest.approx(case["welch_anova"]["statistic"], rel=1e-10)
    for pair, row in zip(found["games_howell"], case["games_howell"], strict=True):
        assert pair["interval"] == pytest.approx([row["lower"], row["upper"]], rel=1e-7)
    assert found["residual_df"] == left.df == len(y) - len(case["data"])
    sds = {level: float(np.std(v, ddof=1)) for level, v in case["data"].items()}
    assert found["spread"]["feed"]["levels"] == pytest.approx(sds, rel=1e-10)
    assert found["spread"]["feed"]["ratio"] == pytest.approx(
        max(sds.values()) / min(sds.values()), rel=1e-10
    )
    assert found["notes"] == []


def test_largest_residuals_equal_statsmodels() -> None:
    """statsmodels' outlier_test: external studentisation and Bonferroni's p."""
    import statsmodels.api as sm  # type: ignore[import-untyped]  # it ships no types

    columns, y = one_way(SPREAD["cases"][1])
    y[7] += 250
    _, found, _ = diagnosed(columns, y, Structure(["feed"]))
    levels = list(dict.fromkeys(columns["feed"]))
    X = np.array([[float(level == other) for other in levels] for level in columns["feed"]])
    table = np.asarray(sm.OLS(np.array(y), X).fit().outlier_test())
    order = np.argsort(-np.abs(table[:, 0]))
    assert [row["item"] for row in found["largest"]] == [f"p{i}" for i in order[:3]]
    for row, place in zip(found["largest"], order, strict=False):
        assert row["studentised"] == pytest.approx(table[place, 0], rel=1e-9)
        assert row["p_adjusted"] == pytest.approx(table[place, 2], rel=1e-8)
    assert found["largest"][0]["item"] == "p7"


def test_random_groups_are_taken_off() -> None:
    rng = np.random.default_rng(5)
    pot = [f"t{i // 2}" for i in range(24)]
    feed = [str(i % 2) for i in range(24)]
    y = (np.repeat(rng.normal(0, 50, 12), 2) + rng.normal(size=24)).round(3).tolist()
    _, found, left = diagnosed(
        {"pot": pot, "feed": feed}, y, Structure(["feed"], ["pot"]), runs=tuple(range(1, 25))
    )
    assert left.df == 11
    assert max(abs(left.residual)) < 5
    assert found["spread"]["feed"]["levels"]["0"] < 5
    assert "welch" not in found


def test_what_pots_left_over_equals_least_squares_on_their_means() -> None:
    """A balanced split plot: the pots' layer is an analysis of their means (statsmodels)."""
    import statsmodels.api as sm  # it ships no types

    rng = np.random.default_rng(9)
    pot = [f"t{i // 4}" for i in range(32)]
    heat = [str(i // 4 % 2) for i in range(32)]
    feed = [str(i % 2) for i in range(32)]
    y = (np.repeat(rng.normal(0, 5, 8), 4) + rng.normal(size=32)).round(3)
    structure = Structure(["heat", "feed"], ["pot"], {"heat": "pot"})
    _, found, _ = diagnosed({"pot": pot, "heat": heat, "feed": feed}, y.tolist(), structure)
    means = y.reshape(8, 4).mean(axis=1)
    known = sm.OLS(means, sm.add_constant(np.arange(8) % 2)).fit().resid
    told = found["groups"]["pot"]
    assert list(told["members"].values()) == pytest.approx(known.tolist(), rel=1e-9)
    assert (told["n"], told["sd"]) == (8, pytest.approx(float(np.std(known, ddof=1))))
    order = np.argsort(-np.abs(known))[:3]
    assert [one["member"] for one in told["largest"]] == [f"t{i}" for i in order]


def test_what_a_group_left_over_has_the_group_around_it_taken_off() -> None:
    day = [str(i // 12) for i in range(72)]
    pot = [str(i // 3) for i in range(72)]
    y = np.repeat(np.arange(6.0) ** 2, 12) + np.tile(np.repeat([0.0, 1.0, 5.0, 2.0], 3), 6)
    y += np.tile([0.1, 0.0, -0.1], 24)
    structure = Structure(["feed"], ["day", "day/pot"])
    _, found, _ = diagnosed(
        {"day": day, "pot": pot, "feed": list("xyz" * 24)}, y.tolist(), structure
    )
    days, pots = found["groups"]["day"], found["groups"]["day/pot"]
    around = np.arange(6.0) ** 2 - np.mean(np.arange(6.0) ** 2)
    assert list(days["members"].values()) == pytest.approx(around.tolist())
    assert list(pots["members"].values()) == pytest.approx([-2.0, -1.0, 3.0, 0.0] * 6)


def test_readings_count_as_their_mean() -> None:
    plant = [f"k{i // 3}" for i in range(36)]
    feed = [str((i // 3) % 3) for i in range(36)]
    y = np.random.default_rng(6).normal(size=36).round(4)
    _, found, left = diagnosed(
        {"plant": plant, "feed": feed}, y.tolist(), Structure(["feed"]), item="plant"
    )
    assert left.items == tuple(f"k{i}" for i in range(12))
    assert left.df == found["residual_df"] == 9
    means = y.reshape(12, 3).mean(axis=1)
    expected = means - np.array([means[i % 3 :: 3].mean() for i in range(12)])
    assert left.residual == pytest.approx(expected, abs=1e-12)
    assert found["notes"] == ["few_df_no_tests"]
    assert found["equal_spread"] == {"feed": None}
    assert found["normal_shape"] is None
    assert found["welch"]["num_df"] == 2


def test_a_fit_through_every_value_leaves_nothing() -> None:
    _, found, _ = diagnosed(
        {"feed": ["a", "a", "b", "b"]}, [1.5, 1.5, 2.5, 2.5], Structure(["feed"])
    )
    assert found["largest"] == []
    assert found["welch"] is None
    assert set(found["notes"]) == {"nothing_left_over", "few_df_no_tests"}
    assert found["spread"]["feed"]["ratio"] is None


def test_too_little_for_any_test() -> None:
    residual = np.array([0.5, -0.5, 0.0])
    left = Leftovers(
        ("a", "b", "c"), residual, np.array([0.5, 0.5, 1.0]), 1, {"f": ("x", "x", "y")}
    )
    assert largest(left) == []
    assert spread(left) == {
        "f": {"levels": {"x": pytest.approx(math.sqrt(0.5)), "y": None}, "ratio": None}
    }
    assert equal_spread(left) == {"f": None}
    assert normal_shape(left) is None


def test_leverage_one_and_an_infinite_residual() -> None:
    """The fit passes through the last item alone; without the first nothing is left over."""
    left = Leftovers(
        tuple("abcde"),
        np.array([0.75, -0.25, -0.25, -0.25, 0.0]),
        np.array([0.25, 0.25, 0.25, 0.25, 1.0]),
        3,
    )
    found = largest(left)
    assert found[0]["item"] == "a"
    assert found[0]["studentised"] is None
    assert found[0]["p_adjusted"] == pytest.approx(0.0, abs=1e-12)
    assert all(row["item"] != "e" for row in found)
