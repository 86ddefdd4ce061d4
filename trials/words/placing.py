"""Sentences about a loss that was taken back, and about a timetable that was made anew."""

from __future__ import annotations

from collections.abc import Sequence

from trials.words.language import marked, say
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
        else "On {lost} {item} was recorded as lost: {why}. On {back}, before anything was "
        "measured, that was taken back: {reason}",
        lost=lost[0], item=item, why=lost[1], back=back[0], reason=back[1],
    )  # fmt: skip
    return f"{told}. {say('Its readings count')}" if counts else told


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
    On 2031-03-03, before anything was measured, the timetable was made anew from lesson 2 on. It
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
        else say("On {day}, before anything was measured, the timetable was made anew from lesson "
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
