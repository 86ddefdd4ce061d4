"""Budgets against the worked examples and tables of the guide to uncertainty, JCGM 100:2008."""

from __future__ import annotations

from fractions import Fraction
from math import cos, floor, inf

import pytest

from trials.reduction.average import average, spread_of_mean
from trials.reduction.electrical.budget import Budget, Line, Source, budget, coverage_factor

# JCGM 100:2008, table G.2, column p = 95 %.
T_95 = {1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 6: 2.45, 7: 2.36, 8: 2.31, 9: 2.26, 10: 2.23,
        15: 2.13, 20: 2.09, 30: 2.04, 50: 2.01, 100: 1.984, inf: 1.960}  # fmt: skip


@pytest.mark.parametrize(("df", "t"), T_95.items())
def test_coverage_factors_are_those_of_table_g2(df: float, t: float) -> None:
    assert coverage_factor(df) == pytest.approx(t, abs=0.005)


def test_welch_satterthwaite_as_in_the_example_of_g41() -> None:
    """Y = X1 X2 X3; 0.25 %, 0.57 % and 0.82 % from 10, 5 and 15 readings: 1.03 %, 19 df, 2.2 %."""
    sources = {
        "X1": Source("X1", 0.0025, 9, "A"),
        "X2": Source("X2", 0.0057, 4, "A"),
        "X3": Source("X3", 0.0082, 14, "A"),
    }
    found = budget(sources, {"X1": 1, "X2": 1, "X3": 1})
    assert found.relative == pytest.approx(0.0103, abs=5e-5)
    assert found.df == pytest.approx(19.0, abs=0.1)
    assert found.coverage * found.relative == pytest.approx(0.022, abs=5e-4)


def test_the_end_gauge_of_example_h1() -> None:
    """JCGM 100:2008, H.1, table H.1 and H.1.6: 32 nm with 16 df (parts in nm as they stand)."""
    parts = ((25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2))
    found = Budget(tuple(Line(Source(str(u), u, df), 1) for u, df in parts))
    assert found.relative == pytest.approx(32, abs=0.5)
    assert floor(found.df) == 16
    assert coverage_factor(16, 0.99) * 32 == pytest.approx(93, abs=1)


def test_resistance_of_example_h2_by_its_second_approach() -> None:
    """JCGM 100:2008, H.2.4: R of each of five sets, then mean and its SD: 127.732 and 0.071 ohm."""
    volts = (5.007, 4.994, 5.005, 4.990, 4.999)
    milliamperes = (19.663, 19.639, 19.640, 19.685, 19.678)
    phases = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)
    found = [1000 * v / i * cos(p) for v, i, p in zip(volts, milliamperes, phases, strict=True)]
    assert float(average([Fraction(r) for r in found])) == pytest.approx(127.732, abs=5e-4)
    assert spread_of_mean(found) == pytest.approx(0.071, abs=5e-4)


def test_a_source_counts_by_its_exponent() -> None:
    squared = budget({"V": Source("voltmeter", 0.003)}, {"V": 2})
    assert squared.relative == pytest.approx(0.006)
    assert squared.df == inf
