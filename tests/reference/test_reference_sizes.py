"""Sizes of effects, ratios and Dunnett's comparison with a control, against R.

Sources: ``source`` in each JSON of ``r/`` (effectsize, emmeans, and exact values by quadrature).
Intervals of partial eta squared: R's are 90 % intervals, and two conventions turn the
noncentrality into eta squared; ours is ncp / (ncp + den_df), as in effectsize. Hedges g
standardises by the spread of the model's items with the exact correction J, so that it is emmeans'
effect size times J, not effectsize's g of two groups on their own.
"""

from __future__ import annotations

import importlib
import math
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd
import pytest
from scipy.special import gammaln

from trials.analysis.findings import ResponseFindings
from trials.model.structure import Group

from .support import (
    R,
    Setup,
    agree,
    agree_near,
    analyse,
    comparison,
    component,
    effect,
    mean,
    one,
    options,
    pick,
)


@cache
def exact_j(df: float) -> float:
    """Hedges (1981): gamma(df/2) / (sqrt(df/2) gamma((df - 1)/2))."""
    return float(np.exp(gammaln(df / 2) - gammaln((df - 1) / 2)) / math.sqrt(df / 2))


def growth(confidence: float = 0.90, **chosen: object) -> ResponseFindings:
    return analyse(
        Setup(
            R / "01_plantgrowth.csv",
            ("group",),
            options=options("weight", confidence=confidence, **chosen),
        )
    )


class EtaCase(NamedTuple):
    """A least-squares case and where its 90 % intervals are."""

    case: str
    response: str
    factors: tuple[str, ...]
    path: str
    blocks: tuple[str, ...] = ()
    covariates: tuple[str, ...] = ()


ETA_CASES = [
    EtaCase("01_plantgrowth", "weight", ("group",), "effect_sizes_90"),
    EtaCase("02b_toothgrowth_unbalanced", "len", ("supp", "dose"), "effect_sizes_type3_90"),
    EtaCase("03_warpbreaks", "breaks", ("wool", "tension"), "raw/effect_sizes_90"),
    EtaCase("04_npk", "yield", ("N", "P", "K"), "effect_sizes_90_two_factor", ("block",)),
    EtaCase("09_ancova", "y", ("A", "B"), "common_slope/effect_sizes_type3_90", (), ("x",)),
]


@pytest.mark.parametrize("about", ETA_CASES, ids=lambda about: about.case)
def test_partial_eta_squared(about: EtaCase) -> None:
    found = analyse(
        Setup(
            R / f"{about.case}.csv",
            about.factors,
            tuple(Group(block, random=False) for block in about.blocks),
            options=options(about.response, covariates=about.covariates, confidence=0.90),
        )
    )
    for row in pick(about.case, f"{about.path}/partial_eta2_ci_exact"):
        if row["Parameter"] in (*about.blocks, *about.covariates):
            continue
        line = effect(found, row["Parameter"])
        assert line.f is not None
        assert line.den_df is not None
        explained = line.num_df * line.f
        agree(line.partial_eta_sq, explained / (explained + line.den_df), "partial eta squared")
        assert line.partial_eta_sq_interval is not None
        ends = (row["CI_low"], row["CI_high"])
        for end, wanted in zip(line.partial_eta_sq_interval, ends, strict=True):
            agree_near(end, wanted, 1, f"interval of {line.term}")


def test_which_convention_the_interval_follows() -> None:
    """The other convention, ncp / (ncp + N), would give 0.032 to 0.429 here."""
    both = pick("01_plantgrowth", "eta2_ci_by_hand_90")
    interval = effect(growth(), "group").partial_eta_sq_interval
    assert interval is not None
    agree_near(interval[0], both["eta2_lower_ncp_over_ncp_plus_dfe"], 1, "lower end")
    agree_near(interval[1], both["eta2_upper_ncp_over_ncp_plus_dfe"], 1, "upper end")
    assert abs(
        both["eta2_lower_ncp_over_ncp_plus_N"] - both["eta2_lower_ncp_over_ncp_plus_dfe"]
    ) > (1e-3)


