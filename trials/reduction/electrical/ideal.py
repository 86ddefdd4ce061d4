"""The ideal diode: the highest fill factor that a junction can have."""

from __future__ import annotations

import math

BOLTZMANN = 1.380649e-23  # J/K, exact (SI since 2019)
CHARGE = 1.602176634e-19  # C, exact (SI since 2019)
ROOM = 298.15  # K: 25 °C, as in the standard test conditions
THERMAL_VOLTAGE = BOLTZMANN * ROOM / CHARGE  # V, about 25.7 mV


def fill_factor_ceiling(voc: float) -> float:
    """Return the fill factor of an ideal diode without resistance losses (quality factor 1).

    Largest v (e^V - e^v) / (V (e^V - 1)) over v, where V is the open-circuit voltage in thermal
    voltages at 25 °C. No real cell of one junction gets above it at that temperature.

    Parameters
    ----------
    voc : open-circuit voltage in V, above zero.

    Examples
    --------
    >>> round(fill_factor_ceiling(0.56), 3), round(fill_factor_ceiling(0.001), 2)
    (0.819, 0.25)
    """
    v_oc = voc / THERMAL_VOLTAGE
    # the best point solves v + ln(1 + v) = V; Newton from above, where the curve is concave
    v = v_oc
    for _ in range(60):
        step = (v + math.log1p(v) - v_oc) / (1 + 1 / (1 + v))
        v -= step
        if abs(step) <= 1e-14 * v_oc:
            break
    return v * math.expm1(v - v_oc) / (v_oc * math.expm1(-v_oc))
