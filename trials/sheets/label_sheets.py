"""Which labels there are: sheets of sticky labels by the size of one label, and plain paper."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from trials.errors import RequestError
from trials.quantities import convert
from trials.render.typeset import Paper

PLAIN, LARGE = "plain", "large"
SIZES: Final[dict[Paper, tuple[float, float]]] = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
"""Paper in mm, upright (ISO 216; ANSI/ASME Y14.1)."""

READABLE: Final = 3.2
"""Least height of capital letters in mm: 22 minutes of arc at half a metre.

ISO 9241-303 prefers 20 to 22 minutes of arc for letters that are read for long (from memory).
"""
_SQUARE: Final = 0.35  # mm, least side of one square of a QR code: common practice, no source
_CAPITAL: Final = 0.729  # height of a capital letter in ems, DejaVu Sans Mono
_WIDE: Final = 0.602  # width of any letter in ems, DejaVu Sans Mono
_EDGE: Final = 5.0  # mm at the edge of the paper that many printers leave white
_NEAR: Final = 0.6  # mm by which a size may be written otherwise
_PLAIN_MARGIN, _PLAIN_HEIGHT, _LARGE_HEIGHT = 12.0, 27.0, 54.0
_SMALL: Final = 2.9  # mm of height for one line of small print
_MM: Final = re.compile(
    r"\s*(\d+(?:[.,]\d+)?)\s*(mm|cm|in)?\s*(?:x|×|\*|by)\s*(\d+(?:[.,]\d+)?)\s*(mm|cm|in)?\s*",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class LabelSheet:
    """Labels on a page; lengths in mm.

    ``left`` and ``top``: from the paper's edge to the first label; ``gap``: between two columns.
    ``form`` "sheet": sticky labels, placed to the millimetre; else lines to cut along.
    """

    form: Literal["sheet", "plain", "large"]
    width: float
    height: float
    across: int
    down: int
    left: float
    top: float
    gap: float = 0.0

    @property
    def pad(self) -> tuple[float, float]:
        """How far print stays from a label's edge, sideways and up and down."""
        if self.form != "sheet":
            return 2.5, 2.5
        return max(1.5, _EDGE - self.left), max(1.0, _EDGE - self.top)


@dataclass(frozen=True)
class Measures:
    """How large things are on a label, in mm: letters' size and height, the QR code's side."""

    letters: float
    capitals: float
    qr: float


def _sheet(paper: Paper, size: tuple[float, float], grid: tuple[int, int], gap: float = 0.0,
           ) -> LabelSheet:  # fmt: skip
    """Return a sheet whose labels stand in the middle of the paper."""
    (wide, high), (width, height), (across, down) = SIZES[paper], size, grid
    left = (wide - across * width - (across - 1) * gap) / 2
    return LabelSheet("sheet", width, height, across, down, left, (high - down * height) / 2, gap)


# Usual sheets, by size in mm, labels across and down, gap: common practice, from memory. The
# American ones are inches: 2 5/8 x 1, 4 x 1 1/3, 4 x 1, 1 3/4 x 1/2.
KNOWN: Final[dict[Paper, tuple[LabelSheet, ...]]] = {
    "a4": (
        _sheet("a4", (70.0, 37.0), (3, 8)),
        _sheet("a4", (70.0, 36.0), (3, 8)),
        _sheet("a4", (63.5, 33.9), (3, 8), 2.5),
        _sheet("a4", (63.5, 38.1), (3, 7), 2.5),
        _sheet("a4", (52.5, 29.7), (4, 10)),
        _sheet("a4", (48.5, 25.4), (4, 10)),
        _sheet("a4", (38.1, 21.2), (5, 13), 2.5),
        _sheet("a4", (105.0, 57.0), (2, 5)),
    ),
    "us-letter": (
        _sheet("us-letter", (66.675, 25.4), (3, 10), 3.175),
        _sheet("us-letter", (101.6, 33.867), (2, 7), 4.7625),
        _sheet("us-letter", (101.6, 25.4), (2, 10), 4.7625),
        _sheet("us-letter", (44.45, 12.7), (4, 20), 7.62),
    ),
}


