"""Sentences about what went otherwise than planned, and what other answer it would give."""

from __future__ import annotations

from collections.abc import Sequence

from trials.words.language import marked, say
from trials.words.numbers import listing
from trials.words.sentences import verdict_text

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
    if len(items) == 1:
        return say(
            "{code} was made otherwise than planned. The answer takes it as planned, for only the "
            "plan was left to chance.",
            code=items[0],
        )
    return say(
        "{codes} were made otherwise than planned. The answer takes them as planned, for only the "
        "plan was left to chance.",
        codes=listing(items),
    )


def left_out_sentence(items: Sequence[str]) -> str:
    """Return that items are left out of the answer as made.

    Examples
    --------
    >>> left_out_sentence(["K7", "K9"])
    'K7 and K9 are left out of this, for the plan has no such version.'
    """
    if len(items) == 1:
        return say(
            "{code} is left out of this, for the plan has no such version.",
            code=items[0],
        )
    return say(
        "{codes} are left out of this, for the plan has no such version.",
        codes=listing(items),
    )


def as_made_sentence(verdicts: Sequence[str], gaps: Sequence[str]) -> str:
    """Return the answer by what was really made.

    ``verdicts``: the sentences of those that differ from the verdict as planned; ``gaps``: the
    largest differences, where no verdict can differ as there is none.
    """
    if verdicts:
        return say(
            "Taken as they were really made, another verdict would stand: {verdicts}",
            verdicts=" ".join(verdicts),
        )
    if gaps:
        return say(
            "Taken as they were really made, the largest differences are: {gaps}.",
            gaps="; ".join(gaps),
        )
    return say(SAME_VERDICTS)


def moved_sentence(factor: str, response: str, verdict: str, decision: str) -> str:
    """Return what verdict would stand without one decision; ``response`` only where it is needed.

    Examples
    --------
    >>> moved_sentence("heat", "", "mattered", "the answer to Q3 (set-aside)")
    'Without the answer to Q3 (set-aside) the verdict on heat would be: mattered.'
    """
    return say(
        "Without {decision} the verdict on {factor} would be: {verdict}.",
        decision=decision,
        factor=_of_response(factor, response),
        verdict=verdict_text(verdict),
    )


def answer_decision(question: str, answer: str) -> str:
    """Return what an answer to a question of the record is called.

    Examples
    --------
    >>> answer_decision("Q3", "set-aside")
    'the answer to Q3 (set-aside)'
    """
    return say("the answer to {question} ({answer})", question=question, answer=answer)


def exchange_decision(item: str, partner: str) -> str:
    """Return what an exchange of two items' labels is called.

    Examples
    --------
    >>> exchange_decision("K7", "K9")
    'the exchange of K7 and K9'
    """
    return say("the exchange of {items}", items=listing([item, partner]))


def promised_sentence(factor: str, response: str, verdict: str, changes: Sequence[str]) -> str:
    """Return what verdict would stand by what study.toml says since the plan was made.

    ``response`` only where it is needed; ``changes`` as study.toml has them.

    Examples
    --------
    >>> promised_sentence("heat", "power", "mattered", ["worthwhile = 3"])
    'With worthwhile = 3 the verdict on heat for power would be: mattered.'
    """
    return say(
        "With {changes} the verdict on {factor} would be: {verdict}.",
        changes=listing(changes),
        factor=_of_response(factor, response),
        verdict=verdict_text(verdict),
    )


def _of_response(factor: str, response: str) -> str:
    return say("{factor} for {response}", factor=factor, response=response) if response else factor
