"""Drift of the leftovers, against scipy's rank correlation and an analysis by statsmodels."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from scipy import stats

from trials.analysis.centring import numbers
from trials.analysis.data import Data
from trials.analysis.diagnostics import leftovers
from trials.analysis.drift import drift
from trials.analysis.run import analyse
from trials.model import Structure, fit_rows, make_layout
from trials.study.options import Options

N = 24
FEED = [str(i % 2) for i in range(N)]


def some_data(y: np.ndarray, worthwhile: float | None = 1.0, **more: Any) -> Data:
    layout = make_layout(Structure(["feed"]), {"feed": FEED})
    centred = numbers(y.round(4).tolist(), "y")
    items = tuple(f"p{i}" for i in range(N))
    options = Options(worthwhile=worthwhile)
    return Data("y", "g", layout, centred.values, centred, items, options, **more)


def drift_of(data: Data) -> dict[str, Any]:
    found = analyse(data, {}).diagnostics["drift"]
    json.dumps(found, allow_nan=False)
    return dict(found)


def test_rank_correlations_equal_scipy() -> None:
    rng = np.random.default_rng(7)
    runs = tuple(int(i) + 1 for i in rng.permutation(N))
    light = rng.normal(800, 20, N)
    light[3] = np.nan
    y = 0.2 * np.array(runs) + rng.normal(size=N)
    data = some_data(y, runs=runs, beside={"column:light": light, "clock": np.full(N, 600.0)})
    found = drift_of(data)
    assert list(found) == ["making", "column:light"]  # a clock that stands still tells nothing
    left = leftovers(data, fit_rows(data.layout, data.y))[0].residual
    made = stats.spearmanr(runs, left)
    assert (found["making"]["rho"], found["making"]["p"]) == pytest.approx(tuple(made))
    assert found["making"]["n"] == N
    known = np.isfinite(light)
    other = stats.spearmanr(light[known], left[known])
    assert (found["column:light"]["rho"], found["column:light"]["p"]) == pytest.approx(tuple(other))
    assert (found["column:light"]["n"], found["column:light"]["taken_off"]) == (N - 1, False)


def test_a_verdict_with_a_drift_taken_off_equals_statsmodels() -> None:
    """Least squares with the order beside the factor: the interval by statsmodels decides."""
    import statsmodels.api as sm  # type: ignore[import-untyped]  # it ships no types

    rng = np.random.default_rng(11)
    order = rng.permutation(N).astype(float)
    feed = np.array(FEED, dtype=float)
    y = (2.2 * feed + 0.3 * order + rng.normal(0, 0.8, N)).round(4)
    data = some_data(y, beside={"measuring": order, "clock": order * 4})
    assert analyse(data, {}).verdicts[0].verdict == "not settled"
    fit = sm.OLS(y, np.column_stack([np.ones(N), feed, order])).fit()
    assert fit.conf_int()[1][0] > 1.0  # beyond the margin with the drift taken off
    found = drift_of(data)
    (move,) = found["measuring"]["moves"]
    assert (move["factor"], move["verdict"], move["reason"]) == ("feed", "mattered", "beyond")
    assert abs(move["largest_difference"]) == pytest.approx(fit.params[1], rel=1e-9)
    # a version may have taken longer: time is looked at and never taken off
    assert (found["clock"]["taken_off"], found["clock"]["moves"]) == (False, [])


def test_what_can_not_be_told_apart_from_the_factor_is_not_taken_off() -> None:
    y = np.random.default_rng(3).normal(size=N)
    found = drift_of(some_data(y, beside={"column:draught": np.array(FEED, dtype=float)}))
    moves = found["column:draught"]["moves"]
    assert all(move["verdict"] == "not settled" for move in moves)
    flat = some_data(np.array([1.5, 2.5] * 12), beside={"measuring": np.arange(N) * 1.0})
    left = leftovers(flat, fit_rows(flat.layout, flat.y))[0]
    assert drift(flat, left, {}) == {}


def test_few_items_get_no_p() -> None:
    layout = make_layout(Structure(["feed"]), {"feed": list("xxxyyy")})
    centred = numbers([1.0, 2.0, 4.0, 3.0, 5.0, 5.5], "y")
    items, runs = tuple("abcdef"), (2, 1, 6, 3, 5, 4)
    data = Data("y", "g", layout, centred.values, centred, items, Options(), runs=runs)
    found = drift_of(data)
    assert found["making"]["p"] is None
    assert found["making"]["moves"] == []
