"""The answer in three sentences: what mattered, what made no difference, what is open."""

from __future__ import annotations

from trials.words.comparing import gap_with_range
from trials.words.crossing import CrossFacts, crossing_sentence, distinct
from trials.words.language import say
from trials.words.numbers import capital, listing, plural
from trials.words.sentences import (
    MATTERED,
    NO_DIFFERENCE,
    NOT_SETTLED,
    VerdictFacts,
    condition,
    in_items,
    in_order,
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
    return "; " + say("it is not clear which of {best} is better", best=listing(facts.too_close))


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
        "at_least": in_order(facts).rstrip("."),
    }
    if facts.reason in special:
        return special[facts.reason]
    group = facts.settle_group or unit
    many = plural(group) if facts.to_settle != 1 else group
    if facts.to_settle is None and facts.reason == "clear_not_surely_big":
        if facts.small_within:
            return say(
                "a difference, likely less than {care}, but to be sure of that with each version "
                "of the other variables would take more than ten times as many {groups}",
                care=facts.care,
                groups=plural(group),
            )
        return say(
            "a difference, but the best guess is so near {care} that even many more {groups} "
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
            full=in_items(facts),
            condition=condition(facts),
        )
    )
    if facts.reason == "clear_not_surely_big":
        return say("a difference, but perhaps too small to care about; {told}", told=told)
    return told
