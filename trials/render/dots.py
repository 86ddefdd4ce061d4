"""The dot plot: every item a dot, every version with its average and a named interval."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SIZE, SMALL, WIDTH, Axes, Canvas, Line2D, SubFigure
from trials.render.later import Drawing
from trials.render.marks import INK, QUIET, mark
from trials.render.packing import packed
from trials.render.table import Column, Table, behind_figure
from trials.words.language import say
from trials.words.numbers import (
    Ends,
    capital,
    count,
    given,
    interval_decimals,
    number,
    significant,
    times,
    with_unit,
)

_PER_ROW = 7  # most versions side by side
_ROW_HEIGHT = 2.5  # inches
_LEGEND_HEIGHT = 0.35
_MARGIN_TEXT = 1.4  # inches along the axis
_CLEAR = 3.0  # points between dots and what stands beside them
_EDGE = 0.55  # from the first version to the axis, in distances of versions
_LEFT = 1.0  # inches beside the versions, for the axis
# Large: drawn on a small canvas and printed three times as wide, so that the smallest letters are
# 24 points high; one panel below the other, and the text around it says what the signs mean.
_LARGE_WIDTH = 2.4
_LARGE_LEFT = 0.55
_LARGE_DOT = 3.0  # points
_NUMBERS = re.compile(r"(\d+)")


@dataclass(frozen=True)
class Dot:
    """One item: its code, its value, and the group whose members were treated together."""

    item: str
    value: float
    cluster: str = ""


@dataclass(frozen=True)
class DotLevel:
    """One version: its items, the fitted average with its interval, and a note ("2 failed")."""

    label: str
    dots: tuple[Dot, ...]
    mean: float | None = None
    interval: Ends = (None, None)
    note: str = ""


@dataclass(frozen=True)
class DotPanel:
    """One variable with its versions. ``cluster`` names what the clusters of dots are."""

    label: str
    levels: tuple[DotLevel, ...]
    cluster: str = ""


@dataclass(frozen=True)
class DotPlot:
    """A dot plot of one response against one or more variables.

    Parameters
    ----------
    name : name of the figure and its files.
    label, unit : what was measured.
    ratio : whether it is compared by ratio (the axis then has equal ratios at equal distances).
    interval_name : what the bars are ("range of doubt (95 %) of the average").
    margin : smallest difference, or ratio, worth caring about, drawn to scale; None: not drawn.
    item : what one dot is.
    large : for a board: inches of each panel's height, on a canvas to be printed at the width of a
        page of A4 with letters of 24 points and more; 0: not for a board. The caption then has to
        say what dots and bars are.
    """

    name: str
    label: str
    unit: str
    ratio: bool
    panels: tuple[DotPanel, ...]
    interval_name: str
    item: str
    caption: str
    margin: float | None = None
    large: float = 0.0

    @property
    def width(self) -> float:
        """Inches of the canvas."""
        return _LARGE_WIDTH if self.large else WIDTH

    @property
    def inner(self) -> float:
        """Inches for the versions side by side."""
        return self.width - (_LARGE_LEFT if self.large else _LEFT)

    @property
    def log(self) -> bool:
        """Whether equal ratios stand at equal distances: all that is drawn is above 0."""
        return self.ratio and all(
            x > 0 for panel in self.panels for level in panel.levels for x in _drawn_at(level)
        )


def dot_figure(plot: DotPlot) -> Figure:
    """Return the dot plot as a figure."""
    return Figure(
        plot.name, Drawing(_drawn, plot, swarms=True), _alt(plot), plot.caption, _data(plot)
    )


def _drawn(plot: DotPlot) -> Canvas:
    rows = _rows(plot)
    heights = [plot.large or _ROW_HEIGHT] * len(rows)
    heights += [] if plot.large else [_LEGEND_HEIGHT]
    canvas = drawing.new_canvas(sum(heights), plot.width)
    bands = drawing.bands(canvas, heights)
    ends = _ends(plot)
    for row, (band, panels) in enumerate(zip(bands, rows, strict=False)):
        widths = [max(len(panel.levels), 2) for panel in panels]
        grid = drawing.panels(band, widths)
        for axes, panel, width in zip(grid, panels, widths, strict=True):
            slot = plot.inner * width / sum(widths) / len(panel.levels)
            _panel(axes, plot, panel, slot)
            drawing.value_axis(axes, "y", ends, ratio=plot.log, sparse=plot.large > 0)
            axes.tick_params(labelleft=axes is grid[0])
        grid[0].set_ylabel(_named(plot))
        if row == 0 and plot.margin is not None:
            _margin_bar(grid[-1], plot, ends)
    if not plot.large:
        _legend(bands[-1], plot)
    return canvas


def _rows(plot: DotPlot) -> list[list[DotPanel]]:
    """Return which panels stand side by side."""
    if plot.large:
        return [[panel] for panel in plot.panels]
    sizes = [len(panel.levels) for panel in plot.panels]
    return [[plot.panels[place] for place in row] for row in packed(sizes, _PER_ROW)]


def _named(plot: DotPlot) -> str:
    """Return what stands beside the axis: with large letters there is room for the unit only."""
    if plot.large:
        return drawing.wrapped(plot.unit or plot.label, 1.1)
    return drawing.wrapped(drawing.scale_named(_axis_title(plot), log=plot.log), 2.2)


def _panel(axes: Axes, plot: DotPlot, panel: DotPanel, slot: float) -> None:
    n = max((len(level.dots) for level in panel.levels), default=0)
    size = 5.0 if n <= 30 * slot else 4.0 if n <= 60 * slot else 3.0
    size = min(size, _LARGE_DOT) if plot.large else size
    apart = min(0.42, 0.6 / slot)  # from the middle of the dots to the average
    clusters: list[tuple[float, str]] = []
    for place, level in enumerate(panel.levels):
        columns = list(_columns(panel, level, place - 0.1 if panel.cluster else place - apart / 2))
        room = min(_gaps([position for position, _, _ in columns]), default=0.0) * 0.45
        # dots keep off the next column; or off the averages to either side, and the axis
        left, right = (room, room) if room else (min(1 - apart, _EDGE - apart / 2), apart)
        clear = 0.0 if room else (_dash(plot)[0] + size) / 2 + _CLEAR
        for position, cluster, dots in columns:
            values = [dot.value for dot in dots]
            drawing.swarm(axes, (position, left, right), values, mark(place), size, clear=clear)
            clusters.append((position, cluster))
        right = columns[-1][0] + min(0.2, 0.5 / slot) if len(columns) > 1 else place + apart / 2
        _average(axes, plot, level, right)
    _name_versions(axes, panel, slot)
    if panel.cluster:
        _name_clusters(axes, panel.cluster, clusters, slot)
    axes.set_xlim(-_EDGE, len(panel.levels) - 1 + _EDGE)
    axes.set_title(drawing.wrapped(panel.label, slot * len(panel.levels), SIZE + 1))
    axes.grid(False, axis="x")


def _name_versions(axes: Axes, panel: DotPanel, slot: float) -> None:
    texts = [drawing.wrapped(level.label, slot * 0.95) for level in panel.levels]
    steep = any(drawing.too_wide(text, slot) for text in texts)
    notes = [f"\n{level.note}" if level.note else "" for level in panel.levels]
    axes.set_xticks(
        range(len(texts)),
        [text + note for text, note in zip(texts, notes, strict=True)],
        rotation=30 if steep else 0,
        ha="right" if steep else "center",
    )
    axes.tick_params(axis="x", which="major", length=0)


def _name_clusters(axes: Axes, what: str, clusters: list[tuple[float, str]], slot: float) -> None:
    axes.set_xlabel(
        say("dots in one column shared one {what}", what=what), fontsize=SMALL, color=QUIET
    )
    step = slot * min(_gaps([position for position, _ in clusters]), default=1.0)
    if any(drawing.too_wide(name, step, SMALL) for _, name in clusters):
        return
    axes.xaxis.remove_overlapping_locs = False
    axes.set_xticks(
        [position for position, _ in clusters],
        [name for _, name in clusters],
        minor=True,
        fontsize=SMALL,
        color=QUIET,
    )
    axes.tick_params(axis="x", which="major", pad=16)


def _gaps(positions: list[float]) -> list[float]:
    return [b - a for a, b in itertools.pairwise(positions)]


def _columns(
    panel: DotPanel, level: DotLevel, middle: float
) -> Iterator[tuple[float, str, list[Dot]]]:
    """Give the columns of dots of one version: one, or one for each cluster."""
    names = sorted({dot.cluster for dot in level.dots}, key=_natural) if panel.cluster else [""]
    if len(names) < 2:
        yield middle, "".join(names), list(level.dots)
        return
    step = min(0.6 / (len(names) - 1), 0.2)
    for index, name in enumerate(names):
        dots = [dot for dot in level.dots if dot.cluster == name]
        yield middle + step * (index - (len(names) - 1) / 2), name, dots


def _natural(name: str) -> tuple[tuple[int, str], ...]:
    """Order names with numbers in them as people do: firing 2 before firing 10."""
    return tuple((int(part), "") if part.isdigit() else (-1, part) for part in _NUMBERS.split(name))


def _average(axes: Axes, plot: DotPlot, level: DotLevel, x: float) -> None:
    if level.mean is None:
        return
    low, high = level.interval
    if low is not None and high is not None:
        drawing.bar(axes, x, low, high, colour=INK, cap=5 if plot.large else 7)
    axes.plot([x], [level.mean], **drawing.dash(*_dash(plot)), color=INK, zorder=5)
    axes.annotate(
        _rounded(plot, level.mean),
        (x, level.mean if high is None else high),
        xytext=(0, 3),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=SMALL,
        path_effects=drawing.HALO,
        zorder=6,
    )


def _dash(plot: DotPlot) -> tuple[float, float]:
    """Return length and thickness of an average's dash, in points."""
    return (8, 1.8) if plot.large else (14, 3.2)