def label_sheet(wanted: str, paper: Paper) -> LabelSheet:
    """Return the labels that somebody asked for.

    Parameters
    ----------
    wanted : "plain" (paper and scissors), "large" (large print), or the size of one label, such as
        "70 x 37 mm" or "2.625 x 1 in": a usual sheet of this size, else as many as fit on a page.

    Raises
    ------
    RequestError : no size, or one that doesn't fit on the paper.

    Examples
    --------
    >>> one = label_sheet("63.5 x 33.9 mm", "a4")
    >>> one.across, one.down, round(one.left, 2), round(one.top, 2)
    (3, 8, 7.25, 12.9)
    >>> label_sheet("5 x 4 cm", "us-letter").across
    4
    """
    text = wanted.strip().casefold()
    across = {PLAIN: 3, LARGE: 2}.get(text)
    wide, high = SIZES.get(paper, (0.0, 0.0))
    if across is not None:
        height = _PLAIN_HEIGHT if text == PLAIN else _LARGE_HEIGHT
        width = (wide - 2 * _PLAIN_MARGIN) / across
        form: Literal["plain", "large"] = "plain" if text == PLAIN else "large"
        return LabelSheet(form, width, height, across, 0, _PLAIN_MARGIN, _PLAIN_MARGIN)
    width, height = _size(wanted, paper)
    for sheet in KNOWN[paper]:
        if abs(sheet.width - width) <= _NEAR and abs(sheet.height - height) <= _NEAR:
            return sheet
    grid = int(wide // width), int(high // height)
    if not all(grid):
        raise _refused(
            wanted, paper, f"a label of at most {wide:g} x {high:g} mm, the paper's size"
        )
    return _sheet(paper, (width, height), grid)


def measures(sheet: LabelSheet, codes: Sequence[str], squares: int) -> Measures:
    """Return how large codes and QR codes can be printed on a sheet's labels.

    Parameters
    ----------
    codes : what is printed large.
    squares : along one side of the QR codes, with their quiet zone.

    Raises
    ------
    RequestError : the labels are too small to be read from half a metre, or by a camera.
    """
    longest = max(map(len, codes))
    across, up = sheet.width - 2 * sheet.pad[0], sheet.height - 2 * sheet.pad[1]
    if sheet.form == "large":
        letters = min(across / (_WIDE * longest), 0.45 * up / _CAPITAL)
        side = up - _CAPITAL * letters - 4.0
    else:
        side = min(up, 0.45 * across)
        lines = 1 if up < 4.5 * _SMALL else 3
        letters = min((across - side - 1.5) / (_WIDE * longest),
                      (up - lines * _SMALL - 0.9) / _CAPITAL)  # fmt: skip
    capitals = _CAPITAL * letters
    if capitals < READABLE or side < _SQUARE * squares:
        raise RequestError(
            "These labels are too small.",
            code="sheets.labels_small",
            found=f"{sheet.width:g} x {sheet.height:g} mm: letters {max(capitals, 0):.1f} mm high, "
            f"a QR code of {max(side, 0):.1f} mm",
            allowed=f"letters from {READABLE} mm, to be read from half a metre, and a QR code from "
            f"{_SQUARE * squares:.1f} mm",
            do="Take larger labels, or plain paper: --labels plain.",
        )
    return Measures(letters, capitals, side)


def _size(wanted: str, paper: Paper) -> tuple[float, float]:
    """Return width and height in mm."""
    found = _MM.fullmatch(wanted)
    if found is None:
        usual = "; ".join(f"{s.width:.4g} x {s.height:.4g} mm" for s in KNOWN[paper])
        raise _refused(wanted, paper, f"plain, large, or the size of one label, such as {usual}")
    unit = found[4] or found[2] or "mm"
    width, height = (
        float(convert(Decimal(number.replace(",", ".")), (own or unit).lower(), "mm"))
        for number, own in ((found[1], found[2]), (found[3], found[4]))
    )
    if min(width, height) <= 0:
        raise _refused(wanted, paper, "a width and a height above 0")
    return width, height


def _refused(wanted: str, paper: Paper, allowed: str) -> RequestError:
    return RequestError(
        "There are no such labels.",
        code="sheets.labels",
        where=f"--labels, on {paper}",
        found=wanted,
        allowed=allowed,
        do="Measure one label of your sheet and write width x height.",
    )
