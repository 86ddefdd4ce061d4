"""One typed door to matplotlib and seaborn: the only place that imports them.

Everything is drawn without a screen, with the fonts that come with matplotlib, letters as shapes,
and no date or random name inside, so that the same numbers give the same bytes.
"""

from __future__ import annotations

import io
import math
import re
import textwrap
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from types import MappingProxyType
from typing import Any, Final, Literal

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure as Canvas
from matplotlib.figure import SubFigure
from matplotlib.lines import Line2D
from matplotlib.markers import MarkerStyle
from matplotlib.patches import Patch, Rectangle
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator
from matplotlib.transforms import BboxBase, IdentityTransform

from trials.render.crowd import in_rows
from trials.render.marks import INK, QUIET, SIZE, SMALL, WHITE, WIDTH, Mark
from trials.steady import steadily
from trials.words.language import say
from trials.words.numbers import decimals_of, number

__all__ = [
    "DPI",
    "HALO",
    "SIZE",
    "SMALL",
    "WIDTH",
    "Axes",
    "Canvas",
    "Line2D",
    "Patch",
    "SubFigure",
    "bands",
    "bar",
    "dash",
    "dot_key",
    "finished",
    "house_style",
    "load",
    "new_canvas",
    "panels",
    "ratio_ticks",
    "scale_named",
    "swarm",
    "tick_labels",
    "tile",
    "too_wide",
    "value_axis",
    "wrapped",
]

DPI: Final = 200
_GAP: Final = 0.02  # of the canvas, between all bands together
_ASIDE: Final = 0.08  # inches free beside axes with all their text, and above and below them
_APART: Final = 3 / 72
_AROUND: Final = (0.5, 0.1, 0.3, 0.2)  # inches: a guess of what stands left, right, below, above
_FAIR: Final = 0.1  # a guess of a width or height that is no further off than this is a fair one
_MEASURED: Final = 3  # times, at the most
_RIM: Final = 0.9  # points: the edge of a dot
_SPREAD: Final = 0.8  # of the distance between versions: the room for dots side by side
_CROWD: Final = 60  # more dots than this are set in rows: side by side they would not all have room

# The picture names no address but the SVG name space, so that no reader fetches anything.
# What else is in it for no eye goes with that.
_UNSEEN: Final = (
    (re.compile(rb"<!DOCTYPE[^>]*>|<!--.*?-->", re.DOTALL), b""),
    (re.compile(rb"<g id=\"[\w.]+\""), b"<g"),
    (re.compile(rb"<g/>"), b""),
    (re.compile(rb"\s*\n\s*(?=[A-Zz\"<])"), b""),
)
# Marks in a row that look alike: how they look is told once, for all. Not where they are seen
# through: a group that is seen through hides what its marks cover of each other.
_ALIKE: Final = re.compile(
    rb"""(<g[^>]*)(>(?:<use [^>]*?(?P<look> style="(?:(?!opacity)[^"])*")/>)"""
    rb"""(?:<use [^>]*?(?P=look)/>)+</g>)"""
)
_LONG: Final = re.compile(rb"(?<!scale\()(?<![\w.#])-?\d+\.\d{4,}")

# A rim that keeps a number readable on top of dots.
HALO: Final[list[AbstractPathEffect]] = [withStroke(linewidth=2.5, foreground=WHITE)]

_STYLE: Final[Mapping[Any, Any]] = MappingProxyType({
    "font.family": "DejaVu Sans",
    "font.size": SIZE,
    "text.color": INK,
    "text.parse_math": False,  # a person's "$" is a dollar
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.labelsize": SIZE,
    "axes.titlesize": SIZE + 1,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titley": 1.0,  # said, it isn't searched for: nothing stands between it and the axes
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "axes.axisbelow": True,
    "grid.color": "#dde4e7",
    "grid.linewidth": 0.7,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": SIZE,
    "ytick.labelsize": SIZE,
    "legend.frameon": False,
    "legend.fontsize": SMALL,
    "svg.fonttype": "path",
    "svg.hashsalt": "trials",
    "savefig.facecolor": WHITE,
    "figure.facecolor": WHITE,
})  # fmt: skip


@contextmanager
def house_style() -> Iterator[None]:
    """Draw in the house style while the block runs."""
    with steadily(), mpl.rc_context(dict(_STYLE)), warnings.catch_warnings():
        # A letter without a shape is drawn as a box; the text beside the figure has it whole.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        # Crowded dots overlap rather than leave the place of their version.
        warnings.filterwarnings("ignore", message=".* of the points cannot be placed")
        yield