def test_interval_follows_the_confidence_asked_for() -> None:
    narrow = effect(growth(0.90), "group").partial_eta_sq_interval
    wide = effect(growth(0.95), "group").partial_eta_sq_interval
    assert narrow is not None
    assert wide is not None
    assert None not in (*narrow, *wide)
    assert (wide[0] or 0) < (narrow[0] or 0)
    assert (wide[1] or 0) > (narrow[1] or 0)


@pytest.mark.parametrize(
    ("case", "response", "factors", "path"),
    [
        ("01_plantgrowth", "weight", ("group",), "effect_sizes_90"),
        ("02b_toothgrowth_unbalanced", "len", ("supp", "dose"), "effect_sizes_type3_90"),
    ],
)
def test_partial_omega_squared(
    case: str, response: str, factors: tuple[str, ...], path: str
) -> None:
    found = analyse(Setup(R / f"{case}.csv", factors, options=options(response, confidence=0.9)))
    for row in pick(case, f"{path}/partial_omega2"):
        wanted = row.get("Omega2_partial", row.get("Omega2"))
        line = effect(found, row["Parameter"])
        agree(line.partial_omega_sq, wanted, f"partial omega squared of {line.term}")


def test_hedges_g_by_the_models_spread() -> None:
    response = growth(0.95)
    for row in pick("01_plantgrowth", "emmeans_eff_size_model_sigma"):
        left, right = row["contrast"].strip("()").split(" - ")
        line, sign = comparison(response, {"group": left}, {"group": right})
        wanted = sign * row["effect.size"] * exact_j(row["df"])
        agree(line.hedges_g, wanted, f"g of {row['contrast']}")


def test_hedges_g_interval_by_the_noncentral_t() -> None:
    """t(ncp) at the two ends, ncp times J sqrt(1/n + 1/n): solved here by bracketing."""
    from scipy.integrate import quad
    from scipy.optimize import brentq
    from scipy.stats import chi, norm

    def nct_cdf(t: float, df: float, ncp: float) -> float:
        """P(T <= t) as an integral over the estimated SD; scipy's own is NaN on some machines."""

        def part(s: float) -> float:
            return float(norm.cdf(t * s / math.sqrt(df) - ncp) * chi.pdf(s, df))

        return float(quad(part, 0, math.inf, epsabs=1e-13, epsrel=1e-12, limit=200)[0])

    line, _ = comparison(growth(0.95), {"group": "trt1"}, {"group": "trt2"})
    assert line.t is not None
    assert line.df is not None
    assert line.hedges_g_interval is not None
    scale = exact_j(line.df) * math.sqrt(1 / 10 + 1 / 10)
    t, df = line.t, line.df

    def end(tail: float) -> float:
        root = brentq(lambda ncp: nct_cdf(t, df, ncp) - tail, t - 10, t + 10, xtol=1e-12)
        return float(root) * scale

    wanted = sorted((end(0.975), end(0.025)))
    for found, value in zip(line.hedges_g_interval, wanted, strict=True):
        agree_near(found, value, 1, "end of g's interval")


def test_hedges_g_counts_every_layer_from_the_factors_unit_down() -> None:
    """Oats: varieties are on whole plots, so theirs is the spread of a plot and a sub-plot."""
    response = analyse(
        Setup(
            R / "05_oats_split_plot.csv",
            ("N", "V"),
            ("B", "B/V"),
            (("V", "B/V"),),
            options("Y"),
        )
    )
    plot = component(response, "B/V").variance
    within = component(response, "residual").variance
    assert plot is not None
    assert within is not None
    for factor, a, b, spread in (
        ("V", "Marvellous", "Victory", math.sqrt(plot + within)),
        ("N", "0.0cwt", "0.6cwt", math.sqrt(within)),
    ):
        line, _ = comparison(response, {factor: a}, {factor: b})
        assert line.difference is not None
        assert line.df is not None
        agree(line.hedges_g, line.difference / spread * exact_j(line.df), f"g of {factor}")


