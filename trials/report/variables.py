"""The short part on each variable, with what to choose."""

from __future__ import annotations

from trials.analysis.findings import Effect, Mean, ResponseFindings
from trials.render.blocks import Block, Paragraph, Section
from trials.render.table import Column, Kind, Table
from trials.report import plots
from trials.report.story import (
    Story,
    best_of,
    clear_of_zero,
    comparisons_of,
    crossings_of,
    judged_of,
    means_of,
    pair_of,
    slug,
    verdict_facts,
    verdict_on,
)
from trials.report.told import trend_told
from trials.words.comparing import Scale, gap_with_range
from trials.words.language import say
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
    blocks += _trend(story, found, factor)
    blocks += _chance(story, found, factor)
    blocks += _unit(story, factor)
    blocks.append(plots.variable(story, found, factor))
    blocks.append(means_table(story, found, factor))
    if comparisons_of(found, factor):
        blocks.append(comparisons_table(story, found, factor))
    key = f"{slug(found.name)}-{slug(factor)}-part"
    first = factor == story.study.factors[0].name  # it follows the heading of all
    return Section(key, capital(label), tuple(blocks), page=not first)


def _without_verdict(story: Story, found: ResponseFindings, factor: str) -> list[Block]:
    """Tell the differences where no smallest one worth caring about was set."""
    told = [
        gap_with_range(pair_of(story, found, factor, one)) for one in comparisons_of(found, factor)
    ]
    if not told:
        return [Paragraph(say("The versions could not be compared."))]
    return [
        Paragraph(
            say(
                "You set no smallest difference that you would care about, so there is no verdict. "
                "{list}.",
                list=capital("; ".join(told)),
            )
        )
    ]


def _trend(story: Story, found: ResponseFindings, factor: str) -> list[Block]:
    """Tell how the average changes over a quantity with three versions or more."""
    if not any(t.term == factor and not t.levels and t.degree > 1 for t in found.trends):
        return []  # two versions tell nothing that their difference does not
    text = trend_told(found, factor, story.factor_label(factor))
    return [Paragraph(text, say("Step by step"))] if text else []


def _advice(story: Story, found: ResponseFindings, factor: str) -> list[Block]:
    """Say which version to choose, where one is clear of chance."""
    verdict = verdict_on(found, factor)
    turning = _turning(story, found, factor)
    if turning:
        return [Paragraph(turning, say("Advice"))]
    if verdict is None or verdict.verdict != MATTERED:
        return []
    wish = _wish(story, found)
    best, rivals, unknown = best_of(story, found, factor)
    if best is None:
        return []
    never = ""
    if unknown:
        never = say(
            " How {unknown} would stand against {best} is not known: they were not compared.",
            unknown=listing(unknown),
            best=best,
        )
    if rivals:
        names = listing([best, *rivals])
        text = say(
            "For {wish}, choose among {names}: it is not clear which of them is better.{never}",
            wish=wish,
            names=names,
            never=never,
        )
        return [Paragraph(text, say("Advice"))]
    reason = ""
    if story.plan.by_lot and not found.n_failed:
        reason = say(
            " The versions of {factor_label} were given out by chance, so the "
            "difference comes from them and not from the people or the day.",
            factor_label=story.factor_label(factor),
        )
    doubt = _not_surely(story, found, factor, verdict.worthwhile)
    return [
        Paragraph(
            say(
                "For {wish}, choose {best}.{doubt}{never}{reason}",
                wish=wish,
                best=best,
                doubt=doubt,
                never=never,
                reason=reason,
            ),
            say("Advice"),
        )
    ]


def _turning(story: Story, found: ResponseFindings, factor: str) -> str:
    """Say what to choose where that depends on another variable; "" where it doesn't."""
    side = next((c for c in crossings_of(found, factor) if c.factor == factor and c.turns), None)
    if side is None:
        return ""
    better_first = (side.one, side.other) if found.better == "high" else (side.other, side.one)
    told = [
        say(
            "with {other}, choose {version}",
            other=story.level(side.within, one.a[side.within]),
            version=story.level(factor, levels[factor]),
        )
        for one, levels in zip(better_first, (side.one.a, side.one.b), strict=True)
    ]
    wish = _wish(story, found)
    return say(
        "It depends on {factor_label}. For {wish}: {list}.",
        factor_label=story.factor_label(side.within),
        wish=wish,
        list="; ".join(told),
    )


