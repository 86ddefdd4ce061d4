"""What can still be done of what is left, and what would make all of it possible."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from trials.words.numbers import count, listing

EACH_TRIED = "What would make all of it possible, each tried by itself:"
NOTHING_ALONE = (
    "None of what was tried makes all of it possible by itself: one more of each piece of "
    "equipment, one more pair of hands, longer lessons, fewer readings of each."
)
SPARES = (
    "What would spare that, each tried by itself. Place the rest once more then; what was said of "
    "teams and equipment is kept, --not-yet isn't:"
)
NOTHING_SPARES = (
    "None of what was tried spares that by itself: one more of each piece of equipment, one more "
    "pair of hands, longer lessons, fewer readings of each."
)

Told = Literal["said", "kept", "more", "each"]  # of equipment of which one more would help


def can_be_done(kept: int, items: str, *, lessons: int, proved: bool) -> str:
    """Return how many can be done; ``items``: of how many of what.

    Examples
    --------
    >>> can_be_done(10, "24 cups", lessons=2, proved=True)
    '10 of these 24 cups can be done, in 2 lessons in all; no timetable has room for more.'
    >>> can_be_done(0, "24 cups", lessons=0, proved=True)
    'None of these 24 cups can be finished.'
    """
    if not kept:
        return f"None of these {items} can be finished."
    told = f"{kept} of these {items} can be done, in {count(lessons, 'lesson')} in all"
    if proved:
        return f"{told}; no timetable has room for more."
    return f"{told}. That is the best found; whether more can be done isn't proved."


def put_back(name: str, key: str, lessons: int, how: Told) -> str:
    """Return that one more piece of equipment is enough.

    Parameters
    ----------
    how : "said": it was just said to be missing; "kept": the timetable remembers that; "more": it
        was never there; "each": nor was it, and each team has its own.

    Examples
    --------
    >>> put_back("pair of scales", "scales", 2, "said")
    "One more pair of scales: done in 2 lessons. Leave out one '--without scales' then."
    >>> put_back("pair of scales", "scales", 2, "kept")
    'One more pair of scales: done in 2 lessons. Add --back scales then.'
    """
    then = {
        "said": f"Leave out one '--without {key}' then.",
        "kept": f"Add --back {key} then.",
        "more": f"Write how many there are in study.toml: count of {key} under [equipment].",
        "each": f"Write how many each has in study.toml: count of {key} under [equipment].",
    }[how]
    return f"One more {name}: done in {count(lessons, 'lesson')}. {then}"


def wait_until_mended(
    name: str, key: str, step: str, *, lessons: int, said: bool, dated: bool
) -> str:
    """Return that the next lesson can wait until a piece of equipment is mended.

    Parameters
    ----------
    name, key : of the equipment, and as it is typed.
    step : the one that waits for the equipment, as it is typed.
    said : it was just said to be missing; else the timetable remembers that.
    dated : study.toml says when lessons are.

    Examples
    --------
    >>> print(wait_until_mended("oven", "oven", "heat", lessons=2, said=True, dated=True))
    Wait: what is made by then keeps, as study.toml names no limit (keeps); see that it does. Put
    the lesson off until the oven is mended: done in 2 lessons. When you place the rest again, leave
    out one '--without oven' and add --not-yet heat; before that, write the new day under [lessons]
    starts in study.toml.
    """
    how = f"leave out one '--without {key}'" if said else f"add --back {key}"
    day = "; before that, write the new day under [lessons] starts in study.toml" if dated else ""
    return (
        "Wait: what is made by then keeps, as study.toml names no limit (keeps); see that it does. "
        f"Put the lesson off until the {name} is mended: done in "
        f"{count(lessons, 'lesson')}. When you place the rest again, {how} and add "
        f"--not-yet {step}{day}."
    )


def longer_lessons(more: int, minutes: float, lessons: int) -> str:
    """Return that longer lessons are enough; ``minutes``: how long they are then.

    Examples
    --------
    >>> print(longer_lessons(10, 60, 2))
    Lessons 10 minutes longer: done in 2 lessons. Write minutes = 60 under [lessons] in study.t...
    """
    return (
        f"Lessons {more} minutes longer: done in {count(lessons, 'lesson')}. Write minutes = "
        f"{minutes:g} under [lessons] in study.toml."
    )


def fewer_readings(
    readings: int,
    item: str,
    step: tuple[str, str],
    *,
    minutes: int,
    lessons: int,
    sections: Sequence[str],
) -> str:
    """Return that fewer readings of each are enough, where a step takes as much less time.

    Parameters
    ----------
    step : what people call it, and its name as study.toml has it.
    sections : of study.toml that ask for more readings.

    Examples
    --------
    >>> weigh = ("Weigh", '"weigh"')
    >>> sections = ["[responses.mass]"]
    >>> print(fewer_readings(2, "cup", weigh, minutes=3, lessons=2, sections=sections))
    Only 2 readings of each cup, if 'Weigh' takes no more than 3 minutes then: done in 2 lessons.
    Each value is less sure. Write minutes = 3 under that step in study.toml (name = "weigh"), and
    readings = 2 under [responses.mass]; where the step's text says how many readings, change that,
    too. Then place the rest again as now: the new sheets have room for 2 readings, and the report
    tells that more were planned.
    """
    times = "minute" if minutes == 1 else "minutes"
    several = count(readings, "reading")
    return (
        f"Only {several} of each {item}, if '{step[0]}' takes no more than "
        f"{minutes} {times} then: done in {count(lessons, 'lesson')}. Each value is less sure. "
        f"Write minutes = {minutes} under that step in study.toml (name = {step[1]}), and "
        f"readings = {readings} under {listing(sections)}; where the step's text says how many "
        "readings, change that, too. Then place the rest again as now: the new sheets have room "
        f"for {several}, and the report tells that more were planned."
    )


def not_yet(step: str, key: str, lessons: int) -> str:
    """Return that it is enough if a step isn't done yet and can be spread over more lessons.

    Examples
    --------
    >>> print(not_yet("Soak", "soak", 3))
    If 'Soak' isn't done yet, do it in parts, each before its own lesson: done in 3 lessons...
    """
    return (
        f"If '{step}' isn't done yet, do it in parts, each before its own lesson: done in "
        f"{count(lessons, 'lesson')}. Add --not-yet {key}."
    )


def more_hands(lessons: int) -> str:
    """Return that one more pair of hands in every team is enough."""
    return (
        f"One more pair of hands in every team: done in {count(lessons, 'lesson')}. Write how many "
        "pieces of work a team can do at a time after hands, under [lessons] in study.toml."
    )


def more_lessons(more: int, lessons: int) -> str:
    """Return that more lessons are enough.

    Examples
    --------
    >>> more_lessons(1, 3)
    '1 more lesson: done in 3 lessons. Say --count 3.'
    """
    return (
        f"{count(more, 'more lesson')}: done in {count(lessons, 'lesson')}. Say --count {lessons}."
    )


def left_out(folder: str, codes: Sequence[str], cost: Sequence[str], kept: int) -> list[str]:
    """Return which to leave out, what that costs, and how to record it once it is sure.

    Examples
    --------
    >>> print(*left_out("cups", ["K7", "K9"], ["    Dye: nothing."], 10), sep="\\n")
    Or these 2 aren't finished. They were chosen so that the 10 that are left stay balanced, and
    exchanged one by one where that costs less; not every choice was tried:
        K7 K9
      What that costs:
        Dye: nothing.
      Nothing is recorded yet. Once it is sure that they won't be finished:
        trials lost cups K7 K9 --why "..." --by CODE
      Then place the rest again as now. (To take it back: the same with --undo.)
    """
    those = "this one isn't" if len(codes) == 1 else f"these {len(codes)} aren't"
    chosen = "It was" if len(codes) == 1 else "They were"
    they = "it" if len(codes) == 1 else "they"
    why = (
        f" {chosen} chosen so that the {kept} that are left stay balanced, and exchanged one by "
        "one where that costs less; not every choice was tried"
        if kept
        else ""
    )
    return [
        f"Or {those} finished.{why}:" if why else f"Or {those} finished:",
        f"    {' '.join(codes)}",
        *(["  What that costs:", *cost] if cost else []),
        f"  Nothing is recorded yet. Once it is sure that {they} won't be finished:",
        f'    trials lost {folder} {" ".join(codes)} --why "..." --by CODE',
        "  Then place the rest again as now. (To take it back: the same with --undo.)",
    ]
