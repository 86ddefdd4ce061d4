"""What may be the best, what would confirm it, and how averages are weighted."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf  # type: ignore[import-untyped]  # it ships no types
from scipy import stats
from statsmodels.stats.power import (  # type: ignore[import-untyped]  # it ships no types
    TTestIndPower,
)

import trials
from trials import Factor, Options, Structure
from trials.analysis.alike import Leftover, reading_share
from trials.analysis.findings import ResponseFindings
from trials.model import tukey


def table(seed: int = 5, lost: int = 0, step: float = 1.0) -> pd.DataFrame:
    """Two things changed on 36 pots; some lost, so that numbers are unequal."""
    rng = np.random.default_rng(seed)
    rows = [
        {
            "feed": feed,
            "light": light,
            "gain": f"{10 + step * i + 0.4 * j + rng.normal(scale=0.5):.3f}",
        }
        for i, feed in enumerate("abc")
        for j, light in enumerate(("lamp", "sun", "shade"))
        for _ in range(4)
    ]
    return pd.DataFrame(rows).drop(index=list(range(lost))).reset_index(drop=True)


def found(frame: pd.DataFrame, /, **options: Any) -> ResponseFindings:
    settings = {"response": "gain", "resamples": 0, "better": "high"} | options
    structure = Structure(["feed", "light"])
    return trials.analyse_table(frame, structure, Options.model_validate(settings)).responses[0]


def test_the_better_level_is_told_on_either_side() -> None:
    high = {one.levels["feed"]: one for one in found(table()).contenders if one.term == "feed"}
    assert high["c"].may_be_best
    assert not high["a"].may_be_best
    assert high["c"].interval[0] == 0
    assert high["a"].interval[1] == 0
    low = found(table(), better="low").contenders
    least = {one.levels["feed"]: one for one in low if one.term == "feed"}
    assert least["a"].may_be_best
    assert least["c"].interval[0] == 0
    assert least["a"].interval == pytest.approx((least["a"].interval[0], 0))


def test_ratios_end_at_one() -> None:
    ratios = [one for one in found(table(), compare="ratio").contenders if one.term == "feed"]
    assert [one.difference for one in ratios] == [None] * 3
    assert ratios[0].interval[1] == 1.0
    assert ratios[2].interval[0] == 1.0
    assert ratios[0].ratio is not None
    assert 0 < ratios[0].ratio < 1


def test_without_a_direction_nothing_is_said_of_the_best() -> None:
    plain = found(table(), better=None)
    assert plain.contenders == ()
    assert plain.best_recipe is None
    assert "no_direction" in plain.method.notes
    assert len(plain.recipes) == 9


def test_empty_combinations_leave_no_best() -> None:
    frame = table()
    frame = frame[(frame["feed"] != "c") | (frame["light"] != "sun")]
    feeds = [one for one in found(frame).contenders if one.term == "feed"]
    assert {one.notes for one in feeds} == {("no_best_gaps",)}
    assert {one.may_be_best for one in feeds} == {None}


def test_recipes_are_statsmodels_predictions() -> None:
    """statsmodels 0.15, OLS with both main effects, of 34 rows; one recipe was never made."""
    frame = table(lost=4).astype({"gain": float})
    here = found(frame.astype({"gain": str}), interactions=1)
    model = smf.ols("gain ~ C(feed) + C(light)", frame).fit()
    assert [one.notes for one in here.recipes if one.n == 0] == [("never_made",)]
    for one in here.recipes:
        told = model.get_prediction(pd.DataFrame([one.levels])).summary_frame(alpha=0.05).iloc[0]
        assert one.mean == pytest.approx(told["mean"], rel=1e-10)
        assert one.se == pytest.approx(told["mean_se"], rel=1e-10)
        assert one.interval == pytest.approx((told["mean_ci_lower"], told["mean_ci_upper"]))


def test_the_best_recipe_and_its_confirmation_run() -> None:
    here = found(table(), worthwhile=0.6)
    best = here.best_recipe
    assert best is not None
    means = sorted((one.mean or 0.0 for one in here.recipes), reverse=True)
    assert best.mean == means[0]
    assert best.gap == pytest.approx(means[0] - means[1])
    assert "likely_too_good" in best.notes
    spread = here.variance_components[-1].variance or 0.0
    se = math.sqrt(spread / 4)
    wide = stats.t.ppf((1 + 0.95 ** (1 / 9)) / 2, 27) * se  # Sidak over the 9 recipes
    assert best.interval == pytest.approx((means[0] - wide, means[0] + wide))
    assert best.gap is not None
    reach = tukey.critical(0.95, 9, 27) * se * math.sqrt(2)
    assert best.gap_interval == pytest.approx((best.gap - reach, best.gap + reach))
    assert best.fresh_for == 0.6
    power = TTestIndPower()
    size = 0.6 / math.sqrt(spread)
    assert best.fresh is not None
    assert power.power(size, best.fresh, 0.05) >= 0.8 - 1e-9
    assert power.power(size, best.fresh - 1, 0.05) < 0.8


def test_a_confirmation_run_has_three_fresh_items_at_least() -> None:
    best = found(table(), worthwhile=50).best_recipe
    assert best is not None
    assert best.fresh == 3


def test_fresh_items_of_a_group_factor_need_groups_of_their_own() -> None:
    """The spread between pots counts where the factor was applied to pots."""
    rng = np.random.default_rng(2)
    rows = [
        {"feed": "ab"[pot % 2], "pot": f"p{pot}", "gain": f"{pot % 2 + shift + e:.3f}"}
        for pot in range(12)
        for shift in [rng.normal(scale=2)]
        for e in rng.normal(scale=0.2, size=3)
    ]
    settings = Options(response="gain", resamples=0, better="high", worthwhile=1.0)
    structure = Structure(["feed"], ["pot"], {"feed": "pot"})
    here = trials.analyse_table(pd.DataFrame(rows), structure, settings).responses[0]
    total = sum(c.variance or 0.0 for c in here.variance_components)
    assert here.best_recipe is not None
    needed = here.best_recipe.fresh or 0
    assert TTestIndPower().power(1 / math.sqrt(total), needed, 0.05) >= 0.8 - 1e-9
    assert TTestIndPower().power(1 / math.sqrt(total), needed - 1, 0.05) < 0.8


def test_proportional_weights_are_averages_over_the_rows_as_they_came() -> None:
    """Each row with its feed exchanged, predicted by statsmodels, and averaged."""
    frame = table(lost=3).drop(index=[6, 20]).astype({"gain": float})
    here = found(frame.astype({"gain": str}), weights="proportional")
    model = smf.ols("gain ~ C(feed) * C(light)", frame).fit()
    equal = {m.levels["feed"]: m.mean for m in found(frame.astype({"gain": str})).means
             if m.term == "feed"}  # fmt: skip
    for one in (m for m in here.means if m.term == "feed" and m.mean is not None):
        as_if = frame.assign(feed=one.levels["feed"])
        assert one.mean == pytest.approx(float(model.predict(as_if).mean()), rel=1e-10)
        assert one.mean != pytest.approx(equal[one.levels["feed"]], rel=1e-6)


def test_unequal_numbers_carry_the_multivariate_t_beside_tukey_and_kramer() -> None:
    for pair in (c for c in found(table(lost=2)).comparisons if c.term == "feed"):
        assert pair.adjustment == "tukey"
        assert pair.single_step is not None
        assert pair.p_adjusted is not None
        assert pair.single_step.error < 1e-6
        assert pair.single_step.p <= pair.p_adjusted + 1e-7  # Hayter (1984)
        low, high = pair.single_step.interval
        wide_low, wide_high = pair.interval_adjusted
        assert low is not None
        assert high is not None
        assert wide_low is not None
        assert wide_high is not None
        assert wide_low - 1e-6 < low < high < wide_high + 1e-6
    assert {c.single_step for c in found(table()).comparisons} == {None}


def test_a_control_whose_differences_have_no_simple_correlations() -> None:
    """Four feeds, a covariate and lost rows: Holm and Bonferroni used to stand in for this."""
    rng = np.random.default_rng(11)
    n = 23
    frame = pd.DataFrame(
        {
            "feed": list("abcde" * 5)[:n],
            "start": [f"{x:.2f}" for x in rng.normal(5, 1, n)],
            "gain": [f"{x:.2f}" for x in rng.normal(10, 1, n)],
        }
    )
    settings = Options(
        response="gain", resamples=0, covariates=("start",), control=(("feed", "a"),)
    )
    here = trials.analyse_table(frame, Structure(["feed"]), settings).responses[0]
    assert {c.adjustment for c in here.comparisons} == {"multivariate_t"}
    for pair in here.comparisons:
        assert pair.p is not None
        assert pair.p_adjusted is not None
        assert pair.p_adjusted_error is not None
        assert pair.p_adjusted_error < 2e-4
        assert pair.p <= pair.p_adjusted <= 4 * pair.p + pair.p_adjusted_error


def test_a_trend_has_its_unit_and_a_ratio() -> None:
    rng = np.random.default_rng(4)
    frame = pd.DataFrame(
        {
            "soak": ["5", "10", "20"] * 5,
            "gain": [f"{10 * 1.3 ** math.log2(v / 5) * math.exp(rng.normal(scale=0.05)):.3f}"
                     for v in (5, 10, 20) * 5],
        }
    )  # fmt: skip
    structure = Structure([Factor("soak", "quantity", scale="log")])
    settings = Options(response="gain", resamples=0, compare="ratio")
    line, bend = trials.analyse_table(frame, structure, settings).responses[0].trends
    assert line.slope is None
    assert line.ratio == pytest.approx(1.3, rel=0.06)
    assert line.interval[0] is not None
    assert line.interval[1] is not None
    assert line.interval[0] < 1.3 < line.interval[1]
    assert line.lack_of_fit is not None
    assert line.lack_of_fit.p == pytest.approx(bend.p)
    assert bend.lack_of_fit is None


def test_readings_of_items_tell_whether_the_meter_or_the_build_is_the_noise() -> None:
    """Ratings of P. E. Shrout and J. L. Fleiss (1979), Psychological Bulletin 86, table 2."""
    ratings = [(9, 2, 5, 8), (6, 1, 3, 2), (8, 4, 6, 8), (7, 1, 2, 6), (10, 5, 6, 9), (6, 2, 4, 7)]
    rows = [
        {"kind": "ab"[i % 2], "thing": f"t{i}", "gain": str(r + (100 if i % 2 else 0))}
        for i, four in enumerate(ratings)
        for r in four
    ]
    settings = Options(response="gain", resamples=0, item="thing")
    here = trials.analyse_table(pd.DataFrame(rows), Structure(["kind"]), settings).responses[0]
    told = here.reading_share
    assert told is not None
    means = np.array([np.mean(four) for four in ratings])
    between = 4 * (np.var(means[::2], ddof=1) + np.var(means[1::2], ddof=1)) / 2
    within = np.mean([np.var(four, ddof=1) for four in ratings])
    assert (told.items_df, told.readings_df, told.readings) == (4, 18, 4)
    assert told.share == pytest.approx(min(within / between, 1.0), rel=1e-6)


def test_the_intraclass_correlation_of_shrout_and_fleiss() -> None:
    """Their ICC(1,1) is .17 from mean squares 11.24 and 6.26; R's psych gives -0.13 to 0.72."""
    told = reading_share(Leftover(11.24 / 4, 5, 6.26 / 4, 6.26, 18, False), 4, 0.95)
    assert told is not None
    assert told.icc == pytest.approx(0.17, abs=0.005)
    assert told.icc_interval == pytest.approx((0.0, 0.72), abs=0.006)
    assert reading_share(Leftover(2.8, 5, 0.0, None, 0, False), 1, 0.95) is None