def test_dunnett_with_a_control() -> None:
    """p-values and limits by R's numerical double integration (two-sided, 95 %)."""
    response = growth(0.95, control=(("group", "ctrl"),))
    rows = pick("01_plantgrowth", "dunnett")
    lines = [line for line in response.comparisons if line.adjustment == "dunnett"]
    assert len(lines) == len(rows) == 2
    for row in rows:
        left, right = row["contrast"].split(" - ")
        line, sign = comparison(response, {"group": left}, {"group": right})
        agree(line.p_adjusted, row["p_exact"], f"Dunnett p of {left}")
        ends = sorted((sign * row["lower_exact"], sign * row["upper_exact"]))
        for found, wanted in zip(line.interval_adjusted, ends, strict=True):
            agree_near(found, wanted, row["se"] * 10, f"Dunnett limits of {left}")


def warp_log() -> ResponseFindings:
    return analyse(
        Setup(
            R / "03_warpbreaks.csv",
            ("wool", "tension"),
            options=options("breaks", compare="ratio"),
        )
    )


def test_ratio_scale_tests_are_those_of_the_logs() -> None:
    response = warp_log()
    assert response.scale == "ratio"
    for row in pick("03_warpbreaks", "log/type3"):
        if row["term"] in ("(Intercept)", "Residuals"):
            continue
        line = effect(response, row["term"])
        agree(line.f, row["F"], f"F of {row['term']}")
        agree(line.p, row["p"], f"p of {row['term']}")


def test_ratio_scale_means_are_geometric() -> None:
    """``mean`` and its interval are back-transformed; ``se`` stays on the log scale."""
    response = warp_log()
    logs = pick("03_warpbreaks", "log/emmeans_cells_log_scale")
    for row, log in zip(pick("03_warpbreaks", "log/emmeans_cells_response"), logs, strict=True):
        line = mean(response, {"wool": row["wool"], "tension": row["tension"]})
        agree(line.mean, row["response"], "geometric mean")
        agree(line.se, log["se"], "standard error of the log")
        agree(line.interval[0], row["lower"], "lower end")
        agree(line.interval[1], row["upper"], "upper end")


def test_ratio_scale_pairs_are_ratios() -> None:
    response = warp_log()
    rows = pick("03_warpbreaks", "log/tension_ratios")
    joint = pick("03_warpbreaks", "log/tension_ratios_tukey")
    for row, tukey in zip(rows, joint, strict=True):
        line, sign = comparison(response, row["a"], row["b"])
        assert line.difference is None
        agree(line.ratio, row["ratio"] ** sign, "ratio")
        agree(line.p, row["p"], "p")
        agree(line.p_adjusted, tukey["p"], "Tukey p")
        ends = sorted((row["lower"] ** sign, row["upper"] ** sign))
        for found, wanted in zip(line.interval, ends, strict=True):
            agree(found, wanted, "interval of the ratio")


def test_ratio_scale_latin_square() -> None:
    response = analyse(
        Setup(
            R / "10_orchardsprays.csv",
            ("treatment",),
            (Group("row", random=False), Group("col", random=False)),
            options=options("decrease", compare="ratio"),
        )
    )
    row = one(
        (row for row in pick("10_orchardsprays", "log/anova") if row["term"] == "treatment"), "row"
    )
    line = effect(response, "treatment")
    agree(line.f, row["F"], "F")
    for pair in pick("10_orchardsprays", "log/treatment/pairs"):
        found, sign = comparison(response, pair["a"], pair["b"])
        agree(found.ratio, math.exp(sign * pair["estimate"]), "ratio")
        agree(found.se, pair["se"], "se of the log")


@pytest.mark.filterwarnings("ignore:The inplace keyword:pandas.errors.Pandas4Warning")
def test_pingouin_agrees_on_the_size_of_one_factor() -> None:
    """Another library: partial eta squared of the one-way table."""
    pingouin = importlib.import_module("pingouin")
    table = pd.read_csv(R / "01_plantgrowth.csv")
    other = pingouin.anova(data=table, dv="weight", between="group", detailed=True)
    line = effect(growth(), "group")
    # pingouin rounds what it returns
    assert line.f == pytest.approx(float(other.loc[0, "F"]), abs=1e-6)
    assert line.partial_eta_sq == pytest.approx(float(other.loc[0, "np2"]), abs=1e-6)
