"""The picture of a layout: every item a seat, by its groups, once for each variable."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from trials.render import drawing
from trials.render.blocks import Figure
from trials.render.drawing import SMALL, WIDTH, Axes, Canvas
from trials.render.later import Drawing
from trials.render.marks import HATCHES, INK, QUIET, mark
from trials.render.table import Column, Table
from trials.words.numbers import capital, count, plural

_TILE = 0.27  # inches: height of a seat
_GAP = 0.35  # of a seat, between blocks of rows
_WIDEST = 0.62  # inches: width of a seat
_NARROW = 0.3  # inches: seats narrower than this are not set two panels abreast
_KEY = 0.3  # inches: one line of the key


@dataclass(frozen=True)
class Seat:
    """One item: its row, its column, and its place where several share both."""

    item: str
    row: int
    column: int = 0
    place: int = 0


@dataclass(frozen=True)
class SeatRow:
    """One line of seats, and the block of lines it belongs to ("" without blocks)."""

    label: str
    block: str = ""


@dataclass(frozen=True)
class SeatPanel:
    """One variable: its versions, and which of them each seat has (places in ``versions``)."""

    label: str
    versions: tuple[str, ...]
    of_seat: tuple[int, ...]


@dataclass(frozen=True)
class SeatPlot:
    """A layout: rows and columns are the members of two groups, and each variable has a panel.

    ``row_name``, ``column_name`` and ``block_name`` say what these are ("firing", "team",
    "session"); "" where there are none. ``item`` is what a seat holds.
    """

    name: str
    item: str
    row_name: str
    column_name: str
    block_name: str
    rows: tuple[SeatRow, ...]
    columns: tuple[str, ...]
    seats: tuple[Seat, ...]
    panels: tuple[SeatPanel, ...]
    caption: str

    @property
    def places(self) -> int:
        """Most items that share a row and a column."""
        return 1 + max((seat.place for seat in self.seats), default=0)


def seat_figure(plot: SeatPlot) -> Figure:
    """Return the picture of a layout as a figure."""
    return Figure(plot.name, Drawing(_drawn, plot), _alt(plot), plot.caption, _data(plot))


def letters(versions: Sequence[str]) -> tuple[str, ...]:
    """Return a short sign for each version: its start as far as needed, or a short number whole.

    Examples
    --------
    >>> letters(["hibiscus", "red cabbage", "beetroot"]), letters(["10\xa0min", "40\xa0min"])
    (('H', 'R', 'B'), ('10', '40'))
    >>> letters(["oven at 450", "oven at 500"]), letters(["tea", "Team", "t"])
    (('A', 'B'), ('A', 'B', 'C'))
    """
    numbers = [re.match(r"[\d.,]{1,4}(?![\d.,])", version) for version in versions]
    signs = tuple(number[0] for number in numbers if number)
    if len(set(signs)) == len(versions):
        return signs
    for length in (1, 2, 3):
        signs = tuple(version[:length].capitalize() for version in versions)
        if len(set(signs)) == len(signs) and all(sign.isalnum() for sign in signs):
            return signs
    return tuple(chr(ord("A") + place % 26) + "'" * (place // 26) for place in range(len(versions)))


@dataclass(frozen=True)
class _Grid:
    """Where everything of a panel stands: in seats from its upper left seat, ``slot`` in inches.

    ``names`` is the room at the left for the names of rows and blocks, ``keys`` the lines of the
    key that the panels side by side need.
    """

    tops: tuple[float, ...]
    across: int
    slot: float
    names: float
    keys: int

    @property
    def bottom(self) -> float:
        return self.tops[-1] + 1.0


def _drawn(plot: SeatPlot) -> Canvas:
    across = len(plot.columns) * plot.places
    room = (WIDTH / 2 - _names_width(plot)) / across
    abreast = 2 if room >= _NARROW and len(plot.panels) > 1 else 1
    lines = [plot.panels[at : at + abreast] for at in range(0, len(plot.panels), abreast)]
    wide = WIDTH / abreast - 0.25
    grids = [_grid(plot, line, wide) for line in lines]
    heights = [_height(plot, grid) for grid in grids]
    canvas = drawing.new_canvas(sum(heights))
    for band, line, grid in zip(drawing.bands(canvas, heights), lines, grids, strict=True):
        spots = drawing.panels(band, [1.0] * abreast)
        for axes, panel in zip(spots, line, strict=False):
            _panel(axes, plot, panel, grid, wide)
        for axes in spots[len(line) :]:
            axes.set_axis_off()
    return canvas


def _names_width(plot: SeatPlot) -> float:
    """Return the inches that the names of rows and blocks take up."""
    longest = max(len(row.label) for row in plot.rows)
    if plot.row_name:
        longest = max(longest, len(plot.row_name))
    return (0.08 * longest + 0.1 if longest else 0.0) + (0.25 if plot.block_name else 0.0)


def _grid(plot: SeatPlot, line: Sequence[SeatPanel], wide: float) -> _Grid:
    """Return the places of a line of panels, with a gap between rows where a block begins."""
    tops = []
    top = 0.0
    for place, row in enumerate(plot.rows):
        if place and row.block != plot.rows[place - 1].block:
            top += _GAP
        tops.append(top)
        top += 1.0
    across = len(plot.columns) * plot.places
    names = _names_width(plot)
    slot = min((wide - names) / across, _WIDEST)
    keys = max(len(_key_lines(panel, wide)) for panel in line)
    return _Grid(tuple(tops), across, slot, names / slot, keys)


def _above(plot: SeatPlot) -> float:
    """Return the room above the seats for the names of columns, in seats."""
    return 0.85 if plot.column_name or plot.row_name else 0.1


def _height(plot: SeatPlot, grid: _Grid) -> float:
    return _TILE * (_above(plot) + grid.bottom + 0.35) + _KEY * grid.keys + 0.35


def _panel(axes: Axes, plot: SeatPlot, panel: SeatPanel, grid: _Grid, wide: float) -> None:
    signs = letters(panel.versions)
    for seat, version in zip(plot.seats, panel.of_seat, strict=True):
        left = seat.column * plot.places + seat.place
        _seat(axes, (left, grid.tops[seat.row]), signs[version], version, grid.slot)
    axes.set_xlim(-grid.names, wide / grid.slot - grid.names)
    axes.set_ylim(grid.bottom + 0.35 + grid.keys * _KEY / _TILE, -_above(plot))
    axes.set_axis_off()
    axes.set_title(capital(panel.label), x=0.0, pad=4)
    _names(axes, plot, grid)
    for place, line in enumerate(_key_lines(panel, wide)):
        y = grid.bottom + 0.35 + place * _KEY / _TILE
        _key(axes, panel, line, (-grid.names, y), grid.slot)


def _seat(axes: Axes, corner: tuple[float, float], sign: str, version: int, slot: float) -> None:
    look = mark(version)
    hatch = HATCHES[version % len(HATCHES)]
    drawing.tile(
        axes,
        (corner[0] + 0.04, corner[1] + 0.06),
        (0.92, 0.88),
        facecolor=look.fill,
        edgecolor=look.colour,
        hatch=hatch,
        linewidth=0.7,
    )
    wide = 0.085 * len(sign) + 0.06  # inches
    if wide > slot:
        return
    middle = (corner[0] + 0.5, corner[1] + 0.5)
    if hatch:  # a plain patch, so that the sign can be read
        size = (wide / slot, 0.62)
        edge = (middle[0] - size[0] / 2, middle[1] - size[1] / 2)
        drawing.tile(axes, edge, size, facecolor=look.fill, linewidth=0)
    axes.text(
        *middle, sign, ha="center", va="center_baseline", fontsize=SMALL, color=INK, weight="bold"
    )


def _names(axes: Axes, plot: SeatPlot, grid: _Grid) -> None:
    small: dict[str, Any] = {"fontsize": 7.0, "color": QUIET}
    for row, top in zip(plot.rows, grid.tops, strict=True):
        if row.label:
            axes.text(-0.15, top + 0.5, row.label, ha="right", va="center", fontsize=SMALL)
    if plot.row_name:
        axes.text(-0.15, -0.12, plot.row_name, ha="right", va="bottom", style="italic", **small)
    for block in dict.fromkeys(row.block for row in plot.rows if row.block):
        tops = [top for row, top in zip(plot.rows, grid.tops, strict=True) if row.block == block]
        middle = (tops[0] + tops[-1] + 1) / 2
        name = f"{plot.block_name} {block}"
        if 0.06 * len(name) > _TILE * len(tops):
            name = block
        axes.text(-grid.names, middle, name, rotation=90, ha="left", va="center", **small)
    room = grid.slot * plot.places
    for place, name in enumerate(plot.columns):
        if name:
            cut = name if len(name) * 0.062 <= room else name[: max(int(room / 0.062), 1)]
            axes.text((place + 0.5) * plot.places, -0.12, cut, ha="center", va="bottom", **small)


def _key_lines(panel: SeatPanel, wide: float) -> list[list[int]]:
    """Return the versions of each line of the key, as many as fit beside each other."""
    lines: list[list[int]] = [[]]
    taken = 0.0
    for place, version in enumerate(panel.versions):
        need = _key_width(version) + 0.2
        if lines[-1] and taken + need > wide:
            lines.append([])
            taken = 0.0
        lines[-1].append(place)
        taken += need
    return lines


def _key_width(version: str) -> float:
    return 0.5 + 0.07 * len(version)


def _key(
    axes: Axes, panel: SeatPanel, line: Sequence[int], start: tuple[float, float], slot: float
) -> None:
    x, y = start
    signs = letters(panel.versions)
    width = 0.3 / slot  # of a seat in the key, in seats
    for place in line:
        look = mark(place)
        drawing.tile(
            axes,
            (x, y + 0.06),
            (width, 0.88),
            facecolor=look.fill,
            edgecolor=look.colour,
            hatch=HATCHES[place % len(HATCHES)],
            linewidth=0.7,
        )
        text = panel.versions[place]
        if not text.startswith(signs[place]) or not signs[place][0].isdigit():
            text = f"{signs[place]}: {text}"
        axes.text(x + width + 0.07 / slot, y + 0.5, text, va="center", fontsize=SMALL)
        x += _key_width(text) / slot


def _alt(plot: SeatPlot) -> str:
    shape = f"{count(len(plot.rows), plot.row_name or 'line')}"
    if plot.column_name:
        shape += f" by {count(len(plot.columns), plot.column_name)}"
    parts = [f"Layout of {count(len(plot.seats), plot.item)}, {shape}."]
    for panel in plot.panels:
        sums = Counter(panel.of_seat)
        told = ", ".join(
            f"{version} on {count(sums[place], plot.item)}"
            for place, version in enumerate(panel.versions)
        )
        parts.append(f"{capital(panel.label)}: {told}; {_spread_told(plot, panel)}.")
    return " ".join(parts)


def _spread_told(plot: SeatPlot, panel: SeatPanel) -> str:
    told = []
    if plot.row_name and len(plot.rows) > 1:
        told.append(_each(plot.row_name, panel, [seat.row for seat in plot.seats]))
    if plot.column_name and len(plot.columns) > 1:
        told.append(_each(plot.column_name, panel, [seat.column for seat in plot.seats]))
    return " and ".join(told) or "in one line"


def _each(name: str, panel: SeatPanel, members: Sequence[int]) -> str:
    """Return how often the versions come in each member of a group, from fewest to most."""
    table = Counter(zip(members, panel.of_seat, strict=True))
    counts = [table[m, v] for m in sorted(set(members)) for v in range(len(panel.versions))]
    low, high = min(counts), max(counts)
    if low == high:
        return f"each {name} has {low} of each"
    alone = len(members) and all(
        sum(table[m, v] > 0 for v in range(len(panel.versions))) == 1 for m in set(members)
    )
    if alone:
        return f"each {name} has one version only"
    return f"each {name} has {low} to {high} of each"


def _data(plot: SeatPlot) -> Table:
    columns = (
        Column("item", plot.item),
        *_headed("block", plot.block_name),
        *_headed("row", plot.row_name),
        *_headed("column", plot.column_name),
        *(Column(panel.label) for panel in plot.panels),
    )
    return Table(
        plot.name,
        f"The layout: {plural(plot.item)} and their versions",
        columns,
        tuple(tuple(_cells(plot, place)) for place in range(len(plot.seats))),
    )


def _headed(name: str, title: str) -> tuple[Column, ...]:
    return (Column(name, title),) if title else ()


def _cells(plot: SeatPlot, place: int) -> Iterator[str]:
    seat = plot.seats[place]
    yield seat.item
    if plot.block_name:
        yield plot.rows[seat.row].block
    if plot.row_name:
        yield plot.rows[seat.row].label
    if plot.column_name:
        yield plot.columns[seat.column]
    for panel in plot.panels:
        yield panel.versions[panel.of_seat[place]]