def _rounded(plot: DotPlot, x: float) -> str:
    """Return an average or an end of its interval, rounded alike within a plot.

    Differences are read off in the unit, so all have the same decimals; ratios in proportion, so
    all have three digits.
    """
    if plot.ratio:
        return significant(x)
    decimals = max(
        (
            interval_decimals(level.interval, level.mean)
            for panel in plot.panels
            for level in panel.levels
            if level.mean is not None
        ),
        default=2,
    )
    return number(x, decimals)


def _ends(plot: DotPlot) -> tuple[float, float]:
    """Return the smallest and largest thing drawn, with room for the bar worth caring about."""
    values = [x for panel in plot.panels for level in panel.levels for x in _drawn_at(level)]
    low, high = (min(values), max(values)) if values else (1.0, 2.0)
    if low == high:
        low, high = (low / 1.5, high * 1.5) if plot.log else (low - 1.0, high + 1.0)
    # the number above the highest bar needs room too
    return (low, high * (high / low) ** 0.04) if plot.log else (low, high + 0.04 * (high - low))


def _drawn_at(level: DotLevel) -> Iterator[float]:
    for dot in level.dots:
        yield dot.value
    for x in (level.mean, *level.interval):
        if x is not None:
            yield x


def _margin_bar(axes: Axes, plot: DotPlot, ends: tuple[float, float]) -> None:
    """Draw the smallest difference worth caring about as a bar, to the scale of the axis."""
    low, high = ends
    margin = plot.margin or 0.0
    if plot.log:
        middle = math.sqrt(low * high)
        bottom, top = middle / math.sqrt(margin), middle * math.sqrt(margin)
    else:
        middle = (low + high) / 2
        bottom, top = middle - margin / 2, middle + margin / 2
    if plot.ratio != plot.log or bottom < low or top > high:
        return
    text = say("worth caring about: {margin_text}", margin_text=_margin_text(plot))
    text = drawing.wrapped(text, _MARGIN_TEXT, SMALL)  # no longer than the lowest panel is high
    left, right = axes.get_xlim()
    inch = (right - left) / (axes.get_position().width * plot.width)
    axes.set_xlim(left, right + (0.25 + 0.15 * len(text.splitlines())) * inch)
    x = right + 0.05 * inch
    drawing.bar(axes, x, bottom, top, colour=QUIET, cap=7)
    axes.annotate(
        text,
        (x, middle),
        xytext=(6, 0),
        textcoords="offset points",
        rotation=90,
        ha="left",
        va="center",
        fontsize=SMALL,
        color=QUIET,
    )


