"""The plain reducers and the two kinds of standard uncertainty.

Source of the numbers: JCGM 100:2008 (GUM 1995 with minor corrections), 4.4.3 with table 1, H.2
with table H.2, and F.2.2.1. The readings were typed from memory; that they give every printed
figure is the check of both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.errors import StudyError
from trials.reduction import REDUCERS, columns_of, reducer_of, setting_problems
from trials.reduction.average import display_uncertainty, spread_of_mean
from trials.reduction.propagate import propagated


@dataclass(frozen=True)
class Ask:
    name: str = "height"
    label: str = ""
    unit: str = "mm"
    reducer: str = "mean"
    settings: dict[str, float | str] = field(default_factory=dict)
    low: float | None = None
    high: float | None = None


TEMPERATURES = (  # JCGM 100:2008, table 1, in °C
    "96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07 100.33 100.42 100.68 100.95 "
    "101.11 101.20 101.57 101.84 102.36 102.72"
)
VOLTS = "5.007 4.994 5.005 4.990 4.999"  # table H.2
MILLIAMPS = "19.663 19.639 19.640 19.685 19.678"


def _readings(texts: str) -> list[dict[str, Decimal]]:
    return [{"height": Decimal(text)} for text in texts.split()]


def test_twenty_temperatures() -> None:
    reduced = REDUCERS["mean"].reduce(Ask(unit="°C"), _readings(TEMPERATURES))
    assert reduced.value == pytest.approx(100.145, abs=0.0005)
    assert reduced.uncertainty == pytest.approx(0.333, abs=0.0005)
    assert reduced.used == 20


@pytest.mark.parametrize(
    ("texts", "mean", "s"), [(VOLTS, 4.9990, 0.0032), (MILLIAMPS, 19.6610, 0.0095)]
)
def test_means_of_table_h2(texts: str, mean: float, s: float) -> None:
    reduced = REDUCERS["mean"].reduce(Ask(), _readings(texts))
    assert reduced.value == pytest.approx(mean, abs=5e-5)
    assert reduced.uncertainty == pytest.approx(s, abs=5e-5)


def test_a_display_that_moves_in_steps() -> None:
    assert display_uncertainty(1) == pytest.approx(0.29, abs=0.005)  # F.2.2.1


def test_relative_uncertainty_of_a_product_of_powers() -> None:
    # 5.1.6, equation (12): for P = V²/R the relative variances add with weights 2² and 1²
    u = propagated(
        lambda v: v["V"] * v["V"] / v["R"], {"V": 0.4, "R": 330.0}, {"V": 0.004, "R": 3.3}
    )
    assert u / (0.4**2 / 330) == pytest.approx(math.hypot(2 * 0.01, 0.01), rel=1e-9)


def test_mean_keeps_decimals_exact() -> None:
    texts = "1000000000000.4 1000000000000.3"  # more digits than a float has
    reduced = REDUCERS["mean"].reduce(Ask(), _readings(texts))
    assert reduced.exact == Decimal("1000000000000.35")


@settings(derandomize=True, max_examples=100)
@given(st.lists(st.decimals(-1000, 1000, places=3), min_size=1, max_size=6))
def test_mean_is_the_exact_average(numbers: list[Decimal]) -> None:
    reduced = REDUCERS["mean"].reduce(Ask(), [{"height": number} for number in numbers])
    average = sum(map(Fraction, numbers), Fraction(0)) / len(numbers)
    assert reduced.exact is not None
    assert abs(Fraction(reduced.exact) - average) <= abs(average) * Fraction(1, 10**49)
    assert reduced.value == pytest.approx(float(average))


def test_step_joins_the_spread() -> None:
    texts = "1.0 1.2 1.1"
    spread = spread_of_mean([1.0, 1.2, 1.1])
    assert spread is not None
    reduced = REDUCERS["mean"].reduce(Ask(settings={"step": 0.1}), _readings(texts))
    assert reduced.uncertainty == pytest.approx(math.hypot(spread, 0.1 / math.sqrt(12)))
    one = REDUCERS["value"].reduce(Ask(reducer="value", settings={"step": 0.1}), _readings("5"))
    assert one.uncertainty == pytest.approx(0.1 / math.sqrt(12))


def test_value_takes_one_number_and_questions_several() -> None:
    value = REDUCERS["value"]
    ask = Ask(reducer="value")
    assert value.reduce(ask, _readings("12.30")).exact == Decimal("12.30")
    assert value.reduce(ask, _readings("12 12.0")).value == 12
    two = _readings("12 13")
    assert value.reduce(ask, two).value is None
    assert [flag.code for flag in value.check(ask, two)] == ["several_values"]
    assert value.reduce(ask, []).value is None
    assert value.check(ask, _readings("12")) == ()


def test_column_is_named_by_setting_label_or_name() -> None:
    def names(ask: Ask) -> list[str]:
        return [column.header for column in columns_of([ask])]

    assert names(Ask(name="leaf_mass", unit="g")) == ["leaf mass (g)"]
    assert names(Ask(label="height after 3 weeks")) == ["height after 3 weeks (mm)"]
    assert names(Ask(settings={"column": "stem"})) == ["stem (mm)"]
    assert names(Ask(unit="1", label="leaves")) == ["leaves"]


def test_shared_columns_are_one_column_with_the_narrower_range() -> None:
    a = Ask("a", settings={"column": "stem"}, low=0, high=100)
    b = Ask("b", settings={"column": "Stem"}, low=10)
    (column,) = columns_of([a, b])
    assert column.believable == (Decimal(10), Decimal("100"))


def test_shared_columns_need_one_unit() -> None:
    with pytest.raises(StudyError) as problem:
        columns_of([Ask("a", settings={"column": "stem"}),
                    Ask("b", unit="cm", settings={"column": "stem"})])  # fmt: skip
    assert problem.value.code == "study.column_twice"


def test_unknown_reducer_and_settings() -> None:
    with pytest.raises(StudyError) as problem:
        reducer_of(Ask(reducer="magic"))
    assert problem.value.allowed == "value, mean, half_life, iv_point, iv_sweep"
    (fault,) = setting_problems(Ask(settings={"colour": "red"}))
    assert (fault.setting, fault.allowed) == ("colour", "column, step")
    (fault,) = setting_problems(Ask(settings={"step": -1.0}))
    assert fault.allowed == "a number above 0"
    with pytest.raises(StudyError) as problem:
        columns_of([Ask(settings={"step": "small"})])
    assert problem.value.code == "study.setting"
