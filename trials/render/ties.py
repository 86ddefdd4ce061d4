"""The heat map of ties: how firmly every two columns of a plan hang together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SMALL, WIDTH, Axes, Patch, SubFigure
from trials.render.later import Drawing
from trials.render.marks import ACCENT, HATCH, QUIET, WHITE
from trials.render.table import Column, Table
from trials.words.numbers import count, number

_ROW = 0.36  # inches
_NAMES = 1.5  # inches for the names at the left
_FOOT = 0.75  # inches for the names below
_KEY = 0.35
_DARK = 0.75  # from here on white letters stand out more than black ones, 4.5 to 1 at the least
_BLACK = "#000000"


@dataclass(frozen=True)
class TieCell:
    """Two names with their tie, 0 to 1 (None: it can't be worked out), and whether it is meant."""

    first: str
    second: str
    tie: float | None
    meant: bool = False


@dataclass(frozen=True)
class TiePlot:
    """Ties between every two of ``names``; a pair that is in no cell is left blank."""

    name: str
    names: tuple[str, ...]
    cells: tuple[TieCell, ...]
    caption: str


def tie_figure(plot: TiePlot) -> Figure:
    """Return the heat map as a figure: the names from the second on down, to the last but one."""
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def _drawn(plot: TiePlot) -> drawing.Canvas:
    height = _ROW * (len(plot.names) - 1) + _FOOT
    canvas = drawing.new_canvas(height + _KEY)
    chart, key = drawing.bands(canvas, [height, _KEY])
    (axes,) = drawing.panels(chart, [1.0])
    place = {name: at for at, name in enumerate(plot.names)}
    for cell in plot.cells:
        low, high = sorted((place[cell.first], place[cell.second]))
        _cell(axes, cell, low, high - 1)
    _frame(axes, plot.names)
    _legend(key)
    return canvas


def shade(value: float) -> str:
    """Return the colour of a tie: white at 0, the house's dark blue at 1.

    Examples
    --------
    >>> shade(0.0), shade(1.0)
    ('#ffffff', '#1d4e66')
    """
    light, dark = ([int(colour[at : at + 2], 16) for at in (1, 3, 5)] for colour in (WHITE, ACCENT))
    mixed = [round(a + (b - a) * value) for a, b in zip(light, dark, strict=True)]
    return "#" + "".join(f"{part:02x}" for part in mixed)


def _cell(axes: Axes, cell: TieCell, column: int, row: int) -> None:
    fill = WHITE if cell.tie is None or cell.meant else shade(cell.tie)
    drawing.tile(
        axes,
        (column + 0.03, row + 0.05),
        (0.94, 0.9),
        facecolor=fill,
        edgecolor=HATCH,
        hatch="////" if cell.meant else "",
        linewidth=0.7,
    )
    axes.text(
        column + 0.5,
        row + 0.5,
        _shown(cell.tie),
        ha="center",
        va="center",
        fontsize=SMALL,
        color=WHITE if not cell.meant and (cell.tie or 0.0) >= _DARK else _BLACK,
        path_effects=drawing.HALO if cell.meant else None,
    )


def _shown(tie: float | None) -> str:
    return "–" if tie is None else number(tie, 2)


def _frame(axes: Axes, names: Sequence[str]) -> None:
    n = len(names) - 1
    slot = (WIDTH - _NAMES - 0.3) / max(n, 1)
    axes.set_xlim(0, n)
    axes.set_ylim(n, 0)
    axes.set_yticks([row + 0.5 for row in range(n)])
    axes.set_yticklabels([drawing.wrapped(name, _NAMES, SMALL) for name in names[1:]],
                         fontsize=SMALL)  # fmt: skip
    axes.set_xticks([column + 0.5 for column in range(n)])
    axes.set_xticklabels([drawing.wrapped(name, slot, SMALL) for name in names[:-1]],
                         fontsize=SMALL)  # fmt: skip
    axes.tick_params(length=0)
    for spine in axes.spines.values():
        spine.set_visible(False)


def _legend(band: SubFigure) -> None:
    handles = [
        Patch(facecolor=shade(value), edgecolor=QUIET, label=label)
        for value, label in (
            (0.0, "0: spread evenly"),
            (0.5, "0.5"),
            (1.0, "1: one tells the other"),
        )
    ]
    handles.append(Patch(facecolor=WHITE, edgecolor=HATCH, hatch="////", label="tied on purpose"))
    band.legend(handles=handles, loc="center", ncols=4)


def _alt(plot: TiePlot) -> str:
    known = [cell for cell in plot.cells if cell.tie is not None and not cell.meant]
    parts = [f"Table of shades: how firmly {len(plot.names)} things are tied, 0 to 1."]
    tied = sorted((c for c in known if (c.tie or 0.0) >= 0.005), key=lambda c: -(c.tie or 0.0))
    parts += [f"{cell.first} with {cell.second}: {_shown(cell.tie)}." for cell in tied]
    loose = len(known) - len(tied)
    if loose:
        parts.append(f"{count(loose, 'pair')}: 0.")
    meant = [f"{cell.first} with {cell.second}" for cell in plot.cells if cell.meant]
    if meant:
        parts.append(f"Tied on purpose: {', '.join(meant)}.")
    return " ".join(parts)


def _data(plot: TiePlot) -> Table:
    columns = (
        Column("first"),
        Column("second"),
        Column("tie", kind="number", decimals=3),
        Column("meant", "tied on purpose"),
    )
    rows = tuple(
        (cell.first, cell.second, cell.tie, "yes" if cell.meant else "no") for cell in plot.cells
    )
    notes = ("Tie: Cramér's V, 0 (spread evenly) to 1 (one tells the other).",)
    return Table(plot.name, "How firmly every two things are tied", columns, rows, notes, 2)
