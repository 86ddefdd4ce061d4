"""A few points of a cell's current-voltage curve: open circuit, short circuit, one known load.

Definitions as in IEC 60904-1: fill factor = Pmax / (Voc Isc), efficiency = Pmax / (G A). With one
load the power at that load stands for Pmax, so that fill factor and efficiency are *at this load*:
the true ones are at least as large. With no load at all there is only ``power_at_most``,
Voc times Isc: the power can't be larger, and is 0.3 to 0.65 of it for most hand-made cells (common
practice, no source).

Light. Within about 20 % of the reference, current is taken as proportional to the light and
voltage as constant (10 % more light moves the voltage by only 2 to 5 mV). A reading at light G is
brought to the reference by multiplying current, and so power, by reference / G. The corrected
power belongs to a load that is smaller by the same factor, which hardly matters near the best load.

Ammeter. It holds the cell at a voltage of its own, so that the short-circuit current is read too
low. Where its resistance is given, the current is corrected (``burden``); where not, that is said.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from trials.quantities import convertible, nice, scale_between
from trials.reduction.average import average, decimal_of, display_uncertainty, spread_of_mean
from trials.reduction.electrical.burden import NO_BURDEN, Burden, burden
from trials.reduction.electrical.columns import (
    AREA,
    ISC,
    LIGHT,
    LOAD,
    POWER,
    SETTINGS,
    V_LOAD,
    VOC,
    Setup,
    columns,
    needs,
    setup_of,
)
from trials.reduction.electrical.contradictions import contradictions
from trials.reduction.propagate import propagated
from trials.reduction.settings import refuse, setting_faults
from trials.reduction.values import Asked, Column, Flag, Problem, Reading, Reduced, Setting
from trials.words.language import marked, say
from trials.words.reducing import lacking

UNITS = {
    "voc": "V",
    "isc": "mA",
    "power": "mW",
    "power_per_area": "mW/cm^2",
    "fill_factor": "",
    "efficiency": "%",
    "current_density": "mA/cm^2",
    "power_at_most": "mW",
}
NO_LOAD = marked(
    "no load was read, so the fill factor and the power itself are unknown: the power is less than "
    "this, and of two cells the one with more may give less"
)
AS_READ = marked(
    "what the ammeter resists was not given, so the short-circuit current is as it was read: too "
    "low, the more so the more current a cell gives"
)
TOO_MUCH = marked(
    "the ammeter alone would take more than the open-circuit voltage, which can't be: look at the "
    "current, its unit, and what the ammeter resists"
)
FAR = Fraction(1, 5)  # light further than this from the reference gets a note

_Filled = Mapping[str, Decimal]  # a reading with what the study knows once for all


@dataclass(frozen=True)
class IvPoint:
    """Voltages, current and light of a cell, reduced to one electrical quantity.

    Examples
    --------
    >>> [setting.name for setting in IvPoint().settings][:3]
    ['quantity', 'load_ohm', 'area_cm2']
    """

    name: str = "iv_point"
    about: str = "a cell's voltage, current or power from a few meter readings in known light"
    settings: tuple[Setting, ...] = SETTINGS

    def problems(self, asked: Asked) -> tuple[Problem, ...]:
        """Return what is wrong with the settings and the unit of a response."""
        faults = list(setting_faults(asked, SETTINGS))
        if faults:
            return tuple(faults)
        setup = setup_of(asked)
        for column in needs(setup):
            if column == LOAD and setup.load is None:
                faults.append(
                    Problem("load_ohm", "", "a number above 0 (in ohm) or 'measured'",
                            "Say how large the load resistor is.")
                )  # fmt: skip
        faults += shared_problems(setup, asked, per_area=AREA in needs(setup))
        return tuple(faults)

    def columns(self, asked: Asked) -> tuple[Column, ...]:
        """Return the columns that the chosen quantity needs, and those that help to check it."""
        refuse(asked, self.problems(asked))
        return columns(setup_of(asked))

    def check(self, asked: Asked, readings: Sequence[Reading]) -> tuple[Flag, ...]:
        """Flag readings that break the laws of circuits or of the ideal diode."""
        setup = setup_of(asked)
        return tuple(
            flag
            for number, reading in enumerate(readings)
            for flag in contradictions(setup, reading, number)
        )

    def reduce(self, asked: Asked, readings: Sequence[Reading]) -> Reduced:
        """Return the average of the quantity over the readings, each corrected for its light."""
        setup = setup_of(asked)
        usable, notes = _usable_readings(setup, readings)
        if not usable:
            return Reduced(None, None, None, 0, tuple(notes) or (say("no number was read"),))
        scale = Fraction(scale_between(UNITS[setup.quantity], asked.unit) or 1)
        inputs = [_inputs(setup, reading, held) for reading, held in usable]
        values = [_formula(setup, one) * scale for one in inputs]
        notes += _notes(setup, usable)
        mean = average(values)
        known = statistics.fmean(held.relative for _, held in usable) * abs(float(mean))
        parts = [_instrument(setup, inputs) * float(scale), known]
        repeat = spread_of_mean([float(value) for value in values])
        if repeat is not None:
            parts.append(repeat)
        as_read = setup.reference is None and setup.ammeter is None
        plain = setup.quantity == "voc" or (setup.quantity == "isc" and as_read)
        return Reduced(
            float(mean),
            decimal_of(mean) if plain else None,
            math.hypot(*parts),
            len(usable),
            tuple(notes),
        )


def _usable_readings(
    setup: Setup, readings: Sequence[Reading]
) -> tuple[list[tuple[_Filled, Burden]], list[str]]:
    """Return the readings that have all they need, with what the ammeter did; and what lacks."""
    wanted = needs(setup)
    full = [_filled(setup, reading) for reading in readings]
    read = [reading for reading in full if all(_usable(setup, reading, c) for c in wanted)]
    notes = []
    if len(read) < len(readings):
        missing = sorted({c for r in full for c in wanted if not _usable(setup, r, c)})
        left = len(readings) - len(read)
        notes.append(lacking(left, len(readings), missing))
    seen = [(reading, _held(setup, reading)) for reading in read]
    usable: list[tuple[_Filled, Burden]] = [
        (reading, held) for reading, held in seen if held is not None
    ]
    if len(usable) < len(read):
        notes.append(
            say(
                "{n} of {all} readings: {what}",
                n=len(read) - len(usable),
                all=len(readings),
                what=say(TOO_MUCH),
            )
        )
    return usable, notes


def _held(setup: Setup, reading: _Filled) -> Burden | None:
    """Return what the ammeter did to a reading; None where that can't be.

    Nothing, as far as is known, where its resistance isn't given or no current is asked for.
    """
    if setup.ammeter is None or ISC not in needs(setup):
        return NO_BURDEN
    return burden(float(reading[ISC]), float(reading[VOC]), float(setup.ammeter))


def _notes(setup: Setup, usable: Sequence[tuple[_Filled, Burden]]) -> list[str]:
    """Return what to know of a value beside its number."""
    wanted = needs(setup)
    notes = list(light_notes(setup, [r for r, _ in usable])) if LIGHT in wanted else []
    if setup.quantity == "power_at_most":
        notes.append(say(NO_LOAD))
    if ISC not in wanted:
        return notes
    if setup.ammeter is None:
        return [*notes, say(AS_READ)]
    worst = max((held for _, held in usable), key=lambda held: held.times)
    return [
        *notes,
        say(
            "the ammeter of {ammeter} ohm held the cell at {voltage} V while the short-circuit "
            "current was read, so that was raised by {raised}; it can't have been over {most} too "
            "low",
            ammeter=setup.ammeter,
            voltage=f"{worst.voltage:.2g}",
            raised=f"{100 * (worst.times - 1):.2g}%",
            most=f"{100 * (worst.most - 1):.2g}%",
        ),
    ]


def shared_problems(setup: Setup, asked: Asked, *, per_area: bool) -> list[Problem]:
    """Return what is wrong with area, light and unit, for a few points as for a whole curve."""
    faults = []
    if per_area and setup.area is None:
        faults.append(
            Problem("area_cm2", "", "a number above 0 (in cm²) or 'measured'",
                    "Say how large the part that catches light is.")
        )  # fmt: skip
    if setup.quantity == "efficiency" and not convertible(setup.light_unit, "W/m^2"):
        faults.append(
            Problem("light_unit", setup.light_unit, "'W/m^2' or 'mW/cm^2'",
                    "Efficiency needs the light in W/m²; with a lux meter compare the power.")
        )  # fmt: skip
    if not convertible(UNITS[setup.quantity], asked.unit):
        faults.append(
            Problem("quantity", f"{setup.quantity} in '{asked.unit}'",
                    UNITS[setup.quantity] or "no unit",
                    "Give the response this unit, or choose another quantity.")
        )  # fmt: skip
    return faults


def _filled(setup: Setup, reading: Reading) -> dict[str, Decimal]:
    """Return the reading with what the study knows once for all."""
    fixed = {LOAD: setup.load, AREA: setup.area}
    return {**{k: v for k, v in fixed.items() if isinstance(v, Decimal)}, **reading}


def _usable(setup: Setup, reading: Reading, column: str) -> bool:
    if column not in reading:
        return False
    may_be_zero = column in (VOC, ISC, V_LOAD, POWER) and setup.quantity != "fill_factor"
    return may_be_zero or reading[column] > 0


def _formula(setup: Setup, r: Mapping[str, Any]) -> Any:
    """Return the quantity of one reading; fractions, floats and uncertain numbers all work."""
    if setup.quantity == "voc":
        return r[VOC]
    corrected = r["reference"] / r[LIGHT] if "reference" in r else 1
    if setup.quantity == "power_at_most":
        return r[VOC] * r[ISC] * corrected
    if setup.quantity in ("isc", "current_density"):
        return r[ISC] * corrected / (r[AREA] if setup.quantity == "current_density" else 1)
    power = r[POWER] if setup.power_column == POWER else 1000 * r[V_LOAD] * r[V_LOAD] / r[LOAD]
    if setup.quantity == "fill_factor":
        return power / (r[VOC] * r[ISC])
    if setup.quantity == "efficiency":  # mW of mW: 1 W/m² is 0.1 mW/cm²
        return 100 * power / (r["W/m^2"] * r[LIGHT] * r[AREA] / 10)
    return power * corrected / (r[AREA] if setup.quantity == "power_per_area" else 1)


def _inputs(setup: Setup, reading: _Filled, held: Burden) -> dict[str, Fraction]:
    wanted = {column: Fraction(reading[column]) for column in needs(setup)}
    if ISC in wanted:
        wanted[ISC] *= Fraction(held.times)
    if setup.reference is not None and LIGHT in wanted and setup.quantity != "efficiency":
        wanted["reference"] = Fraction(setup.reference)
    if setup.quantity == "efficiency":
        wanted["W/m^2"] = Fraction(scale_between(setup.light_unit, "W/m^2") or 1)
    return wanted


def _instrument(setup: Setup, inputs: Sequence[Mapping[str, Fraction]]) -> float:
    """Return the part of the uncertainty that comes from the steps of the displays.

    Taken at the average reading and not divided by the root of their number: readings of one item
    are so alike that the display errs the same way each time.
    """
    middle = {name: float(average([i[name] for i in inputs])) for name in inputs[0]}
    steps = {VOC: setup.voltage_step, V_LOAD: setup.voltage_step, ISC: setup.current_step}
    if setup.light_step is not None:
        steps[LIGHT] = setup.light_step
    uncertain = {name: display_uncertainty(steps[name]) for name in middle if name in steps}
    return propagated(lambda values: _formula(setup, values), middle, uncertain)


def light_notes(setup: Setup, readings: Sequence[Mapping[str, Decimal]]) -> tuple[str, ...]:
    """Return what to know of the light that readings were corrected for."""
    if setup.reference is None or setup.quantity == "efficiency":
        return ()
    reference = Fraction(setup.reference)
    off = max(abs(Fraction(reading[LIGHT]) / reference - 1) for reading in readings)
    if off <= FAR:
        return ()
    return (
        say(
            "the light was up to {off} away from the {light} it is corrected to; beyond 20% the "
            "correction is rough",
            off=f"{float(off):.0%}",
            light=f"{setup.reference} {nice(setup.light_unit)}",
        ),
    )
