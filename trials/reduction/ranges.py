"""Ranges of numbers, each end of which may be open: what is outside, and how a range is told."""

from __future__ import annotations

from decimal import Decimal

from trials.quantities import nice, shown
from trials.reduction.values import Range
from trials.words.keeping import Kept, kept


def outside(value: Decimal, ends: Range) -> bool:
    """Return whether a number lies outside a range; the ends belong to it.

    Examples
    --------
    >>> outside(Decimal(5), (Decimal(0), Decimal(5))), outside(Decimal(-1), (Decimal(0), None))
    (False, True)
    """
    low, high = ends
    return (low is not None and value < low) or (high is not None and value > high)


def kept_range(ends: Range, unit: str) -> Kept:
    """Return a range in words, to be kept in a sentence.

    Examples
    --------
    >>> low, high = Decimal(0), Decimal("0.8")
    >>> str(kept_range((low, high), "V")), str(kept_range((low, None), "m")), str(
    ...     kept_range((None, high), "")
    ... )
    ('0 to 0.8 V', '0 m or more', 'up to 0.8')
    """
    low, high = ends
    after = f" {nice(unit)}" if unit and nice(unit) else ""
    if low is not None and high is not None:
        return kept("{low} to {high}", low=shown(low), high=f"{shown(high)}{after}")
    if low is not None:
        return kept("{low} or more", low=f"{shown(low)}{after}")
    return kept("up to {high}", high=f"{shown(high or Decimal(0))}{after}")
