"""Averages that stay exact, and the two kinds of standard uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal, localcontext
from fractions import Fraction

from trials.quantities import DIGITS


def average(numbers: Sequence[Fraction]) -> Fraction:
    """Return the exact average of one or more numbers.

    Examples
    --------
    >>> average([Fraction("0.1"), Fraction("0.2")])
    Fraction(3, 20)
    """
    return sum(numbers, Fraction(0)) / len(numbers)


def decimal_of(number: Fraction) -> Decimal:
    """Return a fraction as a decimal of at most 50 significant digits.

    Examples
    --------
    >>> decimal_of(Fraction(3, 20)), len(str(decimal_of(Fraction(1, 3))))
    (Decimal('0.15'), 52)
    """
    with localcontext() as context:
        context.prec = DIGITS
        return Decimal(number.numerator) / Decimal(number.denominator)


def spread_of_mean(numbers: Sequence[float]) -> float | None:
    """Return the experimental standard deviation of the mean, None for fewer than two numbers.

    Source: JCGM 100:2008, 4.2.3, equation (5).

    Examples
    --------
    >>> spread_of_mean([1.0, 2.0, 3.0, 2.0, 2.0]), spread_of_mean([1.0])
    (0.316..., None)
    """
    n = len(numbers)
    if n < 2:
        return None
    mean = math.fsum(numbers) / n
    return math.sqrt(math.fsum((x - mean) ** 2 for x in numbers) / (n - 1) / n)


def display_uncertainty(step: float) -> float:
    """Return the standard uncertainty of a display that moves in steps.

    The reading may be anywhere within half a step, so it is the step over the square root of 12,
    about 0.29 of a step. Source: JCGM 100:2008, F.2.2.1.

    Examples
    --------
    >>> round(display_uncertainty(0.001), 6)
    0.000289
    """
    return step / math.sqrt(12)
