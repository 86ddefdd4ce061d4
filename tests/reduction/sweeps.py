"""Weak cells, solved by an outside program, and noisy sweeps of them with a few loads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pvlib.pvsystem import i_from_v, singlediode  # type: ignore[import-untyped]  # it ships no types

from trials.reduction.electrical.sweep import Meters, Raw

Floats = NDArray[np.float64]
THERMAL = 0.0257  # V, at 25 °C


@dataclass(frozen=True)
class Cell:
    """A cell by pvlib's parameters (A, ohm, V) and what is true of it (V, mA, mW)."""

    solved: tuple[float, float, float, float, float]
    voc: float
    isc: float
    pmax: float
    ff: float

    def current(self, voltage: Floats) -> Floats:
        """Return the current in mA."""
        return 1000 * np.asarray(i_from_v(voltage, *self.solved))

    def sweep(self, loads: Floats, *, ends: bool) -> tuple[Floats, Floats]:
        """Return voltage and current (mA) at loads, times Voc / Isc; with both ends if asked."""
        fine = np.linspace(0.0, self.voc, 2001)
        short = fine - loads[:, None] * self.voc / self.isc * self.current(fine)
        voltage = np.array([np.interp(0.0, one, fine) for one in short])
        if ends:
            voltage = np.concatenate([[0.0], voltage, [self.voc]])
        return voltage, self.current(voltage)


def weak_cells(rng: np.random.Generator, ahead: int = 1) -> Iterator[Cell]:
    """Yield cells: 0.3 to 0.6 V, 0.1 to 5 mA, fill factor 0.30 to 0.65, by pvlib's solver.

    ``ahead``: so many are solved together, where nobody else draws from ``rng`` meanwhile.
    """
    while True:
        drawn = [one for one in (_diode(rng) for _ in range(ahead)) if one[1] > 0]
        if not drawn:
            continue
        found = {
            name: np.atleast_1d(each) for name, each in singlediode(*np.transpose(drawn)).items()
        }
        for at, solved in enumerate(drawn):
            voc, isc, power = (float(found[name][at]) for name in ("v_oc", "i_sc", "p_mp"))
            ff = power / (voc * isc)
            if 0.30 < ff < 0.65:
                yield Cell(solved, voc, 1000 * isc, 1000 * power, ff)


def _diode(rng: np.random.Generator) -> tuple[float, float, float, float, float]:
    """Return what a diode equation may be: pvlib's five parameters."""
    voc, isc = rng.uniform(0.3, 0.6), np.exp(rng.uniform(np.log(1e-4), np.log(5e-3)))
    width = rng.uniform(1.1, 2.5) * THERMAL
    series = voc / isc * rng.uniform(0.001, 0.5)
    shunt = voc / isc * np.exp(rng.uniform(np.log(1.5), np.log(50)))
    light = isc * (1 + series / shunt)
    back = (light - voc / shunt) / np.expm1(voc / width)
    return light, back, series, shunt, width


def by_load(cell: Cell, meters: Meters, rng: np.random.Generator) -> Raw:
    """Return 8 to 15 points of a cell with its voltage read across known loads."""
    loads = np.geomspace(0.08, 12.0, int(rng.integers(8, 16)))
    voltage, _ = cell.sweep(loads, ends=False)
    read = voltage * (1 + meters.flicker / 100 * rng.normal(size=len(voltage)))
    shown = np.round(read / meters.voltage_step) * meters.voltage_step
    return Raw(tuple(shown.tolist()), load=tuple((1000 * loads * cell.voc / cell.isc).tolist()))


def noisy(cell: Cell, meters: Meters, rng: np.random.Generator) -> Raw:
    """Return 8 to 15 points of a cell, as its meters show them.

    Each reading flickers by the meters' own standard deviation, each meter is off by as much as
    its limits allow (flat), and displays show steps.
    """
    many = int(rng.integers(8, 16))
    ends = bool(rng.random() < 0.5)
    loads = np.geomspace(0.08, 12.0, many - 2 * ends) * np.exp(rng.uniform(-0.2, 0.2))
    voltage, current = cell.sweep(loads, ends=ends)

    def shown(true: Floats, step: float, error: float) -> tuple[float, ...]:
        off = 1 + error / 100 * rng.uniform(-1, 1)
        read = true * off * (1 + meters.flicker / 100 * rng.normal(size=len(true)))
        return tuple((np.round(read / step) * step).tolist())

    return Raw(
        shown(voltage, meters.voltage_step, meters.voltage_error),
        current=shown(current, meters.current_step, meters.current_error),
    )
