"""All PDFs and figures of the demo, held against PDF/UA-1 and the contrasts of WCAG 2.2.

The files are the committed ones of reports/cells. What the program makes and the demo doesn't
(lesson.pdf, unfair.pdf) is held to the same by the tests of these pages.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

from tests.papers import Colour, faults, letters
from tests.render.test_render_marks import contrast
from trials.render import marks
from trials.render.blocks import Document
from trials.render.html import html_page
from trials.render.ties import shade

KEPT = Path(__file__).parents[2] / "reports" / "cells"
PAPERS = sorted(KEPT.glob("*/*.pdf"))
FIGURES = sorted([*KEPT.glob("*.svg"), *KEPT.glob("report/figures/*.svg")])

# what only decorates: lines behind the dots, hatching within a band whose edges are drawn darker
DECORATION = {"#dde4e7", "#c3ced4", "#ffffff"}
GROUNDS = (marks.WHITE, marks.PALE, marks.BAND)


def _hex(colour: Colour) -> str:
    assert len(colour) == 3, "letters in a pattern"
    return "#" + "".join(f"{round(255 * part):02x}" for part in colour)


@pytest.mark.parametrize("path", PAPERS, ids=lambda path: path.name)
def test_every_paper_can_be_heard(path: Path) -> None:
    assert faults(path) == []


def test_a_paper_without_structure_is_found_out(tmp_path: Path) -> None:
    import pikepdf

    with pikepdf.open(KEPT / "report" / "board.pdf") as pdf:
        del pdf.Root["/Lang"]
        for one in pdf.objects:
            if isinstance(one, pikepdf.Dictionary) and one.get("/S") == "/Figure":
                del one["/Alt"]
            if isinstance(one, pikepdf.Dictionary) and one.get("/S") == "/H1":
                one["/S"] = pikepdf.Name("/H3")
            if isinstance(one, pikepdf.Dictionary) and one.get("/S") == "/TH":
                one["/S"] = pikepdf.Name("/TD")
        pdf.save(tmp_path / "bare.pdf")
    found = {fault[-7:-1] for fault in faults(tmp_path / "bare.pdf")}
    assert found == {"11-006", "13-004", "14-003", "15-003"}


@pytest.mark.parametrize("path", PAPERS, ids=lambda path: path.name)
def test_letters_on_paper_stand_out(path: Path) -> None:
    # WCAG 2.2, 1.4.3: 4.5 to 1, on white and on every ground that a page has
    used = {_hex(colour) for colour in letters(path)}
    assert len(used) >= 3
    for colour in used:
        grounds = (*GROUNDS, "#fff4e3") if colour in ("#8a3b00", marks.INK) else GROUNDS
        for ground in grounds:
            assert contrast(colour, ground) >= 4.5, (colour, ground)


def test_lines_to_write_on_stand_out() -> None:
    # WCAG 2.2, 1.4.11: 3 to 1
    page = html_page(Document("t", "", "", (), ()))
    typst = (Path(marks.__file__).parent / "style.typ").read_text("utf-8")
    for rule in re.findall(r"--rule: (#\w{6})|#let rule = rgb\(\"(#\w{6})\"\)", page + typst):
        for ground in (marks.WHITE, marks.PALE):
            assert contrast(max(rule), ground) >= 3


@pytest.mark.parametrize("path", FIGURES, ids=lambda path: path.name)
def test_letters_and_lines_of_figures_stand_out(path: Path) -> None:
    svg = path.read_text("utf-8")
    written = set(re.findall(r'<g style="fill: (#\w{6})" transform="translate', svg))
    assert written
    for colour, ground in itertools.product(written - {marks.WHITE}, GROUNDS):
        assert contrast(colour, ground) >= 4.5, (colour, ground)
    for colour in set(re.findall(r"stroke: (#\w{6})", svg)) - DECORATION:
        assert contrast(colour, marks.WHITE) >= 3, colour


def test_what_is_filled_palely_has_a_dark_edge() -> None:
    pale = {mark.fill for mark in marks.MARKS}
    edged = 0
    for path in FIGURES:
        # a row of marks tells its style once, in the group around it
        for style in re.findall(r'style="([^"]*)"', path.read_text("utf-8")):
            fill = re.search(r"fill: (#\w{6})", style)
            edge = re.search(r"stroke: (#\w{6})", style)
            if fill and fill[1] in pale and edge:
                edged += 1
                assert contrast(edge[1], marks.WHITE) >= 3, (path.name, style)
    assert edged > 100


def test_numbers_stand_out_from_the_shade_of_a_tie() -> None:
    from trials.render.ties import _BLACK, _DARK

    for tie in (at / 200 for at in range(201)):
        letter = marks.WHITE if tie >= _DARK else _BLACK
        assert contrast(letter, shade(tie)) >= 4.5, tie
    for mark in marks.MARKS:  # signs within the fields of a layout
        assert contrast(marks.INK, mark.fill) >= 4.5, mark
