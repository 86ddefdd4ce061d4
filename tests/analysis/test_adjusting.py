"""Quantities adjusted for: what a factor may have changed is named, and never silently trusted."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trials.analysis.adjusting import CLEAR, covariate_notes, sums_of_squares
from trials.analysis.tables import analyse_table
from trials.errors import RequestError
from trials.model import Structure, make_layout
from trials.service.findings_text import findings_lines
from trials.study import Options

LEVELS = ["a"] * 8 + ["b"] * 8
NOISE = np.random.default_rng(6).normal(size=16)


def notes(numbers: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[str, ...]:
    layout = make_layout(Structure(["heat"]), {"heat": LEVELS}, covariates={"depth": numbers})
    return covariate_notes(layout)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.floats(0.0, 4.0))
def test_what_differs_between_levels_is_named_as_scipys_f_test_has_it(gap: float) -> None:
    numbers = NOISE + gap * np.repeat([0.0, 1.0], 8)
    p = stats.f_oneway(numbers[:8], numbers[8:]).pvalue
    told = ("adjusted_for:depth", *(["differs_with:depth:heat"] if p < CLEAR else []))
    assert notes(numbers) == told


def test_what_a_factor_settles_is_named() -> None:
    assert notes(np.repeat([1.1, 2.3], 8)) == ("adjusted_for:depth", "settled_by:depth:heat")
    assert notes(np.full(16, 2.0)) == ("adjusted_for:depth",)


def test_the_sums_of_squares_add_up() -> None:
    level = np.repeat([0, 1, 2, 3], 4)
    between, within = sums_of_squares(NOISE, level)
    assert between + within == pytest.approx(float(((NOISE - NOISE.mean()) ** 2).sum()), rel=1e-12)


def test_the_terminal_warns_beside_the_answer() -> None:
    depth = NOISE + 5 * np.repeat([0.0, 1.0], 8)
    frame = pd.DataFrame({"heat": LEVELS, "depth": depth, "y": 2 * depth + NOISE[::-1]})
    options = Options(response="y", covariates=("depth",))
    lines = findings_lines(analyse_table(frame, Structure(["heat"]), options))
    careful = [line for line in lines if line.startswith("  Careful: ")]
    assert "the answer is adjusted for depth" in careful[0]
    assert "depth differs between the versions of heat" in careful[1]
    assert lines.index(careful[0]) < lines.index("  How it was worked out:")


def test_a_factor_is_no_covariate() -> None:
    frame = pd.DataFrame({"heat": [1.0, 2.0] * 4, "y": NOISE[:8]})
    with pytest.raises(RequestError, match="adjusted for as well"):
        analyse_table(frame, Structure(["heat"]), Options(response="y", covariates=("heat",)))
