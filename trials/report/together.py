"""Whether variables depend on each other: told where it changes the advice, else in a table."""

from __future__ import annotations

from collections.abc import Sequence

from trials.analysis.findings import Crossing, Effect, ResponseFindings
from trials.render.blocks import Block, Bullets, Paragraph, Section
from trials.render.table import Column, Table
from trials.report import plots
from trials.report.story import (
    Story,
    cross_facts,
    crossings_of,
    means_of,
    pair_effects,
    slug,
)
from trials.words.crossing import crossing_sentence
from trials.words.language import say
from trials.words.numbers import capital, chance_of, count, listing, percent, plural


def together_section(story: Story, found: ResponseFindings) -> Section | None:
    """Return the pairs of variables that go together; None where no two were changed.

    A pair that is not clear of chance changes no advice, so it stands in the full tables only.
    """
    pairs = pair_effects(story, found)
    if not pairs:
        return None
    clear = [effect for effect in pairs if is_clear(story, effect)]
    blocks: list[Block] = [Paragraph(f"{_asked(story, found)} {_answered(story, pairs, clear)}")]
    if len(clear) > 1:
        blocks.append(Bullets(tuple(_in_short(story, effect) for effect in clear)))
    parts = tuple(_together(story, found, effect) for effect in clear)
    return Section(
        f"{slug(found.name)}-together", say("Two variables at once"), tuple(blocks), parts
    )


def pairs_table(story: Story, found: ResponseFindings) -> Table:
    """Return every pair of variables with how often chance makes a pattern as uneven."""
    columns = (
        Column("pair"),
        Column("p_adjusted", say("p adj. (Holm)"), kind="p"),
        Column("share", say("together they add"), "%", "percent"),
        Column("told", say("clear of chance"), kind="word"),
    )
    rows = tuple(
        (
            story.term_label(effect.term),
            effect.p_adjusted,
            effect.share_of_variance,
            "can't be tested here"
            if effect.p_adjusted is None
            else "yes"
            if is_clear(story, effect)
            else "no",
        )
        for effect in pair_effects(story, found)
    )
    name = f"{slug(found.name)}-pairs-of-variables"
    note = say("p adj.: how often chance alone makes a pattern this uneven, all pairs counted in.")
    return Table(name, say("Two variables at once"), columns, rows, (note,))


def is_clear(story: Story, effect: Effect) -> bool:
    """Return whether how much one variable matters depends on another, clear of chance.

    Looking at several pairs is counted in.
    """
    return effect.p_adjusted is not None and effect.p_adjusted < 1 - story.confidence


def _asked(story: Story, found: ResponseFindings) -> str:
    if found.n_failed:
        return say(
            "Of the {items} that worked, did the difference that went with one "
            "variable change with the version of another?",
            items=plural(story.item),
        )
    return say("Does how much one variable matters depend on another?")


def _answered(story: Story, pairs: Sequence[Effect], clear: Sequence[Effect]) -> str:
    unseen = say("In a study of this size a pattern between two variables can easily go unseen.")
    tested = sum(effect.p_adjusted is not None for effect in pairs)
    if not tested:
        return say("That can't be tested here.")
    if len(pairs) == 1:
        looked = (
            say("What these two do together is clear of chance")
            if clear
            else say("What these two do together is not clear of chance")
        )
    else:
        found = {0: say("none is"), 1: say("one is")}.get(len(clear), say("{n} are", n=len(clear)))
        others = len(pairs) - tested
        untold = say(" ({others} more can't be tested here)", others=others) if others else ""
        looked = say(
            "Of the {n_pairs} looked at{untold}, {found} clear of chance",
            n_pairs=count(tested, say("pair")),
            untold=untold,
            found=found,
        )
    if len(clear) > 1:
        return f"{looked}:"
    if clear:
        return f"{looked}. {_in_short(story, clear[0])}"
    return say(
        "{looked}. So nothing here changes the advice. {unseen}", looked=looked, unseen=unseen
    )


def _in_short(story: Story, effect: Effect) -> str:
    first, second = (story.factor_label(name) for name in effect.term.split(":"))
    share = effect.share_of_variance
    adds = (
        ""
        if share is None
        else say("; together they add {share} of the variation", share=percent(share))
    )
    chance = chance_of(effect.p_adjusted or 0.0)
    return say(
        "{first} with {second}: chance makes it in {chance}{adds}.",
        first=capital(first),
        second=second,
        chance=chance,
        adds=adds,
    )


def _together(story: Story, found: ResponseFindings, effect: Effect) -> Section:
    one, other = effect.term.split(":")
    first, second = story.factor_label(one), story.factor_label(other)
    sides = [side for side in crossings_of(found, one) if side.term == effect.term]
    blocks: list[Block] = [
        Paragraph(crossing_sentence(cross_facts(story, found, side))) for side in sides
    ]
    if not sides:
        blocks.append(
            Paragraph(
                say(
                    "The pattern of {first} with {second} is clear of chance, but any "
                    "difference that "
                    "it makes is too small to care about.",
                    first=first,
                    second=second,
                )
            )
        )
    blocks += _best(story, found, sides)
    if sides:
        blocks.append(plots.together(story, found, effect))
    key = f"{slug(found.name)}-{slug(one)}-with-{slug(other)}-part"
    return Section(
        key,
        say("{first} and {second} together", first=capital(first), second=second),
        tuple(blocks),
    )


def _best(story: Story, found: ResponseFindings, sides: list[Crossing]) -> list[Block]:
    """Name the pair of versions with the best average of all."""
    if not sides:
        return []
    means = [mean for mean in means_of(found, sides[0].term) if mean.mean is not None]
    if not means:
        return []
    sign = -1 if found.better == "low" else 1
    best = max(means, key=lambda mean: sign * (mean.mean or 0.0))
    names = [story.level(factor, level) for factor, level in best.levels.items()]
    text = say(
        "{names} had the best average of all. The best of several is likely a "
        "little too good: check it with fresh ones.",
        names=capital(listing(names)),
    )
    return [Paragraph(text, say("Best together"))]
