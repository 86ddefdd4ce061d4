"""Tests by shuffling over whole null data sets: as many false alarms as the set of layouts allows.

With every layout counted the p-value of continuous data is uniform over j / m, where m is the
number of layouts that tell different stories (renaming levels of equal numbers changes none). So
at a nominal 5 % the rate is the largest j / m up to 0.05: exactly attainable, and often below it
(E. S. Edgington and P. Onghena, 2007, Randomization Tests, 4th ed., section 3; from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from math import factorial, floor, sqrt

import numpy as np
import pytest

from trials.analysis.permutation import permute
from trials.randomness import stream

STUDIES = 50_000
ERRORS = 3.5
NOMINAL = 0.05
# name: levels of the units, blocks, layouts in all (a count of the handbook kind)
DESIGNS: dict[str, tuple[list[int], list[int] | None, int]] = {
    "3 against 3": ([0, 0, 0, 1, 1, 1], None, 20),
    "4 against 4": ([0] * 4 + [1] * 4, None, 70),
    "4 against 6": ([0] * 4 + [1] * 6, None, 210),
    "three times 3": ([0, 0, 0, 1, 1, 1, 2, 2, 2], None, 1680),
    "6 pairs": ([0, 1] * 6, [block for block in range(6) for _ in "xy"], 64),
    "4 blocks of 3": ([0, 1, 2] * 4, [block for block in range(4) for _ in "xyz"], 1296),
}


def attainable(levels: list[int], size: int) -> float:
    """Return the largest level up to 0.05 that a test over so many layouts can have."""
    counts = np.bincount(levels)
    alike = factorial(len(counts)) if len(set(counts.tolist())) == 1 else 1
    stories = size // alike
    return floor(NOMINAL * stories + 1e-9) / stories


@pytest.mark.long
def test_the_rate_of_alarms_is_the_largest_attainable(
    effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    studies = effort(STUDIES)
    told = {}
    for name, (levels, blocks, size) in DESIGNS.items():
        rng = stream(15, name)
        block = None if blocks is None else np.array(blocks, dtype=np.intp)
        shift = np.zeros(len(levels)) if block is None else rng.normal(size=9)[block]
        alarms = 0
        for _ in range(studies):
            found = permute(
                shift + rng.standard_t(5, size=len(levels)),
                np.array(levels, dtype=np.intp),
                block,
                0,
                rng,
            )
            assert found.size == size
            assert found.p is not None
            alarms += found.p <= NOMINAL + 1e-12
        told[name] = {"rate": alarms / studies, "attainable": attainable(levels, size)}
    evidence("calibration_shuffle", {"studies": studies, "nominal": NOMINAL, "designs": told})
    for name, one in told.items():
        room = ERRORS * sqrt(one["attainable"] * (1 - one["attainable"]) / studies)
        assert abs(one["rate"] - one["attainable"]) <= room, (name, one)
        assert one["attainable"] <= NOMINAL
