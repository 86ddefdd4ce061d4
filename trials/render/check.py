"""The check figure: what the fitted model leaves over, against the values it expects."""

from __future__ import annotations

from dataclasses import dataclass

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.later import Drawing
from trials.render.marks import INK, mark
from trials.render.scatter import around_zero, scatter, span_axis
from trials.render.table import Column, Table, behind_figure
from trials.words.language import say
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
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def _drawn(plot: CheckPlot) -> drawing.Canvas:
    canvas = drawing.new_canvas(_HEIGHT)
    (axes,) = drawing.panels(canvas, [1.0])
    across, up = [dot.fitted for dot in plot.dots], [dot.residual for dot in plot.dots]
    scatter(axes, across, up, mark(0))
    span_axis(axes, across)
    drawing.value_axis(axes, "y", around_zero(up), ratio=False)
    axes.axhline(0.0, color=INK, linewidth=1.0, zorder=2)
    axes.set_xlabel(
        say("fitted value ({unit})", unit=plot.unit) if plot.unit else say("fitted value")
    )
    unit = f" ({plot.residual_unit})" if plot.residual_unit else ""
    axes.set_ylabel(say("residual{unit}", unit=unit))
    return canvas


def _alt(plot: CheckPlot) -> str:
    text = say(
        "Residuals of {label}, one dot for each of {n_dots} items",
        label=plot.label,
        n_dots=len(plot.dots),
    )
    if plot.dots:
        residuals = [dot.residual for dot in plot.dots]
        unit = f" {plot.residual_unit}" if plot.residual_unit else ""
        text += say(
            ", between {min} and {max}{unit}",
            min=significant(min(residuals)),
            max=significant(max(residuals)),
            unit=unit,
        )
    above = sum(dot.residual > 0 for dot in plot.dots)
    return say("{text}; {above} lie above zero.", text=text, above=number(above, 0))


def _data(plot: CheckPlot) -> Table:
    columns = (
        Column("item"),
        Column("fitted", unit=plot.unit, kind="significant", digits=4),
        Column("residual", unit=plot.residual_unit, kind="significant", digits=4),
    )
    rows = tuple((dot.item, dot.fitted, dot.residual) for dot in plot.dots)
    return behind_figure(plot.name, plot.label, columns, rows)
