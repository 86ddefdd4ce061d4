"""What a study found, as it is told to a judge: which variables mattered, how much, how surely.

Nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.words.comparing import Pair, fits, gap, gap_with_range
from trials.words.crossing import CrossFacts, depends_clause, distinct
from trials.words.judge import Told, studies
from trials.words.language import marked, say, say_as
from trials.words.numbers import capital, chance_of, chance_sentence, listing, plural
from trials.words.sentences import MATTERED, NO_DIFFERENCE, NOT_SETTLED, VerdictFacts

ALL_SETTLED = marked("No variable that we changed is left unsettled.")


def found_told(facts: Sequence[VerdictFacts]) -> Told:
    """Return which variables mattered, and which are not settled.

    Examples
    --------
    >>> heat = VerdictFacts("heat", "mattered", "beyond", "power", "ratio", 1.3)
    >>> dye = VerdictFacts("dye", "not settled", "wide", "power", "ratio", 1.3)
    >>> found_told([heat, dye])
    ('Heat mattered for power.', "Dye is not settled, and that is not the same as 'no difference'.")
    """
    one = facts[0]
    start = say("of the {items} that worked, ", items=plural(one.item)) if one.failed else ""
    clauses = _settled_clauses(facts)
    open_ = [f for f in facts if f.verdict == NOT_SETTLED and f.reason != "depends"]
    names = listing([f.factor for f in open_], "or")
    if clauses:
        first = capital(f"{start}{listing(clauses)}.")
        return first, _unsettled_told([f.factor for f in open_])
    first = (
        say(
            "Nothing is settled yet: we can't tell whether {names} matters for {response}.",
            names=names,
            response=one.response,
        )
        if one.randomised
        else say(
            "Nothing is settled yet: we can't tell whether {names} goes with {response}.",
            names=names,
            response=one.response,
        )
    )
    seen = [f.factor for f in open_ if f.reason == "clear_not_surely_big"]
    if seen:
        return first, say(
            "We did see a clear difference for {seen}, but it may be too small to care about.",
            seen=listing(seen),
        )
    return first, say("That is not the same as 'no difference': there may be one, big or small.")


def _unsettled_told(factors: Sequence[str]) -> str:
    """Return what is left open besides what was settled."""
    if not factors:
        return say(ALL_SETTLED)
    names = capital(listing(factors))
    if len(factors) == 1:
        return say(
            "{names} is not settled, and that is not the same as 'no difference'.", names=names
        )
    return say("{names} are not settled, and that is not the same as 'no difference'.", names=names)


def with_missing(told: Told, versions: Sequence[str], item: str) -> Told:
    """Return what was found, with the versions of which nothing is left.

    Examples
    --------
    >>> found = ("Dye mattered for power.", "No variable that we changed is left unsettled.")
    >>> with_missing(found, ["burner"], "cell")[1]
    'Of burner we only know that no cell with it gave a value.'
    """
    if not versions:
        return told
    names = listing(versions)
    text = (
        say(
            "of {versions} we only know that no {item} with it gave a value.",
            versions=names,
            item=item,
        )
        if len(versions) == 1
        else say(
            "of {versions} we only know that no {item} with them gave a value.",
            versions=names,
            item=item,
        )
    )
    first, second = told
    return first, capital(text) if second == say(ALL_SETTLED) else f"{second.rstrip('.')}; {text}"


def _settled_clauses(facts: Sequence[VerdictFacts]) -> list[str]:
    one = facts[0]
    mattered = [f.factor for f in facts if f.verdict == MATTERED]
    little = [f.factor for f in facts if f.verdict == NO_DIFFERENCE]
    together = distinct([c for f in facts if f.verdict != NO_DIFFERENCE for c in f.crossings])
    clauses = [_mattered_clause(mattered, one)] if mattered else []
    clauses += [depends_clause(c) for c in together]
    if little:
        clauses.append(_little_clause(little, randomised=one.randomised))
    return clauses


def _mattered_clause(factors: Sequence[str], one: VerdictFacts) -> str:
    values = {"mattered": listing(factors), "response": one.response}
    several = len(factors) > 1
    if one.randomised and several:
        return say_as("several", "{mattered} mattered for {response}", **values)
    if one.randomised:
        return say("{mattered} mattered for {response}", **values)
    if several:
        return say_as(
            "several",
            "{mattered} went with a difference in {response} big enough to care about",
            **values,
        )
    return say("{mattered} went with a difference in {response} big enough to care about", **values)


def _little_clause(factors: Sequence[str], *, randomised: bool) -> str:
    little, several = listing(factors), len(factors) > 1
    if randomised and several:
        return say_as("several", "{little} made no practical difference", little=little)
    if randomised:
        return say("{little} made no practical difference", little=little)
    if several:
        return say_as("several", "{little} went with no practical difference", little=little)
    return say("{little} went with no practical difference", little=little)


@dataclass(frozen=True)
class LeadFacts:
    """The variable that the result is told by: the one that mattered most, or stands out most.

    Parameters
    ----------
    pair : its two versions furthest apart; None where nothing was compared.
    cross : the other variable that it depends on; None where it depends on none.
    care : the difference that was said to be worth caring about; "" where none was.
    p, p_drawn : chance of such a gap if it did nothing, by the fit, and by drawing lots again;
        with ``cross`` of such a pattern if the two did nothing together, all pairs counted in.
    units : what its versions were given to ("cells", "firings").
    ranks : whether only the order of all items could be used.
    """

    factor: str
    item: str
    units: str
    confidence: float
    pair: Pair | None = None
    cross: CrossFacts | None = None
    care: str = ""
    failed: bool = False
    p: float | None = None
    p_drawn: float | None = None
    ranks: bool = False


def size_told(facts: LeadFacts) -> Told:
    """Return how big the difference is, and how sure that is.

    Examples
    --------
    >>> pair = Pair("oven", "burner", 0.2137, (0.1042, 0.3232), "difference", "mW")
    >>> facts = LeadFacts("heat", "cell", "firings", 0.95, pair, care="0.1 mW")
    >>> size_told(facts)[0].replace(chr(160), " ")
    'Oven gave 0.21 mW more than burner, and the data fit anything from 0.10 to 0.32 mW more.'
    """
    start = say("of the {items} that worked, ", items=plural(facts.item)) if facts.failed else ""
    if facts.ranks:
        return (
            say(
                "Of some {items} we only know that they gave at least so much, so we "
                "can't say how big it is.",
                items=plural(facts.item),
            ),
            say("We put all of them in order instead, and compared their places."),
        )
    care = (
        say(", and {care} is what we said we would care about", care=facts.care)
        if facts.care
        else ""
    )
    held = say(
        "Ranges made this way hold the true value in {studies}{care}.",
        studies=studies(facts.confidence),
        care=care,
    )
    if facts.cross is not None:
        one = facts.cross
        return capital(
            say(
                "{start}with {at_one}, {gap_one}; with {at_other}, {gap_other}.",
                start=start,
                at_one=one.at_one,
                gap_one=gap_with_range(one.one),
                at_other=one.at_other,
                gap_other=gap_with_range(one.other),
            )
        ), held
    if facts.pair is None or facts.pair.estimate is None:
        return (
            say(
                "We can't say, for no two versions of {factor} could be compared.",
                factor=facts.factor,
            ),
            say("How sure we are can't be said either."),
        )
    if facts.pair.interval == (None, None):
        return (
            capital(say("{start}{gap} this time.", start=start, gap=gap(facts.pair))),
            say("How sure that is can't be said, for there is too little to judge luck by."),
        )
    return capital(
        say(
            "{start}{gap}, and the data fit {fits}.",
            start=start,
            gap=gap(facts.pair),
            fits=fits(facts.pair),
        )
    ), held


def luck_told(facts: LeadFacts) -> Told:
    """Return what chance alone would do, and why the test fits the study."""
    p = facts.p_drawn if facts.p_drawn is not None else facts.p
    if p is None:
        return (
            say(
                "For {factor} we don't know: there is too little to judge luck by.",
                factor=facts.factor,
            ),
            say(
                "It takes several {units} with each version to see how far luck reaches.",
                units=facts.units,
            ),
        )
    if facts.cross is not None:
        one = facts.cross
        return (
            say(
                "If {factor} did the same with every version of {within}, a pattern this "
                "uneven would turn up in {p}.",
                factor=one.factor,
                within=one.within,
                p=chance_of(p),
            ),
            say(
                "The test asks how far {units} with the same versions differ anyway.",
                units=facts.units,
            ),
        )
    if facts.p_drawn is None:
        return chance_sentence(p, facts.factor), say(
            "The test asks how far {units} with the same version differ anyway.", units=facts.units
        )
    return (
        say(
            "If {factor} made no difference, lots alone would set its versions this far apart in "
            "{p}.",
            factor=facts.factor,
            p=chance_of(p),
        ),
        say(
            "The test draws the lots again and again as our plan could have, and so sees how far "
            "{units} with the same version differ anyway.",
            units=facts.units,
        ),
    )


NOTHING_FOUND = marked("That none did is a finding too, and the next step is to find out why.")
NO_MARGIN = marked("We set no smallest difference worth caring about, so we call nothing settled.")


def without_margin_told(pair: Pair | None) -> Told:
    """Return what is said where no difference worth caring about was set."""
    if pair is None or pair.estimate is None:
        return say(NO_MARGIN), say("No two versions could be compared.")
    return say(NO_MARGIN), say("The largest difference that we saw: {gap}.", gap=gap(pair))
