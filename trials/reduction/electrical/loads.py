"""Which load resistors to buy, so that the most power of the cells to come is bracketed and found.

The best load of a cell lies near Voc / Isc, but nobody knows these before the cells are made. So
the loads go from well below the best load of the strongest cell that may be expected to well above
that of the weakest, in the steps of the E6 series (IEC 60063), near enough to each other that the
top can't hide between two of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import floor, log10

E6 = tuple(Decimal(text) for text in ("1.0", "1.5", "2.2", "3.3", "4.7", "6.8"))  # IEC 60063

# The best load times Isc / Voc, of cells with fill factors from 0.30 to 0.65, from those that lose
# most through the shunt to those that lose most in series (found with an outside solver; tests).
LEAST_BEST, MOST_BEST = 0.7, 1.3
BEYOND = 2.0  # times past the last best load: power is clearly less there (a tenth or more)
SPREAD = 3.0  # cells from a third to three times the expected current (common practice, no source)
SECONDS = 15.0  # a point: set, wait, read two meters, write (common practice, no source)
_EXACT = 1e-9  # a load that is wanted to the last digit is met by the value of that name


@dataclass(frozen=True)
class Advice:
    """The loads to have, in ohm, from small to large; a short and an open circuit come beside.

    ``best`` is about where the best load of the expected cell lies, ``least_best`` and
    ``most_best`` those of the strongest and the weakest; ``most_power`` (mW) is the most that any
    load can have to bear; ``seconds`` for one sweep.
    """

    loads: tuple[float, ...]
    best: float
    least_best: float
    most_best: float
    most_power: float
    seconds: float

    @property
    def points(self) -> int:
        """Points of a sweep: every load, short circuit and open circuit."""
        return len(self.loads) + 2


def advised_loads(
    voc: float, isc: float, *, spread: float = SPREAD, seconds: float = SECONDS
) -> Advice:
    """Return the loads for cells about as strong as expected.

    Parameters
    ----------
    voc, isc : expected open-circuit voltage (V) and short-circuit current (mA), above 0.
    spread : how many times stronger or weaker in current a cell may be, 1 or more.
    seconds : how long one point takes.

    Examples
    --------
    >>> advised_loads(0.45, 1.5, spread=1).loads
    (100.0, 150.0, 220.0, 330.0, 470.0, 680.0, 1000.0)
    """
    ohm = 1000 * voc / isc
    least, most = LEAST_BEST * ohm / spread, MOST_BEST * ohm * spread
    loads = e6_between(least / BEYOND, most * BEYOND)
    return Advice(
        loads=loads,
        best=(LEAST_BEST * MOST_BEST) ** 0.5 * ohm,
        least_best=least,
        most_best=most,
        most_power=voc * isc * spread,
        seconds=(len(loads) + 2) * seconds,
    )


def e6_between(low: float, high: float) -> tuple[float, ...]:
    """Return the E6 values from the last not above ``low`` to the first not below ``high``.

    Examples
    --------
    >>> e6_between(0.9, 4.7)
    (0.68, 1.0, 1.5, 2.2, 3.3, 4.7)
    """
    decades = range(floor(log10(low)) - 1, floor(log10(high)) + 2)
    values = [float(step.scaleb(decade)) for decade in decades for step in E6]
    first = max(k for k, value in enumerate(values) if value <= low * (1 + _EXACT))
    last = min(k for k, value in enumerate(values) if value >= high * (1 - _EXACT))
    return tuple(values[first : last + 1])
