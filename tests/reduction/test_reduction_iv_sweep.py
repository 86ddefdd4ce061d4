"""Whole curves as a response of a study: columns, settings, light, refusals."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
import pytest

from trials.reduction import REDUCERS, columns_of, setting_problems
from trials.reduction.electrical.curve import currents, top

SWEEP = REDUCERS["iv_sweep"]
CURVE = np.array([[1.2, 0.45, 0.2, 0.1, 0.12]])
VOLTAGES = (0.0, 0.08, 0.16, 0.22, 0.27, 0.31, 0.35, 0.39, 0.42, 0.45)
POWER = top(CURVE[0]).power
FILL = POWER / (0.45 * 1.2)


@dataclass(frozen=True)
class Ask:
    unit: str = "mW"
    settings: dict[str, float | str] = field(default_factory=dict)
    name: str = "power"
    label: str = ""
    reducer: str = "iv_sweep"
    low: float | None = None
    high: float | None = None


def readings(**more: str) -> list[dict[str, Decimal]]:
    flow = currents(CURVE, np.array(VOLTAGES))[0]
    beside = {name.replace("_", " "): Decimal(value) for name, value in more.items()}
    return [
        {"voltage": Decimal(str(v)), "current": Decimal(f"{i:.3f}"), **beside}
        for v, i in zip(VOLTAGES, flow, strict=True)
    ]


@pytest.mark.parametrize(
    ("quantity", "unit", "value"),
    [
        ("voc", "mV", 450.0),
        ("isc", "mA", 1.2),
        ("power", "mW", POWER),
        ("fill_factor", "1", FILL),
    ],
)
def test_each_quantity_of_the_curve(quantity: str, unit: str, value: float) -> None:
    """Truth from the curve itself, which is checked elsewhere against an outside solver."""
    found = SWEEP.reduce(Ask(unit, {"quantity": quantity}), readings())
    assert found.value == pytest.approx(value, rel=0.01)
    assert found.uncertainty is not None
    assert 0 < found.uncertainty < 0.02 * value
    assert found.used == len(VOLTAGES)


def test_light_is_corrected_point_by_point_and_area_is_divided_by() -> None:
    plain = SWEEP.reduce(Ask(), readings()).value
    assert plain is not None
    settings: dict[str, float | str] = {
        "quantity": "power_per_area", "area_cm2": "measured", "reference_light": 1000.0,
    }  # fmt: skip
    asked = Ask("mW/cm^2", settings)
    assert [c.name for c in columns_of([asked])] == ["voltage", "current", "active area", "light"]
    found = SWEEP.reduce(asked, readings(active_area="4", light="900")).value
    assert found == pytest.approx(plain / 0.9 / 4, rel=0.01)


def test_efficiency_needs_light_and_area() -> None:
    asked = Ask("%", {"quantity": "efficiency", "area_cm2": 4.0})
    plain = SWEEP.reduce(Ask(), readings()).value
    assert plain is not None
    found = SWEEP.reduce(asked, readings(light="800"))
    assert found.value == pytest.approx(100 * plain / (80 * 4), rel=1e-6)
    assert SWEEP.reduce(asked, readings()).value is None


def test_loads_in_place_of_the_current() -> None:
    asked = Ask("mW", {"current_from": "load resistance"})
    assert [c.header for c in columns_of([asked])] == ["voltage (V)", "load resistance (ohm)"]
    points = [
        {"voltage": r["voltage"], "load resistance": 1000 * r["voltage"] / r["current"]}
        for r in readings()[1:-1]
    ]
    plain = SWEEP.reduce(Ask(), readings()).value
    assert SWEEP.reduce(asked, points).value == pytest.approx(plain, rel=0.01)


@pytest.mark.parametrize(
    ("unit", "settings", "setting"),
    [
        ("mW", {"area": 4.0}, "area"),
        ("mW/cm^2", {"quantity": "power_per_area"}, "area_cm2"),
        ("%", {"quantity": "efficiency", "area_cm2": 4.0, "light_unit": "lx"}, "light_unit"),
        ("V", {"quantity": "power"}, "quantity"),
        ("mW", {"quantity": "power_at_most"}, "quantity"),
    ],
)
def test_settings_that_cannot_be_meant(
    unit: str, settings: dict[str, float | str], setting: str
) -> None:
    assert [problem.setting for problem in setting_problems(Ask(unit, settings))] == [setting]


def test_few_points_give_no_value_and_say_why() -> None:
    found = SWEEP.reduce(Ask(), readings()[:3])
    assert found.value is None
    assert "Too few points for a curve" in found.notes[0]


def test_columns_in_the_wrong_place_are_asked_about() -> None:
    """A current that rises with the voltage comes from no source of electricity."""
    turned = [{**r, "current": Decimal("1.3") - r["current"]} for r in readings()]
    (flag,) = SWEEP.check(Ask(), turned)
    assert (flag.code, flag.column) == ("rising", "current")
    assert SWEEP.check(Ask(), readings()) == ()


def test_efficiency_follows_light_that_falls_during_the_sweep() -> None:
    """The same cell in light from 900 to 700 W/m² has the efficiency it has in steady light."""
    asked = Ask("%", {"quantity": "efficiency", "area_cm2": 4.0})
    steady = SWEEP.reduce(asked, readings(light="800")).value
    lights = np.linspace(900, 700, len(VOLTAGES))
    falling = [
        {**r, "current": r["current"] * Decimal(str(g / 800)), "light": Decimal(str(g))}
        for r, g in zip(readings(), lights, strict=True)
    ]
    assert SWEEP.reduce(asked, falling).value == pytest.approx(steady, rel=1e-3)


def test_incomplete_points_are_left_out_and_counted() -> None:
    found = SWEEP.reduce(Ask(), [*readings(), {"voltage": Decimal("0.2")}])
    assert found.used == len(VOLTAGES)
    assert "1 of 11 points are incomplete" in found.notes
