"""QR codes as drawings: squares for a camera, and nothing but the text in them.

One typed door to segno, which follows ISO/IEC 18004. The size is the smallest that holds the text
at the highest level of repair, so that a code still reads with a thumb's print or a torn corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import segno

QUIET: Final = 4
"""Empty squares that a camera needs on each side (ISO/IEC 18004)."""


@dataclass(frozen=True)
class Squares:
    """A QR code without its quiet zone: rows of squares, True where one is dark."""

    rows: tuple[tuple[bool, ...], ...]

    @property
    def side(self) -> int:
        """Squares along one side, the quiet zone among them."""
        return len(self.rows) + 2 * QUIET

    def svg(self) -> str:
        """Return the code with its quiet zone as an SVG picture, one unit a square.

        Examples
        --------
        >>> Squares(((True, True, False),)).svg().split("<path ")[1]
        'd="M4 4h2v1h-2z"/></svg>'
        """
        runs = []
        for y, row in enumerate(self.rows, QUIET):
            start = 0
            for x in range(len(row)):
                if row[x] and (x + 1 == len(row) or not row[x + 1]):
                    wide = x + 1 - start
                    runs.append(f"M{start + QUIET} {y}h{wide}v1h-{wide}z")
                if not row[x]:
                    start = x + 1
        side = self.side
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" '
            f'shape-rendering="crispEdges"><rect width="{side}" height="{side}" fill="#fff"/>'
            f'<path d="{"".join(runs)}"/></svg>'
        )


@lru_cache(maxsize=4096)
def qr(text: str) -> Squares:
    """Return the QR code of a text.

    Examples
    --------
    >>> len(qr("BA17").rows), qr("BA17").side  # version 1 has 21 squares a side
    (21, 29)
    """
    made = segno.make_qr(text, error="h")
    return Squares(tuple(tuple(bool(square) for square in row) for row in made.matrix))
