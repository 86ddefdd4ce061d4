"""The margin chart: each variable's largest difference against the size worth caring about."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SMALL, Axes, Line2D, Patch, SubFigure
from trials.render.later import Drawing
from trials.render.marks import ACCENT, BAND, HATCH, INK, QUIET, WHITE
from trials.render.table import Column, Table, behind_figure
from trials.words.comparing import Pair, fits, gap, margin
from trials.words.language import say
from trials.words.numbers import capital

_ROW = 0.55  # inches
_KEY = 0.35
_NAMES = 1.9  # inches for the names at the left
_VERDICTS = 1.1  # inches for the verdicts at the right
_SHAPES = MappingProxyType(
    {"mattered": "D", "made no practical difference": "o", "not settled": "s"}
)


@dataclass(frozen=True)
class MarginRow:
    """One variable: its pair of versions with the largest difference, and its verdict.

    ``told`` is what stands beside the row instead of the verdict, where it needs a word more.
    """

    label: str
    pair: Pair
    verdict: str
    told: str = ""


@dataclass(frozen=True)
class MarginPlot:
    """Largest differences with their intervals against a margin.

    ``margin`` is in the unit of the response, or a ratio; the band runs from minus to plus the
    margin, or from one over it to it.
    """

    name: str
    label: str
    unit: str
    ratio: bool
    margin: float
    rows: tuple[MarginRow, ...]
    interval_name: str
    caption: str


def margin_figure(plot: MarginPlot) -> Figure:
    """Return the margin chart as a figure; the first row is drawn at the top."""
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def _drawn(plot: MarginPlot) -> drawing.Canvas:
    height = 0.75 + _ROW * len(plot.rows)
    canvas = drawing.new_canvas(height + _KEY)
    chart, key = drawing.bands(canvas, [height, _KEY])
    (axes,) = drawing.panels(chart, [1.0])
    low, high = _band(plot)
    drawing.value_axis(axes, "x", _ends(plot), ratio=plot.ratio)
    axes.axvspan(low, high, facecolor=BAND, edgecolor=HATCH, hatch="///", linewidth=0, zorder=0)
    for edge in (low, high):
        axes.axvline(edge, color=QUIET, linestyle=(0, (4, 3)), linewidth=1.0, zorder=1)
    axes.axvline(_zero(plot), color=INK, linewidth=1.0, zorder=1)
    for place, row in enumerate(plot.rows):
        _row(axes, row, place)
    axes.set_yticks([])
    axes.set_ylim(len(plot.rows) - 0.45, -0.55)
    axes.grid(False, axis="y")
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(_axis_title(plot))
    _legend(key, plot)
    return canvas


def _zero(plot: MarginPlot) -> float:
    return 1.0 if plot.ratio else 0.0


def _band(plot: MarginPlot) -> tuple[float, float]:
    return (1 / plot.margin, plot.margin) if plot.ratio else (-plot.margin, plot.margin)


def _ends(plot: MarginPlot) -> tuple[float, float]:
    values = list(_band(plot))
    for row in plot.rows:
        values += [x for x in _numbers(row.pair) if x is not None and (x > 0 or not plot.ratio)]
    return min(values), max(values)


def _numbers(pair: Pair) -> tuple[float | None, float | None, float | None]:
    first = pair.larger_first()
    return first.estimate, *first.interval


def _row(axes: Axes, row: MarginRow, place: int) -> None:
    estimate, low, high = _numbers(row.pair)
    if low is not None and high is not None:
        axes.plot([low, high], [place, place], color=INK, linewidth=1.6, zorder=4)
        axes.plot([low, high], [place, place], **drawing.dash(9, 1.6, "|"), color=INK, zorder=4)
    if estimate is not None:
        open_ = row.verdict == "not settled"
        axes.plot(
            [estimate],
            [place],
            linestyle="",
            marker=_SHAPES[row.verdict],
            markersize=8,
            markerfacecolor=WHITE if open_ else ACCENT,
            markeredgecolor=ACCENT,
            markeredgewidth=1.6,
            zorder=5,
        )
    _beside(axes, place, -0.02, row.label, _versus(row.pair))
    _beside(axes, place, 1.02, row.told or say(row.verdict), "")


def _beside(axes: Axes, place: float, x: float, first: str, second: str) -> None:
    """Write beside the row: a name, and below it something smaller."""
    where: dict[str, Any] = {
        "xycoords": axes.get_yaxis_transform(),
        "textcoords": "offset points",
    }
    width = _NAMES if x < 0 else _VERDICTS
    heading = drawing.wrapped(first, width)
    below = drawing.wrapped(second, width, SMALL) if second else ""
    side = "right" if x < 0 else "left"
    axes.annotate(
        heading,
        (x, place),
        xytext=(0, 1 if below else 0),
        **where,
        ha=side,
        va="bottom" if below else "center",
        weight="bold" if x < 0 else "normal",
    )
    if below:
        axes.annotate(below, (x, place), xytext=(0, -1), **where, ha=side, va="top", fontsize=SMALL)


def _versus(pair: Pair) -> str:
    first = pair.larger_first()
    return say("{a} over {b}", a=first.a, b=first.b)


def _legend(band: SubFigure, plot: MarginPlot) -> None:
    care = margin(plot.margin, "ratio" if plot.ratio else "difference", plot.unit)
    handles = [
        Line2D([], [], color=INK, linewidth=1.6, label=plot.interval_name),
        Patch(
            facecolor=BAND,
            edgecolor=HATCH,
            hatch="///",
            label=say("smaller than {care}", care=care),
        ),
    ]
    band.legend(handles=handles, loc="center", ncols=2)


def _axis_title(plot: MarginPlot) -> str:
    if plot.ratio:
        return drawing.scale_named(
            say("{label}: how many times as much", label=plot.label), log=True
        )
    return (
        say("difference in {label} ({unit})", label=plot.label, unit=plot.unit)
        if plot.unit
        else say("difference in {label}", label=plot.label)
    )


def _alt(plot: MarginPlot) -> str:
    care = margin(plot.margin, "ratio" if plot.ratio else "difference", plot.unit)
    parts = [
        say(
            "Chart of the largest difference for each variable. Worth caring about: {care}.",
            care=care,
        )
    ]
    parts += [
        say(
            "{label}: {gap}, the data fit {fits}; {part}.",
            label=capital(row.label),
            gap=gap(row.pair),
            fits=fits(row.pair),
            part=row.told or say(row.verdict),
        )
        for row in plot.rows
    ]
    return " ".join(parts)


def _data(plot: MarginPlot) -> Table:
    unit = "" if plot.ratio else plot.unit
    columns = (
        Column("variable"),
        Column("version"),
        Column("over"),
        Column("ratio" if plot.ratio else "difference", unit=unit, kind="significant", digits=3),
        Column("from", unit=unit, kind="significant", digits=3),
        Column("to", unit=unit, kind="significant", digits=3),
        Column("verdict", kind="word"),
    )
    rows = tuple(
        (row.label, first.a, first.b, *_numbers(first), row.verdict)
        for row in plot.rows
        for first in (row.pair.larger_first(),)
    )
    notes = (say("From and to: {interval_name}.", interval_name=plot.interval_name),)
    return behind_figure(plot.name, plot.label, columns, rows, notes, heads=3)
