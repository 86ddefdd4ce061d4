"""Trends, the best recipe and the noise of readings, in words."""

from __future__ import annotations

from trials.words.comparing import Scale, margin
from trials.words.language import say
from trials.words.numbers import (
    Ends,
    decimals_of,
    ends_text,
    interval_decimals,
    number,
    percent,
    plural,
    ratio_decimals,
    times,
    with_unit,
)


def trend_sentence(
    step: str, estimate: float, interval: Ends, scale: Scale, unit: str, *, bends: bool
) -> str:
    """Return a straight-line trend, and whether a straight line tells it all.

    ``step`` is what the quantity changes by; ``estimate`` the change in ``unit`` or the ratio.

    Examples
    --------
    >>> trend_sentence("1 min more of soak", -1.2, (-2.3, -0.1), "difference", "mW", bends=False)
    'For 1 min more of soak the average differs by −1.2\\xa0mW (−2.3 to −0.1\\xa0mW fits the data).'
    >>> trend_sentence("a doubling of dose", 1.3, (1.2, 1.41), "ratio", "", bends=True)[-49:]
    'It is not a straight line, so this is an average.'
    """
    known = interval != (None, None)
    if scale == "ratio":
        decimals = ratio_decimals(interval, estimate)
        ratio = times(estimate, decimals)
        text = say("For {step} the average is {ratio} as much", step=step, ratio=ratio)
        ends = ends_text(interval, say("times"), decimals) if known else ""
    else:
        decimals = interval_decimals(interval, estimate)
        size = with_unit(number(estimate, decimals), unit)
        text = say("For {step} the average differs by {size}", step=step, size=size)
        ends = ends_text(interval, unit, decimals) if known else ""
    fits = say(" ({ends} fits the data)", ends=ends) if known else ""
    more = say(" It is not a straight line, so this is an average.") if bends else ""
    return f"{text}{fits}.{more}"


def step_text(factor: str, unit: str, scale: str) -> str:
    """Return what one step of a quantity is.

    Examples
    --------
    >>> step_text("soak", "min", "linear"), step_text("dose", "mg", "log"), step_text("pH", "", "")
    ('1\\xa0min more of soak', 'a doubling of dose', '1 more of pH')
    """
    if scale == "log":
        return say("a doubling of {factor}", factor=factor)
    return say("{amount} more of {factor}", amount=with_unit("1", unit), factor=factor)


def best_sentence(best: str, runner_up: str, average: str, item: str) -> str:
    """Return which recipe came out best, that this flatters it, and what to do.

    Examples
    --------
    >>> best_sentence("feed c", "feed b", "13.1 g", "pot")
    'Best average of those made: feed c (13.1 g). It was picked for coming out best, so that is
    likely a little too good: make fresh pots of it, and as many with feed b.'
    """
    return say(
        "Best average of those made: {best} ({average}). It was picked for coming out best, so "
        "that is likely a little too good: make fresh {items} of it, and as many with "
        "{runner_up}.",
        best=best,
        average=average,
        items=plural(item),
        runner_up=runner_up,
    )


def confirming_sentence(fresh: int, difference: float, scale: Scale, unit: str, least: int) -> str:
    """Return how many fresh items show a true difference, and how few can be made at all.

    Examples
    --------
    >>> confirming_sentence(14, 0.2, "difference", "mW", 3)
    '14 of each show that there is a difference in 8 of 10 such checks, if the true one is
    0.2\\xa0mW; 3 of each, the least, show only a big one.'
    """
    size = times(difference, 2) if scale == "ratio" else margin(difference, scale, unit)
    return say(
        "{n} of each show that there is a difference in 8 of 10 such checks, if the true one is "
        "{size}; {least} of each, the least, show only a big one.",
        n=fresh,
        size=size,
        least=least,
    )


def noise_sentence(share: float, interval: Ends, item: str) -> str:
    """Return whether the meter or the build is the noise.

    Examples
    --------
    >>> noise_sentence(0.12, (0.04, 0.31), "cell")
    'Measuring makes up 12\\xa0% of how much cells built alike differ (4\\xa0% to 31\\xa0% fits the
    data); building them makes up the rest.'
    """
    low, high = interval
    digits = min(max(decimals_of(100 * share, 2), 0), 2)
    if low is None or high is None:
        return say(
            "Measuring makes up {share} of how much {items} built alike differ; building them "
            "makes up the rest.",
            share=percent(share, digits),
            items=plural(item),
        )
    return say(
        "Measuring makes up {share} of how much {items} built alike differ ({low} to {high} fits "
        "the data); building them makes up the rest.",
        share=percent(share, digits),
        items=plural(item),
        low=percent(low, digits),
        high=percent(high, digits),
    )
