"""The criterion of the contrasts is that of the rows, at every place and for every layout.

Harville (1974), Biometrika 61: the likelihood of error contrasts is REML's, but for a constant that
the layout alone settles.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from trials.model import FitOptions, Group, Layout, Structure, fit_rows, make_layout, reml
from trials.model.contrasts import contrasts
from trials.model.layout import Floats
from trials.model.reduced import Reduced, reduce_rows
from trials.model.reml import Rows
from trials.model.terms import make_design


def firings(seed: int) -> tuple[Layout, Floats]:
    """Items in firings, by teams that cross them, some lost; a covariate; a response."""
    rng = np.random.default_rng(seed)
    kept = np.sort(rng.choice(40, rng.integers(24, 40), replace=False))
    firing, team = kept // 5, kept % 5
    rows = {
        "firing": [str(i) for i in firing],
        "team": [str(i) for i in team],
        "heat": ["ab"[i % 2] for i in firing],
        "dye": ["xyz"[i] for i in rng.integers(3, size=len(kept))],
    }
    groups = [Group("firing", random=True), Group("team", random=True)]
    structure = Structure(["heat", "dye"], groups, {"heat": "firing"})
    size = 10.0 ** rng.integers(-6, 7)
    covariates = {"thick": size * (rng.normal(size=len(kept)) + rng.normal(size=8)[firing])}
    layout = make_layout(structure, rows, covariates=covariates)
    y = rng.normal(size=len(kept)) + rng.normal(size=8)[firing] + rng.normal(size=5)[team]
    return layout, y + rng.choice([0.0, 1000.0])


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_contrasts_have_the_criterion_of_the_rows(seed: int) -> None:
    layout, y = firings(seed)
    data = reduce_rows(make_design(layout), y)
    made, rows = contrasts(data), Rows(data)
    assert made is not None
    assert made.left + made.G.shape[1] == data.n - data.k
    own = made.of(data)
    rng = np.random.default_rng(seed)
    theta = rng.uniform(0.0, 2.0, len(data.components))
    theta[-1] = rng.uniform(-0.02, 0.5)
    assume(data.is_positive(theta, 1e-2))
    found, expected = own.slope(theta), rows.slope(theta)
    for name in ("loglik", "score", "expected", "observed"):
        one, other = np.asarray(getattr(found, name)), np.asarray(getattr(expected, name))
        np.testing.assert_allclose(one, other, rtol=0, atol=1e-8 * np.abs(other).max())
    thetas = np.stack([theta, 2 * theta])
    for one, other in zip(own.squares(thetas), rows.squares(thetas), strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-8)


@pytest.mark.parametrize("options", [FitOptions(), FitOptions(df="satterthwaite", bounded=True)])
@pytest.mark.parametrize("seed", range(12))
def test_the_same_top_is_found_among_contrasts_and_rows(
    seed: int, options: FitOptions, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout, y = firings(seed)
    fast = fit_rows(layout, y, options)
    monkeypatch.setattr(reml, "contrasts", lambda _: None)
    slow = fit_rows(layout, y, options)
    assert fast.trace is not None
    assert slow.trace is not None
    assert fast.trace.verdict == slow.trace.verdict
    assert fast.trace.rivals == slow.trace.rivals
    assert fast.trace.tops == pytest.approx(slow.trace.tops, abs=1e-9)
    for one, other in zip(fast.components, slow.components, strict=True):
        assert one.unbounded == pytest.approx(other.unbounded, rel=1e-9, abs=1e-9)
    for test, rival in zip(fast.tests, slow.tests, strict=True):
        assert test.result.f == pytest.approx(rival.result.f, rel=1e-8)
        assert test.result.den_df == pytest.approx(rival.result.den_df, rel=1e-7)


def reduced(rows: dict[str, list[str]], spread_by: str | None = None) -> Reduced:
    structure = Structure(["dye"], [Group("firing", random=True)])
    layout = make_layout(structure, rows)
    return reduce_rows(make_design(layout), np.arange(float(layout.n)), spread_by)


def test_what_needs_all_rows_has_no_contrasts() -> None:
    """A variance for each level, and groups worked out from the smallest to the largest."""
    few = {"firing": list("1122334455"), "dye": list("xyxyxyxyxy")}
    assert contrasts(reduced(few)) is not None
    assert contrasts(reduced(few, "dye")) is None
    many = {"firing": [str(i // 2) for i in range(200)], "dye": list("xy" * 100)}
    assert contrasts(reduced(many)) is None
