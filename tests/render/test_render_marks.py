"""Colours and marks: contrast, colour blindness, grey."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from numpy.typing import NDArray

from trials.render import marks
from trials.render.blocks import Document
from trials.render.html import html_page

Array = NDArray[np.float64]

# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes (2009), IEEE Trans. Vis. Comput. Graph. 15(6),
# 1291-1298, matrices for severity 1.0 (from memory; rows sum to 1, as they must for white).
BLIND = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour: str) -> Array:
    """Linear RGB of a hexadecimal sRGB colour (IEC 61966-2-1)."""
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.2: (L1 + 0.05) / (L2 + 0.05) with relative luminances."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    high, low = sorted((float(weights @ linear(c)) for c in (one, other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def lab(rgb: Array) -> Array:
    """CIE 1976 L*a*b* of linear RGB, D65."""
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    t = to_xyz @ np.clip(rgb, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_formula_gives_the_known_extremes() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    # WCAG 2.2 understanding documents: #777777 on white just fails 4.5 to 1, with 4.48.
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_marks_stand_out_from_white_and_from_their_own_filling() -> None:
    # WCAG 2.2, 1.4.11: graphical objects 3 to 1
    for mark in marks.MARKS:
        assert contrast(mark.colour, marks.WHITE) >= 3
        # lines carry text in the same colour: 1.4.3 asks 4.5 to 1
        assert contrast(mark.colour, marks.WHITE) >= 4.5, mark


def test_text_is_readable_on_every_ground() -> None:
    for text in (marks.INK, marks.QUIET, marks.ACCENT):
        for ground in (marks.WHITE, marks.PALE, marks.BAND):
            assert contrast(text, ground) >= 4.5


def test_text_of_the_page_is_readable() -> None:
    page = html_page(Document("t", "", "", (), ()))
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", page))
    assert len(colours) >= 7
    for text in ("ink", "accent", "quiet"):
        for ground in ("#ffffff", colours["pale"]):
            assert contrast(colours[text], ground) >= 4.5
    for text in ("ink", "alarm"):
        assert contrast(colours[text], colours["alarm-pale"]) >= 4.5
    assert contrast(colours["rule"], "#ffffff") >= 3


def test_shapes_and_dashes_differ_so_colour_never_stands_alone() -> None:
    assert len({mark.shape for mark in marks.MARKS}) == len(marks.MARKS)
    assert len({mark.dash for mark in marks.MARKS}) == len(marks.MARKS)
    assert marks.mark(len(marks.MARKS)) == marks.MARKS[0]


@pytest.mark.parametrize("kind", [*BLIND, "none"])
def test_the_first_five_colours_differ_for_everyone(kind: str) -> None:
    matrix = np.eye(3) if kind == "none" else np.array(BLIND[kind])
    assert np.allclose(matrix.sum(axis=1), 1, atol=1e-4)
    seen = [lab(matrix @ linear(mark.colour)) for mark in marks.MARKS[:5]]
    nearest = min(float(np.linalg.norm(a - b)) for a, b in itertools.combinations(seen, 2))
    assert nearest > 8  # a just noticeable difference is about 2.3 (common practice)
