"""Two versions compared, in words: how much more one gave, and what else the data would fit.

On the difference scale "a gave 0.21 mW more than b", on the ratio scale "a gave 1.4 times as much
as b". The version that gave more is always named first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from trials.words.language import say
from trials.words.numbers import (
    Ends,
    given,
    interval_decimals,
    number,
    ratio_decimals,
    times,
    with_unit,
)

Scale = Literal["difference", "ratio"]


@dataclass(frozen=True)
class Pair:
    """Version ``a`` minus version ``b``, or ``a`` over ``b``, with an interval.

    Parameters
    ----------
    a, b : names of the versions as a person reads them, with their unit ("40 min").
    estimate : the difference in ``unit``, or the ratio; None where it can't be worked out.
    interval : its ends; an end that doesn't exist is None.
    """

    a: str
    b: str
    estimate: float | None
    interval: Ends
    scale: Scale
    unit: str = ""

    @property
    def zero(self) -> float:
        """What stands for no difference at all."""
        return 1.0 if self.scale == "ratio" else 0.0

    @property
    def decimals(self) -> int:
        """How many decimals the estimate and both ends are shown with."""
        if self.scale == "ratio":
            return ratio_decimals(self.interval, self.estimate)
        return interval_decimals(self.interval, self.estimate)

    def larger_first(self) -> Pair:
        """Return the same comparison with the version that gave more named first."""
        if self.estimate is None or self.estimate >= self.zero:
            return self
        low, high = self.interval
        return Pair(
            self.b, self.a, self._turned(self.estimate), (self._turned(high), self._turned(low)),
            self.scale, self.unit,
        )  # fmt: skip

    def _turned(self, x: float | None) -> float | None:
        if x is None:
            return None
        if self.scale == "difference":
            return -x
        return 1 / x if x > 0 else None


def gap(pair: Pair) -> str:
    """Return how much more the first gave, as a clause.

    Examples
    --------
    >>> gap(Pair("burner", "oven", -0.2137, (-0.323, -0.104), "difference", "mW"))
    'oven gave 0.21\\xa0mW more than burner'
    >>> gap(Pair("hibiscus", "beetroot", 1.4249, (1.1, 1.9), "ratio"))
    'hibiscus gave 1.42\\xa0times as much as beetroot'
    >>> gap(Pair("thin", "thick", 0.04, (-1.3, 1.4), "difference", "m"))
    'thin gave about as much as thick'
    """
    pair = pair.larger_first()
    if pair.estimate is None:
        return say("the difference between {a} and {b} could not be worked out", a=pair.a, b=pair.b)
    if pair.scale == "ratio":
        return say(
            "{a} gave {estimate} as much as {b}",
            a=pair.a,
            estimate=times(pair.estimate, pair.decimals),
            b=pair.b,
        )
    size = number(pair.estimate, pair.decimals)
    if not size.strip("0.,"):
        return say("{a} gave about as much as {b}", a=pair.a, b=pair.b)
    return say("{a} gave {size} more than {b}", a=pair.a, size=with_unit(size, pair.unit), b=pair.b)


def fits(pair: Pair) -> str:
    """Return what the data would fit, from the side of the version that gave more.

    Examples
    --------
    >>> fits(Pair("burner", "oven", -0.2137, (-0.323, -0.104), "difference", "mW"))
    'anything from 0.10 to 0.32\\xa0mW more'
    >>> fits(Pair("oven", "burner", 0.03, (-0.08, 0.14), "difference", "mW"))
    'anything from 0.08\\xa0mW less to 0.14\\xa0mW more'
    >>> fits(Pair("hibiscus", "beetroot", 1.4249, (1.1, 1.9), "ratio"))
    'anything from 1.10 to 1.90\\xa0times as much'
    """
    pair = pair.larger_first()
    if pair.interval == (None, None):
        return say("no range could be worked out")
    return _ratio_range(pair) if pair.scale == "ratio" else _difference_range(pair)


def _ratio_range(pair: Pair) -> str:
    low, high = pair.interval
    if low is None:
        return say("up to {high} as much", high=times(high or 0.0, pair.decimals))
    if high is None:
        return say("{low} as much or more", low=times(low, pair.decimals))
    start, end = _ratio_ends(pair, low, high)
    return say("anything from {low} to {high} as much", low=start, high=end)


def _difference_range(pair: Pair) -> str:
    low, high = pair.interval
    if low is None:
        return say("up to {high}", high=_signed(pair, high or 0.0))
    if high is None:
        return say("{low} or beyond", low=_signed(pair, low))
    start, end = _difference_ends(pair, low, high)
    return say("anything from {low} to {high}", low=start, high=end)


def _signed(pair: Pair, x: float) -> str:
    size = with_unit(number(abs(x), pair.decimals), pair.unit)
    return say("{size} less", size=size) if x < 0 else say("{size} more", size=size)


def margin(worthwhile: float, scale: Scale, unit: str) -> str:
    """Return the difference that a person would care about.

    Examples
    --------
    >>> margin(0.2, "difference", "mW"), margin(1.3, "ratio", "mW")
    ('0.2\\xa0mW', '1.3\\xa0times')
    """
    return times(worthwhile) if scale == "ratio" else given(worthwhile, unit)


def gap_with_range(pair: Pair) -> str:
    """Return the gap and, in brackets, what else the data would fit.

    Examples
    --------
    >>> gap_with_range(Pair("hibiscus", "beetroot", 1.4249, (1.1, 1.9), "ratio"))
    'hibiscus gave 1.42\\xa0times as much as beetroot (1.10 to 1.90\\xa0times fits the data)'
    """
    text = gap(pair)
    if pair.estimate is None or pair.interval == (None, None):
        return text
    pair = pair.larger_first()
    low, high = pair.interval
    if low is None or high is None:
        return say("{gap} ({ends} fits the data)", gap=text, ends=_one_end(pair))
    start, end = (_ratio_ends if pair.scale == "ratio" else _difference_ends)(pair, low, high)
    return say("{gap} ({low} to {high} fits the data)", gap=text, low=start, high=end)


def _one_end(pair: Pair) -> str:
    low, high = pair.interval
    if pair.scale == "ratio" and low is None:
        return say("up to {high}", high=times(high or 0.0, pair.decimals))
    return fits(pair)


def _ratio_ends(pair: Pair, low: float, high: float) -> tuple[str, str]:
    return number(low, pair.decimals), times(high, pair.decimals)


def _difference_ends(pair: Pair, low: float, high: float) -> tuple[str, str]:
    # "from 0.10 to 0.32 mW more" where both ends say the same, else each says its own
    start = number(low, pair.decimals) if low >= 0 else _signed(pair, low)
    return start, _signed(pair, high)
