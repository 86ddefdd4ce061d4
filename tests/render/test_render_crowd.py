"""Very many dots in rows: none hidden, none out of its room, none moved up or down."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.render.test_render_figures import PLOT
from trials.render import drawing
from trials.render.crowd import in_rows
from trials.render.dots import Dot, DotPanel, dot_figure
from trials.render.marks import mark

OFF = 10.8 / 108  # points of a canvas 1.5 inches wide
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


@pytest.mark.parametrize(
    ("alike", "room", "covered"), [(5, 0.4, False), (7, 0.25, False), (13, 0.2, True)]
)
def test_dots_keep_off_what_stands_beside_them(alike: int, room: float, covered: bool) -> None:
    """In 1.5 inches, 108 points, a dot of 6.2 points takes 0.057: 7 fit if moved, 13 do not."""
    values = [1.0] * alike + [0.2, 0.5, 1.6]
    canvas = drawing.new_canvas(2.0, 1.5)
    (axes,) = drawing.panels(canvas, [1])
    axes.set_position((0, 0, 1, 1))
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 2)
    drawing.swarm(axes, (0.55, 0.4 + OFF, room + OFF), values, mark(0), 5.0, clear=10.8)
    canvas.canvas.draw()
    places: Any = axes.collections[0].get_offsets()
    assert [y for _, y in places.tolist()] == values  # none is moved up or down
    aside = sorted(x for x, y in places.tolist() if y == 1.0)
    assert aside[0] >= 0.55 - 0.4 - 1e-9
    assert aside[-1] <= 0.55 + room + 1e-9
    gaps = [(b - a) * 1.5 * 72 for a, b in itertools.pairwise(aside)]
    assert min(gaps) > 0.5  # points
    assert (min(gaps) < 6.0) == covered
