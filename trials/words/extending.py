"""Sentences about a plan that was extended."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.words.language import marked, say
from trials.words.numbers import count, listing, repeats_of_ten

if TYPE_CHECKING:
    from trials.design.values import Plan

AFTER_LOOKING = marked(
    "This is an answer after looking: items were added when results were known, more often than "
    "had been declared. The new part is a study of its own, and stands beside it."
)


FREE_NOW = marked(
    "Plan them before you run trials analyse: while no result is known, they count like the others."
)


def fairly_added(*, declared: bool) -> str:
    """Return how more may be made once a result is known; ``declared``: a second look is left.

    Examples
    --------
    >>> print(fairly_added(declared=False))
    First set how many more to make. Add them to this study as a second look (the answer is marked
    'after looking'), or make a new study as big as old and new together. Adding a few at a time
    until something shows makes chance look like a find.
    """
    look = (
        say("as the second look that the plan declared (its ranges are wide enough for that)")
        if declared
        else say("as a second look (the answer is marked 'after looking')")
    )
    return say(
        "First set how many more to make. Add them to this study {look}, or make a new study as "
        "big as old and new together. Adding a few at a time until something shows makes chance "
        "look like a find.",
        look=look,
    )


def asked_sentence(plan: Plan, looks: int) -> str:
    """Return what is said of the last part: whether the second look was declared."""
    number = sum(part.looked for part in plan.parts) + 1
    if not plan.parts[-1].looked:
        return say("No result was known yet when it was asked for, so nothing is lost by it.")
    if number <= looks:
        return say(
            "This second look was declared in the plan, and the intervals are made wider to pay "
            "for it."
        )
    declared = (
        say("no second look had been declared (looks = 2 under [plan])")
        if looks == 1
        else say("only {looks} looks had been declared", looks=looks)
    )
    return say(
        "Results were known already, and {declared}: looking again until something shows makes "
        "chance look like an effect. So the report says 'after looking' beside every answer.",
        declared=declared,
    )


def part_sentence(plan: Plan, items: str) -> str:
    """Return how the versions of the last part were dealt; ``items``: what several are called."""
    part = plan.parts[-1]
    lost = (
        say("{n_lost} of the earlier {items} lost", n_lost=len(part.without), items=items)
        if part.without
        else ""
    )
    if part.makes_up:
        why = f" ({lost})" if lost else ""
        return say(
            "The new part makes up for what is missing so far{why}: some versions come more often "
            "than others, and that tells more than equal numbers would.",
            why=why,
        )
    if lost:
        return say(
            "With {lost}, equal numbers of every version still tell about as much as any others, "
            "so the new part is as even as can be.",
            lost=lost,
        )
    return ""


def settling_sentences(
    factor: str, response: str, items: str, chances: tuple[float, float]
) -> tuple[str, str]:
    """Return what the new part should settle, with what is assumed.

    Parameters
    ----------
    items : what several items are called.
    chances : of a clear answer if the truth is as seen so far, and if the factor does nothing.

    Examples
    --------
    >>> first, second = settling_sentences("dye", "power", "cells", (0.82, 0.31))
    >>> first
    'What was measured stays, so only the new part is left to chance. If dye really changes power as
    it did so far, and cells differ as much as they did, old and new cells together give a clear
    answer in about 8 of 10 repeats of the new part.'
    >>> second
    'If dye really does nothing to power, they do in about 3 of 10 repeats of it.'
    """
    seen, none = (repeats_of_ten(chance) for chance in chances)
    return (
        say(
            "What was measured stays, so only the new part is left to chance. "
            "If {factor} really changes {response} as it did so far, and {items} differ as much as "
            "they did, old and new {items} together give a clear answer {seen} of the new part.",
            factor=factor,
            response=response,
            items=items,
            seen=seen,
        ),
        say(
            "If {factor} really does nothing to {response}, they do {none} of it.",
            factor=factor,
            response=response,
            none=none,
        ),
    )


def needed_sentence(factor: str, thing: str, numbers: tuple[int, int], assumption: str) -> str:
    """Return how many the last analysis said would settle a factor, and how many there will be.

    Parameters
    ----------
    thing : what is counted, one of them.
    numbers : how many in all would settle it, and how many there are with the new part.
    assumption : what the first number rests on, as in the findings.

    Examples
    --------
    >>> needed_sentence("dye", "cell", (60, 48), "none")
    'The last trials analyse said that about 60 cells in all would probably settle dye, if it really
    does nothing. With the new part there are 48: it may still be open then.'
    """
    needed, there = numbers
    truth = say("does nothing") if assumption == "none" else say("does what was seen so far")
    enough = "" if there >= needed else say(": it may still be open then")
    return say(
        "The last trials analyse said that about {n_things} in all would probably "
        "settle {factor}, if it really {truth}. With the new part there are {there}{enough}.",
        n_things=count(needed, thing),
        factor=factor,
        truth=truth,
        there=there,
        enough=enough,
    )


def questions_sentence(questions: tuple[str, ...], folder: str) -> str:
    """Return that questions of the record are open, by their ids; empty where none is.

    Examples
    --------
    >>> questions_sentence(("q1", "q2"), "tea")
    '2 questions about the readings are still open (q1 and q2). Their answers can change how many
    more are needed. Settle them with trials answer tea, run trials analyse tea, then ask for the
    new part again: while its sheets are not printed that costs nothing.'
    """
    if not questions:
        return ""
    if len(questions) == 1:
        return say(
            "1 question about the readings is still open ({question}). Its answer can change how "
            "many more are needed. Settle it with trials answer {folder}, run trials analyse "
            "{folder}, then ask for the new part again: while its sheets are not printed that "
            "costs nothing.",
            question=questions[0],
            folder=folder,
        )
    return say(
        "{n} questions about the readings are still open ({questions}). Their answers can change "
        "how many more are needed. Settle them with trials answer {folder}, run trials analyse "
        "{folder}, then ask for the new part again: while its sheets are not printed that costs "
        "nothing.",
        n=len(questions),
        questions=listing(questions),
        folder=folder,
    )


def replaces_sentence(old: str, asked: str, *, same: bool) -> str:
    """Return that a part which was never printed gave way to the new one.

    Parameters
    ----------
    old : how many items it had, in words.
    asked : the day it was asked for.
    same : the very same part came out again.

    Examples
    --------
    >>> replaces_sentence("8 cells", "2026-03-02", same=False)
    'This takes the place of the part of 8 cells that was asked for on 2026-03-02, for its sheets
    were never printed. It is not added to it.'
    """
    if same:
        return say(
            "The part of {old} that was asked for on {asked} was never printed. It was drawn "
            "again, and the very same came out; nothing was added to it.",
            old=old,
            asked=asked,
        )
    return say(
        "This takes the place of the part of {old} that was asked for on {asked}, for its sheets "
        "were never printed. It is not added to it.",
        old=old,
        asked=asked,
    )


def unmeasured_part(items: int, name: str, printed: str, folder: str) -> dict[str, str]:
    """Return what is said where the last printed part has no reading yet.

    Parameters
    ----------
    items : in the part that are not lost; ``name``: what several are called.
    printed : the date of its sheets.
    folder : of the study, as typed.
    """
    return {
        "what": say(
            "The part that was added last is not measured yet, so nobody knows whether another "
            "is needed."
        ),
        "found": say(
            "{items} {name} printed on {printed}, and no reading of any of them",
            items=items,
            name=name,
            printed=printed,
        ),
        "allowed": say("at least one reading of the last part before the next is added"),
        "do": say(
            "Make and measure them, then take the readings in: trials collect {folder} FILE. "
            "What broke is told with: trials lost {folder} ITEM --why TEXT",
            folder=folder,
        ),
    }
