"""The figures of the checks on hand-made numbers: words, numbers behind them, ugly inputs."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache

import pytest

from trials.render.blocks import Figure
from trials.render.influence import InfluencePlot, InfluenceRow, Reach, influence_figure
from trials.render.leftovers import (
    GroupPanel,
    GroupPlot,
    LevelPlot,
    LevelStrip,
    OrderDot,
    OrderPlot,
    group_figure,
    level_figure,
    order_figure,
)

SVG = "{http://www.w3.org/2000/svg}"

ORDER = OrderPlot(
    "order", "power", "mW", "cell", ("order of making", "light (W/m²)"), "session",
    tuple(
        OrderDot(f"K{i}", 0.05 * (-1) ** i, f"S{i % 2}", (i + 1, None if i == 3 else 800.0 + i))
        for i in range(12)
    ),
    "Leftovers.",
)  # fmt: skip
SPREADS = LevelPlot(
    "spread", "power", "mW", "cell",
    (
        ("dye", (LevelStrip("hibiscus", ("K1", "K2"), (0.02, -0.02), 0.028),
                 LevelStrip("beetroot", ("K3",), (0.01,), None))),
    ),
    "Spread.",
)  # fmt: skip
GROUPS = GroupPlot(
    "groups", "power", "mW",
    (
        GroupPanel("team", tuple((f"t{i}", 0.01 * i - 0.15) for i in range(31)), 0.09),
        GroupPanel("firing within session", (("F1", 0.02), ("F2", -0.03)), None),
    ),
    "Groups.",
)  # fmt: skip
REACHES = InfluencePlot(
    "influence", "power", "mW", "difference", 0.1,
    (InfluenceRow("heat", "oven over burner", 0.12,
                  (Reach("firing", 0.08, "F1", 0.15, "F6"),
                   Reach("cell", 0.11, "K1", 0.13, "K2"))),),
    "Influence.",
)  # fmt: skip


@cache
def leftover_figures() -> list[Figure]:
    return [order_figure(ORDER), level_figure(SPREADS), group_figure(GROUPS),
            influence_figure(REACHES)]  # fmt: skip


def test_pictures_are_the_same_twice_and_hold_no_text() -> None:
    again = [order_figure(ORDER), level_figure(SPREADS), group_figure(GROUPS),
             influence_figure(REACHES)]  # fmt: skip
    for one, other in zip(leftover_figures(), again, strict=True):
        assert one == other
        root = ET.fromstring(one.svg)  # noqa: S314  our own picture
        assert not root.findall(f".//{SVG}text")
        assert len(one.svg) < 300_000


def test_every_figure_tells_its_numbers_in_words() -> None:
    order, spread, groups, reach = (f.alt.replace("\u00a0", " ") for f in leftover_figures())
    assert "12 cells left over in power, between −0.0500 mW and 0.0500 mW" in order
    assert "order of making; light (W/m²)" in order
    assert "Dye: hibiscus, 2 cells, SD 0.028 mW; beetroot, 1 cell." in spread
    assert "Team: 31 members, from t0 −0.150 mW to t30 0.150 mW." in groups
    assert "without one firing from 0.0800 (F1) to 0.150 (F6); without one cell" in reach


def test_the_data_behind_a_figure_are_what_it_was_given() -> None:
    order, spread, groups, reach = (figure.data for figure in leftover_figures())
    assert order.rows[3] == ("K3", "S1", 4, None, -0.05)
    assert [row[3] for row in spread.rows] == [0.02, -0.02, 0.01]
    assert len(groups.rows) == 33  # all of them, though not all are drawn
    assert reach.rows[0] == (
        "heat", "oven over burner", "firing", 0.12, 0.08, "F1", 0.15, "F6"
    )  # fmt: skip


def test_ugly_numbers_are_drawn_too() -> None:
    only = replace(ORDER.dots[0], places=(1,))
    one = replace(ORDER, dots=(only,), group="", across=("order of making",))
    assert order_figure(one).data.rows == (("K0", 1, 0.05),)
    unknown = OrderDot("K9", 0.0, "S1", (None, None))
    assert order_figure(replace(ORDER, dots=(unknown,))).png
    many = tuple(OrderDot(f"K{i}", 0.1 * i, f"g{i}", (i, i)) for i in range(20))
    assert order_figure(replace(ORDER, dots=many)).png  # more groups than marks: none is marked
    still = replace(REACHES.rows[0], estimate=0.0, reaches=(Reach("cell", 0.0, "a", 0.0, "b"),))
    assert influence_figure(replace(REACHES, rows=(still,), margin=None)).png
    flat = GroupPanel("team", (("a", 0.0), ("b", 0.0)), 0.0)
    assert group_figure(replace(GROUPS, panels=(flat,), unit="")).png


@pytest.mark.parametrize("margin", [1.3, None])
def test_ratios_are_drawn_on_their_own_scale(margin: float | None) -> None:
    row = InfluenceRow("heat", "oven over burner", 1.4, (Reach("cell", 0.9, "a", 1.6, "b"),))
    figure = influence_figure(replace(REACHES, scale="ratio", margin=margin, rows=(row,)))
    assert figure.data.columns[3].field == "all"  # a ratio has no unit
