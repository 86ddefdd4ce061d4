"""Readings of a cell that can't all be right."""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal

from trials.quantities import convertible, scale_between
from trials.reduction.electrical.burden import burden
from trials.reduction.electrical.columns import (
    AREA,
    ISC,
    LIGHT,
    LOAD,
    POWER,
    V_LOAD,
    VOC,
    Setup,
)
from trials.reduction.electrical.ideal import fill_factor_ceiling
from trials.reduction.values import Flag, Reading
from trials.words.keeping import Kept, kept

_METER = 0.03  # a cheap meter's error as a share of the reading (common practice, no source)


def contradictions(setup: Setup, reading: Reading, number: int) -> Iterator[Flag]:
    """Yield what contradicts itself in one reading.

    Codes: ``load_above_open``, ``current_above_short``, ``fill_factor_above_one``,
    ``fill_factor_above_ideal``, ``more_than_light``, ``ammeter_above_open``. Each leaves
    room for the steps of the displays and 3 % of the reading.
    """
    r = {name: float(value) for name, value in reading.items()}
    for name, fixed in ((LOAD, setup.load), (AREA, setup.area)):
        if isinstance(fixed, Decimal):
            r.setdefault(name, float(fixed))
    yield from _ammeter(setup, r, number)
    power = _power(setup, r)
    if power is None:
        return
    column = setup.power_column
    too_much = _against_light(setup, r, power)
    if too_much is not None:
        yield Flag("more_than_light", number, column, too_much,
                   kept("The cell can't give more power than the light that falls on "
                        "it."))  # fmt: skip
    if VOC not in r or r[VOC] <= 0:
        return
    if column == V_LOAD and r[V_LOAD] > r[VOC] * (1 + _METER) + 2 * setup.voltage_step:
        yield Flag("load_above_open", number, column,
                   kept("{one} V above {other} V", one=f"{r[V_LOAD]:g}", other=f"{r[VOC]:g}"),
                   kept("With a load the voltage can't be higher than with nothing "
                        "connected."))  # fmt: skip
        return
    if ISC not in r or r[ISC] <= 0:
        return
    if column == V_LOAD:
        current = 1000 * r[V_LOAD] / r[LOAD]
        if current > r[ISC] * (1 + _METER) + 2 * setup.current_step:
            yield Flag("current_above_short", number, ISC,
                       kept("{current} mA through the load, {most} mA short circuit",
                            current=f"{current:.3g}", most=f"{r[ISC]:g}"),
                       kept("Through a load the current can't be larger than with a short "
                            "circuit."))  # fmt: skip
            return
    yield from _fill_factor(setup, r, power, number)


def _ammeter(setup: Setup, r: dict[str, float], number: int) -> Iterator[Flag]:
    """Flag a current that the ammeter can't have let through; put what it may have been into r."""
    if setup.ammeter is None or r.get(VOC, 0) <= 0 or r.get(ISC, 0) <= 0:
        return
    ohm = float(setup.ammeter)
    held = burden(r[ISC], r[VOC], ohm)
    if held is not None:
        r[ISC] *= held.most
        return
    yield Flag("ammeter_above_open", number, ISC,
               kept("{current} mA through {ohm} ohm, which takes {voltage} V",
                    current=f"{r[ISC]:g}", ohm=f"{ohm:g}",
                    voltage=f"{r[ISC] * ohm / 1000:.3g}"),
               kept("While it drives a current, a cell's voltage is below the one with nothing "
                    "connected, {voltage} V. Is the current's unit right, and what the ammeter "
                    "resists?", voltage=f"{r[VOC]:g}"))  # fmt: skip
    del r[ISC]


def _fill_factor(setup: Setup, r: dict[str, float], power: float, number: int) -> Iterator[Flag]:
    fill = power / (r[VOC] * r[ISC])
    ceiling = fill_factor_ceiling(r[VOC])
    shares = [setup.voltage_step / r[VOC], setup.current_step / r[ISC]]
    if setup.power_column == V_LOAD:
        shares.append(2 * setup.voltage_step / max(r[V_LOAD], setup.voltage_step))
    room = 1 + _METER + math.hypot(*shares)
    if fill > room:
        yield Flag("fill_factor_above_one", number, setup.power_column,
                   kept("fill factor {found}", found=f"{fill:.3g}"),
                   kept("The power is larger than open-circuit voltage times short-circuit "
                        "current."))  # fmt: skip
    elif fill > ceiling * room:
        yield Flag("fill_factor_above_ideal", number, setup.power_column,
                   kept("fill factor {found}, ideal {ceiling}", found=f"{fill:.3g}",
                        ceiling=f"{ceiling:.3g}"),
                   kept("At {voltage} V even a perfect cell has no higher fill factor than "
                        "{ceiling}.", voltage=f"{r[VOC]:g}",
                        ceiling=f"{ceiling:.2f}"))  # fmt: skip


def _power(setup: Setup, r: dict[str, float]) -> float | None:
    """Return the power in mW."""
    if setup.power_column == POWER:
        return r.get(POWER)
    if V_LOAD not in r or r.get(LOAD, 0) <= 0:
        return None
    return 1000 * r[V_LOAD] ** 2 / r[LOAD]


def _against_light(setup: Setup, r: dict[str, float], power: float) -> Kept | None:
    if AREA not in r or not convertible(setup.light_unit, "W/m^2"):
        return None
    scale = float(scale_between(setup.light_unit, "W/m^2") or 1)
    on_it = r.get(LIGHT, math.inf) * scale * r[AREA] / 10
    if power <= on_it:
        return None
    return kept("{power} mW out of {light} mW of light", power=f"{power:.3g}", light=f"{on_it:.3g}")
