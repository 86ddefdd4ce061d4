"""Two variables that matter together, in words: which version is ahead depends on the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.words.comparing import Pair, gap, gap_with_range
from trials.words.language import say
from trials.words.numbers import listing, plural


@dataclass(frozen=True)
class CrossFacts:
    """One variable's difference within two versions of another, labels as a person reads them.

    Parameters
    ----------
    factor, within : labels of the two variables.
    at_one, at_other : the two versions of ``within``.
    one, other : the same versions of ``factor`` compared within each.
    turns : whether which version is ahead differs, clear of chance.
    beyond : whether one of the differences is surely big enough to care about.
    caused : whether the versions were given out by chance, and nothing failed; else they *went
        with* a difference.
    failed : whether some items failed.
    """

    factor: str
    within: str
    at_one: str
    at_other: str
    one: Pair
    other: Pair
    turns: bool
    beyond: bool = True
    caused: bool = True
    failed: bool = False
    item: str = "item"

    @property
    def variables(self) -> frozenset[str]:
        """The two variables, whichever is named first."""
        return frozenset((self.factor, self.within))


def crossing_sentence(facts: CrossFacts, *, ranges: bool = True) -> str:
    """Return what depends on what, and by how much each way.

    Examples
    --------
    >>> one = Pair("oven", "burner", 5.0, (4.1, 5.9), "difference", "mW")
    >>> other = Pair("oven", "burner", -4.0, (-4.9, -3.1), "difference", "mW")
    >>> crossing_sentence(CrossFacts("heat", "dye", "hibiscus", "beetroot", one, other, True),
    ...                   ranges=False).replace(chr(160), " ")
    'Heat and dye matter together: which version of heat wins depends on dye. With hibiscus, oven
    gave 5.00 mW more than burner; with beetroot, burner gave 4.00 mW more than oven.'
    """
    tell = gap_with_range if ranges else gap
    told = say(
        "With {at_one}, {gap}; with {at_other}, {other_gap}.",
        at_one=facts.at_one,
        gap=tell(facts.one),
        at_other=facts.at_other,
        other_gap=tell(facts.other),
    )
    doubt = "" if facts.beyond else say(" It may be by less than you would care about.")
    return f"{crossing_what(facts)}. {told}{doubt}"


def crossing_what(facts: CrossFacts) -> str:
    """Return what depends on what, without a full stop and without a number."""
    start = say("Of the {items} that worked, ", items=plural(facts.item)) if facts.failed else ""
    both = listing([facts.factor, facts.within])
    if facts.caused:
        together = say("{both} matter together", both=both)
    else:
        together = say("look at {both} together", both=both)
    text = f"{start}{together}: {depends_clause(facts)}"
    return text[0].upper() + text[1:]


def depends_clause(facts: CrossFacts) -> str:
    """Return what depends on what, as a clause without its numbers."""
    if facts.caused and facts.turns:
        return say(
            "which version of {factor} wins depends on {within}",
            factor=facts.factor,
            within=facts.within,
        )
    if facts.caused:
        return say(
            "how much {factor} matters depends on {within}",
            factor=facts.factor,
            within=facts.within,
        )
    if facts.turns:
        return say(
            "which version of {factor} came out ahead went with {within}",
            factor=facts.factor,
            within=facts.within,
        )
    return say(
        "how far {factor} set {items} apart went with {within}",
        factor=facts.factor,
        items=plural(facts.item),
        within=facts.within,
    )


def distinct(facts: Sequence[CrossFacts]) -> tuple[CrossFacts, ...]:
    """Return each pair of variables once, told from the side where the order turns."""
    best: dict[frozenset[str], CrossFacts] = {}
    for one in facts:
        known = best.get(one.variables)
        if known is None or (one.turns, one.beyond) > (known.turns, known.beyond):
            best[one.variables] = one
    return tuple(best.values())
