"""Verdicts in plain sentences, made from codes and numbers; nothing is computed here.

Only a variable that was given out by chance may be said to *matter* or to have *made* a difference;
anything else *went with* one. "Not settled" is never told as "no difference".
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from trials.words.comparing import Pair, Scale, fits, gap, gap_with_range, margin
from trials.words.crossing import CrossFacts, crossing_sentence, distinct
from trials.words.language import marked, say
from trials.words.numbers import capital, chance_of, count, listing, plural

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
    to_settle_items : how many items those are in all, where they are groups of items.
    too_close : the best version and those too close to it to call, of one that mattered.
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
    p_ranks: float | None = None
    alpha: float = 0.05

    @property
    def pair(self) -> Pair:
        """The two versions compared."""
        return Pair(self.a, self.b, self.estimate, self.interval, self.scale, self.unit)

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
    return f"{open_} {_in_order(facts)}{_not_by_chance(facts)}"


def _in_order(facts: VerdictFacts) -> str:
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
        return say(
            " The true difference may be so close to {care} that even ten times as many {groups} "
            "might not show on which side it is. Decide whether about as much as the best guess "
            "is worth it to you.",
            care=facts.care,
            groups=plural(group),
        )
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
        full=_in_items(facts),
        condition=_condition(facts),
    )


def _in_items(facts: VerdictFacts) -> str:
    if facts.to_settle_items is None:
        return ""
    return say(" (about {n_items} in all)", n_items=count(facts.to_settle_items, facts.item))


_IF: Mapping[str, str] = MappingProxyType(
    {
        "none": marked(", if in truth there is no difference"),
        "as_estimated": marked(", if the true difference is as big as it looks now"),
    }
)


def _condition(facts: VerdictFacts) -> str:
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


def answer_sentences(facts: tuple[VerdictFacts, ...]) -> tuple[tuple[str, str], ...]:
    """Return the answer in three sentences, each with its short heading.

    The first says what mattered and by how much, alone or together with another variable, the
    second what made no practical difference, the third what isn't settled and what would settle it.
    That it is of the items that worked, if some failed, belongs in the heading above.

    Examples
    --------
    >>> heat = VerdictFacts("heat", "mattered", "beyond", "power", "ratio", 1.3, "oven", "burner",
    ...                     2.0, (1.6, 2.5))
    >>> [text for _, text in answer_sentences((heat,))][1:]
    ['So far no variable is sure to make too little difference to care about.',
     'No variable is left unsettled.']
    """
    mattered = [f for f in facts if f.verdict == MATTERED]
    little = [f for f in facts if f.verdict == NO_DIFFERENCE]
    open_ = [f for f in facts if f.verdict == NOT_SETTLED and f.reason != "depends"]
    together = distinct([one for f in facts if f.verdict != NO_DIFFERENCE for one in f.crossings])
    by_chance = all(f.randomised for f in facts)
    return (
        (
            say("What mattered") if by_chance else say("What went with a difference"),
            _what_mattered(mattered, together),
        ),
        (
            say("What made no practical difference")
            if by_chance
            else say("What went with no practical difference"),
            _what_did_not(little),
        ),
        (say("What is not settled"), _what_is_open(open_)),
    )


def _what_mattered(facts: list[VerdictFacts], together: tuple[CrossFacts, ...]) -> str:
    told = [crossing_sentence(one) for one in together]
    if not facts and told:
        return " ".join(told)
    if not facts:
        return say("So far no variable is sure to make a difference that you would care about.")
    parts = [f"{f.factor}: {gap_with_range(f.pair)}{_too_close(f)}" for f in facts]
    return " ".join([f"{capital('; '.join(parts))}.", *told])


def _too_close(facts: VerdictFacts) -> str:
    if not facts.too_close:
        return ""
    return "; " + say("{best} are too close to call", best=listing(facts.too_close))


def _what_did_not(facts: list[VerdictFacts]) -> str:
    if not facts:
        return say("So far no variable is sure to make too little difference to care about.")
    names = listing([f.factor for f in facts])
    return say(
        "{names}: any difference stays short of the {care} you would care about.",
        names=capital(names),
        care=facts[0].care,
    )


def _what_is_open(facts: list[VerdictFacts]) -> str:
    if not facts:
        return say("No variable is left unsettled.")
    parts = [f"{f.factor} ({way_out(f)})" for f in facts]
    return f"{capital('; '.join(parts))}."


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


def way_out(facts: VerdictFacts) -> str:
    """Return in a few words what an open verdict needs."""
    unit = facts.unit_group or facts.item
    special = {
        "no_replication": say("use each version on at least two {units}", units=plural(unit)),
        "one_level": say("only {a} gave values, so there is nothing to compare it with", a=facts.a),
        "tied": say(
            "it always changed together with {depends_on}: change one without the other",
            depends_on=listing(facts.depends_on),
        ),
        "not_compared": say("some versions never met: make the combinations that are missing"),
        "no_residual_df": say(
            "make more {units}, or ask about fewer things at once", units=plural(unit)
        ),
        "error_unsure": say("make more {units} with each version", units=plural(unit)),
        "no_variation": say(
            "all {items} of a version read the same; use a finer meter", items=plural(facts.item)
        ),
        "failures_disagree": say(
            "it depends on how the failed {items} are counted", items=plural(facts.item)
        ),
        "at_least": _in_order(facts).rstrip("."),
    }
    if facts.reason in special:
        return special[facts.reason]
    group = facts.settle_group or unit
    many = plural(group) if facts.to_settle != 1 else group
    if facts.to_settle is None and facts.reason == "clear_not_surely_big":
        return say(
            "a difference, but the true one may be close to {care}, so even many more {groups} "
            "might not tell",
            care=facts.care,
            groups=plural(group),
        )
    told = (
        say("first make {groups} more alike; more of them would hardly help", groups=plural(group))
        if facts.to_settle is None
        else say(
            "about {to_settle} more {groups} of each kind{full} would probably settle it"
            "{condition}",
            to_settle=facts.to_settle,
            groups=many,
            full=_in_items(facts),
            condition=_condition(facts),
        )
    )
    if facts.reason == "clear_not_surely_big":
        return say("a difference, but perhaps too small to care about; {told}", told=told)
    return told
