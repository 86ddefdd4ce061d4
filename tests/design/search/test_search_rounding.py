"""The same seed gives the same layout on any machine: last digits decide nothing."""

from __future__ import annotations

import numpy as np
import pytest

from trials.design.search import Criterion, Problem, SearchFactor, SearchGroup, search
from trials.design.search.descent import in_order, is_better
from trials.design.search.information import information
from trials.design.search.values import Kind


@pytest.mark.parametrize("kind", ["A", "D", "I"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_rounding_in_the_information_changes_no_layout(kind: Kind, seed: int) -> None:
    factors = (SearchFactor("dye", 3), SearchFactor("soak", 2), SearchFactor("heat", 2, "firing"))
    groups = (
        SearchGroup("firing", np.repeat(np.arange(6), 4), 0.5),
        SearchGroup("team", np.tile(np.arange(4), 6), 0.3),
    )
    plain = Problem(24, factors, groups)
    W = information(plain)
    noise = 1e-14 * np.random.default_rng(seed).standard_normal(W.shape)
    found = [
        search(
            Problem(24, factors, groups, information=one),
            Criterion(kind),
            starts=4,
            rng=np.random.default_rng(seed),
        )
        for one in (W, W * (1 + noise + noise.T))
    ]
    for name in ("dye", "soak", "heat"):
        assert found[0].codes[name].tolist() == found[1].codes[name].tolist()


def test_what_is_equal_but_for_rounding_keeps_its_place() -> None:
    scores = np.array([3.0, 1.0 + 2e-16, 1.0, np.inf, 1.0 - 2e-16, np.inf, 2.0])
    assert in_order(scores, 1e-9).tolist() == [1, 2, 4, 6, 0, 3, 5]


def test_better_means_by_more_than_rounding() -> None:
    assert is_better(0.9, 1.0, volume=False)
    assert not is_better(1.0 - 1e-12, 1.0, volume=False)
    assert is_better(5.0, np.inf, volume=False)
    assert not is_better(np.inf, np.inf, volume=False)
    assert is_better(-2.0, -1.9, volume=True)