def _margin_text(plot: DotPlot) -> str:
    return times(plot.margin or 0.0) if plot.ratio else given(plot.margin or 0.0, plot.unit)


def _legend(band: SubFigure, plot: DotPlot) -> None:
    handles = [
        drawing.dot_key(mark(0), say("one {item} (each version has its own mark)", item=plot.item)),
        Line2D([], [], color=INK, linewidth=3.2, label=say("average")),
        Line2D([], [], color=INK, linewidth=1.3, label=plot.interval_name),
    ]
    band.legend(handles=handles, loc="center", ncols=3)


def _axis_title(plot: DotPlot) -> str:
    return f"{plot.label} ({plot.unit})" if plot.unit else plot.label


def _alt(plot: DotPlot) -> str:
    parts = [
        say(
            "Dot plot of {axis_title}; one dot for each {item}.",
            axis_title=_axis_title(plot),
            item=plot.item,
        )
    ]
    for panel in plot.panels:
        told = "; ".join(_level_alt(plot, level) for level in panel.levels)
        parts.append(f"{capital(panel.label)}: {told}.")
    if plot.margin is not None:
        parts.append(say("Worth caring about: {margin_text}.", margin_text=_margin_text(plot)))
    return " ".join(parts)


def _level_alt(plot: DotPlot, level: DotLevel) -> str:
    text = f"{level.label}, {count(len(level.dots), plot.item)}"
    if level.dots:
        values = [dot.value for dot in level.dots]
        low, high = significant(min(values)), with_unit(significant(max(values)), plot.unit)
        text += say(" between {low} and {high}", low=low, high=high)
    if level.mean is not None:
        text += say(", average {rounded}", rounded=with_unit(_rounded(plot, level.mean), plot.unit))
        start, end = level.interval
        if start is not None and end is not None:
            ends = say(
                "{rounded} to {rounded2}",
                rounded=_rounded(plot, start),
                rounded2=_rounded(plot, end),
            )
            text += say(", range of doubt {ends}", ends=with_unit(ends, plot.unit))
    return f"{text}, {level.note}" if level.note else text


def _data(plot: DotPlot) -> Table:
    columns = (
        Column("variable"),
        Column("version"),
        Column("what", kind="word"),
        Column("item"),
        Column("group"),
        Column("value", unit=plot.unit, kind="significant", digits=4),
        Column("from", unit=plot.unit, kind="significant", digits=4),
        Column("to", unit=plot.unit, kind="significant", digits=4),
    )
    rows: list[tuple[str | float | None, ...]] = []
    for panel in plot.panels:
        for level in panel.levels:
            if level.mean is not None:
                rows.append(
                    (panel.label, level.label, "average", "", "", level.mean, *level.interval)
                )
            rows += [
                (panel.label, level.label, plot.item, dot.item, dot.cluster, dot.value, None, None)
                for dot in level.dots
            ]
    notes = (say("From and to: {interval_name}.", interval_name=plot.interval_name),)
    return behind_figure(plot.name, plot.label, columns, tuple(rows), notes, heads=4)
