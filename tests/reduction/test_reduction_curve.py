"""The single-diode curve against an outside solver, and what is read off it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from pvlib.pvsystem import i_from_v, singlediode  # type: ignore[import-untyped]  # it ships no types

from tests.sizes import examples
from trials.reduction.electrical.curve import HIGH, LOW, currents, moves, top

Floats = NDArray[np.float64]
UNIT = st.floats(0.0, 1.0)


def parameters(curve: Floats) -> tuple[float, float, float, float, float]:
    """Return light current, saturation current, both resistances and the width: pvlib's own."""
    i, v, r, g, w = curve
    series, conductance, width = r * v / i, g * i / v, w * v
    a = 1 + series * conductance
    back = (i * a - v * conductance) / (np.expm1(v / width) - np.expm1(i * series / width))
    light = i * a + back * np.expm1(i * series / width)
    return light, back, series, 1 / conductance, width


@pytest.mark.long
@settings(derandomize=True, max_examples=examples(80, 200), deadline=None)
@given(UNIT, UNIT, UNIT, UNIT, UNIT)
def test_the_curve_and_its_top_are_those_of_the_outside_solver(
    a: float, b: float, c: float, d: float, e: float
) -> None:
    """pvlib.pvsystem, method 'lambertw' (i_from_v) and singlediode: 1e-9 of the current."""
    curve = np.array([0.1 + 5 * a, 0.2 + 0.5 * b, 0.01 + 0.6 * c, 0.01 + 0.5 * d, 0.05 + 0.2 * e])
    light, back, series, shunt, width = parameters(curve)
    voltage = np.linspace(-0.1, 1.1, 25) * curve[1]
    outside = i_from_v(voltage, light, back, series, shunt, width, method="lambertw")
    mine = currents(curve[None], voltage)[0]
    np.testing.assert_allclose(mine, outside, rtol=0, atol=1e-9 * curve[0])
    found = singlediode(light, back, series, shunt, width)
    best = top(curve)
    assert best.power == pytest.approx(found["p_mp"], rel=1e-8)
    assert best.voltage == pytest.approx(found["v_mp"], rel=1e-6)
    assert best.current == pytest.approx(found["i_mp"], rel=1e-6)
    assert best.fill_factor == pytest.approx(found["p_mp"] / (curve[0] * curve[1]), rel=1e-8)
    assert curve[1] == pytest.approx(found["v_oc"], rel=1e-9)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(UNIT, UNIT, UNIT, UNIT, UNIT)
def test_a_curve_and_its_top_move_as_the_outside_solver_says(
    a: float, b: float, c: float, d: float, e: float
) -> None:
    """pvlib's currents and power at parameters a little up and down, divided by the step.

    Its place of the top is found to about 1e-8 only, so that is moved further.
    """
    curve = np.array([0.3 + 4 * a, 0.3 + 0.5 * b, 0.02 + 0.6 * c, 0.02 + 0.5 * d, 0.06 + 0.2 * e])
    voltage = np.linspace(-0.1, 1.05, 9) * curve[1]

    # all ends at once: the solver looks for the tops of many curves in the time of one
    steps, ways = np.array([1e-5, 1e-3]), np.array([1, -1])
    ends = np.transpose(
        [
            parameters(curve + way * step * move)
            for step in steps
            for move in np.eye(5)
            for way in ways
        ]
    )
    flows = i_from_v(voltage, *ends[:, :10, None], method="lambertw").reshape(5, 2, -1)
    flow = np.asarray(flows[:, 0] - flows[:, 1]) / (2 * steps[0])
    tops = {name: np.reshape(found, (2, 5, 2)) for name, found in singlediode(*ends).items()}
    near, further = (
        {name: (both[at, :, 0] - both[at, :, 1]) / (2 * steps[at]) for name, both in tops.items()}
        for at in range(2)
    )

    mine, best = moves(curve, voltage), top(curve)
    np.testing.assert_allclose(
        mine.current, currents(curve[None], voltage)[0], rtol=1e-12, atol=1e-12
    )
    for parameter in range(5):
        outside = flow[parameter]
        size = np.abs(outside).max()
        np.testing.assert_allclose(mine.moves[parameter], outside, rtol=0, atol=1e-5 * size)
        by_voltage, by_current, by_power, by_fill = best.moves[:, parameter]
        assert by_power == pytest.approx(near["p_mp"][parameter], rel=1e-5, abs=1e-6)
        assert by_voltage == pytest.approx(further["v_mp"][parameter], rel=2e-3, abs=1e-4)
        assert by_current == pytest.approx(further["i_mp"][parameter], rel=2e-3, abs=1e-4)
        product = curve[0] * curve[1]
        less = best.fill_factor / curve[parameter] if parameter < 2 else 0.0
        assert by_fill == pytest.approx(by_power / product - less, abs=1e-9)
    step = 1e-5
    up, down = (
        i_from_v(voltage + way, *parameters(curve), method="lambertw") for way in (step, -step)
    )
    slope = np.asarray(up - down) / (2 * step)
    np.testing.assert_allclose(mine.slope, slope, rtol=0, atol=1e-5 * np.abs(slope).max())


@pytest.mark.parametrize("corner", range(2**5))
def test_the_top_is_found_wherever_a_curve_may_lie(corner: int) -> None:
    """At every corner of the bounds: no voltage of a fine grid gives more power."""
    curve = np.array([(HIGH if corner >> k & 1 else LOW)[k] for k in range(5)])
    best = top(curve)
    grid = np.linspace(0.0, curve[1], 20_001)
    power = grid * currents(curve[None], grid)[0]
    assert best.power == pytest.approx(power.max(), rel=1e-6)
    assert best.power >= power.max() * (1 - 1e-12)
    assert np.isfinite(best.moves).all()


@pytest.mark.parametrize(
    ("isc", "ohm", "share"),
    [(1.0, 100.0, 0.94), (1.0, 10.0, 0.994), (5.0, 100.0, 0.61), (5.0, 10.0, 0.97)],
)
def test_what_the_ammeter_itself_takes(isc: float, ohm: float, share: float) -> None:
    """A cell of 0.4 V and fill factor 0.49 through the shunt of a 2 mA and of a 20 mA range.

    Shares by an own calculation made apart from this program. How that cell's losses are shared
    out is not told; here series 0.15, shunt 0.25, width 0.11 of Voc give the fill factor.
    """
    curve = np.array([[isc, 0.4, 0.15, 0.25, 0.11]])
    assert top(curve[0]).fill_factor == pytest.approx(0.49, abs=0.005)
    voltage = np.linspace(0.0, 0.4, 40_001)
    flow = currents(curve, voltage)[0]
    read = float(np.interp(0.0, voltage - ohm / 1000 * flow, flow))
    assert read / isc == pytest.approx(share, abs=0.01)
