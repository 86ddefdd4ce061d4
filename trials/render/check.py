"""The check figure: what the fitted model leaves over, against the values it expects."""

from __future__ import annotations

from dataclasses import dataclass

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import Axes
from trials.render.marks import INK, mark
from trials.render.table import Column, Table
from trials.words.numbers import number, significant

_HEIGHT = 2.9  # inches


@dataclass(frozen=True)
class CheckDot:
    """One item: fitted value and residual."""

    item: str
    fitted: float
    residual: float


@dataclass(frozen=True)
class CheckPlot:
    """Residuals in ``residual_unit`` against the fitted values."""

    name: str
    label: str
    unit: str
    residual_unit: str
    dots: tuple[CheckDot, ...]
    caption: str


def check_figure(plot: CheckPlot) -> Figure:
    """Return the check figure."""
    with drawing.house_style():
        canvas = drawing.new_canvas(_HEIGHT)
        (axes,) = drawing.panels(canvas, [1.0])
        ends = _around_zero([dot.residual for dot in plot.dots])
        _scatter(axes, [dot.fitted for dot in plot.dots], plot.dots, ends)
        axes.set_xlabel(f"fitted value ({plot.unit})" if plot.unit else "fitted value")
        unit = f" ({plot.residual_unit})" if plot.residual_unit else ""
        axes.set_ylabel(f"residual{unit}")
        svg, png = drawing.finished(canvas)
    return Figure(plot.name, svg, png, _alt(plot), plot.caption, _data(plot))


def _around_zero(values: list[float]) -> tuple[float, float]:
    widest = max((abs(x) for x in values), default=0.0) or 1.0
    return -widest, widest


def _scatter(
    axes: Axes, across: list[float], dots: list[CheckDot] | tuple[CheckDot, ...],
    ends: tuple[float, float],
) -> None:  # fmt: skip
    look = mark(0)
    axes.plot(
        across,
        [dot.residual for dot in dots],
        linestyle="",
        marker=look.shape,
        markersize=5,
        markerfacecolor=look.fill,
        markeredgecolor=look.colour,
        zorder=3,
    )
    low, high = (min(across), max(across)) if across else (0.0, 1.0)
    drawing.value_axis(axes, "x", (low, high) if low < high else (low - 1, high + 1), ratio=False)
    drawing.value_axis(axes, "y", ends, ratio=False)
    axes.axhline(0.0, color=INK, linewidth=1.0, zorder=2)


def _alt(plot: CheckPlot) -> str:
    text = f"Residuals of {plot.label}, one dot for each of {len(plot.dots)} items"
    if plot.dots:
        residuals = [dot.residual for dot in plot.dots]
        unit = f" {plot.residual_unit}" if plot.residual_unit else ""
        text += f", between {significant(min(residuals))} and {significant(max(residuals))}{unit}"
    above = sum(dot.residual > 0 for dot in plot.dots)
    return f"{text}; {number(above, 0)} lie above zero."


def _data(plot: CheckPlot) -> Table:
    columns = (
        Column("item"),
        Column("fitted", unit=plot.unit, kind="significant", digits=4),
        Column("residual", unit=plot.residual_unit, kind="significant", digits=4),
    )
    rows = tuple((dot.item, dot.fitted, dot.residual) for dot in plot.dots)
    return Table(plot.name, f"Numbers behind the figure: {plot.label}", columns, rows)
