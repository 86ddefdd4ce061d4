"""``trials sweep`` before there is a sweep: which load resistors to buy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trials.errors import RequestError
from trials.reduction.electrical.loads import SECONDS, SPREAD, Advice, advised_loads
from trials.words.numbers import significant
from trials.words.options import LOADS
from trials.words.sweep import (
    HOT_LOADS,
    MEASURE_LOADS,
    best_load_text,
    loads_text,
    sweep_time_text,
)

HOT = 100.0  # mW: a small resistor is made for 250 mW; past this we speak of heat
_LIMITS = {  # of each option, with its unit
    "expect_voltage": (0.001, 3.0, "V"),
    "expect_current": (0.0001, 100_000.0, "mA"),
    "spread": (1.0, 1000.0, "times"),
    "seconds": (0.1, 3600.0, "s"),
}


@dataclass(frozen=True)
class LoadsRequest:
    """What is expected: V, mA, how many times off a cell may be, seconds a point."""

    expect_voltage: float | None = None
    expect_current: float | None = None
    spread: float = SPREAD
    seconds: float = SECONDS


@dataclass(frozen=True)
class LoadsTold:
    """The loads to have, for what was expected."""

    voc: float
    isc: float
    spread: float
    each: float
    found: Advice

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        found = self.found
        return {
            "expected": {
                "voc": {"value": self.voc, "unit": "V"},
                "isc": {"value": self.isc, "unit": "mA"},
                "spread": self.spread,
            },
            "loads": {"values": list(found.loads), "unit": "ohm", "series": "E6"},
            "best_load": {
                "value": found.best,
                "unit": "ohm",
                "from": found.least_best,
                "to": found.most_best,
            },
            "points": found.points,
            "duration": {"value": found.seconds, "unit": "s"},
            "most_power": {"value": found.most_power, "unit": "mW"},
            "notes": self._notes(),
        }

    def text(self) -> list[str]:
        """Return what to buy, why, how long a sweep takes, and what to mind."""
        found = self.found
        return [
            loads_text(found.loads),
            best_load_text(found.best, found.least_best, found.most_best, self.spread),
            sweep_time_text(found.points, found.seconds, self.each),
            *self._notes(),
        ]

    def _notes(self) -> list[str]:
        power = self.found.most_power
        hot = [HOT_LOADS.format(power=significant(power, 2))] if power > HOT else []
        return [MEASURE_LOADS, *hot]


def advise_loads(request: LoadsRequest) -> LoadsTold:
    """Return the load resistors to have for the cells that are expected.

    Raises
    ------
    RequestError : voltage or current is missing, or a number can't be meant.
    """
    voc = _number("expect_voltage", request.expect_voltage)
    isc = _number("expect_current", request.expect_current)
    spread = _number("spread", request.spread)
    each = _number("seconds", request.seconds)
    return LoadsTold(voc, isc, spread, each, advised_loads(voc, isc, spread=spread, seconds=each))


def _number(name: str, given: float | None) -> float:
    low, high, unit = _LIMITS[name]
    if given is None or not low <= given <= high:
        raise RequestError(
            "A number is missing." if given is None else "A number can't be meant.",
            code="options.value",
            where=next(option.flag for option in LOADS if option.name == name),
            found="nothing" if given is None else f"{given:g}",
            allowed=f"{low:g} to {high:.0f} {unit}",
            do="To hear which resistors to buy, tell what you expect of a cell: "
            "trials sweep --expect-voltage 0.4 --expect-current 1",
        )
    return given
