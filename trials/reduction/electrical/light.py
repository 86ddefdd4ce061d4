"""Light: what fell on a cell, how sure that is, and what the cell would give in another light.

Corrections after IEC 60891 (procedures 1 and 2 of its 2009 edition, for light alone; formulas from
memory): a point at current I1 and voltage V1 in light G1 moves to

    1:  I2 = I1 + Isc (G2 / G1 - 1),   V2 = V1 - Rs (I2 - I1)
    2:  I2 = I1 G2 / G1,               V2 = V1 + Voc a ln(G2 / G1) - Rs (I2 - I1)

where a Voc is the width of the diode's exponential (n k T / q). Temperature is taken as the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import Literal

from trials.reduction.electrical.budget import FLAT
from trials.reduction.electrical.curve import Floats

REFERENCE = 1000.0  # W/m², as in the standard test conditions (IEC 60904-3)
FAR = 0.2  # of the reference: beyond, no correction is trusted (common practice, no source)
MIN_LIGHT, MAX_LIGHT = 10.0, 1500.0  # W/m², believable on a cell (common practice, no source)
DAYLIGHT = 110.0  # lm/W: global daylight 105 to 122 in reviews and measurements
DAYLIGHT_BAND = 0.175  # limits of error of that factor, as a share

Meter = Literal["pyranometer", "reference cell", "lux meter"]
METERS: tuple[Meter, ...] = ("pyranometer", "reference cell", "lux meter")
# Limits of error as a share of the reading, where none is given: a simple thermopile instrument,
# and a silicon cell that sees other colours than a dye does (common practice, no source).
METER_ERROR: dict[Meter, float] = {
    "pyranometer": 0.05,
    "reference cell": 0.08,
    "lux meter": DAYLIGHT_BAND,
}


@dataclass(frozen=True)
class Light:
    """The light on a cell: W/m² with its relative standard uncertainty; by a lamp or the sky."""

    irradiance: float
    relative: float
    meter: Meter
    lamp: bool = False

    @property
    def is_told(self) -> bool:
        """Whether W/m² can be told at all: lux tell the power of daylight only."""
        return not (self.lamp and self.meter == "lux meter")

    @property
    def is_far(self) -> bool:
        """Whether the light was too far from the reference to be corrected with trust."""
        return abs(self.irradiance / REFERENCE - 1) > FAR


def light_of(
    reading: float, meter: Meter, *, error: float | None = None, lamp: bool = False
) -> Light:
    """Return the light that a meter read: W/m², or lux by a lux meter.

    Parameters
    ----------
    error : limits of error stated by its maker, as a share of the reading; None: as usual.

    Examples
    --------
    >>> round(light_of(110_000, "lux meter").irradiance)
    1000
    """
    limits = METER_ERROR[meter] if error is None else error
    if meter == "lux meter":
        limits = max(limits, DAYLIGHT_BAND)
        reading = reading / DAYLIGHT
    return Light(reading, limits / FLAT, meter, lamp)


def procedure_1(
    voltage: Floats, current: Floats, ratio: float, isc: float, series: float
) -> tuple[Floats, Floats]:
    """Return points in ``ratio`` times the light by IEC 60891, procedure 1.

    Parameters
    ----------
    voltage, current : shape (n,), V and mA.
    isc : short-circuit current in the light that was there, mA.
    series : series resistance, ohm.
    """
    more = current + isc * (ratio - 1)
    return voltage - series / 1000 * (more - current), more


def procedure_2(
    voltage: Floats, current: Floats, ratio: float, width: float, series: float
) -> tuple[Floats, Floats]:
    """Return points in ``ratio`` times the light by IEC 60891, procedure 2.

    Parameters
    ----------
    width : what a factor e of light adds to the open-circuit voltage, V: n k T / q.
    """
    more = current * ratio
    return voltage + width * log(ratio) - series / 1000 * (more - current), more
