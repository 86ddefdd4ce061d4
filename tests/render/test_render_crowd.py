"""Very many dots in rows: none hidden, none out of its room, none moved up or down."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.render.test_render_figures import PLOT
from trials.render.crowd import in_rows
from trials.render.dots import Dot, DotPanel, dot_figure

HEIGHTS = st.lists(st.floats(-50.0, 50.0), max_size=60)


@given(HEIGHTS, st.floats(0.5, 8.0), st.floats(0.5, 40.0))
def test_dots_stay_in_their_room_and_no_two_are_at_one_place(
    heights: list[float], wide: float, room: float
) -> None:
    aside = in_rows(heights, wide, room)
    assert len(aside) == len(heights)
    assert all(abs(x) <= room * (1 + 1e-12) for x in aside)
    places = list(zip(aside, heights, strict=True))
    assert len(set(places)) == len(places)


@given(HEIGHTS, st.floats(0.5, 8.0))
def test_with_room_for_all_no_dot_covers_half_of_another(heights: list[float], wide: float) -> None:
    places = list(zip(in_rows(heights, wide, 1000.0), heights, strict=True))
    for (x1, y1), (x2, y2) in itertools.combinations(places, 2):
        apart = ((x1 - x2) ** 2 + (y1 - y2) ** 2) ** 0.5
        assert apart >= wide / 2 * (1 - 1e-9)


@pytest.mark.parametrize("ratio", [True, False])
def test_a_figure_of_a_thousand_items_has_a_dot_for_each(ratio: bool) -> None:
    level = PLOT.panels[0].levels[0]
    dots = tuple(Dot(f"c{n}", 10.0 + n * 7 % 101 / 10) for n in range(1000))
    many = DotPanel("dye", (replace(level, dots=dots), replace(level, label="tea", dots=dots[:9])))
    svg = dot_figure(replace(PLOT, ratio=ratio, panels=(many,))).svg
    spots = re.findall(rb'<use [^>]*x="([-\d.]+)" y="([-\d.]+)"', svg)
    assert len(set(spots)) >= 1000
