"""The plain reducers: one reading as it is, and the average of several."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from trials.quantities import as_decimal
from trials.reduction.average import average, decimal_of, display_uncertainty, spread_of_mean
from trials.reduction.settings import refuse, setting_faults, setting_value
from trials.reduction.values import (
    Asked,
    Column,
    Flag,
    Problem,
    Range,
    Reading,
    Reduced,
    Setting,
)
from trials.words.keeping import kept
from trials.words.language import say

_SETTINGS = (
    Setting(
        "column",
        text=True,
        about="name of the column to fill in, where it isn't the response's label or name",
    ),
    Setting(
        "step",
        number=True,
        about="smallest step that the instrument shows, in the unit of the response",
    ),
)


@dataclass(frozen=True)
class _Plain:
    """What `value` and `mean` have in common: one raw column in the unit of the response."""

    name: str
    about: str
    settings: tuple[Setting, ...] = _SETTINGS

    def problems(self, asked: Asked) -> tuple[Problem, ...]:
        """Return what is wrong with the settings of a response."""
        return setting_faults(asked, self.settings)

    def columns(self, asked: Asked) -> tuple[Column, ...]:
        """Return the one raw column."""
        refuse(asked, self.problems(asked))
        return (
            Column(
                self._column(asked),
                unit="" if asked.unit == "1" else asked.unit,
                believable=_range(asked),
                aliases=(asked.name,),
            ),
        )

    def _column(self, asked: Asked) -> str:
        named = setting_value(asked, self.settings, "column")
        return str(named) if named is not None else asked.label or asked.name.replace("_", " ")

    def _numbers(self, asked: Asked, readings: Sequence[Reading]) -> list[Decimal]:
        column = self._column(asked)
        return [reading[column] for reading in readings if column in reading]

    def _step(self, asked: Asked) -> float | None:
        step = setting_value(asked, self.settings, "step")
        return float(step) if step is not None else None


@dataclass(frozen=True)
class Value(_Plain):
    """One number an item, taken as it is.

    Examples
    --------
    >>> Value().name
    'value'
    """

    name: str = "value"
    about: str = "one number for each item, used as it is"

    def check(self, asked: Asked, readings: Sequence[Reading]) -> tuple[Flag, ...]:
        """Flag several different numbers where there should be one."""
        numbers = self._numbers(asked, readings)
        if len(set(numbers)) <= 1:
            return ()
        return (
            Flag(
                "several_values",
                None,
                self._column(asked),
                ", ".join(str(number) for number in numbers),
                kept("Each item should have one number here, and this one has several."),
            ),
        )

    def reduce(self, asked: Asked, readings: Sequence[Reading]) -> Reduced:
        """Return the number; None where there is none or several different ones."""
        numbers = set(self._numbers(asked, readings))
        if not numbers:
            return Reduced(None, None, None, 0, (say("no number was read"),))
        if len(numbers) > 1:
            return Reduced(None, None, None, 0, (say("several numbers where one is expected"),))
        number = numbers.pop()
        step = self._step(asked)
        return Reduced(
            float(number), number, display_uncertainty(step) if step is not None else None, 1
        )


@dataclass(frozen=True)
class Mean(_Plain):
    """The average of the readings of one item, on the scale they were read on.

    The uncertainty joins the standard deviation of the mean (type A, JCGM 100:2008, 4.2.3) with
    that of the display (type B, F.2.2.1), which averaging doesn't make smaller.
    """

    name: str = "mean"
    about: str = "the average of several readings of each item"

    def check(self, asked: Asked, readings: Sequence[Reading]) -> tuple[Flag, ...]:
        """Flag nothing: the readings of one column can't contradict each other here."""
        del asked, readings
        return ()

    def reduce(self, asked: Asked, readings: Sequence[Reading]) -> Reduced:
        """Return the average; None where nothing was read."""
        numbers = [Fraction(number) for number in self._numbers(asked, readings)]
        if not numbers:
            return Reduced(None, None, None, 0, (say("no number was read"),))
        mean = average(numbers)
        step = self._step(asked)
        parts = [
            part
            for part in (
                spread_of_mean([float(number) for number in numbers]),
                display_uncertainty(step) if step is not None else None,
            )
            if part is not None
        ]
        return Reduced(
            float(mean), decimal_of(mean), math.hypot(*parts) if parts else None, len(numbers)
        )


def _range(asked: Asked) -> Range:
    low, high = (None if end is None else as_decimal(end) for end in (asked.low, asked.high))
    return (low, high)
