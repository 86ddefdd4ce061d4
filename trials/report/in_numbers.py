"""What words of the glossary mean in this study, by its own numbers."""

from __future__ import annotations

from collections.abc import Mapping

from trials.analysis.findings import ResponseFindings
from trials.report.story import Story, comparisons_of, main_effects, means_of, pair_of
from trials.words.comparing import fits, margin
from trials.words.language import say
from trials.words.numbers import (
    count,
    interval_decimals,
    listing,
    number,
    percent,
    with_unit,
)


def in_numbers(story: Story, found: ResponseFindings | None) -> Mapping[str, str]:
    """Return by word of the glossary what it is here; a word without a number is left out."""
    factors = story.study.factors
    told: dict[str, str] = {}
    if factors:
        first = factors[0]
        levels = listing([story.short_level(first.name, level) for level in first.levels])
        told["variable"] = listing([story.factor_label(factor.name) for factor in factors])
        told["version"] = say(
            "{levels} are versions of {factor}",
            levels=levels,
            factor=story.factor_label(first.name),
        )
    if found is None:
        return told
    return told | _counts(story, found) | _verdicts(story, found) | _differences(story, found)


def _counts(story: Story, found: ResponseFindings) -> dict[str, str]:
    made = found.n_items + found.n_failed
    never = say("; {n} more never made", n=found.n_never_made) if found.n_never_made else ""
    return {
        "failed": say(
            "{n_failed} of {n_items} made and tested",
            n_failed=found.n_failed,
            n_items=count(made, story.item),
        ),
        "lost": count(found.n_lost - found.n_never_made, story.item) + never,
        "reading": say(
            "{n_readings} of {n_items}",
            n_readings=count(found.n_readings, say("reading")),
            n_items=count(found.n_items, story.item),
        ),
    }


def _verdicts(story: Story, found: ResponseFindings) -> dict[str, str]:
    if not found.verdicts:
        return {}
    told = {}
    for word in ("mattered", "not settled", "made no practical difference"):
        names = [
            story.factor_label(v.factor)
            for v in found.verdicts
            if v.verdict == word and v.reason != "depends"  # told together with the other one
        ]
        told[word] = listing(names) if names else say("no variable")
    together = [story.factor_label(v.factor) for v in found.verdicts if v.reason == "depends"]
    if together:
        both = say("{factors} together", factors=listing(together))
        alone = [story.factor_label(v.factor) for v in found.verdicts if v.verdict == "mattered"]
        told["mattered"] = listing([*alone, both])
    return told


def _differences(story: Story, found: ResponseFindings) -> dict[str, str]:
    told = {}
    worthwhile = story.margin(found)
    if worthwhile is not None:
        told["worth caring about"] = margin(worthwhile, found.scale, found.unit)
    shares = [e for e in main_effects(story, found) if e.share_of_variance is not None]
    if shares:
        share = percent(shares[0].share_of_variance or 0.0)
        told["share of variation"] = say(
            "{share} goes with {term}",
            share=share,
            term=story.term_label(shares[0].term),
        )
    for effect in main_effects(story, found)[:1]:
        means = [m for m in means_of(found, effect.term) if m.mean is not None]
        if means and found.ranked is None:
            mean = means[0].mean or 0.0
            size = with_unit(number(mean, interval_decimals(means[0].interval, mean)), found.unit)
            version = story.level(effect.term, means[0].levels[effect.term])
            told["average"] = told["geometric mean"] = say(
                "{size} for {version}", size=size, version=version
            )
        for one in comparisons_of(found, effect.term)[:1]:
            pair = pair_of(story, found, effect.term, one).larger_first()
            if pair.interval != (None, None):
                told["range of doubt"] = say(
                    "{a} beside {b}, {fits}", a=pair.a, b=pair.b, fits=fits(pair)
                )
    return told
