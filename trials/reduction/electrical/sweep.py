"""The raw points of a sweep: signs, order, load resistors and the way up and down.

A sweep is a list of points of one cell, in the order in which they were read: the voltage across
the cell, and the current or the load resistance. Nobody agrees on signs: the meters may be wired
either way. A source of electricity gives current out at a voltage above zero, so the points are
turned until most of them show that, and the turn is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from trials.reduction.electrical.budget import FLAT
from trials.reduction.electrical.curve import Floats, currents
from trials.reduction.electrical.curve_fit import Estimate, Points
from trials.reduction.values import Warned
from trials.words.keeping import kept

STEPS_TO_TURN = 3.0  # a change of less than so many steps of the display is no change of direction
MOST_TURNS = 3  # up and down twice; with more the points were read in no order
LEAST_EACH_WAY = 4  # points, to compare the way up with the way down


@dataclass(frozen=True)
class Meters:
    """What reads a sweep; errors are the limits the maker states, in % of the reading; 0: not told.

    ``flicker`` is how much a reading moves from one look to the next, as a standard deviation in %
    (common practice, no source). ``ammeter_ohm`` is what the ammeter itself resists, given where
    the voltmeter sat behind it and not across the cell. Digits are steps of the display that the
    maker adds to the limits of error.
    """

    voltage_step: float = 0.001  # V
    current_step: float = 0.01  # mA
    voltage_error: float = 0.0
    current_error: float = 0.0
    load_error: float = 0.0
    flicker: float = 0.3
    ammeter_ohm: float | None = None
    voltage_digits: int = 0
    current_digits: int = 0


@dataclass(frozen=True)
class Raw:
    """The points as written down; of ``current`` (mA) and ``load`` (ohm) one is there.

    A load of infinity is an open circuit.
    """

    voltage: tuple[float, ...]
    current: tuple[float, ...] | None = None
    load: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Sweep:
    """Points as a source gives them, and what had to be done for that.

    ``way`` (n,) is 1 where the voltage was rising, -1 where it was falling, in the order of
    reading.
    """

    points: Points
    way: Floats
    by_load: bool
    warnings: tuple[Warned, ...]


def sweep_of(raw: Raw, meters: Meters) -> Sweep:
    """Return the points of a sweep with their signs put right and their noise."""
    voltage = np.array(raw.voltage, dtype=np.float64)
    warnings: list[Warned] = []
    if raw.current is not None:
        current = np.array(raw.current, dtype=np.float64)
        voltage, current = _turned(voltage, current, warnings)
        if meters.ammeter_ohm is not None:  # the voltmeter sat behind it
            voltage = voltage + current * meters.ammeter_ohm / 1000
        noise, tie = _noise(current, meters.current_step, meters.flicker), np.zeros(len(current))
    else:
        load = np.array(raw.load, dtype=np.float64)
        short = load <= 0
        if short.any():
            warnings.append(
                Warned(
                    "load_of_zero",
                    kept("A load of 0 ohm tells no current, so such points are left out."),
                )
            )
        voltage, load = voltage[~short], load[~short]
        if voltage.sum() < 0:
            voltage = -voltage
            warnings.append(_BELOW)
        tie = 1000 / load
        current = voltage * tie
        noise = meters.load_error / 100 / FLAT * np.abs(current)
        noise = np.maximum(noise, 1e-6 * np.abs(current).max(initial=1e-9))
    by_load = raw.current is None
    share = meters.flicker / 100
    points = Points(
        voltage,
        current,
        _noise(voltage, meters.voltage_step, meters.flicker),
        noise,
        share * np.abs(voltage),
        np.zeros(len(current)) if by_load else share * np.abs(current),
        tie,
    )
    return Sweep(points, _ways(voltage, meters.voltage_step), by_load, tuple(warnings))


_SWAPPED = Warned(
    "leads_swapped",
    kept(
        "Most voltages are below zero: the leads were the other way round. All signs were turned."
    ),
)
_INWARD = Warned(
    "current_turned",
    kept("The current was counted as flowing into the cell. Its sign was turned."),
)


_BELOW = Warned("voltage_turned", kept("Most voltages are below zero, so their sign was turned."))


def _turned(voltage: Floats, current: Floats, warnings: list[Warned]) -> tuple[Floats, Floats]:
    """Return voltage and current as a source gives them: most power above zero, at V above zero."""
    below = float(voltage.sum()) < 0
    inward = (float((voltage * current).sum()) < 0) != below
    if below or inward:
        warnings.append(_SWAPPED if below and inward else _BELOW if below else _INWARD)
    return -voltage if below else voltage, -current if inward else current


def _noise(readings: Floats, step: float, flicker: float) -> Floats:
    """Return the standard uncertainty of each reading: its display's step, and its flicker."""
    return np.asarray(np.hypot(step / sqrt(12), flicker / 100 * readings), dtype=np.float64)


def _ways(voltage: Floats, step: float) -> Floats:
    """Return for each point whether the voltage was on its way up (1) or down (-1); 0: neither."""
    way = np.zeros(len(voltage))
    last, before, turns = 0.0, float(voltage[0]) if len(voltage) else 0.0, 0
    for place, now in enumerate(voltage):
        if abs(now - before) >= STEPS_TO_TURN * step:
            turns += last not in (0.0, float(np.sign(now - before)))
            last, before = float(np.sign(now - before)), float(now)
        way[place] = last
    if turns > MOST_TURNS:
        return np.zeros(len(voltage))
    way[way == 0] = next((w for w in way if w), 1.0)
    return way


def hysteresis(sweep: Sweep, curve: Floats) -> Estimate | None:
    """Return by how much more current flowed on the way up, in % of the largest.

    Parameters
    ----------
    curve : that was fitted to all points, shape (5,), in V and mA.

    Returns
    -------
    None where one of the ways has fewer than ``LEAST_EACH_WAY`` points.
    """
    rising, falling = sweep.way > 0, sweep.way < 0
    if min(np.count_nonzero(rising), np.count_nonzero(falling)) < LEAST_EACH_WAY:
        return None
    left = sweep.points.current - currents(curve[None], sweep.points.voltage)[0]
    up, down = left[rising], left[falling]
    scale = 100 / float(sweep.points.current.max())
    u = sqrt(float(up.var(ddof=1)) / len(up) + float(down.var(ddof=1)) / len(down))
    return Estimate(scale * float(up.mean() - down.mean()), scale * u)
