"""Panels of different widths, put side by side."""

from __future__ import annotations

from collections.abc import Sequence

_LEAST = 2  # a panel of one version is as wide as one of two


def packed(versions: Sequence[int], most: int) -> list[list[int]]:
    """Put panels side by side in as few and as even rows as leave room for the versions' names.

    ``versions`` (panels,) are the versions of each panel and ``most`` those that fit in a row.
    Returns the places of the panels in each row.

    Examples
    --------
    >>> packed([3, 2, 2, 2], 7)
    [[0, 1], [2, 3]]
    """
    rows = _filled(versions, most)
    for fewer in range(1, most):
        even = _filled(versions, fewer)
        if len(even) == len(rows):
            return even
    return rows


def _filled(versions: Sequence[int], most: int) -> list[list[int]]:
    rows: list[list[int]] = []
    taken = most
    for place, wide in enumerate(versions):
        width = max(wide, _LEAST)
        if taken + width > most:
            rows.append([])
            taken = 0
        rows[-1].append(place)
        taken += width
    return rows
