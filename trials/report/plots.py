"""The figures of a report: findings handed to the plots, nothing worked out."""

from __future__ import annotations

from collections import Counter

from trials.analysis.findings import Effect, Mean, ResponseFindings, Verdict
from trials.render.blocks import Figure
from trials.render.check import CheckDot, CheckPlot, check_figure
from trials.render.dots import Dot, DotLevel, DotPanel, DotPlot, dot_figure
from trials.render.lines import Line, LinePlot, LinePoint, line_figure
from trials.render.margin import MarginPlot, MarginRow, margin_figure
from trials.report.story import (
    Story,
    main_effects,
    means_of,
    slug,
    verdict_facts,
    verdict_told,
)
from trials.words.language import say
from trials.words.numbers import capital, confidence_text, plural


def _average_name(story: Story) -> str:
    confidence = confidence_text(story.confidence)
    return say("range of doubt ({confidence}) of the average", confidence=confidence)


def pairs_name(story: Story) -> str:
    """Return what the intervals of differences are called below a figure."""
    confidence = confidence_text(story.confidence)
    return say(
        "range of doubt ({confidence}), for all pairs of versions of one variable at once",
        confidence=confidence,
    )


def overview(story: Story, found: ResponseFindings) -> Figure:
    """Return the main figure: every item a dot, one panel for each variable."""
    return dot_figure(overview_plot(story, found))


def overview_plot(story: Story, found: ResponseFindings) -> DotPlot:
    """Return what the main figure is drawn from."""
    factors = [factor.name for factor in story.study.factors]
    panels = tuple(_panel(story, found, name, clusters=False) for name in factors)
    label = capital(story.response_label(found.name))
    caption = say("{label} of every {item} that worked.", label=label, item=story.item)
    if len(factors) > 1:
        caption += say(
            " Each panel shows the same {items} again, sorted by another variable.",
            items=plural(story.item),
        )
    return _plot(story, found, f"{slug(found.name)}-all", panels, caption)


def variable(story: Story, found: ResponseFindings, factor: str) -> Figure:
    """Return the figure of one variable, its items in columns by what was treated together."""
    panel = _panel(story, found, factor, clusters=True)
    label = capital(story.response_label(found.name))
    caption = say(
        "{label} for each version of {factor_label}. {how_to_read}",
        label=label,
        factor_label=story.factor_label(factor),
        how_to_read=_how_to_read(story),
    )
    if panel.cluster:
        caption += say(
            " Each version was given to whole {clusters}: the columns count, not the dots.",
            clusters=plural(panel.cluster),
        )
    return dot_figure(_plot(story, found, f"{slug(found.name)}-{slug(factor)}", (panel,), caption))


def _how_to_read(story: Story) -> str:
    return say(
        "Each dot is one {item}. The thick dash is the average. The bar is the {average_name}, "
        "from the fitted model.",
        item=story.item,
        average_name=_average_name(story),
    )


def _plot(
    story: Story, found: ResponseFindings, name: str, panels: tuple[DotPanel, ...], caption: str
) -> DotPlot:
    return DotPlot(
        name=name,
        label=story.response_label(found.name),
        unit=found.unit,
        ratio=found.scale == "ratio",
        panels=panels,
        interval_name=_average_name(story),
        item=story.item,
        caption=caption,
        margin=story.margin(found),
    )


def _panel(story: Story, found: ResponseFindings, factor: str, *, clusters: bool) -> DotPanel:
    path = story.unit_path(factor) if clusters else None
    means = {mean.levels[factor]: mean for mean in means_of(found, factor)}
    failed = _failed(story, found, factor)
    levels = tuple(
        DotLevel(
            story.short_level(factor, level),
            tuple(
                Dot(point.item, point.value, point.groups.get(path, "") if path else "")
                for point in found.points
                if point.factors.get(factor) == level
            ),
            means[level].mean if level in means else None,
            means[level].interval if level in means else (None, None),
            say("{failed} failed", failed=failed[level]) if failed[level] else "",
        )
        for level in story.factor(factor).levels
    )
    return DotPanel(story.factor_label(factor), levels, story.group_label(path) if path else "")


