"""Power and the chances of a verdict, against tables, other libraries and simulation."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.stats.power import FTestAnovaPower  # type: ignore[import-untyped]  # it ships no types

from tests.design.unchecked import draw
from trials.analysis.verdicts import Present
from trials.analysis.verdicts import verdict_chances as integrated
from trials.design.chances import Margin, verdict_chances
from trials.design.differences import coefficients, pattern, unit_noncentrality
from trials.design.planned import plan_factors
from trials.design.power import cohens_f, f_test_power, one_way_power
from trials.errors import RequestError
from trials.model import Structure, make_layout, precision
from trials.model.fit import least_squares
from trials.study import Limits, Response, Spread, Study, StudyFactor

POWER = Path(__file__).parents[1] / "reference" / "power"


@pytest.mark.parametrize("groups", [2, 3, 4, 6])
@pytest.mark.parametrize("per_group", [3, 8, 20, 45])
@pytest.mark.parametrize("f", [0.1, 0.25, 0.4, 0.8])
def test_power_equals_statsmodels(groups: int, per_group: int, f: float) -> None:
    wanted = FTestAnovaPower().power(f, groups * per_group, 0.05, groups)
    found = one_way_power(groups, per_group=per_group, f=f).power
    assert found == pytest.approx(float(wanted), abs=2e-8)


@pytest.mark.parametrize(
    ("groups", "per_group", "f", "printed"),
    [
        (2, 20, 0.40, 0.69),
        (2, 64, 0.25, 0.80),
        (3, 52, 0.25, 0.79),
        (3, 21, 0.40, 0.79),
        (4, 45, 0.25, 0.81),
        (4, 18, 0.40, 0.79),
    ],
)
def test_power_equals_the_table_to_its_two_digits(
    groups: int, per_group: int, f: float, printed: float
) -> None:
    """J. Cohen (1988), Statistical Power Analysis, 2nd ed., tables 8.3.12 to 8.3.14, a = .05.

    The printed values are from memory; statsmodels gives the same within a hundredth.
    """
    assert one_way_power(groups, per_group=per_group, f=f).power == pytest.approx(
        printed, abs=0.0125
    )
    wanted = FTestAnovaPower().power(f, groups * per_group, 0.05, groups)
    assert float(wanted) == pytest.approx(printed, abs=0.0125)


def test_the_number_is_the_smallest_that_suffices() -> None:
    """Cohen (1988), table 8.4.4: 45 a group for f = .25 and power .80, u = 3 (from memory)."""
    found = one_way_power(4, f=0.25, power=0.8)
    assert found.per_group == 45
    assert one_way_power(4, per_group=44, f=0.25).power < 0.8 <= found.power


def test_the_largest_gap_with_other_means_midway() -> None:
    """f = D / sd x sqrt(1 / 2k): checked on the means themselves."""
    means = np.array([0.0, 1.5, 1.5, 3.0])
    assert cohens_f(3.0, 2.0, 4) == pytest.approx(float(means.std()) / 2.0)


@pytest.mark.parametrize(
    ("cv", "needed", "seen"),
    [
        (0.2, (11, 5, 3), (1.84, 1.49, 1.35)),
        (0.3, (21, 10, 5), (2.46, 1.81, 1.56)),
        (0.5, (52, 23, 9), (4.27, 2.60, 2.04)),
    ],
)
def test_the_planning_table_of_two_groups(
    cv: float, needed: tuple[int, ...], seen: tuple[float, ...]
) -> None:
    """Items a group for 1.3, 1.5 and 2 times at 80 %; the ratio that 3, 5 and 8 a group show.

    A table worked out once by another road; here beside it scipy's noncentral t, on logs with
    SD = sqrt(ln(1 + CV^2)).
    """
    sd = float(np.sqrt(np.log1p(cv**2)))
    for ratio, wanted in zip((1.3, 1.5, 2.0), needed, strict=True):
        found = one_way_power(2, difference=float(np.log(ratio)), sd=sd, power=0.8)
        assert found.per_group == wanted
        assert found.power == pytest.approx(two_sided_t(np.log(ratio) / sd, wanted), abs=1e-6)
    for each, ratio in zip((3, 5, 8), seen, strict=True):
        gap = one_way_power(2, per_group=each, sd=sd, power=0.8).difference
        assert gap is not None
        assert round(float(np.exp(gap)), 2) == ratio
        assert two_sided_t(gap / sd, each) == pytest.approx(0.8, abs=1e-6)


def two_sided_t(gap: float, each: int) -> float:
    """Return the power of a two-sided t test at 5 %, for a gap in SD and two equal groups."""
    df, ncp = 2 * each - 2, gap * np.sqrt(each / 2)
    t = stats.t.ppf(0.975, df)
    return float(stats.nct.sf(t, df, ncp) + stats.nct.cdf(-t, df, ncp))


@pytest.mark.parametrize(
    "wrong",
    [
        {"groups": 1, "per_group": 5, "f": 0.3},
        {"groups": 3, "per_group": 5},
        {"groups": 3, "per_group": 1, "f": 0.3, "power": 0.8},
        {"groups": 3, "f": -1.0, "power": 0.8},
        {"groups": 3, "f": 0.3, "power": 1.5},
        {"groups": 3, "f": 0.3, "power": 1.0},
        {"groups": 3, "f": 0.3, "power": 0.05},
        {"groups": 0, "per_group": 5, "f": 0.3},
        {"groups": -2, "per_group": 5, "f": 0.3},
        {"groups": 3, "per_group": -5, "f": 0.3},
        {"groups": 3, "per_group": 5, "f": 0.0},
        {"groups": 3, "per_group": 5, "f": float("nan")},
        {"groups": 3, "per_group": 5, "f": 1e300},
        {"groups": 3, "per_group": 5, "difference": float("inf"), "sd": 1.0},
        {"groups": 3, "per_group": 5, "difference": 1e300, "sd": 1e-300},
        {"groups": 3, "per_group": 5, "difference": 0.0, "sd": 1.0},
        {"groups": 3, "per_group": 5, "difference": 1.0, "sd": 0.0},
        {"groups": 3, "per_group": 5, "difference": 1.0, "sd": -1.0},
        {"groups": 3, "per_group": 5, "f": 0.3, "alpha": 0.0},
        {"groups": 3, "f": 1e-7, "power": 0.8},
    ],
)
def test_senseless_requests_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(RequestError) as caught:
        one_way_power(**wrong)  # type: ignore[arg-type]  # wrong on purpose
    assert caught.value.do
    assert caught.value.code.startswith("power.")


def test_a_huge_effect_is_always_found() -> None:
    for groups, each in ((2, 2), (4, 12), (1000, 1_000_000)):
        assert one_way_power(groups, per_group=each, f=1e6).power == pytest.approx(1.0)


def two_level(per_level: int) -> tuple[tuple[float, float], ...]:
    """Chances of 'mattered' and 'made no practical difference' with SD 1, margin 1, at 0, 1, 2."""
    rows = {"a": ["x"] * per_level + ["y"] * per_level}
    known = precision(make_layout(Structure(["a"]), rows), {"residual": 1.0})
    found = [verdict_chances(known, "a", np.array([0.0, d / 2]), Margin(1.0)) for d in (0, 1, 2)]
    return tuple(one for one in found if one is not None)


def test_what_powering_for_the_margin_buys() -> None:
    """Powered at 80 % for d with margin d: a true d leaves it open 95 times in 100, and 'mattered'
    reaches 80 % at 2d. (By the verdict's own rule; within the Monte Carlo error of the draws.)"""
    n = one_way_power(2, difference=1.0, sd=1.0, power=0.8).per_group
    _, at_d, at_2d = two_level(n)
    assert 1 - sum(at_d) == pytest.approx(0.95, abs=0.02)
    assert at_2d[0] == pytest.approx(0.80, abs=0.03)


def test_verdict_chances_equal_the_noncentral_t() -> None:
    """'Mattered' at 2d means an interval wholly beyond d: a one-sided t test of d."""
    n = 12
    df, se = 2 * n - 2, np.sqrt(2 / n)
    exact = stats.nct.sf(stats.t.ppf(0.975, df), df, 1.0 / se)
    assert two_level(n)[2][0] == pytest.approx(float(exact), abs=0.02)


@pytest.mark.parametrize("levels", [2, 3, 4])
@pytest.mark.parametrize("each", [3, 6, 15])
def test_draws_of_a_verdict_equal_the_integral(levels: int, each: int) -> None:
    """The rule drawn 4000 times, against the distribution of the range of normal means integrated
    numerically for the same rule elsewhere in this package: within the error of the draws."""
    rows = {"a": [f"v{place}" for place in range(levels) for _ in range(each)]}
    known = precision(make_layout(Structure(["a"]), rows), {"residual": 1.0})
    present = Present(se=np.sqrt(2 / each), df=levels * (each - 1), units=levels * each,
                      levels=levels)  # fmt: skip
    for margin in (0.8, 1.6):
        for truth in (0.0, margin, 2 * margin):
            effects = coefficients(
                known.design, ("a",), pattern([levels], [(0, levels - 1)], truth)
            )
            found = verdict_chances(known, "a", effects, Margin(margin))
            exact = integrated(present, margin, truth)
            assert found == pytest.approx((exact.mattered, exact.no_practical_difference), abs=0.03)


def r_values() -> dict[str, Any]:
    """R 4.2.2's power.anova.test and strata of a split-plot; the file names its source."""
    found: dict[str, Any] = json.loads((POWER / "power.json").read_text())
    return found


def test_one_way_power_equals_r() -> None:
    for row in r_values()["one_way_F"]:
        found = one_way_power(row["groups"], per_group=row["n_per_group"], f=row["cohen_f"])
        assert found.power == pytest.approx(row["power_R"], abs=1e-7)
    for row in r_values()["one_way_F_sample_size"]:
        f = np.sqrt(4 / 20)  # means 0, 0.4, 0.8, 1.2 and SD 1, as above
        assert one_way_power(row["groups"], f=f, power=row["target"]).per_group == row["n_integer"]


def test_split_plot_power_equals_the_strata_of_r() -> None:
    """The whole-plot factor on 8 df, the others on 36, each with its own noncentrality."""
    frame = pd.read_csv(POWER / "splitplot_layout.csv", dtype=str)
    rows = {name: list(frame[name]) for name in frame.columns}
    layout = make_layout(Structure(["A", "B"], ["block", "block/A"], {"A": "block/A"}), rows)
    sd = r_values()["sd"]
    known = precision(
        layout,
        {"block/A": sd["block/wholeplot"] ** 2, "block": sd["block"] ** 2, "residual": 1.0},
    )
    truth, _ = least_squares(known.design.XK, frame["mean"].to_numpy(dtype=np.float64))
    for row in r_values()["split_plot"]:
        term = known.term(row["term"])
        effect = term.L @ truth
        ncp = float(effect @ np.linalg.solve(term.cov, effect))
        assert (term.num_df, term.den_df) == (row["num_df"], row["den_df"])
        assert ncp == pytest.approx(row["ncp"], rel=1e-9)
        found = f_test_power(term.num_df, row["den_df"], ncp)
        assert found == pytest.approx(row["power_noncentral_F"], abs=1e-8)


def test_ratio_spread_is_taken_on_the_log_scale() -> None:
    factor = StudyFactor(name="a", levels=("x", "y"))
    response = Response(
        name="y", compare="ratio", worthwhile=1.3, expected=2.0, primary=True,
        spread=Spread(items=0.3),
    )  # fmt: skip
    study = Study(title="t", question="q", factors=(factor,), responses=(response,),
                  limits=Limits(items=20))  # fmt: skip
    plan = draw(study, seed=1)
    given = {(row.difference, row.spread): row.power for row in plan.power}
    sd = float(np.sqrt(np.log(1 + 0.3**2)))
    wanted = one_way_power(2, per_group=10, difference=float(np.log(2.0)), sd=sd).power
    assert given[2.0, "given"] == pytest.approx(wanted, abs=1e-6)
    assert plan_factors(study)[0].levels == ("x", "y")


def test_a_pair_with_an_empty_combination_does_not_count_for_an_interaction() -> None:
    """Three versions by two, one of the six never made: two of three sets of four are whole.

    The power is that of the worse of the two, by least squares on the cells; a set that can't be
    compared has no difference of differences at all.
    """
    cells = [("x", "p"), ("x", "q"), ("y", "p"), ("y", "q"), ("z", "p")]
    rows = [cell for cell in cells for _ in range(4)]
    columns = {"a": [a for a, _ in rows], "b": [b for _, b in rows]}
    known = precision(make_layout(Structure(["a", "b"]), columns), {"residual": 1.0})
    assert unit_noncentrality(known, ("a", "b")) == pytest.approx(1 / (4 / 4))  # four means of 4
    alone = [cell for cell in cells if cell not in {("y", "q"), ("z", "p")}]
    rows = [cell for cell in [*alone, ("z", "q")] for _ in range(4)]
    columns = {"a": [a for a, _ in rows], "b": [b for _, b in rows]}
    known = precision(make_layout(Structure(["a", "b"]), columns), {"residual": 1.0})
    assert unit_noncentrality(known, ("a", "b")) is None
