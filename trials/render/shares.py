"""Stacked bars of shares: of 100 repeats, how many end in which way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SIZE, SMALL, WIDTH, Axes, Patch, SubFigure
from trials.render.later import Drawing
from trials.render.marks import INK, MARKS, WHITE
from trials.render.table import Cell, Column, Table, behind_figure

_BAR = 0.3  # inches: height of a bar with the gap below it
_HEAD = 0.36  # title of a panel
_KEY = 0.5
_LEAST = 6.0  # of 100: narrower pieces carry no number
_LOOKS: Final = ((MARKS[0].fill, ""), (MARKS[1].colour, "////"), (WHITE, ""))


@dataclass(frozen=True)
class ShareBar:
    """One bar: its name, and its shares, 0 to 1, in the order of the endings."""

    label: str
    shares: tuple[float, ...]


@dataclass(frozen=True)
class SharePanel:
    """Bars under one heading."""

    title: str
    bars: tuple[ShareBar, ...]


@dataclass(frozen=True)
class SharePlot:
    """Panels of bars; ``endings`` name the pieces of every bar, three at most."""

    name: str
    endings: tuple[str, ...]
    panels: tuple[SharePanel, ...]
    counted: str  # what 100 of are shown: "classes"
    caption: str


def share_figure(plot: SharePlot) -> Figure:
    """Return the bars as a figure, panel below panel."""
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def _drawn(plot: SharePlot) -> drawing.Canvas:
    heights = [_HEAD + _BAR * len(panel.bars) for panel in plot.panels]
    canvas = drawing.new_canvas(sum(heights) + _KEY)
    key, *bands = drawing.bands(canvas, [_KEY, *heights])
    _legend(key, plot)
    for band, panel in zip(bands, plot.panels, strict=True):
        (axes,) = drawing.panels(band, [1.0])
        _panel(axes, panel)
    return canvas


def _panel(axes: Axes, panel: SharePanel) -> None:
    for row, bar in enumerate(panel.bars):
        start = 0.0
        for share, (fill, hatch) in zip(bar.shares, _LOOKS, strict=False):
            width = 100 * share
            drawing.tile(
                axes,
                (start, row + 0.12),
                (width, 0.76),
                facecolor=fill,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.6,
            )
            if width >= _LEAST:
                axes.text(
                    start + width / 2,
                    row + 0.5,
                    f"{width:.0f}",
                    ha="center",
                    va="center",
                    fontsize=SIZE,
                    fontweight="bold",
                    path_effects=drawing.HALO,
                )
            start += width
    axes.set_xlim(0, 100)
    axes.set_ylim(len(panel.bars), 0)
    axes.set_yticks([row + 0.5 for row in range(len(panel.bars))])
    axes.set_yticklabels([drawing.wrapped(bar.label, WIDTH / 4, SMALL) for bar in panel.bars])
    axes.tick_params(axis="y", length=0)
    axes.set_title(panel.title)
    axes.set_xticks([])
    axes.spines["bottom"].set_visible(False)


def _legend(band: SubFigure, plot: SharePlot) -> None:
    handles = [
        Patch(facecolor=fill, hatch=hatch, edgecolor=INK, linewidth=0.6, label=label)
        for label, (fill, hatch) in zip(plot.endings, _LOOKS, strict=False)
    ]
    title = f"Of 100 {plot.counted}:"
    band.legend(handles=handles, loc="center", ncols=len(handles), title=title)


def _alt(plot: SharePlot) -> str:
    parts = [f"Bars of how many of 100 {plot.counted} end in which way."]
    for panel in plot.panels:
        for bar in panel.bars:
            told = ", ".join(
                f"{ending} {100 * share:.0f}"
                for ending, share in zip(plot.endings, bar.shares, strict=True)
            )
            parts.append(f"{panel.title}, {bar.label}: {told}.")
    return " ".join(parts)


def _data(plot: SharePlot) -> Table:
    columns = (
        Column("truth"),
        Column("class"),
        *(Column(e, unit=f"% of {plot.counted}", kind="percent") for e in plot.endings),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (panel.title, bar.label, *bar.shares) for panel in plot.panels for bar in panel.bars
    )
    return behind_figure(plot.name, "", columns, rows, heads=2)
