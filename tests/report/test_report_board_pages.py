"""The display board as pages: sizes of paper and letters, what fits on a board, tags, pictures.

Outside sources. Sizes: S. L. Smith, "Letter size and legibility", Human Factors 21(6), 661-670
(1979): letters 7 mm high at 1 m. The largest board (76 x 122 x 274 cm) and 24 points: common rules
of fairs. PDF/UA-1: ISO 14289-1:2014, 7.1. Paper: ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

import io
import math
import re
from typing import Any

import pytest
from pypdf import PdfReader

from tests.remembered import forget_pages
from trials.render import tiles
from trials.render.pictures import PICTURES, picture
from trials.render.typeset import Paper
from trials.report import board_files
from trials.report.board import hanging_of
from trials.words.pictures import ANY, picture_of

from .test_report_board import draft, pdf, story


@pytest.mark.parametrize(
    ("paper", "millimetres"), [("a4", (210.0, 297.0)), ("us-letter", (215.9, 279.4))]
)
def test_pages_are_of_one_size_and_the_title_lies_on_its_side(
    paper: Paper, millimetres: tuple[float, float]
) -> None:
    for place, page in enumerate(PdfReader(io.BytesIO(pdf(paper))).pages):
        size = [float(x) * 25.4 / 72 for x in (page.mediabox.width, page.mediabox.height)]
        wanted = millimetres[::-1] if place == 1 else millimetres
        assert size == pytest.approx(wanted, abs=0.1)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_letters_of_every_tile_are_large_enough(paper: Paper) -> None:
    for page in PdfReader(io.BytesIO(pdf(paper))).pages[1:]:
        sizes: list[tuple[float, str]] = []

        def visit(
            text: str, cm: list[float], tm: list[float], _font: Any, size: float,
            sizes: list[tuple[float, str]] = sizes,
        ) -> None:  # fmt: skip
            if text.strip():
                scale = math.hypot(tm[0] * cm[0], tm[1] * cm[3])
                sizes.append((size * scale, text.strip()))

        page.extract_text(visitor_text=visit)
        small = [text for size, text in sizes if size < tiles.SMALLEST - 0.01]
        # only the foot, for whoever hangs the tiles
        assert all(re.match(r"Invented|page \d|·|check code", text) for text in small), small
        assert len(sizes) > len(small)


def test_the_smallest_letters_of_the_graph_are_large_enough() -> None:
    # 8 points on a canvas of 2.4 inches, printed between margins of 13 mm (210 mm is the narrower)
    assert tiles.SMALLEST <= 8.0 * (210 - 26) / 25.4 / 2.4


def test_body_letters_can_be_read_at_a_metre() -> None:
    # DejaVu Sans: capitals 1493 of 2048 units high; Smith (1979): 0.007 of the distance
    assert tiles.BODY * 25.4 / 72 * 1493 / 2048 >= 7.0


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_tiles_fit_on_the_largest_board(paper: Paper) -> None:
    reader = PdfReader(io.BytesIO(pdf(paper)))
    text = " ".join(reader.pages[0].extract_text().split())
    match = re.search(r"Your (\d+) tiles .* and ([\d.]+) cm high, in (\d+) rows", text)
    assert match, text
    count, high, rows = int(match[1]), float(match[2]), int(match[3])
    tall = 29.7 if paper == "a4" else 27.94
    assert count == len(reader.pages) - 1 <= 4 * rows - 1
    assert high == pytest.approx(rows * tall + rows + 1, abs=0.06)
    assert high + 91 <= 274
    assert f"Page {count + 1}: Photographs" in text
    assert "Most fairs don't let you bring the cells themselves" in text


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("lines", [(1, 1, 1, 1, 1), (6, 6, 6, 6), (1, 9, 2, 9, 1, 3)])
def test_no_step_of_the_procedure_is_torn(paper: Paper, lines: tuple[int, ...]) -> None:
    rows = tuple(
        tiles.PictureRow(
            "clock",
            f"Step{at}begins",
            (*("Warm it slowly, as it cracks." for _ in range(n)), f"Step{at}ends"),
        )
        for at, n in enumerate(lines)
    )
    procedure = tiles.Tile("Procedure", (tiles.Pictures(rows),))
    of = story()
    board = tiles.Board("Steps", (), (), (procedure,), hanging_of(of), ())
    pages = [
        page.extract_text()
        for page in PdfReader(io.BytesIO(tiles.board_pdf(board, paper))).pages[2:]
    ]
    for at in range(len(lines)):
        (first,) = (n for n, text in enumerate(pages) if f"Step{at}begins" in text)
        assert f"Step{at}ends" in pages[first]
    assert all("begins" in text for text in pages)  # none is empty, or a rest


def test_the_board_is_tagged() -> None:
    root: Any = PdfReader(io.BytesIO(pdf("a4"))).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert re.search(rb"pdfuaid:part(>|=\")1", root["/Metadata"].get_object().get_data())


def test_the_same_words_give_the_same_bytes() -> None:
    first = pdf("a4")
    forget_pages()
    assert board_files(story(), draft(story()))["board.pdf"] == first


def test_every_picture_is_drawn_and_every_step_has_one() -> None:
    assert all(picture(name).startswith("<svg ") for name in PICTURES)
    assert picture_of("x", "", ()) == ANY
    for name, label, tools, wanted in (
        ("clean", "Wash the glass", ("sink",), "wash"),
        ("heat", "Fire the slides", ("oven", "burner"), "oven"),
        ("measure", "Measure the seedling", ("ruler",), "ruler"),
        ("measure", "Throw and measure", ("tape measure",), "throw"),
        ("steep", "Let it steep", ("timer",), "cup"),
        ("sow", "Sow", ("trowel",), "sprout"),
    ):
        assert picture_of(name, label, tools) == wanted
        assert wanted in PICTURES