def _failed(story: Story, found: ResponseFindings, factor: str) -> Counter[str]:
    statuses = story.statuses(found.name)
    return Counter(
        row.factors[factor]
        for row in story.plan.rows
        if row.item in statuses and statuses[row.item].status == "failed"
    )


def what_mattered(story: Story, found: ResponseFindings) -> Figure | None:
    """Return the chart of each variable's largest difference; None without verdicts."""
    by_factor = {v.factor: v for v in found.verdicts if v.largest_difference is not None}
    order = [effect.term for effect in main_effects(story, found)]
    order += [name for name in by_factor if name not in order]
    rows = tuple(_margin_row(story, found, by_factor[name]) for name in order if name in by_factor)
    if not rows:
        return None
    label = story.response_label(found.name)
    also = (
        say(", if it stays inside with each version of the other variables too")
        if len(rows) > 1
        else ""
    )
    caption = say(
        "The largest difference in {label} for each variable, with its range of doubt. A bar "
        "wholly outside the hatched band: it mattered. Wholly inside: no practical "
        "difference{also}. Anything else is not settled.",
        label=label,
        also=also,
    )
    if any(verdict.reason == "depends" for verdict in found.verdicts):
        caption += say(" Where it depends on another variable, an average over both tells little.")
    plot = MarginPlot(
        name=f"{slug(found.name)}-which",
        label=label,
        unit=found.unit,
        ratio=found.scale == "ratio",
        margin=found.verdicts[0].worthwhile,
        rows=rows,
        interval_name=pairs_name(story),
        caption=caption,
    )
    return margin_figure(plot)


def _margin_row(story: Story, found: ResponseFindings, verdict: Verdict) -> MarginRow:
    facts = verdict_facts(story, found, verdict)
    return MarginRow(facts.factor, facts.pair, verdict.verdict, verdict_told(story, found, verdict))


def together(story: Story, found: ResponseFindings, effect: Effect) -> Figure:
    """Return the line plot of two variables together, the one with more versions along the axis."""
    one, other = effect.term.split(":")
    across, apart = sorted((one, other), key=lambda name: -len(story.factor(name).levels))
    means = {
        (mean.levels[across], mean.levels[apart]): mean for mean in means_of(found, effect.term)
    }
    lines = tuple(
        Line(
            story.short_level(apart, level),
            tuple(_point(means.get((at, level))) for at in story.factor(across).levels),
        )
        for level in story.factor(apart).levels
    )
    label = story.response_label(found.name)
    plot = LinePlot(
        name=f"{slug(found.name)}-{slug(one)}-with-{slug(other)}",
        label=label,
        unit=found.unit,
        ratio=found.scale == "ratio",
        across=story.factor_label(across),
        versions=tuple(story.short_level(across, level) for level in story.factor(across).levels),
        apart=story.factor_label(apart),
        lines=lines,
        interval_name=_average_name(story),
        caption=say(
            "Average {label} for each pair of versions. If the lines ran side by side, "
            "{across} would matter equally for every version of "
            "{apart}. Bars: {average_name}.",
            label=label,
            across=story.factor_label(across),
            apart=story.factor_label(apart),
            average_name=_average_name(story),
        ),
    )
    return line_figure(plot)


def _point(mean: Mean | None) -> LinePoint:
    return LinePoint(None, (None, None)) if mean is None else LinePoint(mean.mean, mean.interval)


def leftovers(story: Story, found: ResponseFindings) -> Figure | None:
    """Return the check figure; None where nothing was fitted."""
    dots = tuple(
        CheckDot(point.item, point.fitted, point.residual)
        for point in found.points
        if point.fitted is not None and point.residual is not None
    )
    if not dots:
        return None
    label = story.response_label(found.name)
    caption = say(
        "Residuals of {label}, with the groups still in, against what the model expects. Look for "
        "a funnel (spread that grows), a bend, or a single {item} far from the rest. They "
        "are shown to be looked at; no method was chosen by them.",
        label=label,
        item=story.item,
    )
    unit = say("natural log") if found.scale == "ratio" else found.unit
    return check_figure(
        CheckPlot(f"{slug(found.name)}-check", label, found.unit, unit, dots, caption)
    )
