"""The figures on hand-made numbers: the same bytes, words and numbers behind them, ugly inputs."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache

import pytest

from trials.render.blocks import Figure
from trials.render.check import CheckDot, CheckPlot, check_figure
from trials.render.dots import Dot, DotLevel, DotPanel, DotPlot, dot_figure
from trials.render.drawing import ratio_ticks, tick_labels
from trials.render.lines import Line, LinePlot, LinePoint, line_figure
from trials.render.margin import MarginPlot, MarginRow, margin_figure
from trials.words.comparing import Pair

SVG = "{http://www.w3.org/2000/svg}"
XLINK = "{http://www.w3.org/1999/xlink}href"


def level(label: str, middle: float, n: int = 6, clusters: int = 1) -> DotLevel:
    dots = tuple(
        Dot(f"{label[:1]}{i}", middle * (0.8 + 0.4 * i / max(n - 1, 1)), f"F{i % clusters}")
        for i in range(n)
    )
    return DotLevel(label, dots, middle, (middle / 1.2, middle * 1.2))


PLOT = DotPlot(
    name="power-all",
    label="power",
    unit="mW",
    ratio=False,
    panels=(
        DotPanel("dye", (level("hibiscus", 0.6), level("beetroot", 0.3))),
        DotPanel("heat", (level("oven", 0.5, clusters=3), level("burner", 0.4)), "firing"),
    ),
    interval_name="range of doubt (95 %) of the average",
    item="cell",
    caption="Power of every cell.",
    margin=0.1,
)
LINES = LinePlot(
    name="dye-with-heat",
    label="power",
    unit="mW",
    ratio=True,
    across="dye",
    versions=("hibiscus", "beetroot"),
    apart="heat",
    lines=(
        Line("oven", (LinePoint(0.6, (0.5, 0.7)), LinePoint(0.3, (0.25, 0.36)))),
        Line("burner", (LinePoint(0.5, (0.4, 0.6)), LinePoint(None, (None, None)))),
    ),
    interval_name="range of doubt (95 %) of the average",
    caption="Averages.",
)
MARGIN = MarginPlot(
    name="which",
    label="power",
    unit="mW",
    ratio=False,
    margin=0.1,
    rows=(
        MarginRow("dye", Pair("beetroot", "hibiscus", -0.3, (-0.4, -0.2), "difference", "mW"),
                  "mattered"),
        MarginRow("heat", Pair("oven", "burner", 0.1, (None, None), "difference", "mW"),
                  "not settled"),
    ),
    interval_name="95 % range of doubt",
    caption="Differences.",
)  # fmt: skip
CHECK = CheckPlot(
    "check", "power", "mW", "mW",
    tuple(CheckDot(f"K{i}", 0.3 + 0.01 * i, 0.05 * (-1) ** i) for i in range(12)),
    "Residuals.",
)  # fmt: skip


def drawn() -> list[Figure]:
    return [dot_figure(PLOT), line_figure(LINES), margin_figure(MARGIN), check_figure(CHECK)]


@cache
def all_figures() -> list[Figure]:
    return drawn()


def test_the_same_numbers_give_the_same_bytes() -> None:
    for one, again in zip(all_figures(), drawn(), strict=True):
        assert one == again


def test_pictures_need_no_font_and_no_network() -> None:
    for figure in all_figures():
        root = ET.fromstring(figure.svg)  # noqa: S314  our own picture
        assert root.tag == f"{SVG}svg"
        assert not root.findall(f".//{SVG}text")
        assert not root.findall(f".//{SVG}image")
        assert b"<!DOCTYPE" not in figure.svg
        links = [node.get(XLINK) for node in root.iter() if XLINK in node.attrib]
        assert links
        assert all(link is not None and link.startswith("#") for link in links)
        assert not re.search(rb"\d{4}-\d\d-\d\d", figure.svg)
        assert figure.png[:4] == b"\x89PNG"
        assert len(figure.svg) < 300_000


def test_every_figure_tells_its_numbers_in_words() -> None:
    dots, lines, margin, check = (figure.alt.replace("\u00a0", " ") for figure in all_figures())
    assert "hibiscus, 6 cells between 0.480 and 0.720 mW, average 0.600 mW" in dots
    assert "Worth caring about: 0.1 mW." in dots
    assert "dye hibiscus, average 0.60 mW, range of doubt 0.50 to 0.70 mW" in lines
    assert "dye beetroot, no average" in lines
    assert "hibiscus gave 0.30 mW more than beetroot, the data fit anything from 0.20 to" in margin
    assert "no range could be worked out; not settled" in margin
    assert "12 items, between −0.0500 and 0.0500 mW; 6 lie above zero" in check


def test_the_data_behind_a_figure_are_what_it_was_given() -> None:
    dots, lines, margin, check = (figure.data for figure in all_figures())
    given = sorted(d.value for p in PLOT.panels for one in p.levels for d in one.dots)
    assert sorted(float(row[5] or 0) for row in dots.rows if row[2] == "cell") == given
    averages = [row[5:] for row in dots.rows if row[2] == "average"]
    assert averages[0] == (0.6, 0.6 / 1.2, 0.6 * 1.2)
    assert lines.rows[3] == ("burner", "beetroot", None, None, None)
    assert margin.rows[0] == ("dye", "hibiscus", "beetroot", 0.3, 0.2, 0.4, "mattered")
    assert check.rows[1] == ("K1", 0.31, -0.05)


@pytest.mark.parametrize("ratio", [True, False])
def test_ugly_inputs_are_drawn_without_a_warning(ratio: bool) -> None:
    empty = DotLevel("nothing worked", (), None, (None, None), "6 failed")
    one = DotLevel("one", (Dot("K1", 0.5),), 0.5, (None, None))
    panels = (
        DotPanel("a", (empty, empty)),
        DotPanel("b", (one, one)),
        DotPanel("$c_1^2$ & <b> % \\alpha", tuple(level(f"{i}", 0.3 + i) for i in range(12))),
        DotPanel("d", (level("a very long name of a version that goes on and on", 1),)),
        DotPanel("e", tuple(level(f"unbreakablename{i}", 1.0) for i in range(7))),
    )
    assert dot_figure(replace(PLOT, ratio=ratio, panels=panels[:1], margin=None)).png
    assert dot_figure(replace(PLOT, ratio=ratio, panels=panels, margin=50.0)).svg


def test_a_ratio_axis_never_meets_zero() -> None:
    low = DotLevel("low", (Dot("K1", -0.2), Dot("K2", 0.0), Dot("K3", 4.0)), 1.0, (-1.0, 3.0))
    assert dot_figure(replace(PLOT, ratio=True, panels=(DotPanel("a", (low, low)),))).png


def test_many_dots_and_letters_without_a_shape() -> None:
    many = DotPanel("many", (level("a", 1.0, 400), level("b", 1.0, 200)))
    assert dot_figure(replace(PLOT, panels=(many,))).png
    letters = replace(PLOT, panels=(DotPanel("染料 🙂", (level("赤", 1.0), level("緑", 2.0))),))
    assert "染料" in dot_figure(letters).alt


def test_lines_with_gaps_and_many_names() -> None:
    point = LinePoint(1.0, (0.9, 1.1))
    same = tuple(Line(f"version {i}", (point, point)) for i in range(8))
    assert line_figure(replace(LINES, lines=same)).png
    none = LinePoint(None, (None, None))
    assert line_figure(replace(LINES, lines=(Line("a", (none, none)),))).png
    assert line_figure(replace(LINES, ratio=False, lines=(Line("a", (point, none)),))).png


def test_margin_chart_on_the_ratio_scale() -> None:
    rows = tuple(
        MarginRow(f"v{i}", Pair("a", "b", 1.5 + i, (0.4, 9.0), "ratio"), verdict)
        for i, verdict in enumerate(("mattered", "made no practical difference", "not settled"))
    )
    figure = margin_figure(replace(MARGIN, ratio=True, margin=1.3, rows=rows))
    assert "1.50" in figure.alt
    assert figure.data.columns[3].field == "ratio"


def test_check_figure_with_one_item_and_with_nothing_left_over() -> None:
    assert check_figure(replace(CHECK, dots=CHECK.dots[:1])).png
    zero = tuple(replace(dot, residual=0.0) for dot in CHECK.dots)
    assert check_figure(replace(CHECK, dots=zero)).png


@pytest.mark.parametrize(
    ("low", "high"), [(0.9, 130), (0.45, 2.1), (1.0, 1.05), (3e-7, 8e-2), (99.0, 101.0)]
)
def test_ratio_axes_have_round_marks(low: float, high: float) -> None:
    ticks = ratio_ticks(low, high)
    assert 3 <= len(ticks) <= 12
    assert all(low <= tick <= high for tick in ticks)
    labels = list(tick_labels(ticks).values())
    assert len(set(labels)) == len(ticks)
    assert all(math.isfinite(tick) for tick in ticks)
