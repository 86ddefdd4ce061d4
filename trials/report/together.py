"""Whether variables depend on each other: every pair in short, and a part on those that do."""

from __future__ import annotations

from trials.analysis.findings import Crossing, Effect, ResponseFindings
from trials.render.blocks import Block, Bullets, Paragraph, Section
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
from trials.words.numbers import capital, chance_of, listing, percent, plural


def together_section(story: Story, found: ResponseFindings) -> Section | None:
    """Return how every two variables go together; None where no two were changed."""
    pairs = pair_effects(story, found)
    if not pairs:
        return None
    clear = [effect for effect in pairs if is_clear(story, effect)]
    blocks: list[Block] = [
        Paragraph(_intro(story, found, len(pairs))),
        Bullets(tuple(_in_short(story, effect) for effect in pairs)),
    ]
    if len(clear) < len(pairs):
        blocks.append(
            Paragraph(
                "In a study of this size a pattern between two variables can easily go unseen."
            )
        )
    parts = tuple(_together(story, found, effect) for effect in clear)
    return Section(f"{slug(found.name)}-together", "Two variables at once", tuple(blocks), parts)


def is_clear(story: Story, effect: Effect) -> bool:
    """Return whether how much one variable matters depends on another, clear of chance.

    Looking at several pairs is counted in.
    """
    return effect.p_adjusted is not None and effect.p_adjusted < 1 - story.confidence


def _intro(story: Story, found: ResponseFindings, pairs: int) -> str:
    if found.n_failed:
        text = (
            f"Of the {plural(story.item)} that worked, did the difference that went with one "
            "variable change with the version of another?"
        )
    else:
        text = "Does how much one variable matters depend on another?"
    text += " For each pair, here is how often chance alone makes a pattern this uneven"
    return f"{text}, with {pairs} pairs looked at." if pairs > 1 else f"{text}."


def _in_short(story: Story, effect: Effect) -> str:
    first, second = (story.factor_label(name) for name in effect.term.split(":"))
    start = f"{capital(first)} with {second}: "
    if effect.p_adjusted is None:
        return f"{start}it can't be tested here."
    share = effect.share_of_variance
    adds = "" if share is None else f"; together they add {percent(share)} of the variation"
    told = "clear of chance" if is_clear(story, effect) else "not clear of chance"
    return f"{start}{told} (chance makes it in {chance_of(effect.p_adjusted)}{adds})."


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
                f"The pattern of {first} with {second} is clear of chance, but any difference that "
                "it makes is too small to care about."
            )
        )
    blocks += _best(story, found, sides)
    blocks.append(plots.together(story, found, effect))
    key = f"{slug(found.name)}-{slug(one)}-with-{slug(other)}-part"
    return Section(key, f"{capital(first)} and {second} together", tuple(blocks))


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
    text = (
        f"{capital(listing(names))} had the best average of all. The best of several is likely a "
        "little too good: check it with fresh ones."
    )
    return [Paragraph(text, "Best together")]
