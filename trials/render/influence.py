"""The influence figure: how far a difference moves when one thing is left out, and the margin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SMALL, Axes, Line2D, Patch, SubFigure
from trials.render.later import Drawing
from trials.render.marks import ACCENT, BAND, HATCH, INK, QUIET
from trials.render.table import Column, Table, behind_figure
from trials.words.comparing import Scale, margin
from trials.words.language import say
from trials.words.numbers import capital, significant

_LINE = 0.24  # inches
_HEAD = 0.36  # inches, of the line that names a variable
_NAMES = 1.9
_ENDS = 1.7


@dataclass(frozen=True)
class Reach:
    """The lowest and highest difference with one of a kind left out, and without which each is."""

    kind: str
    lowest: float
    lowest_without: str
    highest: float
    highest_without: str


@dataclass(frozen=True)
class InfluenceRow:
    """One variable: its pair of versions ("oven over burner"), the difference, and its reaches."""

    label: str
    pair: str
    estimate: float
    reaches: tuple[Reach, ...]


@dataclass(frozen=True)
class InfluencePlot:
    """Differences in ``unit``, or ratios, with one thing left out; ``margin`` None: not drawn."""

    name: str
    label: str
    unit: str
    scale: Scale
    margin: float | None
    rows: tuple[InfluenceRow, ...]
    caption: str


def influence_figure(plot: InfluencePlot) -> Figure:
    """Return the influence figure, a block of lines for each variable."""
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def _drawn(plot: InfluencePlot) -> drawing.Canvas:
    lines = sum(len(row.reaches) for row in plot.rows)
    height = 0.75 + _HEAD * len(plot.rows) + _LINE * lines
    canvas = drawing.new_canvas(height + 0.35)
    chart, key = drawing.bands(canvas, [height, 0.35])
    (axes,) = drawing.panels(chart, [1.0])
    drawing.value_axis(axes, "x", _ends(plot), ratio=plot.scale == "ratio")
    _margin(axes, plot)
    at = 0.0
    for row in plot.rows:
        at = _row(axes, row, at)
    axes.set_yticks([])
    axes.set_ylim(at, -0.1)
    axes.grid(False, axis="y")
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(drawing.wrapped(_title(plot), 5.2))
    _legend(key, plot)
    return canvas


def _zero(plot: InfluencePlot) -> float:
    return 1.0 if plot.scale == "ratio" else 0.0


def _band(plot: InfluencePlot) -> tuple[float, float]:
    if plot.margin is None:
        return _zero(plot), _zero(plot)
    return (1 / plot.margin, plot.margin) if plot.scale == "ratio" else (-plot.margin, plot.margin)


def _ends(plot: InfluencePlot) -> tuple[float, float]:
    values = list(_band(plot))
    for row in plot.rows:
        values += [row.estimate, *(x for r in row.reaches for x in (r.lowest, r.highest))]
    low, high = min(values), max(values)
    return (low, high) if low < high else (low - 1.0, high + 1.0)


def _margin(axes: Axes, plot: InfluencePlot) -> None:
    low, high = _band(plot)
    if low < high:
        axes.axvspan(low, high, facecolor=BAND, edgecolor=HATCH, hatch="///", linewidth=0, zorder=0)
        for edge in (low, high):
            axes.axvline(edge, color=QUIET, linestyle=(0, (4, 3)), linewidth=1.0, zorder=1)
    axes.axvline(_zero(plot), color=INK, linewidth=1.0, zorder=1)


def _row(axes: Axes, row: InfluenceRow, at: float) -> float:
    """Draw one variable from ``at`` (inches) down; return where the next begins."""
    where: dict[str, Any] = {"xycoords": axes.get_yaxis_transform(), "va": "center"}
    axes.annotate(
        drawing.wrapped(row.label, _NAMES), (-0.02, at + _HEAD * 0.55), ha="right", weight="bold",
        **where,
    )  # fmt: skip
    axes.annotate(row.pair, (0.01, at + _HEAD * 0.55), ha="left", fontsize=SMALL,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5}, zorder=6,
                  **where)  # fmt: skip
    at += _HEAD
    for reach in row.reaches:
        y = at + _LINE / 2
        axes.plot([reach.lowest, reach.highest], [y, y], color=INK, linewidth=1.6, zorder=4)
        axes.plot(
            [reach.lowest, reach.highest], [y, y], **drawing.dash(11, 1.6, "|"), color=INK, zorder=4
        )
        axes.plot(
            [row.estimate], [y], linestyle="", marker="D", markersize=4.5, markerfacecolor=ACCENT,
            markeredgecolor=ACCENT, zorder=5,
        )  # fmt: skip
        axes.annotate(
            say("without one {kind}", kind=reach.kind),
            (-0.02, y),
            ha="right",
            fontsize=SMALL,
            **where,
        )
        told = f"{reach.lowest_without} … {reach.highest_without}"
        axes.annotate(
            drawing.wrapped(told, _ENDS, SMALL), (1.02, y), ha="left", fontsize=SMALL, **where
        )
        at += _LINE
    return at


def _legend(band: SubFigure, plot: InfluencePlot) -> None:
    handles: list[Any] = [
        Line2D(
            [],
            [],
            color=ACCENT,
            linestyle="",
            marker="D",
            markersize=5,
            label=say("nothing left out"),
        ),
        Line2D([], [], color=INK, linewidth=1.6, label=say("lowest … highest with one left out")),
    ]
    if plot.margin is not None:
        care = margin(plot.margin, plot.scale, plot.unit)
        handles.append(
            Patch(
                facecolor=BAND,
                edgecolor=HATCH,
                hatch="///",
                label=say("smaller than {care}", care=care),
            )
        )
    band.legend(handles=handles, loc="center", ncols=len(handles))


def _title(plot: InfluencePlot) -> str:
    if plot.scale == "ratio":
        return drawing.scale_named(
            say("{label}: how many times as much", label=plot.label), log=True
        )
    unit = f" ({plot.unit})" if plot.unit else ""
    return say("difference in {label}{unit}", label=plot.label, unit=unit)


def _alt(plot: InfluencePlot) -> str:
    parts = [
        say(
            "Chart of how far the differences in {label} move when one thing is left out.",
            label=plot.label,
        )
    ]
    for row in plot.rows:
        told = "; ".join(
            say(
                "without one {kind} from {lowest} ({lowest_without}) to "
                "{highest} ({highest_without})",
                kind=r.kind,
                lowest=significant(r.lowest),
                lowest_without=r.lowest_without,
                highest=significant(r.highest),
                highest_without=r.highest_without,
            )
            for r in row.reaches
        )
        parts.append(f"{capital(row.label)}, {row.pair}, {significant(row.estimate)}: {told}.")
    return " ".join(parts)


def _data(plot: InfluencePlot) -> Table:
    unit = "" if plot.scale == "ratio" else plot.unit
    columns = (
        Column("variable"),
        Column("versions"),
        Column("left out", say("one left out")),
        Column("all", say("nothing left out"), unit, "significant", 3),
        Column("lowest", unit=unit, kind="significant", digits=3),
        Column("lowest without"),
        Column("highest", unit=unit, kind="significant", digits=3),
        Column("highest without"),
    )
    rows = tuple(
        (
            row.label, row.pair, r.kind, row.estimate, r.lowest, r.lowest_without, r.highest,
            r.highest_without,
        )
        for row in plot.rows
        for r in row.reaches
    )  # fmt: skip
    return behind_figure(plot.name, plot.label, columns, rows, heads=3)
