"""Sentences about a team that was not there."""

from __future__ import annotations

from collections.abc import Sequence

from trials.words.language import marked, say
from trials.words.naming import member_name
from trials.words.numbers import listing

FINISHED = marked(
    "What another team finished counts for the team that made it, with all its readings."
)


def who_was_absent(team: tuple[str, str], session: tuple[str, str]) -> str:
    """Return who was not there, and when; both as what it is called and which one.

    Examples
    --------
    >>> who_was_absent(("team", "rowan"), ("session", "S2"))
    'team rowan was absent in session S2'
    >>> who_was_absent(("team", "rowan"), ("", ""))
    'team rowan was absent'
    """
    who = member_name(*team)
    if session[1]:
        return say("{team} was absent in {session}", team=who, session=member_name(*session))
    return say("{team} was absent", team=who)


def absence_sentence(
    team: tuple[str, str],
    session: tuple[str, str],
    unmade: Sequence[str],
    made: Sequence[str],
    why: str,
) -> str:
    """Return what the report says of an absence.

    Examples
    --------
    >>> absence_sentence(("team", "rowan"), ("session", "S2"), ["K7"], ["K9"], "ill (T1)")
    'team rowan was absent in session S2: ill (T1). K7 was not made. K9 has readings, which count'
    """
    told = [f"{who_was_absent(team, session)}: {why}"]
    if unmade:
        one = len(unmade) == 1
        text = say("{items} was not made" if one else "{items} were not made",
                   items=listing(unmade))  # fmt: skip
        told.append(text)
    if made:
        one = len(made) == 1
        text = say("{items} has readings, which count" if one
                   else "{items} have readings, which count", items=listing(made))  # fmt: skip
        told.append(text)
    return ". ".join(told)


def away_sentence(
    team_of: str, team: str, lessons: tuple[int, int | None], items: Sequence[tuple[str, str]]
) -> str:
    """Return what the report says of a team that was away from a lesson on.

    Parameters
    ----------
    lessons : the first lesson in which it was away, and the first in which it was there again.
    items : what it had made that others finished, and which team each.

    Examples
    --------
    >>> print(away_sentence("team", "rowan", (2, None), [("K7", "elm"), ("K9", "oak")]))
    team rowan was away from lesson 2 on. By the timetable others finished what it made: K7 (team...
    >>> away_sentence("team", "rowan", (2, 4), [])
    'team rowan was away from lesson 2 on, and there again from lesson 4 on'
    """
    first, back = lessons
    who = member_name(team_of, team)
    if back is None:
        told = say("{team} was away from lesson {lesson} on", team=who, lesson=first)
    else:
        told = say(
            "{team} was away from lesson {lesson} on, and there again from lesson {back} on",
            team=who, lesson=first, back=back,
        )  # fmt: skip
    if not items:
        return told
    shares = listing([f"{item} ({member_name(team_of, other)})" for item, other in items])
    others = say("By the timetable others finished what it made: {shares}", shares=shares)
    return f"{told}. {others}"


def missing_sentence(name: str, lessons: Sequence[tuple[int, int]]) -> str:
    """Return what the report says of equipment that was out of order.

    Parameters
    ----------
    lessons : how many pieces in all, and from which lesson on.

    Examples
    --------
    >>> missing_sentence("oven", [(1, 2), (2, 3), (0, 5)])
    'Out of order: oven, 1 from lesson 2 on, 2 from lesson 3 on and none from lesson 5 on'
    """
    parts = [
        say("{count} from lesson {lesson} on", count=pieces, lesson=lesson)
        if pieces
        else say("none from lesson {lesson} on", lesson=lesson)
        for pieces, lesson in lessons
    ]
    return say("Out of order: {name}, {pieces}", name=name, pieces=listing(parts))


def offer_others(team: str, items: str) -> str:
    """Return the offer that other teams make what is missing; ``items``: what several are called.

    Examples
    --------
    >>> offer_others("team", "cups")
    '- Let each other team make some of these cups, as the sheets say. Then tell who made them:'
    """
    return (
        f"- Let each other {team} make some of these {items}, as the sheets say. Then tell "
        "who made them:"
    )


def lessons_without(folder: str, since: str, team: str) -> str:
    """Return what to type where a team is away from a lesson on.

    Examples
    --------
    >>> lessons_without("cups", "2", "rowan")
    'trials lessons cups --since 2 --away rowan'
    """
    return f"trials lessons {folder} --since {since} --away {team}"


def made_a_start(folder: str, team: str) -> list[str]:
    """Return what to do if the team was there in an earlier lesson.

    Examples
    --------
    >>> print(*made_a_start("cups", "rowan"), sep="\\n")
    - Or, if it was there in an earlier lesson and made a start: take this back (--undo), and let
      others finish from lesson N on: trials lessons cups --since N --away rowan
    """
    return [
        "- Or, if it was there in an earlier lesson and made a start: take this back (--undo), and "
        "let",
        f"  others finish from lesson N on: {lessons_without(folder, 'N', team)}",
    ]


def offer_extension(items: str, *, first: bool = False) -> str:
    """Return the offer to plan items that make up for those missing; ``first``: none before it.

    Examples
    --------
    >>> offer_extension("cups")
    '- Or make other cups later, dealt so that they make up for those missing:'
    """
    make = "Make" if first else "Or make"
    return f"- {make} other {items} later, dealt so that they make up for those missing:"
