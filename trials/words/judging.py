"""What can be said of a plan before it is built, in plain sentences. Nothing is computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trials.words.language import marked, say, say_as
from trials.words.numbers import (
    capital,
    count,
    decimals_of,
    listing,
    number,
    percent,
    significant,
    times,
    with_unit,
)

CROSS = " × "
MOST_RATIO = 100.0  # a difference that shows only from here on is as good as none
ORDERS = {"run": marked("order of making"), "measure": marked("order of measuring")}


def plan_told(which: str, seed: int, damaged: str = "") -> str:
    """Return which plan some numbers belong to.

    Parameters
    ----------
    which : "plan", "next plan" or "trial draw".
    damaged : what is wrong with a plan that is there and can't be read; "" if nothing.

    Examples
    --------
    >>> plan_told("plan", 7)
    'Of the plan in this folder (seed 7).'
    """
    if which == "plan":
        return say("Of the plan in this folder (seed {seed}).", seed=seed)
    if which == "next plan":
        return say(
            "Of the plan that trials plan draws next: this study keeps its seed, {seed}, and the "
            "numbers will be these.",
            seed=seed,
        )
    told = say("Numbers of a trial draw; the plan itself can differ a little.")
    if damaged:
        return say(
            "{told} There is a plan.json that can't be read ({damaged}).",
            told=told,
            damaged=damaged,
        )
    return told


def term_label(term: str, labels: Mapping[str, str]) -> str:
    """Return a term, or a group by its path, as a person reads it.

    Examples
    --------
    >>> term_label("dye:soak", {"soak": "soak time"})
    'dye × soak time'
    >>> term_label("session/firing", {}), term_label("run", {})
    ('firing', 'order of making')
    """
    parts = [part.split("/")[-1] for part in term.split(":")]
    return CROSS.join(labels.get(part) or _order_or_name(part) for part in parts)


def _order_or_name(part: str) -> str:
    return say(ORDERS[part]) if part in ORDERS else part


def size_text(difference: float | None, *, ratio: bool, unit: str) -> str:
    """Return a difference that would show.

    Examples
    --------
    >>> size_text(1.4444, ratio=True, unit="mW"), size_text(0.0499885, ratio=False, unit="V")
    ('1.44\\xa0times', '0.050\\xa0V')
    >>> size_text(None, ratio=True, unit="")
    'none'
    """
    if difference is None:
        return say_as("a difference", "none")
    if ratio:
        return times(difference, 2 if difference < 10 else max(decimals_of(difference, 3), 0))
    return with_unit(significant(difference, 2 if difference < 1 else 3), unit)


def shown_size(difference: float | None, *, ratio: bool, unit: str) -> str:
    """Return a difference that would show, as worked out; a ratio above 100 tells nothing more.

    Examples
    --------
    >>> shown_size(2958.2, ratio=True, unit=""), shown_size(44.71, ratio=True, unit="")
    ('more than 100\\xa0times', '44.7\\xa0times')
    """
    if ratio and difference is not None and difference > MOST_RATIO:
        return say("more than {times}", times=times(MOST_RATIO))
    return size_text(difference, ratio=ratio, unit=unit)


NO_SIZE = "None: no difference would show, however large."

MOST_UNMADE = 2  # combinations named


def never_sentence(what: str, unmade: Sequence[tuple[str, str]], item: str) -> str:
    """Return that a plan never gives an answer at any size, and why.

    Parameters
    ----------
    what : the answer, and what would have to be true.
    unmade : versions that no item has together; none: the answer can't be worked out.
    item : what one thing is called.

    Examples
    --------
    >>> never_sentence("none if there is none", [("light: 16 h", "feed: full")], "pot")
    'None if there is none: never in this plan, however many you make. The reason: no pot has
    light: 16 h together with feed: full. What happens there nobody sees, so nobody can say that
    nothing happens.'
    """
    never = say(
        "{what}: never in this plan, however many you make. The reason: ", what=capital(what)
    )
    if not unmade:
        return say(
            "{never}something else always changes together with it, or nothing is left to see "
            "by how much things made alike differ. The fair-test check says which: trials check.",
            never=never,
        )
    named = [
        say("{one} together with {other}", one=one, other=other)
        for one, other in unmade[:MOST_UNMADE]
    ]
    more = len(unmade) - MOST_UNMADE
    named += (
        [say("{more} more such pairs", more=more) if more > 1 else say("one more such pair")]
        if more > 0
        else []
    )
    return say(
        "{never}no {item} has {named}. What happens there nobody sees, so nobody "
        "can say that nothing happens.",
        never=never,
        item=item,
        named=listing(named, "or"),
    )


def partly_mixed(mixed: Sequence[str], page: str) -> str:
    """Return what is mixed up in part, and where all shares stand.

    Examples
    --------
    >>> partly_mixed(["a third of what the plan tells of coats is mixed up with team"], "Aliases")
    'Partly mixed up: a third of what the plan tells of coats is mixed up with team (see Aliases).'
    """
    return say("Partly mixed up: {parts} (see {page}).", parts="; ".join(mixed), page=page)


def mixed_sentence(term: str, others: Sequence[str], *, share: float, whole: bool) -> str:
    """Return that two things can't be told apart.

    Examples
    --------
    >>> mixed_sentence("dye", ["heat and soak"], share=1.0, whole=True)
    "dye can't be told from heat and soak"
    >>> mixed_sentence("dye", ["team"], share=0.25, whole=False)
    'a quarter of what the plan tells of dye is mixed up with team'
    >>> mixed_sentence("dye", ["heat", "soak"], share=1.0, whole=True)
    "dye can't be told from heat and soak taken together"
    """
    other = listing(list(others)) + (say(" taken together") if len(others) > 1 else "")
    if whole:
        return say("{term} can't be told from {other}", term=term, other=other)
    return say(
        "{part} of what the plan tells of {term} is mixed up with {other}",
        part=_part(share),
        term=term,
        other=other,
    )


def untested_sentence(factors: Sequence[str]) -> str:
    """Return that nothing is left over to judge some factors by.

    Examples
    --------
    >>> untested_sentence(["dye", "heat"])
    'Nothing sure can be said of dye and heat: too little is left over to judge chance by.'
    """
    told = listing(list(factors))
    return say(
        "Nothing sure can be said of {told}: too little is left over to judge chance by.", told=told
    )


def _part(share: float) -> str:
    for value, word in ((0.25, say("a quarter")), (1 / 3, say("a third")), (0.5, say("half"))):
        if abs(share - value) < 0.01:
            return word
    return percent(share)


STRATA_OVERLAP = marked(
    "A term that several strata tell of has a line in each, so the degrees of freedom of terms "
    "overlap."
)


@dataclass(frozen=True)
class LossFacts:
    """What the loss of a member does; ``group`` and ``factor`` as a person reads them.

    ``before`` and ``after`` are the differences that show in 8 of 10 repeats, as text; "" where no
    spread is known. ``growth`` is how many times larger that difference gets.
    """

    group: str
    member: str  # "" for a single item, or where members have no names yet
    items: int
    item: str
    factor: str
    effect: str
    before: str = ""
    after: str = ""
    growth: float | None = None


def loss_sentence(facts: LossFacts) -> str:
    """Return what would be lost with one member of a group, or one item.

    Examples
    --------
    >>> loss_sentence(LossFacts("pot", "P3", 4, "cup", "steep", "weaker", "33 mS", "35 mS", 1.06))
    'If one pot is lost (worst: P3, 4 cups): steep then shows from 35 mS (before: 33 mS).'
    >>> loss_sentence(LossFacts("cell", "", 1, "cell", "heat", "test lost"))
    'If one cell is lost (the worst one): the plan can say nothing sure about heat any more.'
    """
    items = f", {count(facts.items, facts.item)}" if facts.items > 1 else ""
    worst = (
        say("worst: {member}{items}", member=facts.member, items=items)
        if facts.member
        else say("the worst one{items}", items=items)
    )
    return say(
        "If one {group} is lost ({worst}): {cost}",
        group=facts.group,
        worst=worst,
        cost=cost_text(facts),
    )


def cost_text(facts: LossFacts) -> str:
    """Return what a loss does to one factor.

    Examples
    --------
    >>> cost_text(LossFacts("", "", 6, "cell", "heat", "weaker", "1.4 times", "1.5 times", 1.2))
    'heat then shows from 1.5 times (before: 1.4 times).'
    """
    if facts.effect == "estimate lost":
        return say("not all versions of {factor} can be compared any more.", factor=facts.factor)
    if facts.effect == "test lost":
        return say("the plan can say nothing sure about {factor} any more.", factor=facts.factor)
    if facts.before and facts.after:
        return say(
            "{factor} then shows from {after} (before: {before}).",
            factor=facts.factor,
            after=facts.after,
            before=facts.before,
        )
    if facts.growth is not None:
        return say(
            "a difference in {factor} has to be {growth} times as large to show.",
            factor=facts.factor,
            growth=number(facts.growth, 2),
        )
    return say("nothing more than is unknown anyway.")


def tied_sentence(first: str, second: str, tie: float) -> str:
    """Return that two things hang together.

    Examples
    --------
    >>> tied_sentence("dye", "team", 0.354)
    'Dye and team hang together: 0.35 on a scale from 0 (spread evenly) to 1 (one tells the other).'
    """
    return say(
        "{first} and {second} hang together: {tie} on a scale from 0 (spread "
        "evenly) to 1 (one tells the other).",
        first=capital(first),
        second=second,
        tie=number(tie, 2),
    )
