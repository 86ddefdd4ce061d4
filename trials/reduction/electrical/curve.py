"""The current-voltage curve of a small cell: the single-diode equation, solved exactly.

A light current in parallel with a diode and a shunt resistance, all behind a series resistance:

    I = I_L - I_0 (exp((V + I R_s) / w) - 1) - (V + I R_s) / R_sh

Solved for I with Wright's omega function, W(e^z), which no size of z overflows (R. M. Corless and
D. J. Jeffrey, 2002, "The Wright omega function"; the solution by Lambert's W: A. Jain and
A. Kapoor, 2004, Sol. Energy Mater. Sol. Cells 81, 269-277; both from memory).

The curve is written by what can be read off it, short-circuit current and open-circuit voltage, in
place of I_L and I_0, and in units in which both are about 1. All arrays may hold many curves.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Columns of the parameters of curves, shape (m, 5), and between what they may lie.
ISC, VOC, SERIES, SHUNT, WIDTH = range(5)
LOW: Floats = np.array([0.2, 0.3, 1e-4, 0.0, 0.03])
HIGH: Floats = np.array([5.0, 3.0, 0.95, 0.95, 0.6])

_GRID: Floats = np.linspace(0.0, 1.0, 17)
_TINY = float(np.finfo(np.float64).tiny)
_ZOOMS = 4  # each narrows the place of the top eightfold


def currents(curves: Floats, voltage: Floats) -> Floats:
    """Return the current at each voltage.

    Parameters
    ----------
    curves : shape (m, 5): short-circuit current i and open-circuit voltage v in any units; series
        resistance times i / v; shunt conductance times v / i; the diode's width w over v.
    voltage : shape (n,) for all curves or (m, n), in the unit of v.

    Returns
    -------
    Shape (m, n), in the unit of i.

    Examples
    --------
    >>> one = np.array([[1.0, 0.5, 0.1, 0.05, 0.1]])
    >>> (currents(one, np.array([0.0, 0.5])).round(12) + 0.0).tolist()  # no -0.0
    [[1.0, 0.0]]
    """
    i, v, r, g, w = curves.T[:, :, None]
    x = voltage / v
    inner = 1 + r * g
    # at x = 1 no current flows, at x = 0 it is 1: these give the diode's and the light's current
    diode = np.log(np.maximum(inner - g, 1e-12)) - 1 / w - np.log(-np.expm1((r - 1) / w))
    back = np.exp(diode)
    light = inner + back * np.expm1(r / w)
    z = np.log(r / (w * inner)) + diode + (r * (light + back) + x) / (w * inner)
    flow = (light + back - x * g) / inner - w / r * _omega(z)
    return np.asarray(i * flow, dtype=np.float64)


def top(curves: Floats) -> tuple[Floats, Floats]:
    """Return voltage and power at the point of most power, each of shape (m,)."""
    v = curves[:, VOC, None]
    low, high = np.zeros_like(v), v
    rows = np.arange(len(curves))
    for _ in range(_ZOOMS):
        at = low + (high - low) * _GRID
        power = at * currents(curves, at)
        k = np.minimum(np.maximum(power.argmax(axis=1), 1), len(_GRID) - 2)
        step = (high - low) / (len(_GRID) - 1)
        middle = at[rows, k][:, None]
        low, high = middle - step, middle + step
    before, best, after = (power[rows, k + shift] for shift in (-1, 0, 1))
    bend = np.minimum(before - 2 * best + after, -_TINY)
    aside = 0.5 * (before - after) / bend
    return middle[:, 0] + aside * step[:, 0], best - 0.25 * (before - after) * aside


def _omega(z: Floats) -> Floats:
    from scipy.special import wrightomega

    return np.asarray(wrightomega(z), dtype=np.float64)
