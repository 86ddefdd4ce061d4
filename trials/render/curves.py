"""The curve of sizes: how likely something is seen, against how many are made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SMALL, WIDTH, Axes, Line2D, SubFigure
from trials.render.later import Drawing
from trials.render.marks import INK, QUIET, mark
from trials.render.table import Column, Table, behind_figure
from trials.words.numbers import percent

_PANEL = 2.5  # inches
_KEY = 0.55
_ACROSS = 2  # panels side by side


@dataclass(frozen=True)
class CurveLine:
    """One chance at every size of its panel, 0 to 1; None where it can't be worked out."""

    label: str
    chances: tuple[float | None, ...]


@dataclass(frozen=True)
class CurvePanel:
    """The chances for one variable; ``now`` is the size of the present plan."""

    title: str
    across: str  # what the sizes count
    sizes: tuple[float, ...]
    now: float | None
    lines: tuple[CurveLine, ...]


@dataclass(frozen=True)
class CurvePlot:
    """Panels with the same lines; ``wanted`` is the chance that counts as enough."""

    name: str
    panels: tuple[CurvePanel, ...]
    wanted: float
    caption: str


def curve_figure(plot: CurvePlot) -> Figure:
    """Return the curves as a figure, two panels side by side."""
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def _drawn(plot: CurvePlot) -> drawing.Canvas:
    rows = [plot.panels[at : at + _ACROSS] for at in range(0, len(plot.panels), _ACROSS)]
    canvas = drawing.new_canvas(_PANEL * len(rows) + _KEY)
    *bands, key = drawing.bands(canvas, [*(_PANEL for _ in rows), _KEY])
    for band, row in zip(bands, rows, strict=True):
        places = drawing.panels(band, [1.0] * min(_ACROSS, len(plot.panels)))
        for axes, panel in zip(places, row, strict=False):
            _panel(axes, panel, plot.wanted)
        for axes in places[len(row) :]:
            axes.set_axis_off()
    _legend(key, plot)
    return canvas


def _panel(axes: Axes, panel: CurvePanel, wanted: float) -> None:
    axes.axhline(100 * wanted, color=QUIET, linestyle=(0, (4, 3)), linewidth=1.0, zorder=1)
    if panel.now is not None:
        axes.axvline(panel.now, color=INK, linewidth=0.9, zorder=1)
        axes.annotate(
            "now",
            (panel.now, 0.63),
            xycoords=axes.get_xaxis_transform(),
            xytext=(3, 0),
            textcoords="offset points",
            fontsize=SMALL,
            path_effects=drawing.HALO,
            zorder=6,
        )
    for index, line in enumerate(panel.lines):
        known = [
            (size, 100 * chance)
            for size, chance in zip(panel.sizes, line.chances, strict=True)
            if chance is not None
        ]
        axes.plot([x for x, _ in known], [y for _, y in known], **_look(index), zorder=4)
    drawing.value_axis(axes, "x", (min(panel.sizes), max(panel.sizes)), ratio=True)
    drawing.value_axis(axes, "y", (0.0, 100.0), ratio=False)
    axes.set_title(drawing.wrapped(panel.title, WIDTH / _ACROSS - 0.8))
    axes.set_xlabel(drawing.wrapped(drawing.scale_named(panel.across, log=True), WIDTH / _ACROSS))
    axes.set_ylabel("of 100 repeats")


def _look(index: int) -> dict[str, Any]:
    look = mark(index)
    return {
        "color": look.colour,
        "linestyle": look.dash,
        "linewidth": 1.5,
        "marker": look.shape,
        "markersize": 4.5,
        "markerfacecolor": look.fill,
        "markeredgecolor": look.colour,
    }


def _legend(band: SubFigure, plot: CurvePlot) -> None:
    handles = [
        Line2D([], [], **_look(index), label=line.label)
        for index, line in enumerate(plot.panels[0].lines)
    ]
    handles.append(
        Line2D([], [], color=QUIET, linestyle=(0, (4, 3)), label=f"{percent(plot.wanted)}: enough")
    )
    band.legend(handles=handles, loc="center", ncols=2)


def _alt(plot: CurvePlot) -> str:
    parts = ["Curves of how likely a difference is seen, against how many are made."]
    for panel in plot.panels:
        for line in panel.lines:
            told = ", ".join(
                f"{size:g}: {percent(chance)}"
                for size, chance in zip(panel.sizes, line.chances, strict=True)
                if chance is not None
            )
            parts.append(f"{panel.title}, {line.label}, by {panel.across}: {told or 'unknown'}.")
    return " ".join(parts)


def _data(plot: CurvePlot) -> Table:
    columns = (
        Column("variable"),
        Column("counted"),
        Column("size", kind="significant", digits=4),
        *(Column(line.label, unit="% of repeats", kind="percent") for line in plot.panels[0].lines),
    )
    rows = tuple(
        (panel.title, panel.across, size, *(line.chances[place] for line in panel.lines))
        for panel in plot.panels
        for place, size in enumerate(panel.sizes)
    )
    return behind_figure(plot.name, "", columns, rows, heads=3)
