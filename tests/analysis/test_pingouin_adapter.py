"""pingouin behind its adapter, against R and the original papers' data."""

from __future__ import annotations

import json
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from trials.analysis.pingouin_adapter import games_howell, levene, shapiro, welch_anova

SPREAD = json.loads(
    (Path(__file__).parents[1] / "reference" / "spread" / "one_way.json").read_text("utf-8")
)
CASES: list[dict[str, Any]] = SPREAD["cases"]


def columns(case: dict[str, Any]) -> tuple[np.ndarray, tuple[str, ...]]:
    pairs = [(level, value) for level, values in case["data"].items() for value in values]
    return np.array([value for _, value in pairs], dtype=float), tuple(level for level, _ in pairs)


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["case"]))
def test_one_way_tests_equal_those_of_r(case: dict[str, Any]) -> None:
    """R 4.2.2 and car 3.1.1; sources of the data in the reference file."""
    y, labels = columns(case)
    found, known = levene(y, labels), case["brown_forsythe_levene_median"]
    assert (found.f, found.p) == pytest.approx((known["F"], known["p"]), rel=1e-10)
    assert (found.num_df, found.den_df) == (known["df1"], known["df2"])
    welch, known = welch_anova(y, labels), case["welch_anova"]
    assert [welch.num_df, welch.den_df] == pytest.approx(known["df"], rel=1e-12)
    assert (welch.f, welch.p) == pytest.approx((known["statistic"], known["p"]), rel=1e-10)
    for pair, row in zip(games_howell(y, labels), case["games_howell"], strict=True):
        assert f"{pair.a} - {pair.b}" == row["pair"]
        assert (pair.difference, pair.se, pair.df) == pytest.approx(
            (row["diff"], row["se"], row["df"]), rel=1e-11
        )
        assert pair.p == pytest.approx(row["p"], abs=1e-7)  # R's ptukey stops at about 1e-11


def test_shapiro_is_that_of_scipy() -> None:
    y = np.random.default_rng(1).gamma(2, size=30)
    assert shapiro(y) == pytest.approx(tuple(stats.shapiro(y)), rel=1e-12)


def test_no_warning_gets_out() -> None:
    y, labels = columns(CASES[0])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        levene(y, labels)
        shapiro(y)
        welch_anova(y, labels)
        games_howell(y, labels)
