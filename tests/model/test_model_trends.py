"""Trends over actual values: printed polynomials, numpy's least squares, and R's contrasts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trials.model import Factor, Structure, fit_rows, make_layout
from trials.model.trends import factor_trends, polynomials


@pytest.mark.parametrize(
    ("values", "printed"),
    [
        ((1, 2, 3), [(-1, 0, 1), (1, -2, 1)]),
        ((1, 2, 3, 4), [(-3, -1, 1, 3), (1, -1, -1, 1)]),
        ((1, 2, 3, 4, 5), [(-2, -1, 0, 1, 2), (2, -1, -2, -1, 2)]),
        ((10, 20, 30, 40, 50, 60), [(-5, -3, -1, 1, 3, 5), (5, -1, -4, -4, -1, 5)]),
        ((1, 2, 4, 8), [(-11, -7, 1, 17), (20, -4, -29, 13)]),
    ],
)
def test_printed_orthogonal_polynomials(
    values: tuple[int, ...], printed: list[tuple[int, ...]]
) -> None:
    """R. A. Fisher and F. Yates, Statistical Tables, table XXIII; the doublings as in A. Grandage
    (1958), Biometrics 14, 287-289 (from memory)."""
    for found, wanted in zip(polynomials(values, 2), printed, strict=True):
        assert found / np.abs(found).max() == pytest.approx(
            np.array(wanted) / np.abs(wanted).max(), abs=1e-12
        )


@given(
    st.lists(st.integers(-50, 50), min_size=3, max_size=8, unique=True),
    st.lists(st.floats(-5, 5), min_size=8, max_size=8),
)
def test_coefficients_are_those_of_least_squares(values: list[int], means: list[float]) -> None:
    m = np.array(means[: len(values)])
    line, bend = polynomials(values, 2) @ m
    assert line == pytest.approx(np.polyfit(values, m, 1)[0], rel=1e-7, abs=1e-9)
    assert bend == pytest.approx(np.polyfit(values, m, 2)[0], rel=1e-6, abs=1e-9)


MINUTES = ("5", "10", "20", "45")


def _one_factor(scale: str = "linear") -> tuple[np.ndarray, np.ndarray, Structure]:
    rng = np.random.default_rng(3)
    x = np.repeat([float(m) for m in MINUTES], 4)
    y = 2 + 0.3 * x - 0.004 * x**2 + rng.standard_normal(16)
    factor = Factor("soak", "quantity", MINUTES, "log" if scale == "log" else "linear")
    return x, y, Structure([factor])


@pytest.mark.parametrize("scale", ["linear", "log"])
def test_one_factor_has_numpys_slope_and_the_analysis_of_variance_of_lack_of_fit(
    scale: str,
) -> None:
    """N. R. Draper and H. Smith (1998), Applied Regression Analysis, 3rd ed., section 2.1."""
    x, y, structure = _one_factor(scale)
    layout = make_layout(structure, {"soak": [f"{v:g}" for v in x]})
    fit = fit_rows(layout, y)
    line, bend = factor_trends(fit, "soak")
    u = np.log2(x) if scale == "log" else x
    assert line.line is not None
    assert bend.line is not None
    assert line.line.estimate == pytest.approx(np.polyfit(u, y, 1)[0], rel=1e-10)
    assert bend.line.estimate == pytest.approx(np.polyfit(u, y, 2)[0], rel=1e-8)
    pure = sum(((y[x == v] - y[x == v].mean()) ** 2).sum() for v in set(x)) / 12
    assert line.line.se == pytest.approx(np.sqrt(pure / ((u - u.mean()) ** 2).sum()), rel=1e-10)
    for degree, found in ((1, line), (2, bend)):
        left = ((y - np.polyval(np.polyfit(u, y, degree), u)) ** 2).sum() - 12 * pure
        assert found.rest is not None
        assert (found.rest.num_df, found.rest.den_df) == (3 - degree, 12)
        assert found.rest.f == pytest.approx(left / (3 - degree) / pure, rel=1e-7)


def test_what_was_fitted_as_a_straight_line_has_that_slope_only() -> None:
    x, y, _ = _one_factor()
    layout = make_layout(
        Structure([Factor("soak", "quantity", trend=True)]), {"soak": [f"{v:g}" for v in x]}
    )
    (line,) = factor_trends(fit_rows(layout, y), "soak")
    assert line.line is not None
    assert line.line.estimate == pytest.approx(np.polyfit(x, y, 1)[0], rel=1e-10)
    assert line.rest is None


def test_two_levels_have_a_line_and_nothing_left_over() -> None:
    layout = make_layout(Structure([Factor("soak", "quantity")]), {"soak": ["5", "5", "15", "15"]})
    (line,) = factor_trends(fit_rows(layout, np.array([1.0, 2.0, 4.0, 6.0])), "soak")
    assert line.line is not None
    assert line.line.estimate == pytest.approx(0.35)
    assert line.rest is None


def test_levels_that_meet_other_levels_of_a_partner_have_no_trend() -> None:
    rows = [(a, b) for a in ("1", "2", "3") for b in "xy" if (a, b) != ("3", "y")] * 2
    layout = make_layout(
        Structure([Factor("dose", "quantity"), Factor("kind")]),
        {"dose": [a for a, _ in rows], "kind": [b for _, b in rows]},
    )
    fit = fit_rows(layout, np.random.default_rng(1).standard_normal(len(rows)))
    assert {one.notes for one in factor_trends(fit, "dose")} == {("trend_gaps",)}
    at_x, _ = factor_trends(fit, "dose", (("kind", 0),))
    assert at_x.line is not None
