"""The points of a sweep: signs, order, ends, ways, and what can't be told."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.reduction.electrical.curve import currents
from trials.reduction.electrical.light import light_of
from trials.reduction.electrical.parameters import Area, Parameters, parameters
from trials.reduction.electrical.sweep import Meters, Raw, sweep_of

EXACT = Meters(voltage_step=1e-6, current_step=1e-6, flicker=0.05)
CURVE = np.array([[1.2, 0.45, 0.2, 0.1, 0.12]])
VOLTAGES = (0.0, 0.08, 0.16, 0.22, 0.27, 0.31, 0.35, 0.39, 0.42, 0.45)


def raw(voltages: tuple[float, ...] = VOLTAGES) -> Raw:
    flow = currents(CURVE, np.array(voltages))[0]
    return Raw(voltages, current=tuple(flow.tolist()))


def told(points: Raw, meters: Meters = EXACT) -> Parameters:
    return parameters(sweep_of(points, meters), meters)


def codes(found: Parameters) -> set[str]:
    return {one.code for one in found.warnings} - {
        "no_area",
        "no_light",
        "no_meter_error",
        "ammeter_unknown",
    }


def values(found: Parameters) -> dict[str, float]:
    return {name: one.value for name, one in found.quantities.items() if one is not None}


def test_a_smooth_curve_is_found_again() -> None:
    found = told(raw())
    assert found.bracketed
    assert codes(found) == set()
    told_values = values(found)
    assert told_values["voc"] == pytest.approx(0.45, rel=1e-3)
    assert told_values["isc"] == pytest.approx(1.2, rel=1e-3)
    assert told_values["r_series"] == pytest.approx(1000 * 0.2 * 0.45 / 1.2, rel=0.05)


@settings(derandomize=True, max_examples=30, deadline=None)
@given(st.permutations(range(len(VOLTAGES))), st.sampled_from([1, -1]), st.sampled_from([1, -1]))
def test_any_order_and_any_signs_give_the_same(order: list[int], v: int, i: int) -> None:
    straight = raw()
    assert straight.current is not None
    turned = Raw(
        tuple(v * straight.voltage[k] for k in order),
        current=tuple(i * straight.current[k] for k in order),
    )
    found = told(turned)
    assert values(found) == pytest.approx(values(told(straight)), rel=1e-6)
    expected = {
        (1, 1): set(),
        (-1, -1): {"leads_swapped"},
        (-1, 1): {"voltage_turned"},
        (1, -1): {"current_turned"},
    }
    assert codes(found) - {"hysteresis"} == expected[v, i]


def test_load_resistances_give_the_current_and_open_is_no_current() -> None:
    straight = raw(VOLTAGES[1:])
    assert straight.current is not None
    loads = tuple(
        inf if flow < 1e-9 else 1000 * v / flow
        for v, flow in zip(straight.voltage, straight.current, strict=True)
    )
    by_load = told(Raw(straight.voltage, load=loads))
    for name in ("voc", "pmax", "vmp"):
        assert values(by_load)[name] == pytest.approx(values(told(straight))[name], rel=5e-3)
    short = told(Raw((0.0, *straight.voltage), load=(0.0, *loads)))
    assert "load_of_zero" in codes(short)
    assert values(short) == pytest.approx(values(by_load))


def test_ends_that_were_not_measured_are_told() -> None:
    assert "isc_extrapolated" in codes(told(raw(VOLTAGES[2:])))
    assert "voc_extrapolated" in codes(told(raw(VOLTAGES[:-2])))


def test_the_top_is_bracketed_or_not() -> None:
    top = [k for k in range(len(VOLTAGES)) if VOLTAGES[k] <= 0.27]
    found = told(raw(tuple(VOLTAGES[k] for k in top)))
    assert not found.bracketed
    assert "not_bracketed" in codes(found)


@pytest.mark.parametrize(
    ("points", "code"),
    [
        (raw(VOLTAGES[:4]), "few_points"),
        (Raw((0.2,) * 8, current=(1.0,) * 8), "few_points"),
        (raw((0.30, 0.305, 0.31, 0.315, 0.32)), "narrow"),
        (Raw((0.1, 0.2, 0.3, 0.4, 0.5), current=(0.2, 0.5, 0.8, 1.0, 1.2)), "rising"),
        (Raw((0.1, 0.2, 0.3, 0.4, 0.45), current=(1.0,) * 5), "narrow"),
        (Raw((0.0, 0.0, 0.0, 0.0, 0.0, 0.0), current=(1.0, 1.1, 1.2, 1.3, 1.4, 1.5)), "no_power"),
    ],
)
def test_what_can_carry_no_curve_is_refused_with_the_reason(points: Raw, code: str) -> None:
    found = told(points)
    assert code in codes(found)
    assert all(one is None for one in found.quantities.values())
    assert found.fit is None


def test_a_way_up_that_differs_is_told_with_its_size() -> None:
    """Up and down over the same voltages; the way up gives 4 % of the largest current more."""
    up = raw()
    assert up.current is not None
    both = Raw(
        (*up.voltage, *reversed(up.voltage)),
        current=(*(i + 0.024 for i in up.current), *(i - 0.024 for i in reversed(up.current))),
    )
    found = told(both, replace(EXACT, flicker=1.0))
    assert found.hysteresis is not None
    assert found.hysteresis.value == pytest.approx(100 * 0.048 / 1.224, rel=0.1)
    assert "hysteresis" in codes(found)
    same = Raw((*up.voltage, *reversed(up.voltage)), current=(*up.current, *reversed(up.current)))
    assert "hysteresis" not in codes(told(same))


def test_points_off_any_curve_are_told() -> None:
    wild = raw()
    assert wild.current is not None
    slipped = tuple(i * (1.3 if k == 4 else 1.0) for k, i in enumerate(wild.current))
    found = told(Raw(wild.voltage, current=slipped))
    (noisy,) = (one for one in found.warnings if one.code == "noisy")
    assert "the one at 0.27 V" in noisy.text


def test_an_ammeter_between_cell_and_voltmeter_is_added_back() -> None:
    """The voltage across the cell is that across the load plus current times the shunt."""
    straight = raw()
    assert straight.current is not None
    behind = tuple(v - 0.05 * i for v, i in zip(straight.voltage, straight.current, strict=True))
    meters = replace(EXACT, ammeter_ohm=50.0)
    found = told(Raw(behind, current=straight.current), meters)
    assert values(found) == pytest.approx(values(told(straight)), rel=1e-3)


def test_efficiency_and_density_follow_their_definitions() -> None:
    """IEC 60904-1: efficiency = Pmax / (G A); mW over cm² is 10 W/m²."""
    sweep = sweep_of(raw(), EXACT)
    found = parameters(sweep, EXACT, Area(4.0, 0.02), light_of(800, "pyranometer"))
    got = values(found)
    assert got["efficiency"] == pytest.approx(100 * got["pmax"] / (80 * 4.0))
    assert got["jsc"] == pytest.approx(got["isc"] / 4.0)
    assert got["ff"] == pytest.approx(got["pmax"] / (got["voc"] * got["isc"]), rel=1e-3)
    assert found.corrected is not None
    assert found.corrected.procedure_2.isc == pytest.approx(got["isc"] / 0.8, rel=0.01)
    assert found.corrected.procedure_2.voc > got["voc"]
    one, two = found.corrected.procedure_1, found.corrected.procedure_2
    assert one.isc == pytest.approx(two.isc, rel=0.01)
    assert one.pmax == pytest.approx(two.pmax, rel=0.1)


def test_lux_under_a_lamp_give_no_efficiency_and_say_why() -> None:
    sweep = sweep_of(raw(), EXACT)
    found = parameters(sweep, EXACT, Area(4.0, 0.02), light_of(9000, "lux meter", lamp=True))
    assert found.quantities["efficiency"] is None
    assert found.corrected is None
    assert "lamp_without_meter" in codes(found)
    daylight = parameters(sweep, EXACT, Area(4.0, 0.02), light_of(99_000, "lux meter"))
    one = daylight.quantities["efficiency"]
    assert one is not None
    assert one.budget.relative > 0.1  # the factor for daylight alone is known to 17.5 %, flat


def test_columns_in_each_others_place_are_asked_about() -> None:
    """Current under voltage gives a curve of the right shape, but a cell of 1.2 V."""
    right = raw()
    assert right.current is not None
    turned = told(Raw(right.current, current=right.voltage))
    assert {"unlikely_voltage", "exchanged"} <= codes(turned)
    assert "exchanged" not in codes(told(right))


def test_slips_of_a_thousand_are_asked_about() -> None:
    right = raw()
    assert right.current is not None
    area = Area(4.0, 0.02)
    micro = sweep_of(Raw(right.voltage, current=tuple(1000 * i for i in right.current)), EXACT)
    assert "unlikely_current" in codes(parameters(micro, EXACT, area))
    tiny = Meters(voltage_step=1e-9, current_step=1e-6, flicker=0.05)
    milli = Raw(tuple(v / 1000 for v in right.voltage), current=right.current)
    assert "unlikely_voltage" in codes(told(milli, tiny))


def test_digits_count_at_the_point_that_is_read_off() -> None:
    """As in '1 % + 2 digits': 2 digits of 0.01 mA on 1.2 mA are 1.7 %."""
    meters = replace(EXACT, current_step=0.01, current_error=1.0, current_digits=2)
    one = told(raw(), meters).quantities["isc"]
    assert one is not None
    (ammeter,) = (line for line in one.budget.lines if line.source.name == "ammeter")
    assert ammeter.part == pytest.approx((0.01 + 2 * 0.01 / 1.2) / 3**0.5, rel=0.01)
