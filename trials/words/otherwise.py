"""Sentences about what went otherwise than planned, and what other answer it would give."""

from __future__ import annotations

from collections.abc import Sequence

from trials.words.language import marked, say
from trials.words.numbers import listing

NOTHING_LEFT = marked("Taken as they were really made, too little is left to say anything.")
SAME_VERDICTS = marked("Taken as they were really made, every verdict stays the same.")


def as_planned_sentence(items: Sequence[str]) -> str:
    """Return that some items were made otherwise, and how the answer takes them.

    Examples
    --------
    >>> as_planned_sentence(["K7"])
    'K7 was made otherwise than planned. The answer takes it as planned, for only the plan was left
    to chance.'
    """
    one = len(items) == 1
    return say(
        "{items} {part} made otherwise than planned. The answer "
        "takes {part2} as planned, for only the plan was left to chance.",
        items=listing(items),
        part="was" if one else "were",
        part2="it" if one else "them",
    )


def left_out_sentence(items: Sequence[str]) -> str:
    """Return that items are left out of the answer as made.

    Examples
    --------
    >>> left_out_sentence(["K7", "K9"])
    'K7 and K9 are left out of this, for the plan has no such version.'
    """
    verb = "is" if len(items) == 1 else "are"
    return say(
        "{items} {verb} left out of this, for the plan has no such version.",
        items=listing(items),
        verb=verb,
    )


def as_made_sentence(verdicts: Sequence[str], gaps: Sequence[str]) -> str:
    """Return the answer by what was really made.

    ``verdicts``: the sentences of those that differ from the verdict as planned; ``gaps``: the
    largest differences, where no verdict can differ as there is none.
    """
    if verdicts:
        return say(
            "Taken as they were really made, another verdict would stand: {list}",
            list=" ".join(verdicts),
        )
    if gaps:
        return say(
            "Taken as they were really made, the largest differences are: {list}.",
            list="; ".join(gaps),
        )
    return SAME_VERDICTS


def moved_sentence(factor: str, response: str, verdict: str, decision: str) -> str:
    """Return what verdict would stand without one decision; ``response`` only where it is needed.

    Examples
    --------
    >>> moved_sentence("heat", "", "mattered", "the answer to Q3 (set-aside)")
    'Without the answer to Q3 (set-aside) the verdict on heat would be: mattered.'
    """
    whose = say(" for {response}", response=response) if response else ""
    return say(
        "Without {decision} the verdict on {factor}{whose} would be: {verdict}.",
        decision=decision,
        factor=factor,
        whose=whose,
        verdict=verdict,
    )
