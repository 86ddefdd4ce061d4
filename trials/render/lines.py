"""The line plot: how much one variable matters for each version of another."""

from __future__ import annotations

from dataclasses import dataclass

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SIZE, WIDTH, Axes
from trials.render.later import Drawing
from trials.render.marks import mark
from trials.render.table import Column, Table, behind_figure, ends_columns
from trials.words.language import say
from trials.words.numbers import (
    Ends,
    ends_text,
    interval_decimals,
    number,
    with_unit,
)

_HEIGHT = 3.3  # inches
_NAMES = 1.5  # inches kept at the right for the names of the lines


@dataclass(frozen=True)
class LinePoint:
    """The fitted average of one combination of versions, with its interval."""

    mean: float | None
    interval: Ends


@dataclass(frozen=True)
class Line:
    """One version of the second variable: a point for each version of the first."""

    label: str
    points: tuple[LinePoint, ...]


@dataclass(frozen=True)
class LinePlot:
    """Averages of the combinations of two variables.

    Parameters
    ----------
    name : name of the figure and its files.
    label, unit, ratio : what was measured, and whether it is compared by ratio.
    across : the variable along the axis; ``versions`` are its versions, one a point of each line.
    apart : the variable whose versions are the lines.
    interval_name : what the bars are.
    """

    name: str
    label: str
    unit: str
    ratio: bool
    across: str
    versions: tuple[str, ...]
    apart: str
    lines: tuple[Line, ...]
    interval_name: str
    caption: str


def line_figure(plot: LinePlot) -> Figure:
    """Return the line plot as a figure."""
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def _drawn(plot: LinePlot) -> drawing.Canvas:
    canvas = drawing.new_canvas(_HEIGHT)
    (axes,) = drawing.panels(canvas, [1.0])
    values = [x for line in plot.lines for point in line.points for x in _drawn_at(point)]
    low, high = (min(values), max(values)) if values else (1.0, 2.0)
    log = plot.ratio and low > 0
    if low == high:
        low, high = (low / 1.5, high * 1.5) if log else (low - 1.0, high + 1.0)
    drawing.value_axis(axes, "y", (low, high), ratio=log)
    for index, line in enumerate(plot.lines):
        _line(axes, line, index, len(plot.lines))
    _name_lines(axes, plot)
    slot = (WIDTH - _NAMES - 1.0) / len(plot.versions)
    texts = [drawing.wrapped(version, slot) for version in plot.versions]
    axes.set_xticks(range(len(texts)), texts)
    axes.set_xlim(-0.4, len(texts) - 0.6)
    axes.set_xlabel(plot.across)
    axes.set_ylabel(drawing.wrapped(drawing.scale_named(_axis_title(plot), log=log), _HEIGHT * 0.8))
    axes.grid(False, axis="x")
    return canvas


def _drawn_at(point: LinePoint) -> list[float]:
    return [x for x in (point.mean, *point.interval) if x is not None]


def _line(axes: Axes, line: Line, index: int, of: int) -> None:
    """Draw one line, shifted a little so that its bars don't cover the others'."""
    look = mark(index)
    shift = 0.06 * (index - (of - 1) / 2)
    known = [(place + shift, p.mean) for place, p in enumerate(line.points) if p.mean is not None]
    axes.plot(
        [x for x, _ in known],
        [y for _, y in known],
        color=look.colour,
        linestyle=look.dash,
        linewidth=1.6,
        marker=look.shape,
        markersize=7,
        markerfacecolor=look.fill,
        markeredgecolor=look.colour,
        zorder=5,
    )
    for place, point in enumerate(line.points):
        low, high = point.interval
        if low is not None and high is not None:
            drawing.bar(axes, place + shift, low, high, colour=look.colour, cap=6)


def _name_lines(axes: Axes, plot: LinePlot) -> None:
    """Write each line's name beside its right end, moved apart where they would overlap."""
    ends = [
        (index, line.points[-1].mean)
        for index, line in enumerate(plot.lines)
        if line.points[-1].mean is not None
    ]
    transform = axes.transData
    heights = {
        index: float(axes.transAxes.inverted().transform(transform.transform((0, y or 0.0)))[1])
        for index, y in ends
    }
    texts = {i: drawing.wrapped(f"{plot.apart}: {plot.lines[i].label}", _NAMES) for i, _ in ends}
    line_height = 1.35 * SIZE / 72 / (_HEIGHT * 0.8)
    room = 0.0
    for index in sorted(heights, key=lambda i: heights[i]):
        need = line_height * (texts[index].count("\n") + 1)
        height = max(heights[index], room + need / 2)
        room = height + need / 2
        axes.annotate(
            texts[index],
            (1.01, height),
            xycoords="axes fraction",
            va="center",
            ha="left",
            color=mark(index).colour,
        )


def _axis_title(plot: LinePlot) -> str:
    return f"{plot.label} ({plot.unit})" if plot.unit else plot.label


def _told(plot: LinePlot, point: LinePoint) -> str:
    if point.mean is None:
        return say("no average")
    decimals = interval_decimals(point.interval, point.mean)
    mean = number(point.mean, decimals)
    told = say("average {mean}", mean=with_unit(mean, plot.unit))
    return say(
        "{told}, range of doubt {ends_text}",
        told=told,
        ends_text=ends_text(point.interval, plot.unit, decimals),
    )


def _alt(plot: LinePlot) -> str:
    parts = [say("Line plot of {axis_title} against {across}, one line for each version "
    "of {apart}.", axis_title=_axis_title(plot), across=plot.across, apart=plot.apart)]  # fmt: skip
    for line in plot.lines:
        told = "; ".join(
            f"{plot.across} {version}, {_told(plot, point)}"
            for version, point in zip(plot.versions, line.points, strict=True)
        )
        parts.append(f"{plot.apart} {line.label}: {told}.")
    return " ".join(parts)


def _data(plot: LinePlot) -> Table:
    columns = (
        Column("apart", plot.apart),
        Column("across", plot.across),
        Column("average", unit=plot.unit, kind="significant", digits=4),
        *ends_columns(plot.unit),
    )
    rows = tuple(
        (line.label, version, point.mean, *point.interval)
        for line in plot.lines
        for version, point in zip(plot.versions, line.points, strict=True)
    )
    notes = (say("From and to: {interval_name}.", interval_name=plot.interval_name),)
    return behind_figure(plot.name, plot.label, columns, rows, notes, heads=2)
