"""A display board as tiles: pages of one size in large letters, and one that says how they hang.

Sizes of letters are for reading at a metre. Body text is 28 points: in DejaVu Sans its capitals are
then 7.2 mm high and its small letters 5.4 mm. 7 mm at 1 m, an angle of 0.007, is what nearly
everyone could read in S. L. Smith, "Letter size and legibility", Human Factors 21(6), 661-670
(1979). Nothing that a visitor reads is under 24 points, a common advice of fairs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from trials.render import typeset
from trials.render.blocks import Bullets, Figure, Paragraph
from trials.render.paper import block_data, figure_file
from trials.render.pictures import picture
from trials.render.table import Table
from trials.words.language import language

BODY: Final = 28  # points
SMALLEST: Final = 24
HEADING: Final = 44
TITLE: Final = 58

# The largest board that fairs of the international kind allow, in cm, with the table's height.
DEPTH: Final = 76
WIDTH: Final = 122
HEIGHT: Final = 274
TABLE: Final = 91
_WING: Final = 30.5  # a folding board: two wings and a middle of twice their width
_GAP: Final = 1.0


@dataclass(frozen=True)
class PictureRow:
    """A step beside its picture; ``signs`` are the names of drawings of what to beware of."""

    picture: str
    title: str
    lines: tuple[str, ...]
    signs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Pictures:
    """Steps in their order, each with a picture; the words beside it say the same."""

    rows: tuple[PictureRow, ...]


@dataclass(frozen=True)
class Sign:
    """What to wear, do or beware of: a drawing by its name ("" for none) and its words."""

    drawing: str
    text: str


@dataclass(frozen=True)
class Signs:
    """Signs one below the other in two columns."""

    entries: tuple[Sign, ...]


@dataclass(frozen=True)
class Frame:
    """Room for a photograph, with what it shows and a line for who took it."""

    caption: str
    credit: str


@dataclass(frozen=True)
class Small:
    """Text in the smallest letters: a credit, or how to read what stands above."""

    text: str


TileBlock = Paragraph | Bullets | Table | Figure | Pictures | Signs | Frame | Small


@dataclass(frozen=True)
class Tile:
    """A heading with what stands below it: one page, or more where one is too small."""

    title: str
    blocks: tuple[TileBlock, ...]


@dataclass(frozen=True)
class Hanging:
    """The words of the page that says how the tiles hang; it isn't hung itself.

    ``fits``, ``floor`` and ``too_many`` are said of the finished tiles, one of the three: that the
    board stands on a table, that it has to stand on the floor, or that some tiles are too many.
    Braces in them are filled in: ``{tiles}``, ``{rows}``, ``{width}``, ``{height}``, ``{top}``,
    ``{most}``.
    """

    title: str
    intro: str
    fits: str
    floor: str
    too_many: str
    page: str  # what stands before a page's number
    places: tuple[str, str, str, str, str]  # the four columns, and the middle above two of them
    more: str  # beside a tile's further pages
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Board:
    """A whole board.

    Parameters
    ----------
    title : on the first tile, in the largest letters.
    lines : what stands below it, the first one larger.
    small : what stands below these in the smallest letters.
    foot : short facts for the foot of every page, for whoever hangs them.
    """

    title: str
    lines: tuple[str, ...]
    small: tuple[str, ...]
    tiles: tuple[Tile, ...]
    hanging: Hanging
    foot: tuple[str, ...]


def board_pdf(board: Board, paper: typeset.Paper = "a4") -> bytes:
    """Return the board as a PDF (PDF/UA-1); the same board gives the same bytes.

    Page one says how to hang the others. The second is the title, on its side.
    """
    blocks = [block for tile in board.tiles for block in tile.blocks]
    files = {figure_file(block): block.svg for block in blocks if isinstance(block, Figure)}
    drawn = {row.picture for block in blocks if isinstance(block, Pictures) for row in block.rows}
    files |= {_picture_file(name): picture(name).encode() for name in drawn}
    return typeset.pdf(
        typeset.template("tiles.typ"),
        _data(board),
        title=board.title,
        files=files,
        paper=paper,
        lang=language(),
    )


def _data(board: Board) -> dict[str, Any]:
    hanging = board.hanging
    return {
        "title": board.title,
        "lines": list(board.lines),
        "small": list(board.small),
        "foot": list(board.foot),
        "tiles": [
            {"title": tile.title, "blocks": [_block(block) for block in tile.blocks]}
            for tile in board.tiles
        ],
        "size": {"body": BODY, "small": SMALLEST, "heading": HEADING, "title": TITLE},
        "board": {
            "width": WIDTH, "height": HEIGHT, "depth": DEPTH, "table": TABLE,
            "wing": _WING, "gap": _GAP,
        },
        "hanging": {
            "title": hanging.title,
            "intro": hanging.intro,
            "fits": hanging.fits,
            "floor": hanging.floor,
            "too-many": hanging.too_many,
            "page": hanging.page,
            "places": list(hanging.places),
            "more": hanging.more,
            "notes": list(hanging.notes),
        },
    }  # fmt: skip


def _picture_file(name: str) -> str:
    return f"picture-{name}.svg"


def _block(block: TileBlock) -> dict[str, Any]:
    match block:
        case Pictures():
            rows = [
                {
                    "file": _picture_file(row.picture),
                    "title": row.title,
                    "lines": list(row.lines),
                    "signs": list(row.signs),
                }
                for row in block.rows
            ]
            return {"kind": "pictures", "rows": rows}
        case Signs():
            entries = [{"drawing": one.drawing, "text": one.text} for one in block.entries]
            return {"kind": "signs", "entries": entries}
        case Frame():
            return {"kind": "frame", "caption": block.caption, "credit": block.credit}
        case Small():
            return {"kind": "small", "text": block.text}
        case _:
            return block_data(block)
