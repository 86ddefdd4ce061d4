"""Times in the words of a class: minutes of a lesson, or times of day where they are known."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Sequence
from typing import Final

from trials.words.language import marked, marked_as, say, say_as
from trials.words.numbers import capital, count, listing

_DAYS: Final = (
    marked("Monday"),
    marked("Tuesday"),
    marked("Wednesday"),
    marked("Thursday"),
    marked("Friday"),
    marked("Saturday"),
    marked("Sunday"),
)
_MONTHS: Final = (
    marked_as("month", "January"),
    marked_as("month", "February"),
    marked_as("month", "March"),
    marked_as("month", "April"),
    marked_as("month", "May"),
    marked_as("month", "June"),
    marked_as("month", "July"),
    marked_as("month", "August"),
    marked_as("month", "September"),
    marked_as("month", "October"),
    marked_as("month", "November"),
    marked_as("month", "December"),
)
_SHORT_DAYS: Final = (
    marked_as("short", "Mon"),
    marked_as("short", "Tue"),
    marked_as("short", "Wed"),
    marked_as("short", "Thu"),
    marked_as("short", "Fri"),
    marked_as("short", "Sat"),
    marked_as("short", "Sun"),
)
_SHORT_MONTHS: Final = (
    marked_as("short", "Jan"),
    marked_as("short", "Feb"),
    marked_as("short", "Mar"),
    marked_as("short", "Apr"),
    marked_as("short", "May"),
    marked_as("short", "Jun"),
    marked_as("short", "Jul"),
    marked_as("short", "Aug"),
    marked_as("short", "Sep"),
    marked_as("short", "Oct"),
    marked_as("short", "Nov"),
    marked_as("short", "Dec"),
)

NOT_TO_SEE: Final = marked(
    "Whoever measures shouldn't see this page, or the making sheet of what is measured."
)
BEST: Final = marked("No other timetable is over sooner.")
SPLIT: Final = marked(
    "One session doesn't fit into one lesson: it is measured in several. Write the lesson beside "
    "each reading."
)
STALE: Final = marked(
    "The timetable of the plan is for other steps or items than these, so no times can be told "
    "here. Where steps were changed, 'trials lessons FOLDER --since N' gives times again, from "
    "lesson N on: what is made stays, and nothing changes its version."
)
YOUR_TIMES: Final = marked("When each step begins")
TIMES_ARE_PLANNED: Final = marked(
    "The times count, also where 'Order' says otherwise. If you are late, go on in the same order "
    "and write down the real time where it matters."
)
AT_THE_LATEST: Final = marked("at the latest")
LATE: Final = marked(
    "Too late for 'at the latest'? Do it all the same, and write the time beside it."
)
LATE_READING: Final = marked(
    "Also of one that is later than planned, or than 'by': measure it all the same."
)
NOTHING_HERE: Final = marked("Nothing is placed in this lesson.")
HAND_OUT: Final = marked("Hand out what is needed; say what can hurt")
WAIT_UNTIL_READY: Final = marked(
    "If something is still hot, or not ready, wait: all that follows moves by as much."
)
CLEAR_UP: Final = marked("Clear up; everything has its code and its place")


def best_found(minutes: int, *, proved: bool) -> str:
    """Return how much sooner another timetable might be over, at most.

    Parameters
    ----------
    minutes : from the bound to the end; 0 where only fewer lessons aren't ruled out.

    Examples
    --------
    >>> best_found(0, proved=True), best_found(1, proved=False)
    ('No other timetable is over sooner.', 'The best found; 1 minute less might be possible.')
    >>> best_found(0, proved=False)
    'The best found; fewer lessons might be possible.'
    """
    if proved:
        return say(BEST)
    if minutes:
        less = count(minutes, say("minute"))
        return say("The best found; {minutes} less might be possible.", minutes=less)
    return say("The best found; fewer lessons might be possible.")


def all_done(when: str, spare: int) -> str:
    """Return when all work of a lesson is over, and how many minutes before the clearing up.

    Examples
    --------
    >>> all_done("10:50", 10)
    'All is done at 10:50, 10 minutes before clearing up.'
    >>> all_done("11:00", 0)
    'All is done at 11:00, when clearing up begins: no minute is left over, so begin on time.'
    """
    if spare > 0:
        left = count(spare, say("minute"))
        return say("All is done at {time}, {minutes} before clearing up.", time=when, minutes=left)
    return say(
        "All is done at {time}, when clearing up begins: no minute is left over, so begin on time.",
        time=when,
    )


def laid_out(name: str, left: int, there: int, *, shared: bool = False) -> str:
    """Return how many pieces of something are laid out; ``there``: with those out of order.

    Parameters
    ----------
    shared : each team had its own before.

    Examples
    --------
    >>> laid_out("meter", 4, 4), laid_out("oven", 0, 1)
    ('meter: 4', 'oven: 0 (1 is out of order)')
    >>> laid_out("meter", 2, 4)
    'meter: 2 (2 are out of order; number those that are left 1 to 2)'
    >>> laid_out("tray", 1, 2, shared=True)
    'tray: 1 (1 is out of order; the teams share what is left)'
    """
    if left == there:
        return f"{name}: {left}"
    less = there - left
    out = say("{n} is out of order" if less == 1 else "{n} are out of order", n=less)
    if left > 1:
        out = say("{out}; number those that are left 1 to {left}", out=out, left=left)
    if left and shared:
        out = say("{out}; the teams share what is left", out=out)
    return f"{name}: {left} ({out})"


def laid_out_each(name: str, number: int, teams: int, team: str, others: Sequence[str]) -> str:
    """Return how many pieces of something are laid out where each team has its own.

    Parameters
    ----------
    number : that each has.
    teams : how many of them use it; ``team``: what one is called.
    others : who else does, and has as many.

    Examples
    --------
    >>> laid_out_each("tray", 2, 6, "team", ())
    'tray: 12, 2 for each team'
    >>> laid_out_each("tray", 1, 6, "team", ["the adult"]), laid_out_each("tray", 1, 0, "", ["Jo"])
    ('tray: 7, 1 for each team and the adult', 'tray: 1 for Jo')
    """
    each = [say("each {thing}", thing=team)] if teams else []
    in_all = number * (teams + len(others))
    if teams + len(others) == 1:
        return say(
            "{name}: {number} for {who}", name=name, number=number, who=listing([*each, *others])
        )
    return say(
        "{name}: {in_all}, {number} for {who}",
        name=name, in_all=in_all, number=number, who=listing([*each, *others]),
    )  # fmt: skip


def clock(moment: datetime.datetime) -> str:
    """Return the time of day.

    Examples
    --------
    >>> clock(datetime.datetime(2030, 5, 14, 9, 5))
    '9:05'
    """
    return f"{moment.hour}:{moment.minute:02}"


def weekday(moment: datetime.datetime) -> str:
    """Return the day of the week and the time.

    Examples
    --------
    >>> weekday(datetime.datetime(2030, 5, 15, 17, 19))
    'Wednesday 17:19'
    """
    return f"{say(_DAYS[moment.weekday()])} {clock(moment)}"


def dated(moment: datetime.datetime, *, short: bool = False) -> str:
    """Return the day of the week with its date, and the time; ``short``: for a narrow column.

    Examples
    --------
    >>> moment = datetime.datetime(2030, 5, 15, 17, 19)
    >>> dated(moment), dated(moment, short=True)
    ('Wednesday 15 May, 17:19', 'Wed 15 May, 17:19')
    """
    weekday, month = moment.weekday(), moment.month - 1
    name = say_as("short", _SHORT_DAYS[weekday]) if short else say(_DAYS[weekday])
    told = say_as("short", _SHORT_MONTHS[month]) if short else say_as("month", _MONTHS[month])
    return say(
        "{weekday} {day} {month}, {time}",
        weekday=name, day=moment.day, month=told, time=clock(moment),
    )  # fmt: skip


def day(moment: datetime.datetime) -> str:
    """Return the day with its date.

    Examples
    --------
    >>> day(datetime.datetime(2030, 5, 14, 9, 5))
    'Tuesday 14 May 2030'
    """
    return say(
        "{weekday} {day} {month} {year}",
        weekday=say(_DAYS[moment.weekday()]),
        day=moment.day,
        month=say_as("month", _MONTHS[moment.month - 1]),
        year=moment.year,
    )


def minute_text(minute: int, moment: datetime.datetime | None) -> str:
    """Return when something in a lesson begins: the time of day, else the minute.

    Examples
    --------
    >>> minute_text(5, None), minute_text(5, datetime.datetime(2030, 5, 14, 10, 20))
    ('minute 5', '10:20')
    """
    return say("minute {n}", n=minute) if moment is None else clock(moment)


def lesson_name(lesson: int, begins: datetime.datetime | None, *, undated: bool = False) -> str:
    """Return the heading of a lesson; ``undated``: of earlier ones it is known when they are.

    Examples
    --------
    >>> lesson_name(2, None), lesson_name(1, datetime.datetime(2030, 5, 14, 10, 15))
    ('Lesson 2', 'Lesson 1, Tuesday 14 May 2030, 10:15')
    >>> lesson_name(3, None, undated=True)
    'Lesson 3 (no date given yet)'
    """
    if undated:
        return say("Lesson {n} (no date given yet)", n=lesson)
    if begins is None:
        return say("Lesson {n}", n=lesson)
    return f"{say('Lesson {n}', n=lesson)}, {day(begins)}, {clock(begins)}"


def printed_before(lessons: int) -> str:
    """Return that so many lessons are over, and that their pages aren't printed again.

    Examples
    --------
    >>> printed_before(1), printed_before(0)
    ('Lesson 1 is over: its page is the one printed before.', '')
    >>> printed_before(2)
    'Lessons 1 and 2 are over: their pages are those printed before.'
    """
    if not lessons:
        return ""
    if lessons == 1:
        return say("Lesson 1 is over: its page is the one printed before.")
    return say(
        "Lessons {numbers} are over: their pages are those printed before.",
        numbers=listing([str(n) for n in range(1, lessons + 1)]),
    )


def between_name(lesson: int, lessons: int) -> str:
    """Return the name of the time before a lesson.

    Examples
    --------
    >>> between_name(1, 2), between_name(2, 2), between_name(3, 2)
    ('before lesson 1', 'between lessons 1 and 2', 'after lesson 2')
    """
    if lesson == 1:
        return say("before lesson 1")
    if lesson > lessons:
        return say("after lesson {n}", n=lessons)
    return say("between lessons {n} and {next}", n=lesson - 1, next=lesson)


def done_before(steps: Sequence[str]) -> str:
    """Return which steps must be done before a lesson begins.

    Examples
    --------
    >>> done_before(["Fire the slides", "Lay them in dye"])
    "Done before this lesson: 'Fire the slides' and 'Lay them in dye' (order in timetable.pdf)."
    """
    named = listing([say("'{step}'", step=step) for step in steps])
    return say("Done before this lesson: {steps} (order in timetable.pdf).", steps=named)


def from_before(items: int, item: str, step: str, who: str) -> str:
    """Return what a lesson goes on with; ``who`` brings it, empty where the teams have it.

    Examples
    --------
    >>> print(from_before(21, "cell", "Lay them in dye", "the responsible adult"))
    From before: 21 cells, as they are after 'Lay them in dye', each with all that was made or put
    aside for it. The responsible adult brings them.
    >>> print(from_before(1, "cell", "Brew", ""))
    From before: 1 cell, as it is after 'Brew', with all that was made or put aside for it.
    """
    one = marked(
        "From before: {items}, as it is after '{step}', with all that was made or put aside for it."
    )
    many = marked(
        "From before: {items}, as they are after '{step}', each with all that was made or put "
        "aside for it."
    )
    told = say(one if items == 1 else many, items=count(items, item), step=step)
    if not who:
        return told
    brings = marked("{who} brings it.") if items == 1 else marked("{who} brings them.")
    return f"{told} {say(brings, who=capital(who))}"


def taken_over(items: int, item: str, steps: Sequence[str], who: str) -> str:
    """Return what somebody takes over after a lesson, and for which steps.

    Examples
    --------
    >>> print(taken_over(24, "cell", ["Fire", "Dye"], "the responsible adult"))
    After the lesson the responsible adult takes over 24 cells, with what belongs to them, for
    'Fire' and 'Dye'.
    >>> taken_over(1, "cell", ["Fire"], "Mo")
    "After the lesson Mo takes over 1 cell, with what belongs to it, for 'Fire'."
    """
    one = marked("After the lesson {who} takes over {items}, with what belongs to it, for {steps}.")
    many = marked(
        "After the lesson {who} takes over {items}, with what belongs to them, for {steps}."
    )
    named = listing([say("'{step}'", step=step) for step in steps])
    return say(one if items == 1 else many, who=who, items=count(items, item), steps=named)


def left_out(
    codes: Sequence[str],
    lost: Collection[str] = (),
    unmade: Collection[str] = (),
    *,
    begun: Collection[str] = (),
) -> str:
    """Return which items the timetable does without, and why; nothing where it has all.

    Parameters
    ----------
    lost, unmade : codes of which it is known that they were lost, or that their team was absent and
        nobody else made them.
    begun : codes of those to which something was done before they were lost.

    Examples
    --------
    >>> left_out(["K7", "K9", "M2"], ["K7", "K9"], ["M2"])
    'No longer made: K7 and K9 (lost); M2 (the team was absent).'
    >>> left_out(["K7", "K9", "M2"], ["K7", "K9", "M2"], begun=["K7", "K9"])
    'Begun, then lost: K7 and K9. No longer made: M2 (lost).'
    >>> left_out(["K7"]), left_out(())
    ('Not in the timetable: K7.', '')
    """
    begun = [code for code in codes if code in lost and code in begun]
    never = [code for code in codes if code in lost and code not in begun]
    absent = [code for code in codes if code in unmade and code not in lost]
    open_ones = [code for code in codes if code not in {*lost, *unmade}]
    whys = ((marked("{items} (lost)"), never), (marked("{items} (the team was absent)"), absent))
    parts = [say(why, items=listing(mine)) for why, mine in whys if mine]
    told = (
        (marked("Begun, then lost: {items}."), listing(begun)),
        (marked("No longer made: {items}."), "; ".join(parts)),
        (marked("Not in the timetable: {items}."), listing(open_ones)),
    )
    return " ".join(say(what, items=which) for what, which in told if which)


def waiting_over(first: str, last: str, what: str = "") -> str:
    """Return what has waited long enough: all that began at a time, or from one to another.

    ``what``: what is done then, in the study's own words.

    Examples
    --------
    >>> print(waiting_over("10:36", "10:36"), waiting_over("10:36", "10:43"), sep="\\n")
    waiting is over: go on with what began at 10:36
    waiting is over: go on with what began from 10:36 to 10:43
    >>> print(waiting_over("10:36", "10:43", "take it out"))
    take it out (begun from 10:36 to 10:43)
    """
    if what and first == last:
        return say("{do} (begun at {time})", do=what, time=first)
    if what:
        return say("{do} (begun from {first} to {last})", do=what, first=first, last=last)
    if first == last:
        return say("waiting is over: go on with what began at {time}", time=first)
    return say(
        "waiting is over: go on with what began from {first} to {last}", first=first, last=last
    )


def which_piece(name: str, number: int) -> str:
    """Return which of several pieces of equipment is meant; they are numbered with stickers.

    Examples
    --------
    >>> which_piece("meter pair", 2)
    'meter pair 2'
    """
    return f"{name} {number}"


PLANNED: Final = marked("Planned")
WITH: Final = marked("With")
PIECES: Final = marked(
    "'Planned' is when, who reads, and with which piece (number them); cross out what was "
    "otherwise."
)
PARTED: Final = marked(
    "This sheet lies at {piece}. 'Planned' is when, who reads, and with what; cross out what was "
    "otherwise."
)
PIECE_LINE: Final = marked("'With': number what there are several of, and write which you used.")


def who_reads(sign: str, item: str, ring: Sequence[tuple[str, Sequence[str]]]) -> str:
    """Return that another team reads than the one that made something, and which one.

    Parameters
    ----------
    ring : each team that reads, and for which ones.

    Examples
    --------
    >>> print(who_reads("M", "cell", [("oak", ["elm"]), ("elm", ["oak"])]))
    M, measuring: the team in whose line it stands reads, and hasn't seen the making sheet of the
    cell. Another team made it, or finished it, and hands it over. Who reads: oak for elm; elm for
    oak.
    """
    told = say(
        "{sign}, measuring: the team in whose line it stands reads, and hasn't seen the making "
        "sheet of the {item}. Another team made it, or finished it, and hands it over.",
        sign=sign,
        item=item,
    )
    readers = "; ".join(
        say("{one} for {other}", one=one, other=listing(others)) for one, others in ring
    )
    return f"{told} {say('Who reads: {readers}.', readers=readers)}"


def read_by_its_own(sign: str, item: str, codes: Sequence[str] = ()) -> str:
    """Return that measuring stands beside those who made something; ``codes``: if not of all.

    Examples
    --------
    >>> print(read_by_its_own("M", "cell"))
    M, measuring, stands in the line of a team that made or finished the cell. If another team is
    there, let somebody of it read.
    >>> print(read_by_its_own("M", "cell", ["K7", "K9"]))
    M, measuring, of K7 and K9 stands in the line of a team that made or finished the cell. If
    another team is there, let somebody of it read.
    """
    if codes:
        return say(
            "{sign}, measuring, of {items} stands in the line of a team that made or finished the "
            "{item}. If another team is there, let somebody of it read.",
            sign=sign,
            items=listing(codes),
            item=item,
        )
    return say(
        "{sign}, measuring, stands in the line of a team that made or finished the {item}. If "
        "another team is there, let somebody of it read.",
        sign=sign,
        item=item,
    )


def in_twos(item: str) -> str:
    """Return how the team that reads comes to where it measures (common practice, no source).

    Examples
    --------
    >>> print(in_twos("cell"))
    Two of the team that reads come here: one reads, one writes. The team that made the cell, or
    finished it, brings it.
    """
    return say(
        "Two of the team that reads come here: one reads, one writes. The team that made the "
        "{item}, or finished it, brings it.",
        item=item,
    )


def reads_for(shares: Sequence[tuple[str, Sequence[str]]], *, finished: bool = False) -> str:
    """Return for which teams a team reads, when and what; nothing where it reads for none.

    ``finished``: others read what it finishes of a team that is away.

    Examples
    --------
    >>> print(reads_for([("oak", ["11:36 K7", "11:40 K9 (meter 2)"]), ("elm", ["12:00 M2"])]))
    You read for oak: 11:36 K7, 11:40 K9 (meter 2); for elm: 12:00 M2. Go there in twos: one
    reads, one writes. What you made, you bring to whoever reads it.
    >>> print(reads_for([("oak", ["11:36 K7"])], finished=True))
    You read for oak: 11:36 K7. Go there in twos: one reads, one writes. What you made, and what you
    finish for other teams, you bring to whoever reads it.
    >>> reads_for([])
    ''
    """
    if not shares:
        return ""
    each = "; ".join(
        say("for {team}: {times}", team=team, times=", ".join(times)) for team, times in shares
    )
    made = marked(
        "You read {each}. Go there in twos: one reads, one writes. What you made, you bring to "
        "whoever reads it."
    )
    more = marked(
        "You read {each}. Go there in twos: one reads, one writes. What you made, and what you "
        "finish for other teams, you bring to whoever reads it."
    )
    return say(more if finished else made, each=each)


def who(names: Sequence[str], teams: Sequence[str]) -> str:
    """Return who does something, in few words.

    Examples
    --------
    >>> who(["elm", "oak"], ["elm", "oak", "yew"]), who(["elm", "oak"], ["elm", "oak"])
    ('elm and oak', 'all')
    >>> who("abcde", "abcdef"), who(["the adult"], "abc"), who([], [])
    ('all but f', 'the adult', '')
    """
    missing = [team for team in teams if team not in names]
    if len(missing) > max(1, len(teams) / 4) or set(names) - set(teams) or not names:
        return listing(names)
    if not missing:
        return say_as("who works", "all") if len(teams) > 1 else listing(names)
    if len(missing) < len(names) - 1:
        return say("all but {teams}", teams=listing(missing))
    return listing(names)


def chart_caption(item: str, *, scarce: bool) -> str:
    """Return what a lesson's chart shows; ``scarce``: it has lines for equipment, too."""
    told = [
        say(
            "Each bar is one step on one {item}, with the number of the step and, where there is "
            "room, the code.",
            item=item,
        )
    ]
    if scarce:
        told.append(say("Above the teams, below the equipment of which there is little."))
    told.append(say("Pale at both ends: the time for handing out and for clearing up."))
    return " ".join(told)


def within(minutes: int) -> str:
    """Return the heading over times at which something begins, or from which on it does.

    Examples
    --------
    >>> within(1), within(10)
    ('Begins', 'From (10 min)')
    """
    return say("Begins") if minutes == 1 else say("From ({n} min)", n=minutes)
