"""Efficiency of incomplete blocks against published tables, blocks random and fixed."""

from __future__ import annotations

from itertools import combinations

import pytest

from trials.model import SkeletonTerm, Structure, make_layout, skeleton


def lines(blocks: list[tuple[int, ...]], *, random: bool | None = None) -> list[SkeletonTerm]:
    from trials.model import Group

    rows = {
        "block": [f"b{place}" for place, block in enumerate(blocks) for _ in block],
        "feed": [f"v{kind}" for block in blocks for kind in block],
    }
    return list(skeleton(make_layout(Structure(["feed"], [Group("block", random)]), rows)))


FANO = [(0, 1, 3), (1, 2, 4), (2, 3, 5), (3, 4, 6), (4, 5, 0), (5, 6, 1), (6, 0, 2)]


# W. G. Cochran and G. M. Cox (1957), Experimental Designs, 2nd ed., Wiley, table 11.3: efficiency
# factor E = v (k - 1) / (k (v - 1)) of balanced incomplete blocks.
@pytest.mark.parametrize(
    ("blocks", "published"),
    [
        (FANO, 7 / 9),
        ([*combinations(range(4), 2)], 2 / 3),
        ([*combinations(range(5), 2)], 5 / 8),
        ([*combinations(range(4), 3)], 8 / 9),
        ([*combinations(range(3), 2)], 3 / 4),
        ([*combinations(range(6), 3)], 4 / 5),
    ],
)
@pytest.mark.parametrize("random", [True, False])
def test_efficiency_of_balanced_incomplete_blocks(
    blocks: list[tuple[int, ...]], published: float, random: bool
) -> None:
    found = {line.stratum: line for line in lines(blocks, random=random) if line.source == "feed"}
    assert found["residual"].efficiency == pytest.approx(published, abs=1e-12)
    assert found["block"].efficiency == pytest.approx(1 - published, abs=1e-12)
    if len(blocks) > 3:  # else nothing is left to judge chance by
        assert found["residual"].tested_by == "residual"
    assert found["block"].tested_by is None


def test_what_is_wholly_between_fixed_blocks_is_shown_there_and_not_tested() -> None:
    rows = {"block": list("aaaabbbb"), "feed": list("xxxxyyyy"), "light": list("pqpqpqpq")}
    found = skeleton(make_layout(Structure(["feed", "light"], ["block"]), rows), 1)
    assert [(line.source, line.stratum, line.tested_by) for line in found] == [
        ("feed", "block", None),
        ("light", "residual", "residual"),
        ("residual", "residual", None),
    ]
