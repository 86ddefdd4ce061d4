"""Checking a stated uncertainty by drawing: noisy copies of a sweep, each reduced anew.

After JCGM 101:2008 (propagation of distributions by a Monte Carlo method): readings move by a
normal distribution about the fitted curve, and what is common to all of them (the error of a meter,
the area, the light) by a flat one. What is known beforehand of any cell doesn't move with the
readings, and is added as the budget has it.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, prod

import numpy as np

from trials.randomness import stream
from trials.reduction.electrical.budget import FLAT, Line
from trials.reduction.electrical.curve import currents
from trials.reduction.electrical.curve_fit import fit_curve
from trials.reduction.electrical.parameters import BEFOREHAND, FROM, Parameters, Quantity
from trials.reduction.electrical.sweep import Sweep


def drawn_uncertainty(
    sweep: Sweep, told: Parameters, draws: int, seed: int = 0
) -> dict[str, float]:
    """Return the standard deviation of each quantity over noisy copies of its sweep.

    Parameters
    ----------
    told : the parameters of the sweep; those that are None there are left out.
    draws : how many copies, 2 or more.
    """
    if told.fit is None:
        return {}
    rng = stream(seed, "sweep")
    points = sweep.points.flickering(told.fit.flicker)
    curve = currents(told.fit.curve[None], points.voltage)[0]
    asked = {name: one for name, one in told.quantities.items() if one is not None}
    first = told.fit.estimates()
    found: dict[str, list[float]] = {name: [] for name in asked}
    for _ in range(draws):
        moved_v = points.voltage_noise * rng.normal(size=len(curve))
        moved_i = points.current_noise * rng.normal(size=len(curve))
        copy = replace(
            points,
            voltage=points.voltage + moved_v,
            current=curve + points.tie * moved_v + moved_i,
        )
        again = fit_curve(copy).estimates()
        common = {
            line.source.name: 1 + line.source.relative * FLAT * rng.uniform(-1, 1)
            for quantity in asked.values()
            for line in _stated(quantity)
        }
        for name, quantity in asked.items():
            old, new = (of[FROM.get(name, name)] for of in (first, again))
            if old is None or new is None:
                continue
            moved = [common[line.source.name] ** line.exponent for line in _stated(quantity)]
            found[name].append(quantity.value * new.value / old.value * prod(moved))
    return {
        name: hypot(float(np.std(values, ddof=1)), _beforehand(asked[name]))
        for name, values in found.items()
        if len(values) > 1
    }


def _stated(quantity: Quantity) -> list[Line]:
    """Return the sources that are common to all points of a sweep."""
    lines = quantity.budget.lines
    return [one for one in lines if one.source.kind == "B" and one.source.name != BEFOREHAND]


def _beforehand(quantity: Quantity) -> float:
    """Return the part of the uncertainty where points tell little, in the quantity's unit."""
    parts = [one.part for one in quantity.budget.lines if one.source.name == BEFOREHAND]
    return abs(quantity.value) * sum(parts)
