"""Sentences about a loss that was taken back, and about a timetable that was made anew."""

from __future__ import annotations

from collections.abc import Sequence

from trials.words.language import marked, say
from trials.words.naming import member_name
from trials.words.numbers import listing

DEPARTED = marked("Here the work departed from the plan:")


def taken_back_sentence(
    item: str, lost: tuple[str, str], back: tuple[str, str], *, measured: bool, counts: bool
) -> str:
    """Return what the report says of a loss that was taken back.

    Parameters
    ----------
    lost, back : each the day and the reason.
    measured : whether first readings were in when it was taken back.
    counts : whether there are readings of it, which count.

    Examples
    --------
    >>> back = ("2031-03-05", "wrong code (T1)")
    >>> lost = ("2031-03-03", "cracked")
    >>> print(taken_back_sentence("K7", lost, back, measured=True, counts=True))
    On 2031-03-03 K7 was recorded as lost: cracked. On 2031-03-05, when first readings were in, that
    was taken back: wrong code (T1). Its readings count
    """
    told = say(
        "On {lost} {item} was recorded as lost: {why}. On {back}, when first readings were in, "
        "that was taken back: {reason}"
        if measured
        else "On {lost} {item} was recorded as lost: {why}. On {back}, before readings "
        "were in, that was taken back: {reason}",
        lost=lost[0], item=item, why=lost[1], back=back[0], reason=back[1],
    )  # fmt: skip
    return f"{told}. {say('Its readings count')}" if counts else told


def _taken_back(told: str, back: str, *, measured: bool) -> str:
    when = (
        say("On {day}, when first readings were in, that was taken back", day=back)
        if measured
        else say("On {day}, before readings were in, that was taken back", day=back)
    )
    return f"{told}. {when}"


def away_taken_back_sentence(
    who: tuple[str, str, int],
    days: tuple[str, str],
    items: Sequence[tuple[str, str]],
    *,
    measured: bool,
) -> str:
    """Return what the report says of a team that was said to be away, where that stands no more.

    Parameters
    ----------
    who : what teams are called, the team, and the lesson from which on it was to be away.
    days : on which it was said and taken back.
    items : what it had made that others were to finish, and which team each.
    measured : whether first readings were in when it was taken back.

    Examples
    --------
    >>> days = ("2031-03-03", "2031-03-05")
    >>> items = [("K7", "elm")]
    >>> print(away_taken_back_sentence(("team", "owl", 2), days, items, measured=True))
    On 2031-03-03 it was recorded that team owl is away from lesson 2 on. By the timetable of then
    others finish what it made: K7 (team elm). On 2031-03-05, when first readings were in, that was
    taken back
    """
    team_of, team, lesson = who
    told = say(
        "On {day} it was recorded that {team} is away from lesson {lesson} on",
        day=days[0], team=member_name(team_of, team), lesson=lesson,
    )  # fmt: skip
    if items:
        shares = listing([f"{item} ({member_name(team_of, other)})" for item, other in items])
        others = say("By the timetable of then others finish what it made: {shares}", shares=shares)
        told = f"{told}. {others}"
    return _taken_back(told, days[1], measured=measured)


def missing_taken_back_sentence(
    equipment: tuple[str, int, int], lesson: int, days: tuple[str, str], *, measured: bool
) -> str:
    """Return what the report says of equipment that was said to be out of order and isn't.

    Parameters
    ----------
    equipment : what it is called, how many pieces were said to be, and how many still are.
    lesson : from which on.
    days : on which it was said and taken back.
    measured : whether first readings were in when it was taken back.

    Examples
    --------
    >>> days = ("2031-03-03", "2031-03-05")
    >>> print(missing_taken_back_sentence(("oven", 1, 0), 2, days, measured=False))
    On 2031-03-03 it was recorded as out of order from lesson 2 on: oven, 1 in all. On 2031-03-05,
    before readings were in, that was taken back
    >>> print(missing_taken_back_sentence(("oven", 2, 1), 2, days, measured=True))
    On 2031-03-03 it was recorded as out of order from lesson 2 on: oven, 2 in all. On 2031-03-05,
    when first readings were in, that was taken back, but for 1
    """
    name, pieces, left = equipment
    told = say(
        "On {day} it was recorded as out of order from lesson {lesson} on: {name}, {count} in all",
        day=days[0], lesson=lesson, name=name, count=pieces,
    )  # fmt: skip
    told = _taken_back(told, days[1], measured=measured)
    return f"{told}, {say('but for {count}', count=left)}" if left else told


def placed_sentence(
    lesson: int,
    day: str,
    left_out: Sequence[str],
    lessons: tuple[int, int],
    *,
    measured: bool,
    times: int,
) -> str:
    """Return what the report says of a timetable that was made anew from a lesson on.

    Parameters
    ----------
    day : when that was done; where it was done several ``times``, the last of them.
    lessons : how many it took in all before, and takes since.
    measured : whether readings were in by then.

    Examples
    --------
    >>> print(placed_sentence(2, "2031-03-03", ["K7"], (2, 3), measured=False, times=1))
    On 2031-03-03, before readings were in, the timetable was made anew from lesson 2 on. It
    leaves out K7, which was lost or not made. It takes 3 lessons in all instead of 2. Versions,
    teams and order stayed as drawn
    >>> print(placed_sentence(3, "2031-03-03", [], (3, 3), measured=True, times=2))
    On 2031-03-03, when first readings were in, the timetable was made anew from lesson 3 on (the
    last of 2 times). Versions, teams and order stayed as drawn
    """
    when = (
        say("On {day}, when first readings were in, the timetable was made anew from lesson "
            "{lesson} on", day=day, lesson=lesson)
        if measured
        else say("On {day}, before readings were in, the timetable was made anew from lesson "
                 "{lesson} on", day=day, lesson=lesson)
    )  # fmt: skip
    told = [when]
    if times > 1:
        told[0] += " " + say("(the last of {times} times)", times=times)
    if left_out:
        items = listing(left_out)
        told.append(say("It leaves out {items}, which was lost or not made" if len(left_out) == 1
                        else "It leaves out {items}, which were lost or not made",
                        items=items))  # fmt: skip
    before, after = lessons
    if before != after:
        told.append(say("It takes {after} lessons in all instead of {before}" if after != 1
                        else "It takes one lesson in all instead of {before}",
                        after=after, before=before))  # fmt: skip
    told.append(say("Versions, teams and order stayed as drawn"))
    return ". ".join(told)
