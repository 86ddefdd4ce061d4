"""Where a negative variance would leave a test without an answer, the block is held at zero."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.sizes import examples
from trials.model import Fit, Layout, Structure, fit_rows, make_layout
from trials.model.layout import Floats


def class_layout(seed: int) -> Layout:
    """Eight firings in two sessions, six teams crossing them, three feeds one apart; four lost."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[str]] = {n: [] for n in ("session", "firing", "team", "heat", "feed")}
    lost = set(rng.choice(48, 4, replace=False).tolist())
    for firing in range(8):
        feeds = rng.permutation(np.repeat(list("xyz"), 2))
        for team in range(6):
            if firing * 6 + team in lost:
                continue
            rows["session"].append(f"s{firing // 4}")
            rows["firing"].append(f"f{firing}")
            rows["team"].append(f"t{team}")
            rows["heat"].append("ab"[firing % 2])
            rows["feed"].append(str(feeds[team]))
    groups = ["session", "session/firing", "team"]
    return make_layout(Structure(["heat", "feed"], groups, {"heat": "firing"}), rows)


def null_data(layout: Layout, rng: np.random.Generator) -> Floats:
    y = rng.normal(size=layout.n)
    for grouping in layout.random:
        y = y + 0.5 * rng.normal(size=grouping.members)[grouping.coded.codes]
    return y


@pytest.fixture(scope="module")
def fits() -> list[Fit]:
    rng = np.random.default_rng(1)
    return [
        fit_rows(layout, null_data(layout, rng))
        for layout in map(class_layout, range(examples(100, 300)))
    ]


@pytest.mark.long
def test_every_test_has_an_answer(fits: list[Fit]) -> None:
    assert all(test.result.f is not None for fit in fits for test in fit.tests)
    assert all(fit.trace is None or fit.trace.converged for fit in fits)


@pytest.mark.long
def test_what_was_held_is_told_and_is_no_factors_unit(fits: list[Fit]) -> None:
    held = [fit for fit in fits if any(n.startswith("held_at_zero") for n in fit.notes)]
    assert held
    for fit in held:
        for note in fit.notes:
            path = note.partition(":")[2]
            assert path in ("team", "session:team")
            assert fit.component(path).unbounded == 0.0


@pytest.mark.long
def test_a_true_null_is_rejected_about_as_often_as_promised(fits: list[Fit]) -> None:
    """Nominal 5 %: at most 5 % + 3.5 Monte Carlo errors of so many data sets (seeded)."""
    for name in ("heat", "feed", "heat:feed"):
        p = []
        for fit in fits:
            result = next(t.result for t in fit.tests if t.hypothesis.term.name == name)
            assert result.f is not None
            assert result.den_df is not None
            p.append(float(stats.f.sf(result.f, result.num_df, result.den_df)))
        assert np.mean(np.array(p) <= 0.05) <= 0.05 + 3.5 * np.sqrt(0.05 * 0.95 / len(p))
