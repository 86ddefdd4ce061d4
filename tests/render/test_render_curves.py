"""The curve of sizes: drawn alike twice, told in words, with the numbers behind it."""

from __future__ import annotations

from trials.render.curves import CurveLine, CurvePanel, CurvePlot, curve_figure
from trials.render.table import to_csv


def plot(panels: int) -> CurvePlot:
    lines = (
        CurveLine("3 mW shows", (None, 0.35, 0.8)),
        CurveLine("6 mW shows", (0.2, 0.7, 1.0)),
    )
    return CurvePlot(
        "power-curve",
        tuple(
            CurvePanel(f"variable {place}", "cells a version", (2.0, 4.0, 8.0), 4.0, lines)
            for place in range(panels)
        ),
        0.8,
        "How many?",
    )


def test_the_same_numbers_give_the_same_bytes() -> None:
    first, again = curve_figure(plot(3)), curve_figure(plot(3))
    assert (first.svg, first.png) == (again.svg, again.png)
    assert first.png.startswith(b"\x89PNG")


def test_the_picture_is_told_in_words_and_numbers() -> None:
    figure = curve_figure(plot(1))
    assert "variable 0, 3 mW shows, by cells a version: 4: 35\u00a0%, 8: 80\u00a0%." in figure.alt
    assert to_csv(figure.data).splitlines()[1:] == [
        "variable 0,cells a version,2.0,,20.0",
        "variable 0,cells a version,4.0,35.0,70.0",
        "variable 0,cells a version,8.0,80.0,100.0",
    ]
