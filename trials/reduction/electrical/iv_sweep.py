"""A whole current-voltage curve of a cell, point by point, reduced to one electrical quantity.

Each reading of the item is one point of its curve, in the order in which they were read. Where the
study names a reference light, each point's current is brought to it in proportion, as in
``iv_point``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

from trials.quantities import scale_between
from trials.reduction.electrical.columns import (
    AGE,
    AREA,
    LIGHT,
    LOAD,
    MEASURED,
    SETTINGS,
    Setup,
    column_of,
    quantity_setting,
    setup_of,
)
from trials.reduction.electrical.iv_point import UNITS, light_notes, shared_problems
from trials.reduction.settings import refuse, setting_faults, setting_value
from trials.reduction.values import Asked, Column, Flag, Problem, Reading, Reduced, Setting
from trials.words.keeping import kept
from trials.words.language import marked, say

if TYPE_CHECKING:
    from trials.reduction.electrical.parameters import Parameters
    from trials.reduction.electrical.sweep import Meters

VOLTAGE = Column(
    "voltage",
    "V",
    possible=(Decimal(-3), Decimal(3)),
    believable=(Decimal("-0.1"), Decimal(1)),
    aliases=("V", "U", "cell voltage"),
    about=marked("across the cell"),
    spans=True,
)
CURRENT = Column(
    "current",
    "mA",
    believable=(None, Decimal(1000)),
    aliases=("I",),
    about=marked("out of the cell"),
    spans=True,
)
RESISTANCE = Column(
    LOAD,
    "ohm",
    possible=(Decimal(0), None),
    aliases=("resistance", "R", "R_load", "load"),
    about=marked("of the load at this point; with nothing connected write open"),
    spans=True,
    endless=True,
)
BY_LOAD = "load resistance"
_PARAMETER = {
    "voc": "voc", "isc": "isc", "power": "pmax", "power_per_area": "power_per_area",
    "fill_factor": "ff",
    "efficiency": "efficiency", "current_density": "jsc",
}  # fmt: skip
_NOT_OF_SWEEPS = ("quantity", "load_ohm", "power_from", "light_step", "ammeter_ohm")
SWEEP_SETTINGS = (
    quantity_setting(_PARAMETER),
    *(s for s in SETTINGS if s.name not in _NOT_OF_SWEEPS),
    Setting(
        "current_from",
        default="ammeter",
        words=("ammeter", BY_LOAD),
        about="whether the current is read, or worked out from the load's resistance",
    ),
    Setting("voltage_error_percent", number=True, about="limit of error its maker states"),
    Setting("current_error_percent", number=True, about="limit of error its maker states"),
    Setting(
        "ammeter_ohm",
        unit="ohm",
        number=True,
        about="what the ammeter itself resists, if the voltmeter sits behind it; else leave it out",
    ),
    Setting("load_error_percent", number=True, about="limit of error of each load"),
)
_PER_AREA = ("power_per_area", "efficiency", "current_density")
# What a study's light in W/m² is taken to be read by.
METER: Literal["pyranometer"] = "pyranometer"
# Warnings that a person is asked about, and those that are of no use beside one quantity.
_ASKED = ("rising", "exchanged", "fill_factor_above_ideal", "noisy")
_SILENT = (
    "no_area", "no_light", "no_meter_error", "ammeter_unknown", "r_series_weak", "r_shunt_weak",
)  # fmt: skip


@dataclass(frozen=True)
class IvSweep:
    """Points of a cell's curve, reduced to one of its electrical parameters.

    Examples
    --------
    >>> IvSweep().name
    'iv_sweep'
    """

    name: str = "iv_sweep"
    about: str = "a cell's whole curve: voltage with current or load, at 6 to 15 points"
    settings: tuple[Setting, ...] = SWEEP_SETTINGS

    def problems(self, asked: Asked) -> tuple[Problem, ...]:
        """Return what is wrong with the settings and the unit of a response."""
        faults = setting_faults(asked, SWEEP_SETTINGS)
        if faults:
            return faults
        setup = setup_of(asked)
        per_area = setup.quantity in _PER_AREA
        return tuple(shared_problems(setup, asked, per_area=per_area))

    def columns(self, asked: Asked) -> tuple[Column, ...]:
        """Return voltage, current or load, and light and area where they are needed."""
        refuse(asked, self.problems(asked))
        setup = setup_of(asked)
        return (
            VOLTAGE,
            RESISTANCE if _by_load(asked) else CURRENT,
            *((column_of(AREA, setup, required=True),) if setup.area == MEASURED else ()),
            *((column_of(LIGHT, setup, required=True),) if _needs_light(setup) else ()),
            *((column_of(AGE, setup, required=False),) if setup.age_unit is not None else ()),
        )

    def check(self, asked: Asked, readings: Sequence[Reading]) -> tuple[Flag, ...]:
        """Flag a curve that no cell can have."""
        told = _told(asked, _usable(asked, readings))
        column = RESISTANCE.name if _by_load(asked) else CURRENT.name
        return tuple(
            Flag(one.code, None, column, kept("{n} points", n=len(readings)), one.told)
            for one in (told.warnings if told is not None else ())
            if one.code in _ASKED
        )

    def reduce(self, asked: Asked, readings: Sequence[Reading]) -> Reduced:
        """Return the quantity of the curve; None where the points can't carry one."""
        setup = setup_of(asked)
        usable = _usable(asked, readings)
        told = _told(asked, usable)
        left = len(readings) - len(usable)
        notes = (
            [say("{n} of {all} points are incomplete", n=left, all=len(readings))] if left else []
        )
        if told is None:
            return Reduced(None, None, None, 0, tuple(notes) or (say("no number was read"),))
        notes += [one.text for one in told.warnings if one.code not in _SILENT]
        notes += light_notes(setup, usable)
        found = told.quantities[_PARAMETER[setup.quantity]]
        if found is None:
            return Reduced(None, None, None, 0, tuple(notes))
        scale = float(scale_between(UNITS[setup.quantity], asked.unit) or 1)
        return Reduced(found.value * scale, None, found.u * scale, len(usable), tuple(notes))


