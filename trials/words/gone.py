"""What is said on sheets of what is no longer made or measured.

Whoever measures reads some of these, so they tell the kind of reason and nothing of what somebody
wrote about it, which may name a version.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from trials.words.language import marked, say
from trials.words.numbers import count, listing

LOST: Final = marked("lost")
UNMADE: Final = marked("not made")
TAKEN_OVER: Final = marked("Of other teams: yours to finish")
NOTHING_MORE: Final = marked("Nothing to do from then on.")
DASH: Final = marked("–: no box, as it is done already, by somebody else, or not any more.")

FROM_PAGE_2: Final = "from page 2 on, page 1 stays if it is signed"
LABELS_STAY: Final = "only for what has no label yet"


def which_and_why(lost: Sequence[str], unmade: Sequence[str]) -> str:
    """Return which items there will be nothing of, and why; nothing where there are none.

    Examples
    --------
    >>> which_and_why(["K7", "K9"], ["M2"])
    'Lost: K7 and K9. Not made, as the team was absent: M2.'
    >>> which_and_why([], [])
    ''
    """
    told = []
    if lost:
        told.append(say("Lost: {items}.", items=listing(lost)))
    if unmade:
        told.append(say("Not made, as the team was absent: {items}.", items=listing(unmade)))
    return " ".join(told)


def no_label(lost: Sequence[str], unmade: Sequence[str]) -> str:
    """Return which items have no label; nothing where all have one.

    Examples
    --------
    >>> no_label(["K7"], [])
    'No label for these any more. Lost: K7.'
    """
    which = which_and_why(lost, unmade)
    return which and say("No label for these any more. {which}", which=which)


def not_listed(lost: Sequence[str], unmade: Sequence[str]) -> str:
    """Return which items a list of things to measure leaves out; nothing where it has all.

    Examples
    --------
    >>> not_listed([], ["M2"])
    'Left out of this list. Not made, as the team was absent: M2.'
    """
    which = which_and_why(lost, unmade)
    return which and say("Left out of this list. {which}", which=which)


def struck_out(lost: Sequence[str], unmade: Sequence[str]) -> str:
    """Return which lines of the workbook are struck out; nothing where none is.

    Examples
    --------
    >>> print(struck_out(["K7"], []))
    Lines whose code is struck out stay empty. Lost: K7. If there is a reading all the same, type
    it into a line at the end and choose the code there: it counts.
    """
    which = which_and_why(lost, unmade)
    return which and say(
        "Lines whose code is struck out stay empty. {which} If there is a reading all the same, "
        "type it into a line at the end and choose the code there: it counts.",
        which=which,
    )


def go_together(items: int, item: str) -> str:
    """Return how many items go together.

    Examples
    --------
    >>> go_together(6, "cell"), go_together(1, "cell")
    ('6 cells go together.', '1 cell goes by itself.')
    """
    one, many = marked("{items} goes by itself."), marked("{items} go together.")
    return say(one if items == 1 else many, items=count(items, item))


def nothing_left(item: str) -> str:
    """Return that nothing is left to do.

    Examples
    --------
    >>> nothing_left("cell")
    'No cell is left to make.'
    """
    return say("No {item} is left to make.", item=item)


def printed_again() -> str:
    """Return what becomes of pages to write on that were printed before something was gone.

    Examples
    --------
    >>> print(printed_again())
    Printed again, as something was lost, not made or timed anew: pages that are filled in stay and
    count. These take the place of the empty ones.
    """
    return say(
        "Printed again, as something was lost, not made or timed anew: pages that are filled in "
        "stay and count. These take the place of the empty ones."
    )


def finished_by_others(team: str, since: int, shares: Sequence[tuple[str, Sequence[str]]]) -> str:
    """Return who finishes what a team made that is away; ``shares``: teams, the items of each.

    Examples
    --------
    >>> finished_by_others("Rowan", 2, [("elm", ["K7", "K8"]), ("oak", ["K9"])])
    'Rowan is away from lesson 2 on. Others finish: elm K7 and K8; oak K9.'
    >>> finished_by_others("Rowan", 2, [])
    'Rowan is away from lesson 2 on.'
    """
    told = say("{team} is away from lesson {since} on.", team=team, since=since)
    if not shares:
        return told
    each = "; ".join(f"{who} {listing(mine)}" for who, mine in shares)
    return f"{told} {say('Others finish: {shares}.', shares=each)}"


def finish_for(items: int, item: str, *, alone: bool = False) -> str:
    """Return that a team finishes items of others, below its own ones; ``alone``: it has none.

    Examples
    --------
    >>> finish_for(2, "cell"), finish_for(1, "cell", alone=True)
    ('Also finish 2 cells of other teams: see below.', 'Finish 1 cell of another team: see below.')
    """
    if alone:
        one = marked("Finish {items} of another team: see below.")
        many = marked("Finish {items} of other teams: see below.")
    else:
        one = marked("Also finish {items} of another team: see below.")
        many = marked("Also finish {items} of other teams: see below.")
    return say(one if items == 1 else many, items=count(items, item))


def still_timed(items: Sequence[str], folder: str) -> str:
    """Return that the timetable still has what is no longer made; ``folder`` as it is typed.

    Examples
    --------
    >>> print(still_timed(["K7"], "cups"))
    timetable.pdf still has K7. To place the rest again from lesson N on: trials lessons cups
    --since N, then trials sheets cups.
    """
    return (
        f"timetable.pdf still has {listing(items)}. To place the rest again from lesson N on: "
        f"trials lessons {folder} --since N, then trials sheets {folder}."
    )


def which_timetable(number: int, since: int) -> str:
    """Return which timetable a page is of; ``since``: the lesson that it begins with, 0: all.

    Examples
    --------
    >>> which_timetable(1, 0), which_timetable(2, 3)
    ('timetable 1', 'timetable 2, from lesson 3 on')
    """
    if not since:
        return say("timetable {number}", number=number)
    return say("timetable {number}, from lesson {since} on", number=number, since=since)


def known_by(old: Sequence[str], new: str) -> str:
    """Return how pages of an earlier print are known by their foot; nothing if it never tells.

    Examples
    --------
    >>> print(known_by(["timetable 1"], "timetable 2, from lesson 2 on"))
    In the foot the old ones say 'timetable 1', the new ones 'timetable 2, from lesson 2 on'.
    >>> known_by([""], "timetable 1")
    "In the foot the old ones name no timetable, the new ones say 'timetable 1'."
    >>> known_by(["timetable 1"], "")
    "In the foot the old ones say 'timetable 1', the new ones name no timetable."
    >>> known_by(["timetable 1"], "timetable 1")
    "Old and new ones say 'timetable 1' in the foot: take the old ones away first."
    >>> known_by([""], "")
    ''
    """
    if list(old) == [new]:
        told = f"Old and new ones say '{new}' in the foot: take the old ones away first."
        return told if new else ""
    said = listing([f"'{one}'" for one in old if one], "or")
    if not said:
        return f"In the foot the old ones name no timetable, the new ones say '{new}'."
    then = f"the new ones '{new}'" if new else "the new ones name no timetable"
    return f"In the foot the old ones say {said}, {then}."


def print_again(
    changed: Sequence[str], same: Sequence[str], remarks: Mapping[str, str], known: str = ""
) -> str:
    """Return which files have to be printed again, and which are as they were.

    Parameters
    ----------
    changed, same : names of files. ``remarks``: of some of them what is to be said.
    known : how the old ones are known from the new ones.

    Examples
    --------
    >>> print(print_again(["a.pdf", "b.pdf"], ["c.pdf"], {"b.pdf": "page 2 alone"}, "In red."))
    Changed since the sheets were last made, so print again: a.pdf and b.pdf (page 2 alone). In red.
    As before: c.pdf.
    >>> print_again([], ["c.pdf"], {})
    'Nothing to print again: the pages are as they were.'
    """
    if not changed:
        return "Nothing to print again: the pages are as they were."
    named = [f"{name} ({remarks[name]})" if name in remarks else name for name in changed]
    told = f"Changed since the sheets were last made, so print again: {listing(named)}."
    before = f"As before: {listing(same)}." if same else ""
    return " ".join(filter(None, [told, known, before]))