def _wish(story: Story, found: ResponseFindings) -> str:
    label = story.response_label(found.name)
    if found.better == "low":
        return say("less {label}", label=label)
    return say("more {label}", label=label)


def _not_surely(story: Story, found: ResponseFindings, factor: str, worthwhile: float) -> str:
    """Name the versions that the best one is ahead of, but not surely by enough to care about."""
    best = best_of(story, found, factor)[0]
    near = []
    for one in judged_of(found, factor):
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
    return say(" Ahead of {near} it may be by less than you would care about.", near=listing(near))


def _chance(story: Story, found: ResponseFindings, factor: str) -> list[Block]:
    effect = next((e for e in found.effects if e.term == factor), None)
    if effect is None or effect.p is None:
        return []
    text = chance_sentence(effect.p, story.factor_label(factor))
    if effect.p_randomisation is not None:
        held = effect.others_held
        rest = "" if held is None else say(", with all else left where it was,")
        text += say(
            " Drawing lots for {factor_label} again on paper{rest} gave such a difference in "
            "{p_randomisation}.",
            factor_label=story.factor_label(factor),
            rest=rest,
            p_randomisation=chance_of(effect.p_randomisation),
        )
        if chance_of(effect.p) != chance_of(effect.p_randomisation):
            text += _two_ways(effect, 1 - story.confidence)
        smallest = held.smallest_p if held else story.plan.shuffle.smallest_p.get(factor)
        if smallest is not None and smallest > _RARE and effect.p_randomisation < 1.05 * smallest:
            text += say(
                " In this plan even the clearest result for {factor_label} comes by luck in 1 of "
                "{draws} draws. So the second number can't be smaller.",
                factor_label=story.factor_label(factor),
                draws=round(1 / smallest),
            )
    if crossings_of(found, factor):
        text += say(
            " But this looks at averages only, and they hide what depends on another variable."
        )
    return [Paragraph(text, say("Could it be chance?"))]


def _two_ways(effect: Effect, alpha: float) -> str:
    """Tell the two numbers of chance apart, and what to think where they disagree."""
    if effect.exact:
        return say(
            " The first number is by the fitted model. The second rests on the draw alone and "
            "needs no model, so it is the safer one."
        )
    text = say(
        " The first number is by the fitted model. The second rests on the draw alone, but it is "
        "only rough here: the other variables were drawn anew as well."
    )
    first, second = effect.p or 0.0, effect.p_randomisation or 0.0
    if (first < alpha) != (second < alpha):
        text += say(" The two disagree, so don't rest on either alone.")
    return text


def _unit(story: Story, factor: str) -> list[Block]:
    unit = story.unit_group(factor)
    if not unit:
        return []
    count = len({row.groups[story.factor(factor).applied_to or ""] for row in story.plan.rows})
    items = plural(story.item)
    return [
        Paragraph(
            say(
                "Each version of {factor_label} was given to whole {units}. So "
                "the {count} {units} are what counts here, not the "
                "{n_rows} {items}.",
                factor_label=story.factor_label(factor),
                units=plural(unit),
                count=count,
                n_rows=len(story.plan.rows),
                items=items,
            ),
            say("What counts"),
        )
    ]


