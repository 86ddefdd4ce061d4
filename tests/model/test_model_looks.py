"""Two looks: the published constants, and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.model.looks import per_look


# S. J. Pocock (1977), Biometrika 64, 191-199, table 1, two looks: 2.178 at 5 %; at 10 and 1 % from
# C. Jennison and B. W. Turnbull, Group Sequential Methods, table 2.1 (the last two from memory)
@pytest.mark.parametrize(("alpha", "reach"), [(0.05, 2.178), (0.10, 1.875), (0.01, 2.772)])
def test_two_looks_have_the_published_reach(alpha: float, reach: float) -> None:
    each = per_look(1 - alpha, 2)
    assert stats.norm.isf((1 - each) / 2) == pytest.approx(reach, abs=6e-4)


def test_one_look_costs_nothing() -> None:
    assert per_look(0.95, 1) == 0.95


def test_both_looks_together_err_as_often_as_promised() -> None:
    rng = np.random.default_rng(3)
    first, second = rng.standard_normal((2, 400_000))
    reach = stats.norm.isf((1 - per_look(0.95, 2)) / 2)
    wrong = (np.abs(first) > reach) | (np.abs(first + second) / np.sqrt(2) > reach)
    assert wrong.mean() == pytest.approx(0.05, abs=3.5 * np.sqrt(0.05 * 0.95 / 400_000))
    # looked at twice with plain 95 % intervals: the 8.3 % that the warning speaks of
    plain = (np.abs(first) > 1.96) | (np.abs(first + second) / np.sqrt(2) > 1.96)
    assert plain.mean() == pytest.approx(0.083, abs=0.002)
