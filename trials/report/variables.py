"""The short part on each variable, and on pairs of variables where they change the advice."""

from __future__ import annotations

from trials.analysis.findings import Effect, Mean, ResponseFindings
from trials.render.blocks import Block, Paragraph, Section
from trials.render.table import Column, Kind, Table
from trials.report import plots
from trials.report.story import (
    Story,
    clear_of_zero,
    comparisons_of,
    means_of,
    pair_effects,
    pair_of,
    slug,
    verdict_facts,
    verdict_on,
)
from trials.words.comparing import gap_with_range
from trials.words.numbers import (
    capital,
    chance_of,
    chance_sentence,
    confidence_text,
    interval_decimals,
    listing,
    plural,
)
from trials.words.sentences import MATTERED, verdict_sentence

_RARE = 0.01  # a plan that can show this or less needs no word on it


def variable_section(story: Story, found: ResponseFindings, factor: str) -> Section:
    """Return the part on one variable: verdict, what to do, figure, averages, comparisons."""
    label = story.factor_label(factor)
    verdict = verdict_on(found, factor)
    blocks: list[Block] = []
    if verdict is not None:
        blocks.append(Paragraph(verdict_sentence(verdict_facts(story, found, verdict))))
    else:
        blocks += _without_verdict(story, found, factor)
    blocks += _advice(story, found, factor)
    blocks += _chance(story, found, factor)
    blocks += _unit(story, factor)
    blocks.append(plots.variable(story, found, factor))
    blocks.append(means_table(story, found, factor))
    if comparisons_of(found, factor):
        blocks.append(comparisons_table(story, found, factor))
    return Section(f"{slug(found.name)}-{slug(factor)}-part", capital(label), tuple(blocks))


def _without_verdict(story: Story, found: ResponseFindings, factor: str) -> list[Block]:
    """Tell the differences where no smallest one worth caring about was set."""
    told = [
        gap_with_range(pair_of(story, found, factor, one)) for one in comparisons_of(found, factor)
    ]
    if not told:
        return [Paragraph("The versions could not be compared.")]
    return [
        Paragraph(
            "You set no smallest difference that you would care about, so there is no verdict. "
            f"{capital('; '.join(told))}."
        )
    ]


def _advice(story: Story, found: ResponseFindings, factor: str) -> list[Block]:
    """Say which version to choose, where one is clear of chance."""
    verdict = verdict_on(found, factor)
    if verdict is None or verdict.verdict != MATTERED:
        return []
    label = story.response_label(found.name)
    wish = f"{'less' if found.better == 'low' else 'more'} {label}"
    best, rivals = _best(story, found, factor)
    if best is None:
        return []
    if rivals:
        names = listing([best, *rivals])
        return [
            Paragraph(f"For {wish}, choose among {names}: they are too close to call.", "Advice")
        ]
    reason = ""
    if not found.n_failed:
        reason = (
            f" The versions of {story.factor_label(factor)} were given out by chance, so the "
            "difference comes from them and not from the people or the day."
        )
    doubt = _not_surely(story, found, factor, verdict.worthwhile)
    return [Paragraph(f"For {wish}, choose {best}.{doubt}{reason}", "Advice")]


def _not_surely(story: Story, found: ResponseFindings, factor: str, worthwhile: float) -> str:
    """Name the versions that the best one is ahead of, but not surely by enough to care about."""
    best, _ = _best(story, found, factor)
    near = []
    for one in comparisons_of(found, factor):
        names = [story.level(factor, side[factor]) for side in (one.a, one.b)]
        low, high = one.interval_adjusted
        if best not in names or low is None or high is None:
            continue
        ratio = found.scale == "ratio"
        inside = 1 / worthwhile if ratio else -worthwhile
        if low <= worthwhile and high >= inside:
            near.append(next(name for name in names if name != best))
    if not near:
        return ""
    return f" Ahead of {listing(near)} it may be by less than you would care about."


def _best(story: Story, found: ResponseFindings, factor: str) -> tuple[str | None, list[str]]:
    """Return the version with the best average, and those not clearly worse than it."""
    means = [mean for mean in means_of(found, factor) if mean.mean is not None]
    if not means:
        return None, []
    sign = -1 if found.better == "low" else 1
    best = max(means, key=lambda mean: sign * (mean.mean or 0.0)).levels[factor]
    rivals = [
        story.level(factor, mean.levels[factor])
        for mean in means
        if mean.levels[factor] != best
        and not _clearly_worse(found, factor, best, mean.levels[factor])
    ]
    return story.level(factor, best), rivals


def _clearly_worse(found: ResponseFindings, factor: str, best: str, other: str) -> bool:
    return any(
        clear_of_zero(one.interval_adjusted, found.scale) != 0
        for one in comparisons_of(found, factor)
        if {one.a[factor], one.b[factor]} == {best, other}
    )


def _chance(story: Story, found: ResponseFindings, factor: str) -> list[Block]:
    effect = next((e for e in found.effects if e.term == factor), None)
    if effect is None or effect.p is None:
        return []
    text = chance_sentence(effect.p, story.factor_label(factor))
    if effect.p_randomisation is not None:
        text += (
            f" Dealing out the versions of {story.factor_label(factor)} again by chance, as the "
            f"plan could have done, gave such a difference in {chance_of(effect.p_randomisation)}."
        )
        smallest = story.plan.shuffle.smallest_p.get(factor)
        if smallest is not None and smallest > _RARE and effect.p_randomisation < 1.05 * smallest:
            text += " That is as seldom as this plan can show."
    return [Paragraph(text, "Could it be chance?")]


