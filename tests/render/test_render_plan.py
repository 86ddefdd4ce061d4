"""The pictures of a plan: seats and ties, from hand-made layouts."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache

import pytest

from trials.render.blocks import Figure
from trials.render.marks import HATCHES, WHITE
from trials.render.seats import Seat, SeatPanel, SeatPlot, SeatRow, letters, seat_figure
from trials.render.ties import TieCell, TiePlot, shade, tie_figure

SVG = "{http://www.w3.org/2000/svg}"

ROWS = tuple(SeatRow(f"F{place}", f"S{place // 2}") for place in range(4))
SEATS = tuple(
    Seat(f"K{row}{column}", row, column) for row in range(4) for column in range(3)
)  # fmt: skip
DYE = SeatPanel("dye", ("hibiscus", "red cabbage", "beetroot"), (0, 1, 2) * 4)
HEAT = SeatPanel("heat", ("oven", "burner"), (0,) * 6 + (1,) * 6)
PLOT = SeatPlot(
    "layout", "cell", "firing", "team", "session", ROWS, ("alder", "hazel", "rowan"), SEATS,
    (DYE, HEAT), "Who makes what.",
)  # fmt: skip
NAMES = ("dye", "heat", "firing", "order of making")
TIES = TiePlot(
    "ties",
    NAMES,
    (
        TieCell("dye", "heat", 0.0),
        TieCell("dye", "firing", 0.25),
        TieCell("heat", "firing", 1.0, meant=True),
        TieCell("dye", "order of making", None),
        TieCell("heat", "order of making", 0.8),
    ),
    "Ties.",
)


@cache
def figures() -> tuple[Figure, Figure]:
    return seat_figure(PLOT), tie_figure(TIES)


def test_the_same_plan_gives_the_same_bytes_and_needs_no_font() -> None:
    again = (seat_figure(PLOT), tie_figure(TIES))
    for figure, other in zip(figures(), again, strict=True):
        assert figure == other
        root = ET.fromstring(figure.svg)  # noqa: S314  our own picture
        assert not root.findall(f".//{SVG}text")
        assert figure.png[:4] == b"\x89PNG"


def test_seats_are_told_in_words_and_numbers() -> None:
    seats, _ = figures()
    assert seats.alt == (
        "Layout of 12 cells, 4 firings by 3 teams. "
        "Dye: hibiscus on 4 cells, red cabbage on 4 cells, beetroot on 4 cells; "
        "each firing has 1 of each and each team has one version only. "
        "Heat: oven on 6 cells, burner on 6 cells; "
        "each firing has one version only and each team has 2 of each."
    )


def test_the_table_behind_the_seats_has_every_item() -> None:
    seats, _ = figures()
    assert [column.heading for column in seats.data.columns] == [
        "cell", "session", "firing", "team", "dye", "heat",
    ]  # fmt: skip
    assert len(seats.data.rows) == 12
    assert seats.data.rows[-1] == ("K32", "S1", "F3", "rowan", "beetroot", "burner")


def test_versions_differ_without_their_colours() -> None:
    assert len(set(HATCHES)) == 8
    seats, _ = figures()
    assert len(set(re.findall(rb"<pattern id=\"(\w+)\"", seats.svg))) == 2  # plain, lines, dots
    for panel in PLOT.panels:
        assert len(set(letters(panel.versions))) == len(panel.versions)


def test_ties_are_told_the_strongest_first() -> None:
    _, ties = figures()
    assert ties.alt == (
        "Table of shades: how firmly 4 things are tied, 0 to 1. heat with order of making: 0.80. "
        "dye with firing: 0.25. 1 pair: 0. Tied on purpose: heat with firing."
    )
    assert ties.data.rows[2] == ("heat", "firing", 1.0, "yes")
    assert "Cramér's V" in ties.data.notes[0]


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("tie", [0.0, 0.25, 0.5, 0.74, 0.75, 0.9, 1.0])
def test_numbers_on_shades_can_be_read(tie: float) -> None:
    # WCAG 2.2, criterion 1.4.3: 4.5 to 1; black letters up to 0.75, white from there
    ground = luminance(shade(tie)) + 0.05
    contrast = 1.05 / ground if tie >= 0.75 else ground / 0.05
    assert contrast >= 4.5


def test_shades_get_darker_with_the_tie() -> None:
    greys = [luminance(shade(step / 10)) for step in range(11)]
    assert shade(0.0) == WHITE
    assert greys == sorted(greys, reverse=True)


def test_ugly_layouts_are_drawn_without_a_warning() -> None:
    crowd = tuple(Seat(f"K{place}", place % 20, 0, place // 20) for place in range(200))
    many = SeatPanel("a very long name of a thing", tuple(f"version {i}" for i in range(12)),
                     tuple(place % 12 for place in range(200)))  # fmt: skip
    rows = tuple(SeatRow(f"row {place}") for place in range(20))
    wide = SeatPlot("w", "pot", "row", "", "", rows, ("",), crowd, (many,) * 3, "")
    assert seat_figure(wide).png
    one = SeatPlot("o", "cup", "", "", "", (SeatRow(""),), ("",), (Seat("K", 0),),
                   (SeatPanel("$x_1$", ("染料",), (0,)),), "")  # fmt: skip
    assert "1 cup" in seat_figure(one).alt
    long = replace(PLOT, columns=("an unbreakablelongname", "b", "c"))
    assert seat_figure(long).png
    assert tie_figure(TiePlot("t", ("a", "b"), (), "")).png
