"""Tables beyond pairs: trends of quantities, contenders for the best, recipes, and the noise."""

from __future__ import annotations

from collections.abc import Iterator

from trials.analysis.findings import ResponseFindings, Trend
from trials.render.blocks import Block, Paragraph
from trials.render.table import Cell, Column, Kind, Table, ends_columns
from trials.report.confirming import best_decimals
from trials.report.reconciled import contender_notes
from trials.report.story import Story, slug
from trials.words.further import noise_sentence, step_text
from trials.words.language import say
from trials.words.numbers import capital, confidence_text, ends_text

MOST_RECIPES = 60  # more would fill pages with what the averages tell as well


def further_blocks(story: Story, found: ResponseFindings) -> Iterator[Block]:
    """Yield what of these there is."""
    if found.trends:
        yield _trends(story, found)
    if found.contenders:
        yield _contenders(story, found)
    if 0 < len(found.recipes) <= MOST_RECIPES:
        yield _recipes(story, found)
    noise = found.reading_share
    if noise is not None:
        text = noise_sentence(noise.share, noise.share_interval, story.item)
        yield Paragraph(text, say("Is the meter or the build the noise?"))


def _trends(story: Story, found: ResponseFindings) -> Table:
    ratio = found.scale == "ratio"
    columns = (
        Column("step", "for"),
        Column("within"),
        Column("kind", kind="word"),
        Column("estimate", "ratio" if ratio else "change", "" if ratio else found.unit,
               "significant", 4),
        *ends_columns("" if ratio else found.unit),
        Column("df", kind="significant", digits=3),
        Column("p", kind="p"),
        Column("rest", say("p, rest"), kind="p"),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = [
        (
            step_text(story.factor_label(one.term), one.unit, one.scale),
            story.levels(one.levels) or say("all"),
            "straight line" if one.degree == 1 else "bend (square)",
            one.ratio if ratio else one.slope,
            *one.interval,
            one.df,
            one.p,
            _rest(one),
        )
        for one in found.trends
    ]
    notes = (
        say(
            "Contrasts on the actual values of each quantity; {confidence} "
            "intervals, each by itself. p, rest: what the powers so far leave unexplained.",
            confidence=confidence_text(story.confidence),
        ),
    )
    return Table(f"{slug(found.name)}-trends", say("Trends"), columns, tuple(rows), notes, heads=3)


def _rest(one: Trend) -> float | None:
    return None if one.lack_of_fit is None else one.lack_of_fit.p


def _contenders(story: Story, found: ResponseFindings) -> Table:
    ratio = found.scale == "ratio"
    columns = (
        Column("variable"),
        Column("version"),
        Column("estimate", "over the best other" if ratio else "minus the best other",
               "" if ratio else found.unit, "significant", 4),
        *ends_columns("" if ratio else found.unit),
        Column("best", say("may be the best"), kind="word"),
    )  # fmt: skip
    told = {True: "yes", False: "no", None: "not known"}
    rows = tuple(
        (
            story.factor_label(one.term),
            story.levels(one.levels),
            one.ratio if ratio else one.difference,
            *one.interval,
            told[one.may_be_best],
        )
        for one in found.contenders
    )
    none = "1" if ratio else "0"
    notes = (
        say(
            "{confidence} simultaneous intervals of J. C. Hsu (1984, "
            "Ann. Statist. 12, 1136-1144). An end of exactly {none} is meant so: beyond it "
            "nothing is "
            "claimed.",
            confidence=capital(confidence_text(story.confidence)),
            none=none,
        ),
        *contender_notes(story, found),
    )
    name = f"{slug(found.name)}-contenders"
    return Table(
        name, say("Each version against the best of the others"), columns, rows, notes, heads=2
    )


def _recipes(story: Story, found: ResponseFindings) -> Table:
    ratio, best = found.scale == "ratio", found.best_recipe
    decimals = None if ratio or best is None else best_decimals(found, best)
    kind: Kind = "significant" if decimals is None else "number"
    columns = (
        *(Column(name, story.factor_label(name)) for name in found.recipes[0].levels),
        Column("n", kind="count"),
        *(
            Column(name, title, found.unit, kind, decimals=decimals)
            for name, title in (
                ("mean", "geometric mean" if ratio else "mean"), ("from", ""), ("to", ""),
            )
        ),
    )  # fmt: skip
    rows = tuple(
        (
            *(story.short_level(name, level) for name, level in one.levels.items()),
            one.n,
            one.mean,
            *one.interval,
        )
        for one in found.recipes
    )
    note = say(
        "As the model tells them; {confidence} intervals, each for the average of one recipe by "
        "itself. The one that comes out best is likely a little too good.",
        confidence=confidence_text(story.confidence),
    )
    if best is not None and best.interval != (None, None):
        ends = ends_text(best.interval, found.unit, best_decimals(found, best))
        note += say(" Allowing for having picked it, its interval is {ends}.", ends=ends)
    name = f"{slug(found.name)}-recipes"
    return Table(name, say("Recipes"), columns, rows, (note,), heads=len(found.recipes[0].levels))
