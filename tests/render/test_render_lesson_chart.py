"""The chart of a lesson: what is drawn where, and that it is read without colour."""

from __future__ import annotations

import importlib.resources
import io
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pikepdf
import pytest
from PIL import ImageFont

from tests.remembered import words_of_pages
from trials.render import typeset
from trials.render.lesson_chart import (
    ChartBar,
    ChartLine,
    ChartStep,
    LessonPlot,
    Rule,
    Words,
    axis_marks,
    lesson_chart,
)
from trials.render.marks import mark

PLOT = LessonPlot(
    title="Lesson 1",
    minutes=50,
    free=(5, 5),
    axis="minute of the lesson",
    marks=tuple((at, str(at)) for at in range(0, 51, 10)),
    lines=(ChartLine("Team elm", 2), ChartLine("Meter pair", 1)),
    bars=(
        ChartBar(0, 0, 5, 8, 0, "K1A"),
        ChartBar(0, 1, 5, 1, 0, "K2B"),
        ChartBar(1, 0, 20, 6, 1, "K1A"),
    ),
    steps=(ChartStep("1", "Fold", 0), ChartStep("M", "Throw", 1)),
    caption="A lesson.",
)


def drawn(plot: LessonPlot) -> str:
    """Return the chart as it is drawn on paper, as SVG."""
    source = "#set page(width: auto, height: auto, margin: 0pt)\n"
    source += typeset.template("lesson_chart.typ") + "#lesson-chart(data, data.wide * 1pt)"
    job = typeset._Job(source, lesson_chart(plot).to_data(), "chart", {}, "a4", "en")
    svg = typeset._compile(job.virtual_files(frozenset()), format="svg")
    assert isinstance(svg, bytes)
    return svg.decode()


def test_each_step_has_a_colour_and_a_pattern_of_its_own() -> None:
    svg = drawn(PLOT)
    assert svg.rstrip().endswith("</svg>")
    for step in PLOT.steps:
        assert mark(step.place).fill in svg
    assert "<pattern" in svg  # the second step's hatching: it is told apart in grey
    plain = drawn(replace(PLOT, bars=PLOT.bars[:2], steps=PLOT.steps[:1]))
    assert "<pattern" not in plain


def test_the_patterns_of_eight_steps_differ_in_grey() -> None:
    """What is drawn in each pattern, without its colour; the first step has none."""
    steps = tuple(ChartStep(str(n), f"Step {n}", n) for n in range(8))
    svg = drawn(replace(PLOT, bars=(), steps=steps))
    found = re.findall(r"<pattern[^>]*>.*?</pattern>", svg, re.DOTALL)
    look = {re.sub(r'#[0-9a-f]{6}|(?:id|href|clip-path)="[^"]*"', "", one) for one in found}
    assert len(look) == 7


def test_bars_stand_at_their_minutes() -> None:
    """The widths of the bars, read off the picture, are in the proportion of their minutes."""
    svg = drawn(PLOT)
    edges = {}
    for step in PLOT.steps:
        look = mark(step.place)
        found = re.findall(
            rf'<path fill="{look.fill}"[^>]* stroke="{look.colour}"[^>]*'
            r' transform="translate\(([\d.]+)[^>]* d="M 0 0v [\d.]+h ([\d.]+)v',
            svg,
        )
        edges[step.sign] = sorted({(float(x), float(x) + float(wide)) for x, wide in found})
    wide = [right - left for left, right in edges["1"]]
    throw = [right - left for left, right in edges["M"]]
    # 8 and 1 and 6 minutes, each less 0.12 of a minute of gap; the key's patches are 0.3 inches
    minute = (max(wide)) / (8 - 0.12)
    assert any(one == pytest.approx(minute * (6 - 0.12), rel=1e-3) for one in throw)
    assert any(one == pytest.approx(minute * (1 - 0.12), rel=1e-3) for one in wide)
    first = min(left for left, right in edges["1"] if right - left == max(wide))
    second = next(
        left for left, right in edges["M"]
        if right - left == pytest.approx(minute * (6 - 0.12), rel=1e-3)
    )  # fmt: skip
    assert second - first == pytest.approx(15 * minute, rel=1e-3)