def means_table(story: Story, found: ResponseFindings, term: str) -> Table:
    """Return the averages of one variable, as a student reads them."""
    ratio = found.scale == "ratio"
    kind: Kind = "significant" if ratio else "number"
    means = means_of(found, term)
    decimals = max((interval_decimals(m.interval, m.mean) for m in means), default=2)
    columns = (
        Column("version", story.factor_label(term)),
        Column("items", say("{items} that worked", items=plural(story.item)), kind="count"),
        Column(
            "average",
            "average (geometric mean)" if ratio else "average",
            found.unit,
            kind,
            decimals=decimals,
        ),
        Column("from", "", found.unit, kind, decimals=decimals),
        Column("to", "", found.unit, kind, decimals=decimals),
    )
    rows = tuple(_mean_row(story, term, mean) for mean in means)
    confidence = confidence_text(story.confidence)
    note = say("From and to: range of doubt ({confidence}) of the average.", confidence=confidence)
    if len(story.study.factors) > 1:
        note += say(" Each version of the other variables counts the same.")
    caption = say("Averages for {factor_label}", factor_label=story.factor_label(term))
    name = f"{slug(found.name)}-{slug(term)}-averages"
    return Table(name, caption, columns, rows, (note,))


def _mean_row(
    story: Story, term: str, mean: Mean
) -> tuple[str, int, float | None, float | None, float | None]:
    return (story.short_level(term, mean.levels[term]), mean.n, mean.mean, *mean.interval)


def pair_told(
    interval: tuple[float | None, float | None],
    worthwhile: float,
    scale: Scale,
    *,
    on_average: bool = False,
) -> str:
    """Return what an interval says of one pair, held against what is worth caring about.

    ``on_average``: the difference may be bigger with some versions of the other variables.

    Examples
    --------
    >>> pair_told((1.66, 2.58), 1.3, "ratio"), pair_told((0.99, 1.52), 1.3, "ratio")
    ('big enough to care about', 'not settled')
    >>> pair_told((0.1, 0.4), 0.5, "difference"), pair_told((0.1, 0.6), 0.5, "difference")
    ('a difference, too small to care about', 'a difference, perhaps too small to care about')
    """
    low, high = interval
    if low is None or high is None:
        return say("not settled")
    top = max(worthwhile, 1 / worthwhile) if scale == "ratio" else worthwhile
    bottom = 1 / top if scale == "ratio" else -top
    clear = clear_of_zero(interval, scale) != 0
    if low > top or high < bottom:
        return say("big enough to care about")
    if low > bottom and high < top:
        if on_average:
            return say("too small to care about, on average")
        return (
            say("a difference, too small to care about")
            if clear
            else say("too small to care about")
        )
    return say("a difference, perhaps too small to care about") if clear else say("not settled")


def comparisons_table(story: Story, found: ResponseFindings, factor: str) -> Table:
    """Return the pairs of one variable's versions, as a student reads them."""
    ratio = found.scale == "ratio"
    unit = "" if ratio else found.unit
    pairs = [
        pair_of(story, found, factor, one).larger_first() for one in comparisons_of(found, factor)
    ]
    decimals = max((pair.decimals for pair in pairs), default=2)
    worthwhile = story.margin(found)
    verdict = verdict_on(found, factor)
    on_average = verdict is not None and verdict.reason == "inside_on_average"
    columns = (
        Column("version", story.factor_label(factor)),
        Column("over", say("compared with")),
        Column(
            "times as much" if ratio else "difference", unit=unit, kind="number", decimals=decimals
        ),
        Column("from", "from", unit, "number", decimals=decimals),
        Column("to", "to", unit, "number", decimals=decimals),
        *((Column("told", say("in words")),) if worthwhile is not None else ()),
    )
    rows = tuple(
        (
            pair.a,
            pair.b,
            pair.estimate,
            *pair.interval,
            *(
                (pair_told(pair.interval, worthwhile, found.scale, on_average=on_average),)
                if worthwhile
                else ()
            ),
        )
        for pair in pairs
    )
    confidence = confidence_text(story.confidence)
    note = say("From and to: range of doubt ({confidence})", confidence=confidence)
    note += say(", made wide enough for all pairs at once.") if len(pairs) > 1 else "."
    caption = say("Versions of {factor_label} compared", factor_label=story.factor_label(factor))
    name = f"{slug(found.name)}-{slug(factor)}-pairs"
    return Table(name, caption, columns, rows, (note,), heads=2)
