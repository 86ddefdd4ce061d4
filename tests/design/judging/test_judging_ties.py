"""Ties against scipy and pingouin, and the marks of what is tied on purpose."""

from __future__ import annotations

import importlib

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats.contingency import association

from tests.design.judging.plans import make
from trials.design.judging import cramers_v, find_ties
from trials.design.values import Plan, Tie


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 5), st.integers(2, 5), st.integers(6, 60))
def test_cramers_v_is_scipys(seed: int, rows: int, columns: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    one, other = rng.integers(rows, size=n), rng.integers(columns, size=n)
    table = pd.crosstab(one, other).to_numpy()
    value = cramers_v(one.astype(np.intp), other.astype(np.intp))
    if min(table.shape) < 2:
        assert value is None
    else:
        assert value == pytest.approx(float(association(table, method="cramer")), abs=1e-9)


def test_cramers_v_is_pingouins() -> None:
    pingouin = importlib.import_module("pingouin")
    rng = np.random.default_rng(3)
    frame = pd.DataFrame({"a": rng.integers(3, size=400), "b": rng.integers(4, size=400)})
    _, _, tests = pingouin.chi2_independence(frame, "a", "b", correction=False)
    published = float(tests.loc[tests["test"] == "pearson", "cramer"].iloc[0])
    ours = cramers_v(frame["a"].to_numpy(np.intp), frame["b"].to_numpy(np.intp))
    assert ours == pytest.approx(published, abs=1e-9)


def by_pair(plan: Plan) -> dict[tuple[str, str], Tie]:
    return {(tie.first, tie.second): tie for tie in find_ties(plan)}


def test_ties_of_a_plan_in_sessions_and_firings() -> None:
    n = 16
    _, plan = make(
        {"heat": ["oven", "oven", "burner", "burner"] * 4, "dye": ["x", "y"] * 8},
        {
            "session": [f"s{place // 8}" for place in range(n)],
            "firing": [f"f{place // 2}" for place in range(n)],
            "team": [f"t{place % 4}" for place in range(n)],
        },
        applied={"heat": "firing"},
        within={"firing": "session"},
        measured=[(5 * place + 3) % n for place in range(n)],
    )
    ties = by_pair(plan)
    assert (ties["heat", "firing"].tie, ties["heat", "firing"].meant) == (1.0, True)
    assert (ties["session", "firing"].tie, ties["session", "firing"].meant) == (1.0, True)
    assert (ties["heat", "dye"].tie, ties["heat", "dye"].meant) == (0.0, False)
    assert (ties["dye", "team"].tie, ties["dye", "team"].meant) == (1.0, False)  # the fault of it
    assert ties["session", "run"].meant
    assert not ties["session", "measure"].meant
    assert not ties["team", "run"].meant
    assert ("run", "measure") in ties
    assert len(ties) == 7 * 6 // 2


def test_a_column_that_is_everywhere_the_same_is_tied_to_nothing() -> None:
    _, plan = make({"a": list("xyxy")}, {"room": ["r"] * 4})
    assert by_pair(plan)["a", "room"].tie is None
