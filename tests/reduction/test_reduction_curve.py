"""The single-diode curve against an outside solver, and what is read off it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from pvlib.pvsystem import i_from_v, singlediode  # type: ignore[import-untyped]  # it ships no types

from trials.reduction.electrical.curve import currents, top

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


@settings(derandomize=True, max_examples=200, deadline=None)
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
    best, power = top(curve[None])
    assert power[0] == pytest.approx(found["p_mp"], rel=1e-8)
    assert best[0] == pytest.approx(found["v_mp"], rel=1e-3)
    assert curve[1] == pytest.approx(found["v_oc"], rel=1e-9)


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
    assert top(curve)[1][0] / (0.4 * isc) == pytest.approx(0.49, abs=0.005)
    voltage = np.linspace(0.0, 0.4, 40_001)
    flow = currents(curve, voltage)[0]
    read = float(np.interp(0.0, voltage - ohm / 1000 * flow, flow))
    assert read / isc == pytest.approx(share, abs=0.01)