def new_canvas(height: float, width: float = WIDTH) -> Canvas:
    """Return an empty canvas of so many inches."""
    made = Canvas(figsize=(width, height), dpi=DPI)
    FigureCanvasAgg(made)
    return made


def bands(canvas: Canvas, heights: Sequence[float]) -> list[SubFigure]:
    """Return bands one below the other, with heights in these proportions."""
    n = len(heights)
    apart = _GAP / (1 - (n - 1) * _GAP / n)  # in heights of a band
    made: Any = canvas.subfigures(n, 1, height_ratios=list(heights), squeeze=False, hspace=apart)
    return [row[0] for row in made]


def panels(band: SubFigure | Canvas, widths: Sequence[float]) -> list[Axes]:
    """Return axes side by side in a band, with widths in these proportions."""
    made: Any = band.subplots(1, len(widths), width_ratios=list(widths), squeeze=False)
    return list(made[0])


def load() -> None:
    """Load now what is otherwise loaded when it is first needed."""
    import seaborn.categorical  # type: ignore[import-untyped]  # it ships no types  # noqa: F401


def finished(canvas: Canvas) -> bytes:
    """Return the canvas as SVG, everything in its place: the same bytes for the same drawing."""
    for band in canvas.subfigs or (canvas,):
        _fit(band)
    return vectors(canvas)


def _fit(band: SubFigure | Canvas) -> None:
    """Give the axes of a band all the room that what stands around them leaves.

    How far a text sticks out may depend a little on how large the axes are. So it is measured with
    a fair guess of that, and again only where the guess was far off.
    """
    axes = band.axes
    if not axes:
        return
    shape: Any = axes[0].get_subplotspec()
    ratios = shape.get_gridspec().get_width_ratios()
    around = [_AROUND] * len(axes)
    for _ in range(_MEASURED + 1):
        was = [(one.bbox.width, one.bbox.height) for one in axes]
        _place(axes, band.bbox, ratios, around)
        now = [(one.bbox.width, one.bbox.height) for one in axes]
        if around[0] is not _AROUND and np.allclose(was, now, rtol=_FAIR):
            return
        around = [_sticking_out(one) for one in axes]


def _sticking_out(axes: Axes) -> tuple[float, float, float, float]:
    """Return inches from the axes to the end of what stands left, right, below and above."""
    figure: Any = axes.get_figure(root=True)
    box, dpi = axes.bbox, figure.dpi
    ends: Any = axes.get_tightbbox(figure.canvas.get_renderer(), for_layout_only=True)
    far = (box.x0 - ends.x0, ends.x1 - box.x1, box.y0 - ends.y0, ends.y1 - box.y1)
    left, right, below, above = (max(inches / dpi, 0.0) for inches in far)
    return left, right, below, above


def _place(
    axes: Sequence[Axes],
    whole: BboxBase,
    ratios: Sequence[float],
    around: Sequence[tuple[float, float, float, float]],
) -> None:
    """Set axes side by side with widths in these proportions, and ``around`` inches free."""
    figure: Any = axes[0].get_figure(root=True)
    wide, high = whole.width / figure.dpi, whole.height / figure.dpi
    free = wide - sum(left + right + 2 * _ASIDE for left, right, _, _ in around)
    low = _APART + max(below for _, _, below, _ in around)
    top = high - _APART - max(above for _, _, _, above in around)
    if free <= 0 or top <= low:
        return  # too much text: they stay where they are, and it overlaps
    x = 0.0
    for one, ratio, (left, right, _, _) in zip(axes, ratios, around, strict=True):
        x += left + _ASIDE
        width = free * ratio / sum(ratios)
        one.set_position((x / wide, low / high, width / wide, (top - low) / high))
        x += width + right + _ASIDE


def vectors(canvas: Canvas) -> bytes:
    """Return a canvas on which everything has its place as SVG."""
    svg = io.BytesIO()
    silent: Any = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    canvas.savefig(svg, format="svg", metadata=silent)
    return _short(svg.getvalue())


