"""What is forbidden, in words: in the report's method and on a making sheet."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

from trials.words.language import say
from trials.words.numbers import capital, listing

Ban = tuple[Sequence[str], Sequence[str]]  # versions together, and to whom; nobody: to every item


def bans_sentence(bans: Sequence[Ban]) -> str:
    """Return what no layout makes that could have been drawn; "" for nothing.

    Examples
    --------
    >>> bans_sentence([(["heat oven", "dye red"], []), (["heat burner"], ["team T3"])])
    'Never made in any layout that could have been drawn: heat oven with dye red; heat burner by
    team T3.'
    """
    if not bans:
        return ""
    told = [_one(_together(what), who) for what, who in bans]
    return say("Never made in any layout that could have been drawn: {bans}.", bans="; ".join(told))


def _one(what: str, who: Sequence[str]) -> str:
    return say("{what} by {who}", what=what, who=listing(who)) if who else what


def _together(versions: Sequence[str]) -> str:
    return reduce(lambda one, other: say("{one} with {other}", one=one, other=other), versions)


def sheet_sentence(what: Sequence[str], who: Sequence[str]) -> str:
    """Return what a making sheet says of a ban that holds for all its items.

    Examples
    --------
    >>> sheet_sentence(["heat burner"], ["team T3"])
    'Heat burner is not on this list: it was ruled out for team T3 before the plan was drawn.'
    """
    versions = capital(_together(what))
    return say(
        "{versions} is not on this list: it was ruled out for {who} before the plan was drawn.",
        versions=versions,
        who=listing(who),
    )
