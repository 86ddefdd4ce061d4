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
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure as Canvas
from matplotlib.figure import SubFigure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.markers import MarkerStyle
from matplotlib.patches import Patch, Rectangle
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator
from matplotlib.transforms import IdentityTransform

from trials.render.crowd import in_rows
from trials.render.marks import INK, QUIET, WHITE, Mark
from trials.render.typeset import picture_png
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
    "new_canvas",
    "panels",
    "ratio_ticks",
    "scale_named",
    "sheet",
    "swarm",
    "tick_labels",
    "tile",
    "too_wide",
    "value_axis",
    "vectors",
    "wrapped",
]

WIDTH: Final = 6.9  # inches: the printed width of a page of A4 or Letter
SIZE: Final = 9.0  # points: size of plain text
SMALL: Final = 8.0
DPI: Final = 200
_RIM: Final = 0.9  # points: the edge of a dot
_CROWD: Final = 60  # more dots than this are set in rows: side by side they would not all have room

# The picture names no address but the SVG name space, so that no reader fetches anything.
# What else is in it for no eye goes with that.
_UNSEEN: Final = (
    (re.compile(rb"<!DOCTYPE[^>]*>|<!--.*?-->", re.DOTALL), b""),
    (re.compile(rb"<g id=\"[\w.]+\""), b"<g"),
    (re.compile(rb"<g/>"), b""),
    (re.compile(rb"\s*\n\s*(?=[A-Zz\"<])"), b""),
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
    with mpl.rc_context(dict(_STYLE)), warnings.catch_warnings():
        # A letter without a shape is drawn as a box; the text beside the figure has it whole.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        # Crowded dots overlap rather than leave the place of their version.
        warnings.filterwarnings("ignore", message=".* of the points cannot be placed")
        yield


class _Patient(FigureCanvasAgg):
    """A canvas that is drawn when it is saved, and not before.

    seaborn draws the whole figure after every group of dots, to set them side by side; that is done
    again in the drawing that is kept.
    """

    def draw(self) -> None:
        """Draw nothing, and take it as drawn."""
        self.figure.stale = False
        for band in self.figure.subfigs:
            band.stale = False


def new_canvas(height: float, width: float = WIDTH) -> Canvas:
    """Return an empty canvas of so many inches."""
    made = Canvas(figsize=(width, height), dpi=DPI, layout=ConstrainedLayoutEngine(w_pad=0.08))
    _Patient(made)
    return made


def bands(canvas: Canvas, heights: Sequence[float]) -> list[SubFigure]:
    """Return bands one below the other, with heights in these proportions."""
    made: Any = canvas.subfigures(len(heights), 1, height_ratios=list(heights), squeeze=False)
    return [row[0] for row in made]


def panels(band: SubFigure | Canvas, widths: Sequence[float]) -> list[Axes]:
    """Return axes side by side in a band, with widths in these proportions."""
    made: Any = band.subplots(1, len(widths), width_ratios=list(widths), squeeze=False)
    return list(made[0])


def sheet(height: float) -> tuple[Canvas, Axes]:
    """Return a canvas of this height with axes over all of it, on which things have their place."""
    made = Canvas(figsize=(WIDTH, height), dpi=DPI)
    _Patient(made)
    return made, made.add_axes((0.0, 0.0, 1.0, 1.0))


def finished(canvas: Canvas) -> tuple[bytes, bytes]:
    """Return the canvas as SVG and, made from that, as PNG: the same bytes for the same drawing."""
    layout = canvas.get_layout_engine()
    if layout is not None:
        layout.execute(canvas)  # everything finds its place, once
    canvas.set_layout_engine(None)  # "none" would be asked again, by a drawing thrown away
    svg = vectors(canvas)
    return svg, picture_png(svg, DPI)


def vectors(canvas: Canvas) -> bytes:
    """Return a canvas on which everything has its place as SVG."""
    svg = io.BytesIO()
    silent: Any = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    canvas.savefig(svg, format="svg", metadata=silent)
    return _short(svg.getvalue())


def _short(svg: bytes) -> bytes:
    """Return a picture without what nobody sees: half of what matplotlib writes.

    Places are told to a thousandth of a point (0.4 micrometres on paper). Remarks, names of groups
    that nothing refers to, groups with nothing in them, and the space between marks are left out.
    """
    for pattern, instead in _UNSEEN:
        svg = pattern.sub(instead, svg)
    return _LONG.sub(lambda found: b"%.3f" % float(found[0]), svg)


class _Crowd(PathCollection):
    """Dots in rows: where they stand is known when the axes have their size."""

    def __init__(
        self,
        axes: Axes,
        column: tuple[float, float],
        values: Sequence[float],
        mark: Mark,
        size: float,
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

    def draw(self, renderer: RendererBase) -> None:
        """Set the dots in rows and draw them."""
        axes: Any = self.axes
        middle, room = self._column
        data = [(middle + room, self._values[0]), *((middle, value) for value in self._values)]
        edge, *places = axes.transData.transform(data).tolist()
        wide = self._wide * axes.figure.dpi / 72
        aside = in_rows([y for _, y in places], wide, edge[0] - places[0][0])
        places = [(x + more, y) for (x, y), more in zip(places, aside, strict=True)]
        self.set_offsets(axes.transData.inverted().transform(places))
        super().draw(renderer)


def swarm(
    axes: Axes, column: tuple[float, float], values: Sequence[float], mark: Mark, size: float
) -> None:
    """Draw one dot a value, side by side where they would cover each other.

    ``column``: the middle, and how far to either side very many dots may spread, in units of the
    axis. Ends and marks of both axes are to be set after this.
    """
    import seaborn as sns  # type: ignore[import-untyped]  # it ships no types

    if not values:
        return
    if len(values) > _CROWD:
        axes.add_collection(_Crowd(axes, column, values, mark, size), autolim=False)
        return
    for axis in (axes.xaxis, axes.yaxis):  # seaborn asks for the labels of marks nobody will see
        axis.set_major_locator(NullLocator())
    sns.swarmplot(
        x=[column[0]] * len(values),
        y=list(values),
        ax=axes,
        native_scale=True,
        size=size,
        marker=mark.shape,
        color=mark.fill,
        edgecolor=mark.colour,
        linewidth=_RIM,
        legend=False,
        zorder=2,
    )
    for axis in (axes.xaxis, axes.yaxis):  # without marks it hides the title
        axis.set_label_text("", visible=True)


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
