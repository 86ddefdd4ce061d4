"""Verdicts in plain sentences, made from codes and numbers; nothing is computed here.

Only a variable that was given out by chance may be said to *matter* or to have *made* a difference;
anything else *went with* one. "Not settled" is never told as "no difference".
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from trials.words.comparing import Pair, Scale, fits, gap, margin
from trials.words.crossing import CrossFacts, crossing_sentence, distinct
from trials.words.language import marked, say
from trials.words.numbers import capital, chance_of, listing, plural

MATTERED = "mattered"
NO_DIFFERENCE = "made no practical difference"
NOT_SETTLED = "not settled"

_VERDICTS: Mapping[str, str] = MappingProxyType(
    {
        MATTERED: marked("mattered"),
        NO_DIFFERENCE: marked("made no practical difference"),
        NOT_SETTLED: marked("not settled"),
    }
)


def verdict_text(code: str) -> str:
    """Return the code of a verdict as a person reads it.

    Examples
    --------
    >>> verdict_text("mattered")
    'mattered'
    """
    return say(_VERDICTS[code])


@dataclass(frozen=True)
class VerdictFacts:
    """What a verdict's sentence is made of: plain values, labels as a person reads them.

    Parameters
    ----------
    factor : label of the variable ("soak time").
    verdict, reason : the codes of the verdict.
    response : label of what was measured ("power").
    a, b : versions with the largest difference, with their unit.
    estimate, interval : a minus b in ``unit``, or a over b.
    worthwhile : the smallest difference, or ratio, that a person would care about.
    randomised : whether versions were given out by chance; among working items only (``failed``)
        a difference still just goes with the variable, unless it is the verdict itself.
    item : what one made thing is called ("cell").
    unit_group : label of what the variable is applied to ("firing"; the item itself if "").
    failed : how many items failed.
    to_settle : how many more of ``settle_group`` for each version would probably settle it.
    settle_if : for which truth they suffice: "none" or "as_estimated"; "" leaves it unsaid.
    depends_on : labels of the variables whose versions leave it open (reason inside_on_average),
        or of what it always changed together with (reason tied).
    crossings : the variables that it matters together with, clear of chance.
    to_settle_items : how many more items those hold together, where they are groups of items.
    too_close : the best version and those too close to it to call, of one that mattered.
    also_within : that a difference is too small must show with each version of others too.
    p_ranks : chance of ranks so far apart without any effect (reason at_least), where known.
    alpha : below it chance is not believed to have done it.
    """

    factor: str
    verdict: str
    reason: str
    response: str
    scale: Scale
    worthwhile: float
    a: str = ""
    b: str = ""
    estimate: float | None = None
    interval: tuple[float | None, float | None] = (None, None)
    unit: str = ""
    randomised: bool = True
    item: str = "item"
    unit_group: str = ""
    failed: int = 0
    to_settle: int | None = None
    settle_group: str = ""
    settle_if: str = ""
    depends_on: tuple[str, ...] = ()
    crossings: tuple[CrossFacts, ...] = ()
    to_settle_items: int | None = None
    too_close: tuple[str, ...] = ()
    also_within: bool = False
    p_ranks: float | None = None
    alpha: float = 0.05

    @property
    def pair(self) -> Pair:
        """The two versions compared."""
        return Pair(self.a, self.b, self.estimate, self.interval, self.scale, self.unit)

    @property
    def small_within(self) -> bool:
        """The best guess is too small to care about, and must be so with each version of others."""
        if not self.also_within or self.estimate is None:
            return False
        if self.scale == "ratio":
            return abs(math.log(self.estimate)) < abs(math.log(self.worthwhile))
        return abs(self.estimate) < self.worthwhile

    @property
    def care(self) -> str:
        """The difference a person would care about, as text."""
        return margin(self.worthwhile, self.scale, self.unit)


def verdict_sentence(facts: VerdictFacts) -> str:
    """Return the verdict on one variable: what, by how much, and what would settle it.

    Examples
    --------
    >>> verdict_sentence(VerdictFacts("heat", "mattered", "beyond", "power", "difference", 0.05,
    ...     "oven", "burner", 0.2137, (0.1042, 0.3232), "mW")).replace(chr(160), " ")
    'Heat mattered for power: oven gave 0.21 mW more than burner. The data fit anything from 0.10
    to 0.32 mW more, and 0.05 mW is enough to care about.'
    """
    text = _SENTENCES.get(facts.reason, _wide)(facts)
    if facts.verdict == NO_DIFFERENCE or facts.reason == "depends":
        return text
    told = [crossing_sentence(one) for one in distinct(facts.crossings)]
    return " ".join([text, *(say("But note: {sentence}", sentence=one) for one in told)])


def _start(facts: VerdictFacts) -> str:
    if facts.failed:
        return say("Of the {items} that worked, ", items=plural(facts.item))
    return ""


def _opened(facts: VerdictFacts, text: str) -> str:
    start = _start(facts)
    return start + (text if start else capital(text))


def _beyond(facts: VerdictFacts) -> str:
    what = (
        say("{factor} mattered for {response}", factor=facts.factor, response=facts.response)
        if facts.randomised
        else say(
            "{factor} went with a difference in {response} big enough to care about",
            factor=facts.factor,
            response=facts.response,
        )
    )
    return say(
        "{opened}: {gap}. The data fit {fits}, and {care} is enough to care about.{not_by_chance}",
        opened=_opened(facts, what),
        gap=gap(facts.pair),
        fits=fits(facts.pair),
        care=facts.care,
        not_by_chance=_not_by_chance(facts),
    )


def _inside(facts: VerdictFacts) -> str:
    what = (
        say(
            "{factor} made no practical difference to {response}",
            factor=facts.factor,
            response=facts.response,
        )
        if facts.randomised
        else say(
            "{factor} went with no practical difference in {response}",
            factor=facts.factor,
            response=facts.response,
        )
    )
    return say(
        "{opened}: {gap}. The data fit {fits}. "
        "All of that stays short of the {care} you would care about.",
        opened=_opened(facts, what),
        gap=gap(facts.pair),
        fits=fits(facts.pair),
        care=facts.care,
    )


def _clear_but_small(facts: VerdictFacts) -> str:
    text = (
        say(
            "{factor} made a difference in {response}, but one too small to matter",
            factor=facts.factor,
            response=facts.response,
        )
        if facts.randomised and not facts.failed
        else say(
            "{factor} went with a difference in {response}, but one too small to matter",
            factor=facts.factor,
            response=facts.response,
        )
    )
    return say(
        "{opened}: {gap}. The data fit {fits}. "
        "All of that stays short of the {care} you would care about."
        "{not_by_chance}",
        opened=_opened(facts, text),
        gap=gap(facts.pair),
        fits=fits(facts.pair),
        care=facts.care,
        not_by_chance=_not_by_chance(facts),
    )


def _clear_not_surely_big(facts: VerdictFacts) -> str:
    text = (
        say(
            "{factor} made a difference in {response}, not yet surely big enough to care about",
            factor=facts.factor,
            response=facts.response,
        )
        if facts.randomised and not facts.failed
        else say(
            "{factor} went with a difference in {response}, not yet surely big enough to care "
            "about",
            factor=facts.factor,
            response=facts.response,
        )
    )
    return say(
        "Not settled. {opened}: {gap}. "
        "The data fit {fits}, and you would care about {care}."
        "{settle_sentence}{not_by_chance}",
        opened=_opened(facts, text),
        gap=gap(facts.pair),
        fits=fits(facts.pair),
        care=facts.care,
        settle_sentence=settle_sentence(facts),
        not_by_chance=_not_by_chance(facts),
    )


def _wide(facts: VerdictFacts) -> str:
    whether = (
        say("whether {factor} matters for {response}", factor=facts.factor, response=facts.response)
        if facts.randomised
        else say(
            "whether {factor} goes with {response}", factor=facts.factor, response=facts.response
        )
    )
    if facts.estimate is None:
        return say(
            "Not settled. The data can't tell {whether}: {gap}.",
            whether=whether,
            gap=gap(facts.pair),
        )
    return say(
        "Not settled. The data can't tell yet {whether}. "
        "{opened}, but the data fit {fits}. "
        "That is not the same as 'no difference'.{settle_sentence}",
        whether=whether,
        opened=_opened(facts, gap(facts.pair)),
        fits=fits(facts.pair),
        settle_sentence=settle_sentence(facts),
    )


def _inside_on_average(facts: VerdictFacts) -> str:
    others = listing(facts.depends_on) or say("the other variables")
    if facts.randomised and not facts.failed:
        told = say(
            "on average {factor} made little difference to {response}",
            factor=facts.factor,
            response=facts.response,
        )
        doubt = say("But we can't rule out that it matters")
    else:
        told = say(
            "on average {factor} went with little difference in {response}",
            factor=facts.factor,
            response=facts.response,
        )
        doubt = say("But we can't rule out a bigger difference")
    return say(
        "Not settled. {opened}: {gap}. {doubt} with some versions of {others}.{settle_sentence}",
        opened=_opened(facts, told),
        gap=gap(facts.pair),
        doubt=doubt,
        others=others,
        settle_sentence=settle_sentence(facts),
    )


def _no_replication(facts: VerdictFacts) -> str:
    unit = facts.unit_group or facts.item
    told = "" if facts.estimate is None else say(" {gap} this time.", gap=capital(gap(facts.pair)))
    return say(
        "Not settled. There were no repeats of the {unit} for each version of {factor}, so "
        "the luck of one {unit} can't be told from {factor}.{told} "
        "Use each version on at least two {units} next time.",
        unit=unit,
        factor=facts.factor,
        told=told,
        units=plural(unit),
    )


def _no_variation(facts: VerdictFacts) -> str:
    return say(
        "Not settled. All {items} with one version of {factor} read exactly "
        "the same, so there is nothing to judge chance by: {gap}. "
        "Use a meter that shows more digits, or check that the readings are real.",
        items=plural(facts.item),
        factor=facts.factor,
        gap=gap(facts.pair),
    )


def _error_unsure(facts: VerdictFacts) -> str:
    unit = facts.unit_group or facts.item
    return say(
        "Not settled. The {units} tell too little of how far chance alone reaches: "
        "{gap}. Make more {units} with each version of {factor}.",
        units=plural(unit),
        gap=gap(facts.pair),
        factor=facts.factor,
    )


def _used_up(facts: VerdictFacts) -> str:
    unit = facts.unit_group or facts.item
    return say(
        "Not settled. As many differences were asked about as there are {units}, so none "
        "of them is left over to judge chance by: {gap}. "
        "Make more {units}, or ask about fewer things at once.",
        units=plural(unit),
        gap=gap(facts.pair),
    )


def _not_compared(facts: VerdictFacts) -> str:
    if facts.estimate is None:
        return say(
            "Not settled. No two versions of {factor} could be compared: they never met "
            "under the same versions of the other variables. Make the combinations that are "
            "missing.",
            factor=facts.factor,
        )
    return say(
        "Not settled. Some versions of {factor} never met under the same versions of the "
        "other variables, so they could not be compared. Of those that met, {gap}. "
        "Make the combinations that are missing.",
        factor=facts.factor,
        gap=gap(facts.pair),
    )


def _depends(facts: VerdictFacts) -> str:
    told = [crossing_sentence(one) for one in distinct(facts.crossings)]
    others = listing([one.within if one.factor == facts.factor else one.factor
                      for one in distinct(facts.crossings)])  # fmt: skip
    return say(
        "{told} So an average of {factor} over {others} would hide what happens.",
        told=" ".join(told),
        factor=facts.factor,
        others=others,
    )


def _one_level(facts: VerdictFacts) -> str:
    return say(
        "Not settled. Of {factor} only one version gave values ({a}), so there is "
        "nothing to compare it with.",
        factor=facts.factor,
        a=facts.a,
    )


def _tied(facts: VerdictFacts) -> str:
    others = listing(facts.depends_on)
    return say(
        "Not settled. {factor} always changed together with {others}, so what "
        "either did can't be told apart. Change one without the other next time.",
        factor=capital(facts.factor),
        others=others,
    )


def _failures_disagree(facts: VerdictFacts) -> str:
    items = plural(facts.item)
    told = (
        ""
        if facts.estimate is None
        else say(" Of the {items} that worked, {gap}.", items=items, gap=gap(facts.pair))
    )
    return say(
        "Not settled. The answer for {factor} changes with how the failed {items} are "
        "counted.{told} Counting failed {items} as the worst, or only how many failed, gives "
        "another answer.",
        factor=facts.factor,
        items=items,
        told=told,
    )


def _at_least(facts: VerdictFacts) -> str:
    items = plural(facts.item)
    open_ = say(
        "Not settled. Of some {items} we only know that their {response} is at least so "
        "much, so by how much {factor} matters can't be said.",
        items=items,
        response=facts.response,
        factor=facts.factor,
    )
    return f"{open_} {in_order(facts)}{_not_by_chance(facts)}"


def in_order(facts: VerdictFacts) -> str:
    """Return what the order of all items tells of a variable."""
    items = plural(facts.item)
    if not facts.a:
        return say("In the order of all {items}, its versions could not be compared.", items=items)
    ahead = say(
        "In the order of all {items}, those with {a} stand higher than with {b}",
        items=items,
        a=facts.a,
        b=facts.b,
    )
    if facts.p_ranks is None:
        return say("{ahead}; how easily chance does that could not be worked out.", ahead=ahead)
    chance = say(
        "without any effect that would turn up in {repeats}", repeats=chance_of(facts.p_ranks)
    )
    if facts.p_ranks < facts.alpha:
        return say("{ahead}, and hardly by chance: {chance}.", ahead=ahead, chance=chance)
    return say("{ahead}, but chance alone could do that: {chance}.", ahead=ahead, chance=chance)


def _not_by_chance(facts: VerdictFacts) -> str:
    if facts.randomised:
        return ""
    return say(
        " Chance is not known to have given out the versions of {factor}, so something else "
        "may be the reason.",
        factor=facts.factor,
    )


def settle_sentence(facts: VerdictFacts) -> str:
    """Return what would settle an open verdict, with a leading space; "" if it is settled.

    Examples
    --------
    >>> settle_sentence(VerdictFacts("heat", "not settled", "wide", "power", "ratio", 1.3,
    ...                 to_settle=6, settle_group="firing"))
    ' About 6 more firings of each kind would probably settle it.'
    """
    if facts.verdict != NOT_SETTLED or facts.reason in (
        "no_replication",
        "no_variation",
        "error_unsure",
        "no_residual_df",
        "not_compared",
        "failures_disagree",
        "depends",
        "one_level",
        "tied",
        "at_least",
    ):
        return ""
    group = facts.settle_group or facts.unit_group or facts.item
    if facts.to_settle is None and facts.reason == "clear_not_surely_big":
        return _hard_to_settle(facts, plural(group))
    if facts.to_settle is None:
        return say(
            " Even ten times as many {groups} might not settle it. First find out why "
            "{groups} made alike come out so different.",
            groups=plural(group),
        )
    many = plural(group) if facts.to_settle != 1 else group
    return say(
        " About {to_settle} more {groups} of each kind{full} would probably settle it{condition}.",
        to_settle=facts.to_settle,
        groups=many,
        full=in_items(facts),
        condition=condition(facts),
    )


def _hard_to_settle(facts: VerdictFacts, groups: str) -> str:
    """Return why a difference that is clear of chance would hardly be settled by more."""
    why = (
        say(
            " The best guess is less than {care}. But to be sure of that, with each version of the "
            "other variables too, would likely take more than ten times as many {groups}.",
            care=facts.care,
            groups=groups,
        )
        if facts.small_within
        else say(
            " The best guess is so near {care} that to tell on which side the truth lies would "
            "likely take more than ten times as many {groups}.",
            care=facts.care,
            groups=groups,
        )
    )
    return why + say(" So decide: is a difference as big as the best guess worth it to you?")


def in_items(facts: VerdictFacts) -> str:
    """Return how many more items the groups to settle it hold, in brackets; "" where not known."""
    if facts.to_settle_items is None:
        return ""
    return say(
        " (about {n_more} more {items})",
        n_more=facts.to_settle_items,
        items=plural(facts.item) if facts.to_settle_items != 1 else facts.item,
    )


_IF: Mapping[str, str] = MappingProxyType(
    {
        "none": marked(", if in truth there is no difference"),
        "as_estimated": marked(", if the true difference is as big as it looks now"),
    }
)


def condition(facts: VerdictFacts) -> str:
    """Return for which truth so many would settle it, "" where that is left unsaid."""
    return say(_IF[facts.settle_if]) if facts.settle_if in _IF else ""


_SENTENCES: Mapping[str, Callable[[VerdictFacts], str]] = MappingProxyType(
    {
        "beyond": _beyond,
        "inside": _inside,
        "inside_on_average": _inside_on_average,
        "clear_but_small": _clear_but_small,
        "clear_not_surely_big": _clear_not_surely_big,
        "wide": _wide,
        "no_replication": _no_replication,
        "no_variation": _no_variation,
        "error_unsure": _error_unsure,
        "no_residual_df": _used_up,
        "not_compared": _not_compared,
        "failures_disagree": _failures_disagree,
        "depends": _depends,
        "one_level": _one_level,
        "tied": _tied,
        "at_least": _at_least,
    }
)
