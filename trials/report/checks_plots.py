"""The figures of the checks: findings handed to the plots, nothing worked out."""

from __future__ import annotations

from typing import Any

from trials.analysis.findings import ResponseFindings
from trials.quantities import nice
from trials.render.blocks import Figure
from trials.render.influence import InfluencePlot, InfluenceRow, Reach, influence_figure
from trials.render.leftovers import (
    GroupPanel,
    GroupPlot,
    LevelPlot,
    LevelStrip,
    OrderDot,
    OrderPlot,
    group_figure,
    level_figure,
    order_figure,
)
from trials.render.marks import MARKS
from trials.report.story import Story, names_of, slug
from trials.report.tables import path_text
from trials.words.checks import beside_text, member_name
from trials.words.language import say
from trials.words.numbers import plural


def check_figures(story: Story, found: ResponseFindings) -> tuple[Figure, ...]:
    """Return the figures of one response that have something to show."""
    made = (
        _in_order(story, found),
        _by_level(story, found),
        _by_group(story, found),
        _influence(story, found),
    )
    return tuple(figure for figure in made if figure is not None)


def _unit(found: ResponseFindings) -> str:
    return say("natural log") if found.scale == "ratio" else found.unit


def _in_order(story: Story, found: ResponseFindings) -> Figure | None:
    """Return the leftovers against every order, time and condition that is known."""
    codes = tuple(found.diagnostics.get("drift") or {})
    dots = [point for point in found.points if point.leftover is not None]
    if not codes or not dots:
        return None
    group = _marked(story, found)
    known = story.statuses(found.name)
    measure = {row.item: row.measure for row in story.plan.rows}
    units = _units(story)

    def place(item: str, run: int | None, code: str) -> float | None:
        if code in ("making", "measuring"):
            return run if code == "making" else measure.get(item)
        if item not in known:
            return None
        if code == "clock":
            minutes = known[item].clock
            return None if minutes is None else minutes / 60
        return known[item].surroundings.get(_column(code))

    plot = OrderPlot(
        name=f"{slug(found.name)}-order",
        label=story.response_label(found.name),
        unit=_unit(found),
        item=story.item,
        across=tuple(_titled(code, units) for code in codes),
        group=story.group_label(group) if group else "",
        dots=tuple(
            OrderDot(
                point.item,
                point.leftover or 0.0,
                point.groups.get(group, "") if group else "",
                tuple(place(point.item, point.run, code) for code in codes),
            )
            for point in dots
        ),
        caption=say(
            "What each {item} left over in {response_label}, every group "
            "taken off, against order, time and conditions. Look for dots that rise or fall "
            "together: something drifted while the work went on.",
            item=story.item,
            response_label=story.response_label(found.name),
        ),
    )
    return order_figure(plot)


def _units(story: Story) -> dict[str, str]:
    """Return the unit of each raw column that tells of the surroundings."""
    from trials.reduction import reducer_of

    return {
        column.name: column.unit
        for response in reversed(story.study.responses)
        for column in reducer_of(response).columns(response)
        if column.surroundings
    }


def _column(code: str) -> str:
    """Return the raw column that a code of the drift names."""
    return code.partition(":")[2] or code


def _titled(code: str, units: dict[str, str]) -> str:
    text = beside_text(code)
    if code == "clock":
        return f"{text} (h)"
    unit = units.get(_column(code), "")
    return f"{text} ({nice(unit)})" if unit else text


def _marked(story: Story, found: ResponseFindings) -> str:
    """Return the group that marks tell apart: the largest that has more than one member, if few."""
    count = {
        group.path: len({point.groups.get(group.path) for point in found.points})
        for group in story.plan.groups
    }
    usable = [path for path, members in count.items() if 2 <= members <= len(MARKS)]
    return min(usable, key=lambda path: count[path], default="")