def _short(svg: bytes) -> bytes:
    """Return a picture without what nobody sees: half of what matplotlib writes.

    Places are told to a thousandth of a point (0.4 micrometres on paper). Remarks, names of groups
    that nothing refers to, groups with nothing in them, and the space between marks are left out;
    the look of a row of marks is told once.
    """
    for pattern, instead in _UNSEEN:
        svg = pattern.sub(instead, svg)
    svg = _ALIKE.sub(lambda row: row[1] + row["look"] + row[2].replace(row["look"], b""), svg)
    return _LONG.sub(lambda found: b"%.3f" % float(found[0]), svg)


class _Swarm(PathCollection):
    """Dots beside each other: where they stand is known when the axes have their size."""

    def __init__(
        self,
        axes: Axes,
        column: tuple[float, float, float],
        values: Sequence[float],
        mark: Mark,
        size: float,
        *,
        clear: float,
    ) -> None:
        shape = MarkerStyle(mark.shape)
        super().__init__(
            [shape.get_path().transformed(shape.get_transform())],
            [size**2],
            offsets=[(column[0], value) for value in values],
            offset_transform=axes.transData,
            facecolors=mark.fill,
            edgecolors=mark.colour,
            linewidths=_RIM,
            zorder=2,
        )
        self.set_transform(IdentityTransform())
        self._column, self._values, self._wide = column, values, size + _RIM
        self._clear = clear

    def draw(self, renderer: RendererBase) -> None:
        """Set the dots side by side and draw them."""
        if len(self._values) > _CROWD:
            self._set_in_rows()
        elif len(self._values) > 1:
            from seaborn.categorical import Beeswarm

            Beeswarm(width=_SPREAD)(self, self._column[0])
            self._keep_within()
        super().draw(renderer)

    def _keep_within(self) -> None:
        """Move dots that would reach what stands beside them; closer together where need be."""
        middle, left, right = self._room()
        places: Any = self.get_offsets()
        aside = places[:, 0] - middle
        first, last = float(aside.min()), float(aside.max())
        if first >= -left and last <= right:
            return
        closer = min(1.0, (left + right) / (last - first))
        first, last = first * closer, last * closer
        places[:, 0] = middle + aside * closer + min(0.0, right - last) + max(0.0, -left - first)
        self.set_offsets(places)

    def _room(self) -> tuple[float, float, float]:
        """Return the middle and how far to either side the middle of a dot may stand."""
        axes: Any = self.axes
        middle, left, right = self._column
        (start, _), (end, _) = axes.transData.transform([(0, 1), (1, 1)]).tolist()
        clear = self._clear * axes.figure.dpi / 72 / (end - start)
        return middle, max(left - clear, left / 4), max(right - clear, right / 4)

    def _set_in_rows(self) -> None:
        axes: Any = self.axes
        middle, left, right = self._room()
        data = [
            (middle + min(left, right), self._values[0]),
            *((middle, value) for value in self._values),
        ]
        edge, *places = axes.transData.transform(data).tolist()
        wide = self._wide * axes.figure.dpi / 72
        aside = in_rows([y for _, y in places], wide, edge[0] - places[0][0])
        places = [(x + more, y) for (x, y), more in zip(places, aside, strict=True)]
        self.set_offsets(axes.transData.inverted().transform(places))


def swarm(
    axes: Axes,
    column: tuple[float, float, float],
    values: Sequence[float],
    mark: Mark,
    size: float,
    *,
    clear: float = 0.0,
) -> None:
    """Draw one dot a value, side by side where they would cover each other.

    ``column``: the middle, and how far to the left and right of it dots may stand, in units of the
    axis, less ``clear`` points; where there is too little room they cover each other. The ends of
    both axes are to be set as well: they don't follow the dots.
    """
    if values:
        axes.add_collection(_Swarm(axes, column, values, mark, size, clear=clear), autolim=False)


def dot_key(mark: Mark, label: str) -> Line2D:
    """Return the entry of a key that explains a dot."""
    return Line2D(
        [], [], linestyle="", marker=mark.shape, markersize=5, markerfacecolor=mark.fill,
        markeredgecolor=mark.colour, label=label,
    )  # fmt: skip


def dash(length: float, thickness: float, shape: str = "_") -> dict[str, Any]:
    """Return the look of a dash (``"_"`` or ``"|"``) so many points long, whatever the axis."""
    return {"marker": shape, "markersize": length, "markeredgewidth": thickness, "linestyle": ""}


