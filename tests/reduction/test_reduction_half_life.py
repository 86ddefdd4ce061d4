"""How long a quantity lasts: worked numbers, what is not reached, settings, refusals."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from trials.reduction import REDUCERS, columns_of, setting_problems
from trials.reduction.falling import Falling, joined

HALF = REDUCERS["half_life"]
BASE: dict[str, float | str] = {"column": "power", "column_unit": "mW"}


@dataclass(frozen=True)
class Ask:
    settings: dict[str, float | str] = field(default_factory=lambda: dict(BASE))
    unit: str = "min"
    name: str = "lasted"
    label: str = ""
    reducer: str = "half_life"
    low: float | None = None
    high: float | None = None


def asks(unit: str = "min", **more: float | str) -> Ask:
    return Ask({**BASE, **more}, unit)


def readings(*pairs: tuple[str | float, str | float]) -> list[dict[str, Decimal]]:
    return [{"age": Decimal(str(age)), "power": Decimal(str(power))} for age, power in pairs]


HALVING = readings((0, 8), (10, 4), (20, 2), (30, 1))
BENT = readings((0, 1), (1, float(np.exp(-0.4))), (2, float(np.exp(-1.0))))


def test_a_decay_that_halves_every_ten_minutes() -> None:
    found = HALF.reduce(Ask(), HALVING)
    assert found.value == pytest.approx(10.0, rel=1e-12)
    assert found.uncertainty == pytest.approx(0.0, abs=1e-9)
    assert found.used == 4
    assert HALF.check(Ask(), HALVING) == ()


def test_three_readings_by_hand() -> None:
    """Logarithms 0, -0.4, -1.0 at 0, 1, 2 h. Half is -0.6931, between the last two.

    Time 1 + 0.2931/0.6 = 1.4886 h. A straight line through all three falls by 0.5 an hour from
    0.0333 and leaves -0.0333, 0.0667, -0.0333: scatter sqrt(0.006667/1) = 0.08165. The slope at the
    half: 1/0.6 and 1/0.5 h, mean 1.8333 h. The first reading moves the time by -1.8333, the others
    by 1.8333 * 0.5114 and 1.8333 * 0.4886: together 2.2455 h, times 0.08165 = 0.1834 h.
    """
    found = HALF.reduce(asks("h"), BENT)
    assert found.value == pytest.approx(1.4886, abs=5e-5)
    assert found.uncertainty == pytest.approx(0.1834, abs=1e-4)
    assert "only roughly known" in found.notes[0]


def test_the_fitted_start_by_hand() -> None:
    """The line starts at 0.0333, so half is at -0.6598: 1 + 0.2598/0.6 = 1.4330 h.

    The readings move the start by 5/6, 1/3, -1/6, and so the time by -1.5278, 1.0395 - 0.6111,
    0.7938 + 0.3056: together 1.9304 h, times 0.08165 = 0.1576 h.
    """
    found = HALF.reduce(asks("h", first_value="fitted"), BENT)
    assert found.value == pytest.approx(1.4330, abs=5e-5)
    assert found.uncertainty == pytest.approx(0.1576, abs=1e-4)


def test_time_counts_from_the_first_reading_in_any_order() -> None:
    late = readings((35, 1), (5, 8), (25, 2), (15, 4))
    assert HALF.reduce(Ask(), late).value == pytest.approx(10.0, rel=1e-9)


@pytest.mark.parametrize(
    ("share", "minutes", "words"), [(0.5, 30, "half"), (0.2, 40, "0.2 of its first value")]
)
def test_what_is_not_reached_has_no_value(share: float, minutes: int, words: str) -> None:
    held = readings(*((age, 10 - age / 10) for age in range(0, minutes + 1, 10)))
    found = HALF.reduce(asks(share=share), held)
    assert (found.value, found.uncertainty, found.used) == (None, None, len(held))
    assert found.at_least == minutes
    assert HALF.reduce(asks("h", age_unit="min", share=share), held).at_least == minutes / 60
    assert found.notes == (f"still above {words} after {minutes} min",)


def test_another_share_and_a_coarser_display() -> None:
    assert HALF.reduce(asks(share=0.25), HALVING).value == pytest.approx(20.0, rel=1e-9)
    # the display alone: 0.5 mW / sqrt(12) of 8 mW and of 4 mW, at 10 / ln 2 min a logarithm
    found = HALF.reduce(asks(step=0.5), HALVING).uncertainty
    part = 0.5 / np.sqrt(12) * 10 / np.log(2)
    assert found == pytest.approx(part * np.hypot(1 / 8, 1 / 4), rel=1e-6)


def test_units_and_names_of_the_columns() -> None:
    (age, power) = columns_of([Ask()])
    assert (age.header, power.header) == ("age (min)", "power (mW)")
    assert age.possible == power.possible == (Decimal(0), None)
    named = asks("h", age_column="time in light", age_unit="min", column="height", column_unit="mm")
    assert [c.header for c in columns_of([named])] == ["time in light (min)", "height (mm)"]
    rows = [{"time in light": r["age"], "height": r["power"]} for r in HALVING]
    assert HALF.reduce(named, rows).value == pytest.approx(1 / 6, rel=1e-9)


def test_rising_again_is_pooled_and_repeats_are_averaged() -> None:
    """1.0, then 0.6 and 0.7 pool to their middle at 15 min; two readings at 30 min are one."""
    z = np.log([1.0, 0.6, 0.7, 0.3, 0.4])
    values = readings((0, 1.0), (10, 0.6), (20, 0.7), (30, 0.3), (30, 0.4))
    middle, end = z[1:3].mean(), z[3:].mean()
    by_hand = 15 + 15 * (middle - np.log(0.5)) / (middle - end)
    assert HALF.reduce(Ask(), values).value == pytest.approx(by_hand, rel=1e-9)


@settings(derandomize=True, max_examples=100)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(-40, 40)), min_size=2, max_size=20))
def test_pools_are_those_of_an_outside_program(pairs: list[tuple[int, int]]) -> None:
    """scipy.optimize.isotonic_regression, falling, of the means at each age by their numbers."""
    pairs.sort()
    time, log = np.array(pairs, dtype=np.float64).T
    ages, many = np.unique(time, return_counts=True)
    means = np.array([log[time == age].mean() for age in ages])
    outside = isotonic_regression(means, weights=many, increasing=False).x
    mine, _, levels = joined(Falling(time, log))
    each = np.repeat(levels, [pool.stop - pool.start for pool in mine])
    assert each == pytest.approx(np.repeat(outside, many), abs=1e-9)


@settings(derandomize=True, max_examples=50)
@given(st.lists(st.integers(40, 99), min_size=4, max_size=9), st.integers(1, 50))
def test_the_size_of_the_quantity_does_not_matter(numbers: list[int], times: int) -> None:
    plain = HALF.reduce(Ask(), readings(*enumerate([100, *numbers, 30])))
    more = HALF.reduce(Ask(), readings(*enumerate(times * n for n in [100, *numbers, 30])))
    assert plain.value == pytest.approx(more.value, rel=1e-6)
    assert plain.uncertainty == pytest.approx(more.uncertainty, rel=1e-6)


@pytest.mark.parametrize(
    ("values", "note", "at_least"),
    [
        (readings((0, 8), (10, 4)), "too few different ages (2): at least 3, better 8", None),
        (readings((0, 8), (0, 7), (10, 4)), "too few different ages (2): at least 3, better 8",
         None),
        (readings((0, 1), (1, 2), (2, 3)), "the values do not fall with time", 2.0),
        (readings((0, 5), (1, 5), (2, 5)), "the values do not fall with time", 2.0),
        ([{"power": Decimal(3)}] * 4, "4 of 4 readings lack: age; too few different ages (0): "
         "at least 3, better 8", None),
        (readings((0, 8), (1, 7), (2, 0), (3, 0)), "too few different ages with anything "
         "left (2): at least 3, better 8", None),
        (readings((0, 8), (10, 7), (20, 6), (30, 0)), "still above half after 20 min, and nothing "
         "left after 30 min: read more often in between", None),
        (readings((0, 8), (10, 6), (20, 3.5), (30, 5)), "about half after 30 min: the last "
         "readings lie on both sides", 30.0),
    ],
)  # fmt: skip
def test_no_value_and_why(
    values: list[dict[str, Decimal]], note: str, at_least: float | None
) -> None:
    """Where something is still left, and more than half of it, how long it lasted at least."""
    found = HALF.reduce(Ask(), values)
    assert (found.value, found.notes, found.at_least) == (None, (note,), at_least)


def test_a_first_reading_far_below_the_fitted_start() -> None:
    values = readings((0, 9), (1, 9), (2, 8.1), (3, 7.3), (4, 6.5), (5, 5.9))
    found = HALF.reduce(asks(first_value="fitted", share=0.99), values)
    assert (found.value, found.at_least) == (None, None)
    assert found.notes == ("the first reading is already below 0.99 of its first value",)


def test_a_reading_without_an_age_is_left_out_and_a_zero_after_the_half_does_no_harm() -> None:
    values = [*HALVING, {"power": Decimal(3)}, *readings((40, 0))]
    found = HALF.reduce(Ask(), values)
    assert found.value == pytest.approx(10.0)
    assert found.notes[0] == "1 of 6 readings lack: age"


def test_a_rise_at_first_is_no_harm() -> None:
    """4 rises to 8 and halves every 10 min after that: 2 is reached after 30 min."""
    values = readings((0, 4), (10, 8), (20, 4), (30, 2), (40, 1), (50, 0.5), (60, 0.25))
    assert HALF.reduce(Ask(), values).value == pytest.approx(30.0)


def test_values_that_rise_are_asked_about() -> None:
    (flag,) = HALF.check(Ask(), readings((30, 8), (20, 4), (10, 2), (0, 1)))
    assert (flag.code, flag.column) == ("rising", "power")
    assert HALF.check(Ask(), HALVING[:2]) == ()


@pytest.mark.parametrize(
    ("asked", "setting"),
    [
        (Ask({}), "column"),
        (asks(share=1.0), "share"),
        (asks("mW"), "age_unit"),
        (asks(age_unit="mA"), "age_unit"),
        (asks(first_value="largest"), "first_value"),
        (asks(half=0.5), "half"),
    ],
)
def test_settings_that_cannot_be_meant(asked: Ask, setting: str) -> None:
    assert setting in [fault.setting for fault in setting_problems(asked)]


def test_a_reading_of_nothing_before_others_of_something_is_left_out_and_told() -> None:
    clean = readings((0, 10), (1, 9), (2, 8), (3, 7), (5, 5.5), (6, 4.5), (7, 4))
    found = HALF.reduce(Ask(), [*clean, *readings((4, 0))])
    assert found.value == HALF.reduce(Ask(), clean).value
    assert found.notes[0] == "readings of nothing before others of something were left out: 1"