def _by_level(story: Story, found: ResponseFindings) -> Figure | None:
    spread = found.diagnostics.get("spread") or {}
    known = {p.item: p for p in found.points if p.leftover is not None}  # readings: once an item
    panels = []
    for factor in story.study.factors:
        levels = (spread.get(factor.name) or {}).get("levels") or {}
        strips = []
        for level in (level for level in factor.levels if level in levels):
            own = [p for p in known.values() if p.factors.get(factor.name) == level]
            strips.append(
                LevelStrip(
                    story.short_level(factor.name, level),
                    tuple(point.item for point in own),
                    tuple(point.leftover or 0.0 for point in own),
                    levels[level],
                )
            )
        if any(strip.items for strip in strips):
            panels.append((story.factor_label(factor.name), tuple(strips)))
    if not panels:
        return None
    plot = LevelPlot(
        name=f"{slug(found.name)}-spread-figure",
        label=story.response_label(found.name),
        unit=_unit(found),
        item=story.item,
        panels=tuple(panels),
        caption=say(
            "What each {item} left over in {response_label}, by version. "
            "Look for a version whose dots reach much further to both sides than the others'.",
            item=story.item,
            response_label=story.response_label(found.name),
        ),
    )
    return level_figure(plot)


def _by_group(story: Story, found: ResponseFindings) -> Figure | None:
    panels = tuple(
        GroupPanel(
            path_text(story, path),
            tuple((_in_words(name, told["members"]), x) for name, x in told["members"].items()),
            told["sd"],
        )
        for path, told in (found.diagnostics.get("groups") or {}).items()
        if told["members"]
    )
    if not panels:
        return None
    plot = GroupPlot(
        name=f"{slug(found.name)}-groups",
        label=story.response_label(found.name),
        unit=_unit(found),
        panels=panels,
        caption=say(
            "What the members of each group left over in {response_label}, "
            "besides what the groups around them did. Look for a single member far from the rest.",
            response_label=story.response_label(found.name),
        ),
    )
    return group_figure(plot)


def _in_words(name: str, members: dict[str, float]) -> str:
    """Return a member's name; of two groups that cross, both names."""
    parts = name.split(":")
    if len(parts) == 1:
        return member_name(name, tuple(members))
    return ", ".join(part.rpartition("/")[2] for part in parts)


def _influence(story: Story, found: ResponseFindings) -> Figure | None:
    told = (found.diagnostics.get("influence") or {}).get("factors") or {}
    rows = tuple(
        row
        for factor in story.study.factors
        if factor.name in told
        and (row := _influence_row(story, found, factor.name, told[factor.name])) is not None
    )
    if not rows:
        return None
    label = story.response_label(found.name)
    kinds = {reach.kind for row in rows for reach in row.reaches}
    plot = InfluencePlot(
        name=f"{slug(found.name)}-influence",
        label=label,
        unit=found.unit,
        scale=found.scale,
        margin=story.margin(found),
        rows=rows,
        caption=say(
            "The largest difference in {label} for each variable, and how far it moves when one "
            "thing is left out: each of the {list} in "
            "turn. At the right: without which it is lowest and highest.",
            label=label,
            list=say(" and ").join(sorted(plural(k) for k in kinds)),
        ),
    )
    return influence_figure(plot)


def _influence_row(
    story: Story, found: ResponseFindings, factor: str, told: dict[str, Any]
) -> InfluenceRow | None:
    names = names_of(story, found)
    reaches = []
    for one in reversed(told["ranges"]):
        low, high = one["lowest"], one["highest"]
        if low["estimate"] is None or high["estimate"] is None:
            continue
        kind = one["kind"]
        reaches.append(
            Reach(
                names.kind(kind),
                low["estimate"],
                names.own(kind, low["member"]),
                high["estimate"],
                names.own(kind, high["member"]),
            )
        )
    if not reaches or told["estimate"] is None:
        return None
    pair = say(
        "{a} over {b}",
        a=story.level(factor, told["a"]),
        b=story.level(factor, told["b"]),
    )
    return InfluenceRow(story.factor_label(factor), pair, told["estimate"], tuple(reaches))
