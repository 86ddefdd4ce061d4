"""What an ammeter does to the short-circuit current that it reads, and what it was without.

An ammeter is a resistance. While it reads a current I it holds the cell at V = I R, so the point
(V, I) lies on the curve near short circuit, not at it, and I is below the short-circuit current.
A cell's curve bends one way only and ends at the open-circuit voltage V_oc, so

    I <= I_sc <= I / (1 - V / V_oc)

whatever the cell. Where in between is worked out from what is known of hand-made cells before
measuring, as in ``curve_fit``: the mean over all curves thought possible, each as likely as it is
thought to be, with their standard deviation as the uncertainty of the correction (type B,
JCGM 100:2008, 4.3).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trials.reduction.electrical.curve import Floats

_EACH = 8  # values of each parameter, as many for every equal part of its chance


@dataclass(frozen=True)
class Burden:
    """A short-circuit current as an ammeter reads it, seen against the true one.

    ``voltage`` is across the cell at the reading, in V. The true current is about ``times`` the one
    read, with the relative standard uncertainty ``relative``, and at most ``most`` times.
    """

    voltage: float
    times: float
    relative: float
    most: float


NO_BURDEN = Burden(0.0, 1.0, 0.0, 1.0)  # of an ammeter that resists nothing


def burden(current: float, voc: float, ohm: float) -> Burden | None:
    """Return what an ammeter of a resistance did to the short-circuit current.

    Parameters
    ----------
    current : as read, mA, not below zero.
    voc : open-circuit voltage of the cell, V, above zero.
    ohm : resistance of the ammeter on its range.

    Returns
    -------
    None where the ammeter alone would take the open-circuit voltage or more: that can't be.

    Examples
    --------
    A cell of 0.4 V and 1 mA through the 100 ohm of a 2 mA range reads 0.94 mA.

    >>> one = burden(0.94, 0.4, 100.0)
    >>> round(one.voltage, 3), round(0.94 * one.times, 2), round(one.most, 2)
    (0.094, 1.01, 1.31)
    >>> burden(5.0, 0.4, 100.0) is None
    True
    """
    voltage = current * ohm / 1000
    share = voltage / voc
    if share >= 1:
        return None
    import numpy as np

    from trials.reduction.electrical.curve import currents

    flow = currents(_curves(), np.array([share]))[:, 0]
    times = 1 / np.clip(flow, 1 - share, 1.0)
    mean = float(times.mean())
    return Burden(voltage, mean, float(times.std()) / mean, 1 / (1 - share))


@cache
def _curves() -> Floats:
    """Return curves of 1 mA and 1 V that stand for all thought possible, shape (m, 5)."""
    import numpy as np
    from scipy.special import ndtr, ndtri

    from trials.reduction.electrical.curve import HIGH, LOW, SERIES
    from trials.reduction.electrical.curve_fit import KNOWN, MIDDLE

    middle, sd = MIDDLE[SERIES:], KNOWN[SERIES:]
    low, high = (ndtr((ends[SERIES:] - middle) / sd) for ends in (LOW, HIGH))
    parts = (np.arange(_EACH) + 0.5) / _EACH
    each = middle + sd * ndtri(low + (high - low) * parts[:, None])
    grid = np.stack(np.meshgrid(*each.T, indexing="ij"), axis=-1).reshape(-1, 3)
    return np.concatenate([np.ones((len(grid), 2)), grid], axis=1)