def _unit(story: Story, factor: str) -> list[Block]:
    unit = story.unit_group(factor)
    if not unit:
        return []
    count = len({row.groups[story.factor(factor).applied_to or ""] for row in story.plan.rows})
    items = plural(story.item)
    return [
        Paragraph(
            f"Each version of {story.factor_label(factor)} was given to whole {plural(unit)}. So "
            f"the {count} {plural(unit)} are what counts here, not the "
            f"{len(story.plan.rows)} {items}.",
            "What counts",
        )
    ]


def means_table(story: Story, found: ResponseFindings, term: str) -> Table:
    """Return the averages of one variable, as a student reads them."""
    ratio = found.scale == "ratio"
    average = "average (geometric mean)" if ratio else "average"
    kind: Kind = "significant" if ratio else "number"
    means = means_of(found, term)
    decimals = max((interval_decimals(m.interval, m.mean) for m in means), default=2)
    columns = (
        Column("version", story.factor_label(term)),
        Column("items", f"{plural(story.item)} that worked", kind="count"),
        *(
            Column(name, title, found.unit, kind, decimals=decimals)
            for name, title in (("average", average), ("from", ""), ("to", ""))
        ),
    )
    rows = tuple(_mean_row(story, term, mean) for mean in means)
    confidence = confidence_text(story.study.analysis.confidence)
    note = f"From and to: {confidence} range of doubt of the average."
    if len(story.study.factors) > 1:
        note += " Each version of the other variables counts the same."
    caption = f"Averages for {story.factor_label(term)}"
    name = f"{slug(found.name)}-{slug(term)}-averages"
    return Table(name, caption, columns, rows, (note,))


def _mean_row(
    story: Story, term: str, mean: Mean
) -> tuple[str, int, float | None, float | None, float | None]:
    return (story.short_level(term, mean.levels[term]), mean.n, mean.mean, *mean.interval)


def comparisons_table(story: Story, found: ResponseFindings, factor: str) -> Table:
    """Return the pairs of one variable's versions, as a student reads them."""
    ratio = found.scale == "ratio"
    unit, what = ("", "times as much") if ratio else (found.unit, "difference")
    pairs = [
        pair_of(story, found, factor, one).larger_first() for one in comparisons_of(found, factor)
    ]
    decimals = max((pair.decimals for pair in pairs), default=2)
    columns = (
        Column("version", story.factor_label(factor)),
        Column("over", "compared with"),
        Column(what, what, unit, "number", decimals=decimals),
        Column("from", "from", unit, "number", decimals=decimals),
        Column("to", "to", unit, "number", decimals=decimals),
    )
    rows = tuple((pair.a, pair.b, pair.estimate, *pair.interval) for pair in pairs)
    confidence = confidence_text(story.study.analysis.confidence)
    note = f"From and to: {confidence} range of doubt"
    note += ", made wide enough for all pairs at once." if len(pairs) > 1 else "."
    caption = f"Versions of {story.factor_label(factor)} compared"
    name = f"{slug(found.name)}-{slug(factor)}-pairs"
    return Table(name, caption, columns, rows, (note,), heads=2)


def together_sections(story: Story, found: ResponseFindings) -> tuple[Section, ...]:
    """Return a part for each pair of variables whose play together changes the advice."""
    return tuple(
        _together(story, found, effect)
        for effect in pair_effects(story, found)
        if changes_advice(story, effect)
    )


def changes_advice(story: Story, effect: Effect) -> bool:
    """Return whether how much one variable matters depends on another, clear of chance."""
    return effect.p is not None and effect.p < 1 - story.study.analysis.confidence


def _together(story: Story, found: ResponseFindings, effect: Effect) -> Section:
    one, other = effect.term.split(":")
    first, second = story.factor_label(one), story.factor_label(other)
    blocks: list[Block] = [
        Paragraph(
            f"How much {first} matters depends on {second}. If it did not, a pattern this uneven "
            f"would turn up in {chance_of(effect.p or 0.0)}."
        )
    ]
    blocks += _best_within(story, found, one, other, effect.term)
    blocks.append(plots.together(story, found, effect))
    key = f"{slug(found.name)}-{slug(one)}-with-{slug(other)}-part"
    return Section(key, f"{capital(first)} and {second} together", tuple(blocks))


def _best_within(
    story: Story, found: ResponseFindings, one: str, other: str, term: str
) -> list[Block]:
    """Tell which version of a variable did best with each version of the other."""
    sign = -1 if found.better == "low" else 1
    told = []
    for level in story.factor(other).levels:
        means = [
            mean
            for mean in means_of(found, term)
            if mean.levels[other] == level and mean.mean is not None
        ]
        if means:
            best = max(means, key=lambda mean: sign * (mean.mean or 0.0))
            told.append((story.level(other, level), story.level(one, best.levels[one])))
    if len({best for _, best in told}) < 2:
        return (
            [Paragraph(f"The best version was the same each time: {told[0][1]}.")] if told else []
        )
    parts = [f"with {level}, {best}" for level, best in told]
    return [Paragraph(f"The best average came {listing(parts)}.", "Best version")]