def _by_load(asked: Asked) -> bool:
    return setting_value(asked, SWEEP_SETTINGS, "current_from") == BY_LOAD


def _needs_light(setup: Setup) -> bool:
    return setup.reference is not None or setup.quantity == "efficiency"


def _area(setup: Setup, readings: Sequence[Reading]) -> Decimal | None:
    if isinstance(setup.area, Decimal):
        return setup.area
    return next((reading[AREA] for reading in readings if reading.get(AREA, 0) > 0), None)


def meters_of(asked: Asked) -> Meters:
    """Return what the settings of a response say of the meters."""
    from trials.reduction.electrical.sweep import Meters

    def number(name: str) -> float:
        return float(setting_value(asked, SWEEP_SETTINGS, name) or 0)

    return Meters(
        voltage_step=number("voltage_step_V"),
        current_step=number("current_step_mA"),
        voltage_error=number("voltage_error_percent"),
        current_error=number("current_error_percent"),
        load_error=number("load_error_percent"),
        ammeter_ohm=number("ammeter_ohm") or None,
    )


def _usable(asked: Asked, readings: Sequence[Reading]) -> list[Reading]:
    """Return the points that have all they need."""
    setup = setup_of(asked)
    second = RESISTANCE.name if _by_load(asked) else CURRENT.name
    wanted = (VOLTAGE.name, second, *((LIGHT,) if _needs_light(setup) else ()))
    return [
        reading
        for reading in readings
        if all(name in reading for name in wanted) and reading.get(LIGHT, 1) > 0
    ]


def _told(asked: Asked, usable: Sequence[Reading]) -> Parameters | None:
    """Return the parameters of complete points; None where there are none, or no area."""
    from trials.reduction.electrical.light import light_of
    from trials.reduction.electrical.parameters import Area, parameters
    from trials.reduction.electrical.sweep import Raw, sweep_of

    setup = setup_of(asked)
    area = _area(setup, usable)
    if not usable or (area is None and setup.quantity in _PER_AREA):
        return None
    light, bright = None, [1.0] * len(usable)
    if _needs_light(setup):
        # efficiency is told in the mean light of the sweep, all else in the study's reference
        fell = [float(reading[LIGHT]) for reading in usable]
        is_efficiency = setup.quantity == "efficiency" or setup.reference is None
        to = sum(fell) / len(fell) if is_efficiency else float(setup.reference or 0)
        bright = [to / one for one in fell]
        if is_efficiency:
            light = light_of(to * float(scale_between(setup.light_unit, "W/m^2") or 1), METER)
    voltage = tuple(float(reading[VOLTAGE.name]) for reading in usable)
    if _by_load(asked):
        others = [float(reading[RESISTANCE.name]) for reading in usable]
        raw = Raw(voltage, load=tuple(r / b for r, b in zip(others, bright, strict=True)))
    else:
        others = [float(reading[CURRENT.name]) for reading in usable]
        raw = Raw(voltage, current=tuple(i * b for i, b in zip(others, bright, strict=True)))
    meters = meters_of(asked)
    cm2 = None if area is None else Area(float(area), 0.0)
    return parameters(sweep_of(raw, meters), meters, cm2, light)
