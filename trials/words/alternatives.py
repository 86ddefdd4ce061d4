"""What a plan among others is: one line on what changes, one on what it gives up."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from trials.words.language import say
from trials.words.numbers import count, listing, percent

WHAT: Mapping[str, str] = MappingProxyType(
    {
        "as_asked": "as study.toml asks",
        "more": "the same with more of everything",
        "fewer": "the same with fewer copies",
        "part": "only a part of the recipes is made",
        "singly": "each variable by itself: what variables do together is not asked",
        "without": "without {of}",
        "whole": "as many as make every recipe equally often",
        "member_fewer": "one {of} fewer",
        "member_more": "one {of} more",
        "level": "without {of}",
    }
)
NOTHING_GIVEN_UP = "Gives up: nothing that was asked."
NOT_PLACED = (
    "None of them was placed in the lessons here: a larger one may need more. With its lines in "
    "study.toml, trials check says how many lessons it takes."
)


def too_many_lessons(least: int, there: int) -> str:
    """Return that a plan doesn't fit into the lessons that there are.

    Examples
    --------
    >>> too_many_lessons(3, 2)
    "Doesn't fit into 2 lessons: it takes at least 3."
    """
    return f"Doesn't fit into {count(there, 'lesson')}: it takes at least {least}."


def too_little_in_stock(name: str, fits: int, item: str) -> str:
    """Return that there is too little of a material for a plan.

    Examples
    --------
    >>> too_little_in_stock("slide", 30, "cell")
    'Takes more than there is in stock: slide, enough for 30 cells.'
    """
    return f"Takes more than there is in stock: {name}, enough for {count(fits, item)}."


def gives_up_line(code: str, notes: tuple[str, ...], of: str) -> str:
    """Return what a plan gives up, in the names of the study.

    Examples
    --------
    >>> gives_up_line("singly", (), "")
    "Gives up: whether one variable's effect depends on another."
    >>> gives_up_line("fewer", (), "")
    'Gives up: only small differences, which no longer show.'
    """
    told = {
        "singly": "whether one variable's effect depends on another",
        "fewer": "only small differences, which no longer show",
        "member_fewer": "only small differences, which no longer show",
        "without": f"anything about {of}",
        "level": f"anything about {of}",
    }.get(code)
    if told is None and not notes:
        return NOTHING_GIVEN_UP
    first = f"Gives up: {told}." if told else "Gives up something:"
    return " ".join((first, *notes))


def one_more_sentence(
    what: str, items: str, factor: str, sizes: tuple[str, str], *, grows: bool
) -> str:
    """Return what one more item, or one more member of a group, would buy.

    Examples
    --------
    >>> one_more_sentence("pot in each lesson", "56 cups", "heat", ("51 mS", "47 mS"), grows=True)
    'One more pot in each lesson (56 cups): heat then shows from 47 mS (now 51 mS).'
    >>> one_more_sentence("cup", "49 cups", "heat", ("51 mS", "51 mS"), grows=False)
    'One more cup: hardly a change, heat still shows from 51 mS.'
    """
    total = f" ({items})" if grows else ""
    if sizes[0] == sizes[1]:
        return f"One more {what}{total}: hardly a change, {factor} still shows from {sizes[1]}."
    return f"One more {what}{total}: {factor} then shows from {sizes[1]} (now {sizes[0]})."


def groups_text(groups: Mapping[str, int]) -> str:
    """Return how many members each group has.

    Examples
    --------
    >>> groups_text({"firings": 8, "teams": 6})
    '8 firings and 6 teams'
    """
    return listing([f"{count} {name}" for name, count in groups.items()])


def search_sentence(proved: bool, starts: int, efficiency: float) -> str:
    r"""Return how good a layout is known to be.

    Examples
    --------
    >>> search_sentence(True, 1, 1.0)
    'No other way of dealing the versions out could compare them better.'
    >>> search_sentence(False, 8, 0.861).replace("\xa0", " ")
    'The best way of dealing the versions out that was found in 8 tries: at least 86 % of the best
    that could be possible.'
    """
    if proved:
        return say("No other way of dealing the versions out could compare them better.")
    return say(
        "The best way of dealing the versions out that was found in {n_tries}: at least {share} of "
        "the best that could be possible.",
        n_tries=count(starts, say("try")),
        share=percent(math.floor(100 * efficiency) / 100),
    )


def criterion_sentence(criterion: str, worst: float | None) -> str:
    """Return for the page on methods what the search made small.

    ``worst`` is the layout's efficiency at the worst of the ratios 0, 1 and 4 of the groups'
    variance to the items', against the best layout found at that ratio.

    Examples
    --------
    >>> criterion_sentence("A", None)
    'The layout was searched for under criterion A, the mean variance of the declared comparisons.'
    """
    what = {
        "A": say("the mean variance of the declared comparisons"),
        "D": say("the joint confidence region of all effects"),
        "I": say("the mean variance of prediction over the recipes"),
    }[criterion]
    first = say(
        "The layout was searched for under criterion {criterion}, {what}.",
        criterion=criterion,
        what=what,
    )
    if worst is None:
        return first
    return say(
        "{first} Were groups to vary 0, 1 or 4 times as much as items, it would still have at "
        "least {share} of the efficiency of the best layout found for that.",
        first=first,
        share=percent(math.floor(100 * worst) / 100),
    )


def worth_sentence(times: float | None) -> str:
    r"""Return for the page on methods what every layout that could have been drawn can tell.

    ``times``: the largest value of the criterion, as a multiple of the best found; None: any.

    Examples
    --------
    >>> worth_sentence(1.02).replace("\xa0", " ")
    'Each of them keeps the same balance, and its criterion is at most 2 % above the best found.'
    >>> worth_sentence(None)
    'Each of them keeps the same balance, and leaves nothing open that is asked.'
    """
    if times is None:
        return say("Each of them keeps the same balance, and leaves nothing open that is asked.")
    return say(
        "Each of them keeps the same balance, and its criterion is at most {more} above the best "
        "found.",
        more=percent(times - 1),
    )