def bar(axes: Axes, x: float, low: float, high: float, *, colour: str, cap: float) -> None:
    """Draw a vertical bar with caps ``cap`` points long."""
    axes.plot([x, x], [low, high], color=colour, linewidth=1.3, zorder=4)
    axes.plot([x, x], [low, high], **dash(cap, 1.3), color=colour, zorder=4)


def tile(axes: Axes, corner: tuple[float, float], size: tuple[float, float], **look: Any) -> None:
    """Draw a filled rectangle from its lower left corner, in the units of the axes."""
    # not add_patch: it would work out the limits of the axes anew for each tile, and these are set
    axes.add_artist(Rectangle(corner, *size, **look))


Which = Literal["x", "y"]


def value_axis(
    axes: Axes, which: Which, ends: tuple[float, float], *, ratio: bool, sparse: bool = False
) -> None:
    """Set the ends and the marks of an axis; on the ratio scale equal steps are equal ratios.

    ``sparse``: about half as many marks, for large letters.
    """
    low, high = ends
    axis = axes.xaxis if which == "x" else axes.yaxis
    if ratio:
        (axes.set_xscale if which == "x" else axes.set_yscale)("log")
        margin = (high / low) ** 0.06
        low, high = low / margin, high * margin
        ticks = ratio_ticks(low, high, sparse=sparse)
    else:
        margin = 0.06 * (high - low)
        low, high = low - margin, high + margin
        bins = 3 if sparse else 6
        steps = MaxNLocator(nbins=bins, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
        ticks = [float(tick) for tick in steps]
    (axes.set_xlim if which == "x" else axes.set_ylim)(low, high)
    axis.set_major_locator(FixedLocator(ticks))
    axis.set_minor_locator(NullLocator())
    labels = tick_labels(ticks)
    axis.set_major_formatter(FuncFormatter(lambda x, _: labels.get(round(float(x), 12), "")))
    axis.grid(True)


def scale_named(title: str, *, log: bool) -> str:
    """Return an axis title that says when equal steps multiply instead of add.

    Examples
    --------
    >>> scale_named("power (mW)", log=True), scale_named("power (mW)", log=False)
    ('power (mW), log scale', 'power (mW)')
    """
    return say("{title}, log scale", title=title) if log else title


def ratio_ticks(low: float, high: float, *, sparse: bool = False) -> list[float]:
    """Return round numbers between two ends of a ratio scale, three at the least.

    ``sparse``: no more than are needed for three, where there is little room for them.

    Examples
    --------
    >>> ratio_ticks(0.9, 130.0)
    [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0]
    >>> ratio_ticks(0.45, 2.1)
    [0.5, 0.7, 1.0, 1.5, 2.0]
    >>> ratio_ticks(7.0, 35.0, sparse=True)
    [10.0, 20.0, 30.0]
    """
    decades = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
    between = (1, 2, 3, 5) if sparse else (1, 1.5, 2, 3, 5, 7)
    for steps in ((1,), (1, 2, 5), between, (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8)):
        ticks = [float(f"{step}e{decade}") for decade in decades for step in steps]
        ticks = [tick for tick in ticks if low <= tick <= high]
        if len(ticks) >= (3 if sparse else 4):
            return ticks
    inside = MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    return [float(tick) for tick in inside if low <= tick <= high]


def tick_labels(ticks: Sequence[float]) -> dict[float, str]:
    """Return the text of each mark of an axis, with no more digits than they need.

    Examples
    --------
    >>> list(tick_labels([0.0, 0.25, 0.5]).values()), list(tick_labels([-1.0, 1000.0]).values())
    (['0', '0.25', '0.5'], ['−1', '1000'])
    """
    labels: dict[float, str] = {}
    for tick in ticks:
        text = number(tick, max(decimals_of(tick, 4), 0)) if tick else "0"
        labels[round(tick, 12)] = text.rstrip("0").rstrip(".") if "." in text else text
    return labels


def wrapped(text: str, inches: float, size: float = SIZE) -> str:
    """Return ``text`` broken into lines that fit a width; a long word stays whole."""
    letters = max(int(inches * 72 / (0.58 * size)), 4)
    return "\n".join(textwrap.wrap(text, letters, break_long_words=False)) or text


def too_wide(text: str, inches: float, size: float = SIZE) -> bool:
    """Return whether the longest line of ``text`` is wider than ``inches``."""
    return max(len(line) for line in text.split("\n")) * 0.58 * size / 72 > inches
