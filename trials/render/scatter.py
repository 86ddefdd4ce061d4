"""Dots around zero: what the figures of leftovers share."""

from __future__ import annotations

from collections.abc import Sequence

from trials.render import drawing
from trials.render.drawing import Axes
from trials.render.marks import Mark


def around_zero(values: Sequence[float]) -> tuple[float, float]:
    """Return ends that hold all ``values``, with zero in the middle.

    Examples
    --------
    >>> around_zero([-0.5, 2.0]), around_zero([])
    ((-2.0, 2.0), (-1.0, 1.0))
    """
    widest = max((abs(x) for x in values), default=0.0) or 1.0
    return -widest, widest


def scatter(axes: Axes, across: Sequence[float], up: Sequence[float], look: Mark) -> None:
    """Draw a dot at each place."""
    axes.plot(
        across,
        up,
        linestyle="",
        marker=look.shape,
        markersize=5,
        markerfacecolor=look.fill,
        markeredgecolor=look.colour,
        zorder=3,
    )


def span_axis(axes: Axes, values: Sequence[float]) -> None:
    """Let the lower axis span ``values``; one value, or none, gets room around it."""
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    drawing.value_axis(axes, "x", (low, high) if low < high else (low - 1, high + 1), ratio=False)
