"""Light: corrections after IEC 60891, lux, and what a lamp forbids.

Worked numbers are by hand from the formulas as remembered; the standard itself was not at hand.
"""

from __future__ import annotations

from math import log, sqrt

import numpy as np
import pytest

from trials.reduction.electrical.curve import currents
from trials.reduction.electrical.light import light_of, procedure_1, procedure_2


def test_procedure_1_by_hand() -> None:
    """Isc 1.0 mA, 800 to 1000 W/m², Rs 40 ohm: I2 = 0.7 + 0.25 mA, V2 = 0.30 V - 40 ohm 0.25 mA."""
    v, i = procedure_1(np.array([0.30]), np.array([0.70]), 1000 / 800, 1.0, 40.0)
    assert (v[0], i[0]) == (pytest.approx(0.30 - 0.010), pytest.approx(0.95))


def test_procedure_2_by_hand() -> None:
    """Voc a = 0.050 V: I2 = 0.7 x 1.25 mA, V2 = 0.30 V + 0.050 V ln 1.25 - 40 ohm 0.175 mA."""
    v, i = procedure_2(np.array([0.30]), np.array([0.70]), 1000 / 800, 0.050, 40.0)
    assert i[0] == pytest.approx(0.875)
    assert v[0] == pytest.approx(0.30 + 0.050 * log(1.25) - 0.007)


def test_a_real_curve_in_other_light_is_met() -> None:
    """Single-diode curve with its light current changed by 1.2: procedure 2 meets it within 1 %.

    A shunt costs the procedure some accuracy, as is known of it; here it takes 5 %.
    """
    width, series = 0.05, 60.0
    dim = np.array([[1.0, 0.45, series / 1000 / 0.45, 0.05, width / 0.45]])
    voltage = np.linspace(0.0, 0.6, 601)
    v, i = procedure_2(voltage, currents(dim, voltage)[0], 1.2, width, series)
    power = float((v * i).max())
    bright_voc = 0.45 + width * log(1.2)
    bright = np.array([[1.2, bright_voc, series / 1000 * 1.2 / bright_voc,
                        0.05 / 0.45 * bright_voc / 1.2, width / bright_voc]])  # fmt: skip
    true = float((voltage * currents(bright, voltage)[0]).max())
    assert power == pytest.approx(true, rel=0.01)


def test_ten_percent_of_light_moves_the_voltage_by_a_few_millivolts() -> None:
    """n k T / q ln 1.1: 2 to 5 mV for n from 1 to 2 (own calculation)."""
    for n in (1.0, 2.0):
        v, _ = procedure_2(np.zeros(1), np.zeros(1), 1.1, n * 0.0257, 0.0)
        assert 0.002 < v[0] < 0.0055


def test_lux_are_daylight_with_a_band() -> None:
    """1 sun outdoors was measured as 122 klx, global daylight reviewed as about 105 lm/W."""
    light = light_of(122_000, "lux meter")
    assert light.relative == pytest.approx(0.175 / sqrt(3))
    assert light.irradiance * (1 - 0.175) < 1000 < light.irradiance * (1 + 0.175)
    assert light.is_told
    assert not light_of(122_000, "lux meter", lamp=True).is_told
    assert light_of(850, "pyranometer", lamp=True).is_told


def test_light_far_from_the_reference() -> None:
    assert light_of(790, "pyranometer").is_far
    assert not light_of(810, "pyranometer").is_far
