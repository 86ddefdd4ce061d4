"""What is missing, in words: lost and failed items, whole versions, values known only in part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.words.language import say
from trials.words.numbers import chance_of, count, listing, plural


def at_least_sentence(known: int, total: int, item: str, response: str) -> str:
    """Return that some values are only known as 'at least', and what is done about it.

    Examples
    --------
    >>> at_least_sentence(5, 24, "cell", "half-life")
    "Of 5 of 24 cells we only know that their half-life is at least as much as was seen: they
    outlasted the watching. Leaving them out would drop the best or the worst, and their average
    can't be worked out. So all cells are put in order, and the numbers are places in that order,
    called ranks: 1 is the lowest. Those that can't be told apart share the middle of their places."
    """
    start = (
        say(
            "Of 1 of {n_items} we only know that its {response} is at least as much as was seen: "
            "it outlasted the watching. Leaving it out would drop the best or the worst, and its "
            "average can't be worked out.",
            n_items=count(total, item),
            response=response,
        )
        if known == 1
        else say(
            "Of {known} of {n_items} we only know that their {response} is at least as much as "
            "was seen: they outlasted the watching. Leaving them out would drop the best or the "
            "worst, and their average can't be worked out.",
            known=known,
            n_items=count(total, item),
            response=response,
        )
    )
    return say(
        "{start} So all {items} are put in order, and the numbers are places in that order, "
        "called ranks: 1 is the lowest. Those that can't be told apart share the middle of their "
        "places.",
        start=start,
        items=plural(item),
    )


def worst_sentence(factor: str, items: str, *, stands_out: bool) -> str:
    """Return that counting failed items as the worst changes what can be said of a factor.

    Examples
    --------
    >>> worst_sentence("dye", "cells", stands_out=True)
    'Among the cells that worked, chance alone could explain what dye seems to do. Counting failed
    cells as the worst of all, it hardly can: dye may matter for whether a thing works at all.'
    """
    if stands_out:
        return say(
            "Among the {items} that worked, chance alone could explain what {factor} seems to do. "
            "Counting failed {items} as the worst of all, it hardly can: {factor} may matter for "
            "whether a thing works at all.",
            items=items,
            factor=factor,
        )
    return say(
        "Among the {items} that worked, chance alone can hardly explain what {factor} does. "
        "Counting failed {items} as the worst of all, it could, so be careful with this answer.",
        items=items,
        factor=factor,
    )


@dataclass(frozen=True)
class AlikeFacts:
    """What failed items share: ``versions`` in words, and how many lie there of how many.

    ``p`` how often chance sets failed items so close, None where that isn't known; below ``alpha``
    chance hardly explains it.
    """

    item: str
    versions: Sequence[str]
    made: int
    failed: int
    of_made: int
    of_failed: int
    p: float | None
    alpha: float = 0.05


def alike_sentences(facts: AlikeFacts) -> str:
    """Return what all failed items share, or nearly all, and whether that may be luck.

    Examples
    --------
    >>> facts = AlikeFacts("cell", ("beetroot", "2 coating passes"), 8, 3, 47, 3, 0.08)
    >>> alike_sentences(facts)
    'All 3 cells that failed had beetroot and 2 coating passes; 8 of the 47 cells tested had these.
    If nothing that was changed made cells fail, the failed ones would be this much alike in about 8
    of 100 repeats. So it may be luck.'
    """
    values = {"items": plural(facts.item), "versions": listing(facts.versions)}
    start = (
        say("All {n} {items} that failed had {versions}", n=facts.of_failed, **values)
        if facts.failed == facts.of_failed
        else say(
            "{failed} of the {n} {items} that failed had {versions}",
            failed=facts.failed,
            n=facts.of_failed,
            **values,
        )
    )
    text = say(
        "{start}; {made} of the {of_made} {items} tested had these.",
        start=start,
        made=facts.made,
        of_made=facts.of_made,
        items=plural(facts.item),
    )
    if facts.p is None:
        return text + say(" How easily luck does that can't be said here.")
    text += say(
        " If nothing that was changed made {items} fail, the failed ones would be this much alike "
        "in {p}.",
        items=plural(facts.item),
        p=chance_of(facts.p),
    )
    if facts.p < facts.alpha:
        return text + say(" So it is hardly luck: find out why before you make more like these.")
    return text + say(" So it may be luck.")


def decisions_text(n: int, changed: int, item: str) -> str:
    """Return how many decisions changed or dropped what was read, and on how many items.

    Examples
    --------
    >>> decisions_text(2, 3, "cell"), decisions_text(1, 0, "cell")
    ('2 decisions to correct or set aside something (on 3 cells)', '1 decision to correct or set
    aside something')
    """
    text = (
        say("1 decision to correct or set aside something")
        if n == 1
        else say("{n} decisions to correct or set aside something", n=n)
    )
    return (
        say("{decisions} (on {items})", decisions=text, items=count(changed, item))
        if changed
        else text
    )


def gone_words(failed: int, lost: int, never_made: int = 0, other: int = 0) -> list[str]:
    """Return what became of items without a value; ``lost`` counts those never made too.

    Examples
    --------
    >>> gone_words(2, 7, 4), gone_words(0, 1), gone_words(0, 4, 4, 1)
    (['2 failed', '3 were lost', '4 were never made'], ['1 was lost'], ['4 were never made', '1 gave
    no value for another reason'])
    """
    broken = lost - never_made
    told = []
    if failed > 0:
        told.append(say("1 failed") if failed == 1 else say("{n_failed} failed", n_failed=failed))
    if broken > 0:
        text = say("1 was lost") if broken == 1 else say("{n_lost} were lost", n_lost=broken)
        told.append(text)
    if never_made > 0:
        one = never_made == 1
        told.append(
            say("1 was never made") if one else say("{n_gone} were never made", n_gone=never_made)
        )
    if other > 0:
        told.append(
            say("1 gave no value for another reason")
            if other == 1
            else say("{other} gave no value for another reason", other=other)
        )
    return told


def missing_sentence(
    version: str, variable: str, item: str, planned: int, gone: tuple[int, int, int]
) -> str:
    """Return that a whole version gave no value, and what follows.

    Parameters
    ----------
    gone : failed, lost, and of those lost the ones that were never made.

    Examples
    --------
    >>> missing_sentence("beetroot", "dye", "cell", 8, (8, 0, 0))
    'All 8 cells with beetroot failed. So the answer says nothing of how well it works against other
    versions of dye. That none worked is a result of its own.'
    """
    failed, lost, never = gone
    items = plural(item)
    what = say(
        "None of the {planned} {items} with {version} gave a value",
        planned=planned,
        items=items,
        version=version,
    )
    if planned > 1 and planned == failed:
        what = say(
            "All {planned} {items} with {version} failed",
            planned=planned,
            items=items,
            version=version,
        )
    elif planned > 1 and planned == lost == never:
        what = say(
            "All {planned} {items} with {version} were never made",
            planned=planned,
            items=items,
            version=version,
        )
    elif planned > 1 and planned == lost and not never:
        what = say(
            "All {planned} {items} with {version} were lost",
            planned=planned,
            items=items,
            version=version,
        )
    elif failed or lost:
        what += f" ({listing(gone_words(*gone))})"
    own = say(" That none worked is a result of its own.") if failed and failed == planned else ""
    return say(
        "{what}. So the answer says nothing of how well it works against other versions of "
        "{variable}.{own}",
        what=what,
        variable=variable,
        own=own,
    )
