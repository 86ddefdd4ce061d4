"""Where levels spread unlike, a fit with a spread for each stands beside the analysis."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import trials
from trials import Factor, Options, Structure


def diagnostics(*levels: list[float], **options: Any) -> dict[str, Any]:
    labels = [name for name, values in zip("xyz", levels, strict=False) for _ in values]
    readings = [repr(value) for values in levels for value in values]
    frame = pd.DataFrame({"feed": labels, "Y": readings})
    structure = Structure((Factor("feed"),))
    findings = trials.analyse_table(frame, structure, options=Options(response="Y", **options))
    return findings.responses[0].diagnostics


QUIET = [4.1, 4.3, 3.9, 4.0, 4.2, 4.4]
WILD = [5.0, 9.0, 2.0, 7.5, 11.0]


def test_two_levels_are_welchs_test() -> None:
    """scipy's ttest_ind(equal_var=False), and its interval."""
    beside = diagnostics(QUIET, WILD)["spread_by_level"]["feed"]
    welch = stats.ttest_ind(QUIET, WILD, equal_var=False)
    assert beside["p"] == pytest.approx(float(welch.pvalue), rel=1e-8)
    assert beside["den_df"] == pytest.approx(float(welch.df), rel=1e-8)
    (pair,) = beside["comparisons"]
    ends = welch.confidence_interval(0.95)
    assert pair["interval"] == pytest.approx([float(ends.low), float(ends.high)], rel=1e-8)
    assert beside["variances"] == pytest.approx(
        {"x": np.var(QUIET, ddof=1), "y": np.var(WILD, ddof=1)}
    )


def test_ratios_stand_beside_as_ratios() -> None:
    beside = diagnostics(QUIET, WILD, compare="ratio")["spread_by_level"]["feed"]
    logs = stats.ttest_ind(np.log(QUIET), np.log(WILD), equal_var=False)
    (pair,) = beside["comparisons"]
    assert pair["difference"] is None
    assert pair["ratio"] == pytest.approx(
        float(np.exp(np.mean(np.log(QUIET)) - np.mean(np.log(WILD))))
    )
    assert pair["p"] == pytest.approx(float(logs.pvalue), rel=1e-8)


def test_levels_that_spread_alike_have_no_other_fit() -> None:
    assert "spread_by_level" not in diagnostics(QUIET, [4.5, 4.8, 4.9, 5.0, 4.6])


def test_where_the_data_cannot_carry_it_there_is_a_note() -> None:
    """One item at a level tells nothing of that level's spread."""
    found = diagnostics(QUIET, WILD, [6.0])
    assert found["spread_by_level"] == {"feed": None}
    assert "no_own_spread:feed" in found["notes"]
    assert "no_own_spread:feed" not in diagnostics(QUIET, WILD)["notes"]