def test_the_chart_is_a_figure_told_in_words_and_its_letters_are_letters() -> None:
    """A person's letters enter as data, and one without a shape is named as on any other page."""
    plot = replace(PLOT, lines=(ChartLine("Team #1 *elm* \U0001f642", 2), PLOT.lines[1]))
    source = "#show: sheet\n= Lesson\n" + typeset.template("lesson_chart.typ")
    source += "#figure(alt: data.alt, kind: image, lesson-chart(data, 100mm))"
    page = typeset.pdf(source, lesson_chart(plot).to_data(), title="Lesson")
    (text,) = words_of_pages(page)
    for told in ("Team #1 *elm* [slightly smiling face]", "1 K1A", "M K1A", "minute of the lesson"):
        assert told in text
    with pikepdf.open(io.BytesIO(page)) as pdf:
        alts = [str(one.Alt) for one in pdf.objects if _is_figure(one)]
    assert alts == [lesson_chart(plot).alt]


def _is_figure(one: pikepdf.Object) -> bool:
    return isinstance(one, pikepdf.Dictionary) and one.get("/S") == pikepdf.Name("/Figure")


def test_it_is_told_in_words_too() -> None:
    told = lesson_chart(PLOT).alt
    assert told == (
        "Lesson 1: 50 minutes, 2 lines. Fold from minute 5 to 13. Throw from minute 20 to 26."
    )


def test_the_same_lesson_gives_the_same_bytes() -> None:
    assert lesson_chart(PLOT) == lesson_chart(PLOT)
    assert drawn(PLOT) == drawn(PLOT)


@pytest.mark.parametrize(
    ("minutes", "free"),
    [
        (1, (0, 0)),
        *((n, free) for n in (20, 45, 50, 90, 180, 600) for free in ((0, 0), (5, 5), (2, 7))),
    ],
)
def test_an_axis_names_both_ends_and_not_too_much(minutes: int, free: tuple[int, int]) -> None:
    marks = axis_marks(minutes, free)
    assert (marks[0], marks[-1]) == (0, minutes)
    assert list(marks) == sorted(set(marks))
    assert len(marks) <= 14


@pytest.mark.parametrize("line", ["Elm", "The pair of meters of the school"])
@pytest.mark.parametrize(
    ("minutes", "free"),
    [(n, free) for n in (45, 50, 60, 75, 90, 100, 240) for free in ((0, 0), (5, 5), (7, 10))],
)
def test_marks_of_the_axis_keep_apart(minutes: int, free: tuple[int, int], line: str) -> None:
    """The letters of DejaVu Sans as Pillow (FreeType) measures them; both ends are always named."""
    font = Path(str(importlib.resources.files("matplotlib"))) / "mpl-data/fonts/ttf/DejaVuSans.ttf"
    letters = ImageFont.truetype(str(font), 800)
    marks = tuple((at, f"{10 + at // 60}:{at % 60:02}") for at in axis_marks(minutes, free))
    lines = (ChartLine(line, 1),)
    plot = replace(PLOT, minutes=minutes, free=free, marks=marks, lines=lines, bars=())
    shapes = lesson_chart(plot).shapes
    shown = [one for one in shapes if isinstance(one, Words) and ":" in one.text and not one.room]
    times = sorted((one for one in shown if one.across == "center"), key=lambda one: one.x)
    assert (times[0].text, times[-1].text) == (marks[0][1], marks[-1][1])
    assert len(times) >= 5
    for one, two in pairwise(times):
        wide = sum(letters.getlength(it.text) / 800 * it.size for it in (one, two)) / 2
        assert two.x - one.x > wide + 2  # points
    rules = {one.start[0] for one in shapes if isinstance(one, Rule) and one.start[1] == 0}
    assert rules == {one.x for one in times}


def test_a_large_class_and_long_names_still_make_a_picture() -> None:
    lines = tuple(ChartLine(f"Team with a very long name {n}", 4) for n in range(20))
    bars = tuple(ChartBar(n, n % 4, n, 5, 0, "K" * 30) for n in range(20))
    crowded = replace(PLOT, lines=lines, bars=bars)
    chart = lesson_chart(crowded)
    assert 300 < chart.high < 450  # points: there is room for a heading and a table
    names = [one for one in chart.shapes if isinstance(one, Words) and one.room]
    for one, two in pairwise(names):
        assert two.y - one.y > 10
    assert drawn(crowded).startswith("<svg")
    assert drawn(replace(PLOT, lines=(), bars=(), steps=())).startswith("<svg")
