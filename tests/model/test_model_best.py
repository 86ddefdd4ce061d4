"""Hsu's comparisons with the best: worked examples of textbooks, identities, and coverage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trials.model import Structure, dunnett, fit_rows, make_layout
from trials.model.best import Contender, against_best, constrained
from trials.model.hypotheses import pair_line

# Beetles caught on boards of four colours: S. G. Wilson and D. E. Shade (1967), The Canadian
# Entomologist 99; the example of J. C. Hsu (1996), Multiple Comparisons, chapters 4 and 5 (data and
# limits from memory).
BOARDS = {
    "yellow": [45, 59, 48, 46, 38, 47],
    "white": [21, 12, 14, 17, 13, 17],
    "green": [37, 32, 15, 25, 39, 41],
    "blue": [16, 11, 20, 21, 14, 7],
}

# Bacteria on beef, log count per cm2, in four packages: R. O. Kuehl (2000), Design of Experiments,
# 2nd ed., tables 2.1 and 3.6; the best is the fewest (data and limits from memory).
BEEF = {
    "commercial": [7.66, 6.98, 7.80],
    "vacuum": [5.26, 5.44, 5.80],
    "mixed gas": [7.41, 7.33, 7.04],
    "carbon dioxide": [3.51, 2.91, 3.66],
}


def _found(
    data: dict[str, list[float]], *, larger: bool, confidence: float = 0.95
) -> dict[str, Contender]:
    labels = [name for name, values in data.items() for _ in values]
    y = np.array([float(v) for values in data.values() for v in values])
    layout = make_layout(Structure(["kind"]), {"kind": labels})
    fit = fit_rows(layout, y - y[0])
    levels = layout.factors["kind"].levels
    first, *rest = (pair_line(fit.design, "kind", level, 0)[0] for level in range(len(levels)))
    assert first is not None
    rows = np.array([first, *(row for row in rest if row is not None)])
    found = against_best(fit.inference, rows, confidence, larger=larger)
    assert found is not None
    return dict(zip(levels, found, strict=True))


def test_beetles_on_coloured_boards() -> None:
    found = _found({k: [float(x) for x in v] for k, v in BOARDS.items()}, larger=True)
    limits = {"yellow": (0, 24.25), "white": (-40.08, 0), "green": (-24.25, 0), "blue": (-40.9, 0)}
    for colour, (low, high) in limits.items():
        one = found[colour]
        assert (one.low, one.high) == pytest.approx((low, high), abs=0.05), colour
        assert one.may_be_best == (colour == "yellow")


def test_bacteria_on_beef_where_the_fewest_are_best() -> None:
    """Kuehl prints the differences with the margin 2.42 * sqrt(2 * 0.116 / 3) = 0.67."""
    found = _found(BEEF, larger=False)
    differences = {"commercial": 4.12, "vacuum": 2.14, "mixed gas": 3.90, "carbon dioxide": -2.14}
    for package, difference in differences.items():
        one = found[package]
        assert one.estimate == pytest.approx(difference, abs=0.006)
        if difference < 0:
            assert (one.low, one.high) == pytest.approx((difference - 0.67, 0), abs=0.01)
        else:
            assert (one.low, one.high) == pytest.approx((0, difference + 0.67), abs=0.01)
        assert one.may_be_best == (package == "carbon dioxide")


def test_two_contenders_have_a_one_sided_t_interval_cut_at_zero() -> None:
    """With two, each is the other's control: Student's t at the one-sided level."""
    found = _found({"a": [1.0, 2, 3], "b": [2.0, 3, 5]}, larger=True)
    reach = dunnett.critical_above(0.95, (0.0,), 4) * np.sqrt((1 + 7 / 3) / 2 * 2 / 3)
    gap = 10 / 3 - 2
    assert found["b"].high == pytest.approx(gap + reach)
    assert found["a"].low == pytest.approx(-gap - reach)
    assert found["b"].low == pytest.approx(min(0, gap - reach))
    assert found["a"].high == pytest.approx(max(0, reach - gap))


@given(st.lists(st.floats(-10, 10), min_size=2, max_size=6), st.floats(0.1, 5))
def test_equal_reach_gives_the_published_formula(means: list[float], reach: float) -> None:
    """Hsu (1984), theorem 1: the estimate less and plus the reach, each cut at zero."""
    m = np.array(means)
    k = len(m)
    found = constrained(m[:, None] - m, np.full((k, k), reach))
    for i, one in enumerate(found):
        gap = m[i] - np.delete(m, i).max()
        assert one.estimate == pytest.approx(gap)
        assert one.low == pytest.approx(min(0, gap - reach))
        assert one.high == pytest.approx(max(0, gap + reach))


@pytest.mark.parametrize("counts", [(4, 4, 4), (3, 5, 8, 4)])
@pytest.mark.parametrize("means", [(0.0, 0.0, 0.0, 0.0), (0.0, 0.5, 1.0, 1.0)])
def test_all_intervals_hold_at_once_as_often_as_promised(
    counts: tuple[int, ...], means: tuple[float, ...]
) -> None:
    """2,000 simulated studies: at least 90 %, less three Monte Carlo errors (0.02)."""
    rng = np.random.default_rng(7)
    n = np.array(counts)
    mu = np.array(means[: len(n)])
    df = int(n.sum()) - len(n)
    k = len(n)
    d = [
        dunnett.critical_above(
            0.9, dunnett.loadings_of_counts(n[i], tuple(float(x) for x in np.delete(n, i))), df
        )
        for i in range(k)
    ]
    se = np.sqrt(1 / n[:, None] + 1 / n)
    held = 0
    for _ in range(2000):
        m = mu + rng.standard_normal(k) / np.sqrt(n)
        s = np.sqrt(rng.chisquare(df) / df)
        found = constrained(m[:, None] - m, np.array(d)[:, None] * se * s)
        truth = [mu[i] - np.delete(mu, i).max() for i in range(k)]
        held += all(one.low <= t <= one.high for one, t in zip(found, truth, strict=True))
    assert held / 2000 > 0.9 - 0.02
