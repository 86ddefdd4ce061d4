"""How often terms change places in imagined repeats."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from trials.analysis.ranks import Floats, rank_frequencies
from trials.randomness import stream


def two(size: float) -> np.ndarray:
    return np.array([size, -size])


def blocks(count: int, variance: float) -> Floats:
    """Return the covariance of ``count`` independent pairs of opposite effects."""
    block = np.array([[1.0, -1.0], [-1.0, 1.0]]) * variance
    return np.asarray(np.kron(np.eye(count), block), dtype=np.float64)


def test_equal_effects_share_the_first_place() -> None:
    effects = {name: two(1.0) for name in "abc"}
    found = rank_frequencies(effects, blocks(3, 0.04), 6000, stream(1, "r"))
    for shares in found.values():
        assert shares == pytest.approx((1 / 3, 1 / 3, 1 / 3), abs=0.025)
        assert sum(shares) == pytest.approx(1)


def test_two_terms_equal_the_normal_law() -> None:
    """One df each: the first wins if |a + e1| > |b + e2|, a chance with a closed form."""
    a, b, se = 1.0, 0.6, 0.3
    found = rank_frequencies({"a": two(a), "b": two(b)}, blocks(2, se**2), 40000, stream(2, "r"))
    small = [math.sqrt(x * x - se * se) for x in (a, b)]
    sd = math.sqrt(2) * se
    plus = stats.norm.cdf((small[0] + small[1]) / sd)
    minus = stats.norm.cdf((small[0] - small[1]) / sd)
    expected = plus * minus + (1 - plus) * (1 - minus)
    assert found["a"][0] == pytest.approx(expected, abs=0.01)
    assert found["b"][1] == pytest.approx(expected, abs=0.01)


def test_the_same_seed_gives_the_same_frequencies() -> None:
    arguments = ({"a": two(0.2), "b": two(0.0)}, 0.01 * np.eye(4), 500)
    first = rank_frequencies(*arguments, stream(3, "r"))
    assert first == rank_frequencies(*arguments, stream(3, "r"))
    assert first != rank_frequencies(*arguments, stream(4, "r"))
