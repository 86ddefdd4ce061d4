"""Time spans as people say them."""

from __future__ import annotations

from typing import Final

from trials.words.numbers import NBSP

_HOUR: Final = 60
_DAY: Final = 24 * _HOUR


def duration(minutes: float) -> str:
    """Return a time span as people say it.

    Examples
    --------
    >>> duration(8), duration(90), duration(30240), duration(0.5), duration(120)
    ('8\\xa0min', '1\\xa0h 30\\xa0min', '21\\xa0days', '0.5\\xa0min', '2\\xa0h')
    """
    if minutes < 2 * _HOUR - 30 or minutes != int(minutes):
        return f"{minutes:g}{NBSP}min"
    hours, rest = divmod(int(minutes), _HOUR)
    if minutes < 2 * _DAY:
        return f"{hours}{NBSP}h" + (f" {rest}{NBSP}min" if rest else "")
    days, left = divmod(int(minutes), _DAY)
    return f"{days}{NBSP}days" + (f" {left // _HOUR}{NBSP}h" if left >= _HOUR else "")
