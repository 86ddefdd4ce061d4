"""The chart of a lesson: what is drawn where, and that it is read without colour."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from trials.render.lesson_chart import (
    ChartBar,
    ChartLine,
    ChartStep,
    LessonPlot,
    axis_marks,
    lesson_chart,
)
from trials.render.marks import mark

PLOT = LessonPlot(
    name="lesson-1",
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


def test_each_step_has_a_colour_and_a_pattern_of_its_own() -> None:
    svg = lesson_chart(PLOT).svg.decode()
    assert svg.rstrip().endswith("</svg>")
    for step in PLOT.steps:
        assert mark(step.place).fill in svg
    assert "<pattern" in svg  # the second step's hatching: it is told apart in grey
    plain = lesson_chart(replace(PLOT, bars=PLOT.bars[:2], steps=PLOT.steps[:1])).svg.decode()
    assert "<pattern" not in plain


def test_bars_stand_at_their_minutes() -> None:
    """The widths of the bars, read off the picture, are in the proportion of their minutes."""
    svg = lesson_chart(PLOT).svg.decode()
    edges = {}
    for step in PLOT.steps:
        colour = mark(step.place).colour
        found = re.findall(
            rf'<path d="M ([\d.]+) ([\d.]+)\s*L ([\d.]+) [\d.]+[^"]*"[^>]*stroke: {colour}', svg
        )
        edges[step.sign] = sorted({(float(x), float(right)) for x, _, right in found})
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


def test_it_is_told_in_words_too() -> None:
    told = lesson_chart(PLOT).alt
    assert told == (
        "Lesson 1: 50 minutes, 2 lines. Fold from minute 5 to 13. Throw from minute 20 to 26."
    )


def test_the_same_lesson_gives_the_same_bytes() -> None:
    assert lesson_chart(PLOT).svg == lesson_chart(PLOT).svg


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


def test_a_large_class_and_long_names_still_make_a_picture() -> None:
    lines = tuple(ChartLine(f"Team with a very long name {n}", 4) for n in range(20))
    bars = tuple(ChartBar(n, n % 4, n, 5, 0, "K" * 30) for n in range(20))
    assert lesson_chart(replace(PLOT, lines=lines, bars=bars)).svg.startswith(b"<?xml")
    assert lesson_chart(replace(PLOT, lines=(), bars=(), steps=())).svg.startswith(b"<?xml")
