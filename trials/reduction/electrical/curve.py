"""The current-voltage curve of a small cell: the single-diode equation, solved exactly.

A light current in parallel with a diode and a shunt resistance, all behind a series resistance:

    I = I_L - I_0 (exp((V + I R_s) / w) - 1) - (V + I R_s) / R_sh

Solved for I with Wright's omega function, W(e^z), which no size of z overflows (R. M. Corless and
D. J. Jeffrey, 2002, "The Wright omega function"; the solution by Lambert's W: A. Jain and
A. Kapoor, 2004, Sol. Energy Mater. Sol. Cells 81, 269-277; both from memory).

The curve is written by what can be read off it, short-circuit current and open-circuit voltage, in
place of I_L and I_0, and in units in which both are about 1. How it moves with its parameters
follows by differentiating the equation as it stands, so no step has to be chosen.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_Number = Floats | float  # of one curve, or an array for many

# Columns of the parameters of curves, shape (m, 5), and between what they may lie.
ISC, VOC, SERIES, SHUNT, WIDTH = range(5)
LOW: Floats = np.array([0.2, 0.3, 1e-4, 0.0, 0.03])
HIGH: Floats = np.array([5.0, 3.0, 0.95, 0.95, 0.6])

_START = 0.7  # of the open-circuit voltage: the top is near there
_MOST_STEPS = 60  # to the top; halving alone comes to the last digit in fewer
_NEAR = 1e-13  # a step that small is none


class Moves(NamedTuple):
    """A curve at n voltages and how it moves.

    ``current`` is of shape (n,), so is ``slope``, its derivative by the voltage; ``moves`` (5, n)
    are those by the parameters.
    """

    current: Floats
    slope: Floats
    moves: Floats


class Top(NamedTuple):
    """The point of most power of a curve and how it moves.

    ``moves`` (4, 5) are the derivatives of the other four, in their order, by the parameters.
    """

    voltage: float
    current: float
    power: float
    fill_factor: float
    moves: Floats


class _Losses(NamedTuple):
    """The losses of curves of 1 V and 1 mA, and what follows from them."""

    r: _Number
    g: _Number
    w: _Number
    inner: _Number  # 1 + r g
    spare: _Number  # I_L less what goes through the shunt, where no current flows
    knee: _Number  # 1 / (exp((1 - r) / w) - 1)
    dark: _Number  # logarithm of I_0


class _Flow(NamedTuple):
    """At voltages: the current, that through the diode (with I_0), and their slopes."""

    x: _Number
    y: _Number
    diode: _Number
    inside: _Number  # conductance of diode and shunt together
    loss: _Number  # 1 + r times that


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
    return np.asarray(i * _flow(_losses(r, g, w), voltage / v).y, dtype=np.float64)


def moves(curve: Floats, voltage: Floats) -> Moves:
    """Return the current of one curve at each voltage with its derivatives.

    Parameters
    ----------
    curve : shape (5,), as in ``currents``.
    voltage : shape (n,), in the unit of v.

    Examples
    --------
    The short-circuit current moves what flows there, and the open-circuit voltage doesn't.

    >>> moves(np.array([2.0, 0.5, 0.1, 0.05, 0.1]), np.array([0.0])).moves[:2, 0].round(12).tolist()
    [1.0, 0.0]
    """
    i, v, r, g, w = curve.tolist()
    of = _losses(r, g, w)
    at = _flow(of, voltage / v)
    slope = -i / v * at.inside / at.loss
    found = np.empty((5, len(voltage)))
    found[ISC], found[VOC] = at.y, -at.x * slope
    found[SERIES], found[SHUNT], found[WIDTH] = _by_losses(of, at)
    found[SERIES:] *= i
    return Moves(i * at.y, slope, found)


def top(curve: Floats) -> Top:
    """Return the point of most power of one curve.

    Between the ends power bends down everywhere, so Newton's method, kept between a voltage at
    which it rises and one at which it falls, finds where it does neither.

    Parameters
    ----------
    curve : shape (5,), as in ``currents``.
    """
    i, v, r, g, w = curve.tolist()
    of = _losses(r, g, w)
    low, high, x = 0.0, 1.0, _START
    for _ in range(_MOST_STEPS):
        at = _flow(of, x)
        slope = -at.inside / at.loss
        rise, bend = at.y + x * slope, 2 * slope - x * at.diode / (w**2 * at.loss**3)
        low, high = (x, high) if rise > 0 else (low, x)
        new = float(x - rise / bend)
        if abs(new - x) <= _NEAR:
            break
        x = new if low < new < high else (low + high) / 2
    y, by_losses = float(at.y), np.array(_by_losses(of, at))
    # the slope at this voltage moves too, and so the place where power neither rises nor falls
    straight = np.array([y / w, 0.0, -(x + r * y) / w**2])
    diode = at.diode * (np.array(_dark_by_losses(of)) + r / w * by_losses + straight)
    inside = diode / w + np.array([0.0, 1.0, -at.diode / w**2])
    turned = np.array([slope**2, 0.0, 0.0]) - inside / at.loss**2
    aside = -(by_losses + x * turned) / bend
    found = (
        [0.0, x, *(v * aside)],
        [y, 0.0, *(i * (by_losses + slope * aside))],
        [v * x * y, i * x * y, *(i * v * x * by_losses)],
        [0.0, 0.0, *(x * by_losses)],
    )
    return Top(v * x, i * y, v * x * i * y, x * y, np.array(found))


def _losses(r: _Number, g: _Number, w: _Number) -> _Losses:
    inner = 1 + r * g
    spare = np.maximum(inner - g, 1e-12)
    gap = (1 - r) / w
    dark = np.log(spare) - 1 / w - np.log(-np.expm1(-gap))
    return _Losses(r, g, w, inner, spare, 1 / np.expm1(gap), dark)


def _flow(of: _Losses, x: _Number) -> _Flow:
    """Return what flows at voltages x; at x = 1 no current, at x = 0 it is 1."""
    both = of.inner + of.spare * of.knee  # I_L + I_0
    scale = of.w * of.inner
    omega = _omega(np.log(of.r / scale) + of.dark + of.r * both / scale + x / scale)
    diode = omega * (scale / of.r)
    inside = diode / of.w + of.g
    return _Flow(x, (both - x * of.g - diode) / of.inner, diode, inside, 1 + of.r * inside)


def _dark_by_losses(of: _Losses) -> tuple[_Number, _Number, _Number]:
    """Return the derivatives of the logarithm of I_0."""
    return (
        of.g / of.spare + of.knee / of.w,
        (of.r - 1) / of.spare,
        (1 + (1 - of.r) * of.knee) / of.w**2,
    )


def _by_losses(of: _Losses, at: _Flow) -> tuple[_Number, _Number, _Number]:
    """Return the derivatives of the current at fixed voltage."""
    dark_r, dark_g, dark_w = _dark_by_losses(of)
    behind = at.x + of.r * at.y  # the voltage across the diode
    short = of.spare * of.knee  # what the diode takes where the voltage is zero
    less = short - at.diode
    return (
        (of.g + short / of.w + less * dark_r - at.inside * at.y) / at.loss,
        (of.r + less * dark_g - behind) / at.loss,
        (less * dark_w - (short * of.r - at.diode * behind) / of.w**2) / at.loss,
    )


def _omega(z: _Number) -> Floats:
    from scipy.special import wrightomega

    return np.asarray(wrightomega(z), dtype=np.float64)
