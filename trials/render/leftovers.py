"""Figures of what the fitted model leaves over: in some order, by version, and by group."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SMALL, WIDTH, Axes
from trials.render.later import Drawing
from trials.render.marks import ACCENT, INK, MARKS, PALE, QUIET, mark
from trials.render.packing import packed
from trials.render.scatter import around_zero, scatter, span_axis
from trials.render.table import Cell, Column, Table, behind_figure
from trials.words.language import say
from trials.words.numbers import capital, count, significant, with_unit

_HEIGHT = 2.5  # inches, of one row of panels
_KEY = 0.35
_MEMBER = 0.2  # inches, of one line
_MOST_MEMBERS = 24  # lines in one panel
_ROOM = 0.36  # how far dots stand to either side at the most; the bar is beyond
_PER_ROW = 7  # versions side by side


@dataclass(frozen=True)
class OrderDot:
    """One item: what it left over, its group, and its place along each axis (None: unknown)."""

    item: str
    leftover: float
    group: str
    places: tuple[float | None, ...]


@dataclass(frozen=True)
class OrderPlot:
    """Leftovers in ``unit`` against one or more orders, times or conditions.

    ``across`` names the axes, with their unit; ``group`` what the marks tell apart ("session";
    "" where nothing does).
    """

    name: str
    label: str
    unit: str
    item: str
    across: tuple[str, ...]
    group: str
    dots: tuple[OrderDot, ...]
    caption: str


def order_figure(plot: OrderPlot) -> Figure:
    """Return leftovers against each order as a figure, one dot an item."""
    picture = Drawing(_order_drawn, plot)
    return Figure(plot.name, picture, _order_alt(plot), plot.caption, _order_data(plot))


def _order_drawn(plot: OrderPlot) -> drawing.Canvas:
    groups = list(dict.fromkeys(dot.group for dot in plot.dots))
    groups = sorted(groups) if plot.group and len(groups) <= len(MARKS) else [""]
    rows = [plot.across[start : start + 2] for start in range(0, len(plot.across), 2)]
    heights = [_HEIGHT] * len(rows) + ([_KEY] if groups != [""] else [])
    canvas = drawing.new_canvas(sum(heights))
    bands = drawing.bands(canvas, heights)
    ends = around_zero([dot.leftover for dot in plot.dots])
    for row, (band, names) in enumerate(zip(bands, rows, strict=False)):
        for column, axes in enumerate(drawing.panels(band, [1.0] * len(names))):
            _against(axes, plot, 2 * row + column, groups)
            drawing.value_axis(axes, "y", ends, ratio=False)
            axes.axhline(0.0, color=INK, linewidth=1.0, zorder=2)
            axes.set_xlabel(names[column])
            axes.tick_params(labelleft=column == 0)
            if column == 0:
                axes.set_ylabel(_left_over(plot.unit))
    if groups != [""]:
        keys = [
            drawing.dot_key(mark(place), f"{plot.group} {name}")
            for place, name in enumerate(groups)
        ]
        bands[-1].legend(handles=keys, loc="center", ncols=min(len(keys), 4))
    return canvas


def _against(axes: Axes, plot: OrderPlot, column: int, groups: Sequence[str]) -> None:
    seen: list[float] = []
    for place, name in enumerate(groups):
        found = [
            (x, dot.leftover)
            for dot in plot.dots
            if (x := dot.places[column]) is not None and (name in ("", dot.group))
        ]
        seen += [x for x, _ in found]
        scatter(axes, [x for x, _ in found], [y for _, y in found], mark(place))
    span_axis(axes, seen)


def _left_over(unit: str) -> str:
    return say("left over ({unit})", unit=unit) if unit else say("left over")


def _order_alt(plot: OrderPlot) -> str:
    values = [dot.leftover for dot in plot.dots]
    span = ""
    if values:
        least, most = (with_unit(significant(f(values)), plot.unit) for f in (min, max))
        span = say(", between {least} and {most}", least=least, most=most)
    return say(
        "What {n_items} left over in {label}{span}, one dot each, against: {across}.",
        n_items=count(len(values), plot.item),
        label=plot.label,
        span=span,
        across="; ".join(plot.across),
    )


def _order_data(plot: OrderPlot) -> Table:
    columns = (
        Column("item", plot.item),
        *((Column("group", plot.group),) if plot.group else ()),
        *(Column(name, kind="significant", digits=4) for name in plot.across),
        Column("left over", unit=plot.unit, kind="significant", digits=4),
    )  # fmt: skip
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (dot.item, *((dot.group,) if plot.group else ()), *dot.places, dot.leftover)
        for dot in plot.dots
    )
    return behind_figure(plot.name, plot.label, columns, rows)


@dataclass(frozen=True)
class LevelStrip:
    """One version: what its items left over, and their standard deviation."""

    label: str
    items: tuple[str, ...]
    leftovers: tuple[float, ...]
    sd: float | None


@dataclass(frozen=True)
class LevelPlot:
    """Leftovers in ``unit`` at the versions of each variable: (variable, its versions)."""

    name: str
    label: str
    unit: str
    item: str
    panels: tuple[tuple[str, tuple[LevelStrip, ...]], ...]
    caption: str


def level_figure(plot: LevelPlot) -> Figure:
    """Return leftovers by version as a figure: does one version spread more than another?"""
    picture = Drawing(_level_drawn, plot, swarms=True)
    return Figure(plot.name, picture, _level_alt(plot), plot.caption, _level_data(plot))


def _level_drawn(plot: LevelPlot) -> drawing.Canvas:
    rows = packed([len(strips) for _, strips in plot.panels], _PER_ROW)
    values = [x for _, strips in plot.panels for strip in strips for x in strip.leftovers]
    ends = around_zero([*values, *(s.sd or 0.0 for _, strips in plot.panels for s in strips)])
    canvas = drawing.new_canvas(_HEIGHT * len(rows) + _KEY)
    bands = drawing.bands(canvas, [_HEIGHT] * len(rows) + [_KEY])
    for band, row in zip(bands, rows, strict=False):
        panels = [plot.panels[place] for place in row]
        widths = [max(len(strips), 2) for _, strips in panels]
        slot = (WIDTH - 1.0) / sum(widths)
        for column, axes in enumerate(drawing.panels(band, widths)):
            _strips(axes, panels[column], slot * widths[column])
            drawing.value_axis(axes, "y", ends, ratio=False)
            axes.axhline(0.0, color=INK, linewidth=1.0, zorder=1)
            axes.tick_params(labelleft=column == 0)
            if column == 0:
                axes.set_ylabel(_left_over(plot.unit))
    bar = drawing.Line2D(
        [], [], color=INK, linewidth=1.3, label=say("one SD to either side of zero")
    )
    bands[-1].legend(handles=[bar], loc="center")
    return canvas


def _strips(axes: Axes, panel: tuple[str, tuple[LevelStrip, ...]], width: float) -> None:
    title, strips = panel
    slot = width / len(strips)
    size = 5.0 if max(len(strip.leftovers) for strip in strips) <= 30 * slot else 3.5
    for place, strip in enumerate(strips):
        drawing.swarm(axes, (place - 0.08, _ROOM, _ROOM), strip.leftovers, mark(place), size)
        if strip.sd is not None:
            drawing.bar(axes, place + 0.36, -strip.sd, strip.sd, colour=INK, cap=7)
    texts = [
        drawing.wrapped(strip.label, slot * 0.9)
        + ("" if strip.sd is None else "\n" + _sd(significant(strip.sd, 2)))
        for strip in strips
    ]
    axes.set_xticks(range(len(texts)), texts)
    axes.tick_params(axis="x", length=0)
    axes.set_xlim(-0.55, len(strips) - 0.4)
    axes.set_title(drawing.wrapped(title, width))
    axes.grid(False, axis="x")


def _sd(size: str) -> str:
    return say("SD {size}", size=size)


def _level_alt(plot: LevelPlot) -> str:
    parts = [
        say("What each {item} left over in {label}, by version.", item=plot.item, label=plot.label)
    ]
    for title, strips in plot.panels:
        told = "; ".join(
            f"{strip.label}, {count(len(strip.leftovers), plot.item)}"
            + (
                f", {_sd(with_unit(significant(strip.sd, 2), plot.unit))}"
                if strip.sd is not None
                else ""
            )
            for strip in strips
        )
        parts.append(f"{capital(title)}: {told}.")
    return " ".join(parts)


def _level_data(plot: LevelPlot) -> Table:
    columns = (
        Column("variable"),
        Column("version"),
        Column("item", plot.item),
        Column("left over", unit=plot.unit, kind="significant", digits=4),
    )
    rows = tuple(
        (title, strip.label, item, x)
        for title, strips in plot.panels
        for strip in strips
        for item, x in zip(strip.items, strip.leftovers, strict=True)
    )
    return behind_figure(plot.name, plot.label, columns, rows, heads=2)


@dataclass(frozen=True)
class GroupPanel:
    """One kind of group: its members with what they left over besides their items."""

    label: str
    members: tuple[tuple[str, float], ...]
    sd: float | None


@dataclass(frozen=True)
class GroupPlot:
    """Leftovers in ``unit`` of the members of each kind of group."""

    name: str
    label: str
    unit: str
    panels: tuple[GroupPanel, ...]
    caption: str


def group_figure(plot: GroupPlot) -> Figure:
    """Return leftovers by group as a figure: a line for each member, the highest on top."""
    picture = Drawing(_group_drawn, plot)
    return Figure(plot.name, picture, _group_alt(plot), plot.caption, _group_data(plot))


def _group_drawn(plot: GroupPlot) -> drawing.Canvas:
    shown = [_furthest(panel.members) for panel in plot.panels]
    ends = around_zero([x for members in shown for _, x in members])
    rows = [range(n, min(n + 2, len(shown))) for n in range(0, len(shown), 2)]
    heights = [0.95 + _MEMBER * max(len(shown[place]) for place in row) for row in rows]
    canvas = drawing.new_canvas(sum(heights))
    for band, row in zip(drawing.bands(canvas, heights), rows, strict=True):
        for axes, place in zip(drawing.panels(band, [1.0] * len(row)), row, strict=True):
            drawing.value_axis(axes, "x", ends, ratio=False)
            panel = plot.panels[place]
            _members(axes, panel, shown[place])
            axes.set_title(drawing.wrapped(panel.label, WIDTH / 2 - 1.2))
            band_is = (
                "" if panel.sd is None else say("; band: {sd}", sd=_sd(significant(panel.sd, 2)))
            )
            axes.set_xlabel(f"{_left_over(plot.unit)}{band_is}")
    return canvas


def _furthest(members: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    """Return the members furthest off, where not all have room, the highest first."""
    kept = sorted(members, key=lambda one: -abs(one[1]))[:_MOST_MEMBERS]
    return sorted(kept, key=lambda one: -one[1])


def _members(axes: Axes, panel: GroupPanel, members: Sequence[tuple[str, float]]) -> None:
    if panel.sd is not None:
        axes.axvspan(-panel.sd, panel.sd, facecolor=PALE, edgecolor=QUIET, linewidth=0.6, zorder=0)
    axes.axvline(0.0, color=INK, linewidth=1.0, zorder=1)
    for place, (_, x) in enumerate(members):
        axes.plot([0, x], [place, place], color=ACCENT, linewidth=1.4, zorder=3)
    scatter(axes, [x for _, x in members], [float(n) for n in range(len(members))], mark(0))
    axes.set_yticks(
        range(len(members)), [drawing.wrapped(name, 1.4, SMALL) for name, _ in members],
        fontsize=SMALL,
    )  # fmt: skip
    axes.set_ylim(len(members) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)
    axes.grid(False, axis="y")


def _group_alt(plot: GroupPlot) -> str:
    parts = [say("What the members of each group left over in {label}.", label=plot.label)]
    for panel in plot.panels:
        low, high = (f(panel.members, key=lambda one: one[1]) for f in (min, max))
        ends = [f"{name} {with_unit(significant(x), plot.unit)}" for name, x in (low, high)]
        parts.append(
            say(
                "{label}: {n} members, from {low} to {high}.",
                label=capital(panel.label),
                n=len(panel.members),
                low=ends[0],
                high=ends[1],
            )
        )
    return " ".join(parts)


def _group_data(plot: GroupPlot) -> Table:
    columns = (
        Column("group"),
        Column("member"),
        Column("left over", unit=plot.unit, kind="significant", digits=4),
    )
    rows = tuple((panel.label, name, x) for panel in plot.panels for name, x in panel.members)
    return behind_figure(plot.name, plot.label, columns, rows, heads=2)
