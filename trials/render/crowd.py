"""Very many dots in one column, set in rows: the rule for more than can stand side by side."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

_NEARLY = 1e-6  # of a row: a height told a little too low is still in its row


def in_rows(heights: Sequence[float], wide: float, room: float) -> list[float]:
    """Return how far each dot stands to the side, so that as few as possible are covered.

    Dots of nearly the same height make a row and stand side by side in it from the middle out, in
    the order given. Each second row begins half a dot to the side, so that dots one above the
    other don't hide each other. A row with no ``room`` for its dots is drawn closer: no two of its
    dots are at the same place. Linear in the number of dots.

    Parameters
    ----------
    heights : (dots,) where each dot is, in any unit of length.
    wide : width of a dot and height of a row, in the same unit.
    room : the furthest that the middle of a dot may stand to either side.

    Examples
    --------
    >>> in_rows([0.5, 0.6, 0.7, 3.0], wide=1.0, room=5.0)
    [0.0, 1.0, -1.0, 0.5]
    >>> in_rows([0.5, 0.6, 0.7], wide=1.0, room=0.2)
    [0.0, 0.2, -0.2]
    """
    rows: defaultdict[int, list[int]] = defaultdict(list)
    for dot, height in enumerate(heights):
        rows[math.floor(height / wide + _NEARLY)].append(dot)
    aside = [0.0] * len(heights)
    for row, dots in rows.items():
        shift = 0.5 * (row % 2)
        places = [_from_the_middle(n, shift) for n in range(len(dots))]
        furthest = max(abs(place) for place in places)
        step = min(wide, room / furthest) if furthest else wide
        for dot, place in zip(dots, places, strict=True):
            aside[dot] = place * step
    return aside


def _from_the_middle(n: int, shift: float) -> float:
    """Return the nth place of 0, 1, -1, 2, ... or, half a place on, of 0.5, -0.5, 1.5, ..."""
    far = (n + 1) // 2 if not shift else n // 2 + shift
    return float(far if bool(n % 2) != bool(shift) else -far)
