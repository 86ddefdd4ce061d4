"""Several strata, complete and equal: every line of the strata analysis against R's.

Sources: Yates (1935) for oats and the N-P-K trial of Venables & Ripley (2002) as R has them,
Milliken & Johnson (1992), Finney (1947), and a made plan of three strata with repeated readings;
numbers by R's aov with Error(), lmerTest, pbkrtest and emmeans (``source`` in each JSON).

Where our rules differ from R's habit: a group of fewer than six members, to which nothing is
applied, is fixed unless declared random (so the lessons are asked for as random where R's are); a
test by Kenward-Roger with several numerator and at most 2.5 denominator degrees of freedom is
explained instead of printed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from trials.analysis.findings import ResponseFindings
from trials.model.structure import Group

from .support import (
    R,
    Setup,
    agree,
    analyse,
    check_components,
    check_means,
    check_pairs,
    check_test,
    component,
    effect,
    one,
    options,
    pick,
)


def line_by_line(
    response: ResponseFindings, strata: Mapping[str, Sequence[Mapping[str, Any]]]
) -> int:
    """Compare every line of a strata table; return how many terms were compared.

    The error line of a stratum shows as the term's degrees of freedom and as mean square over F.
    """
    compared = 0
    for name, table in strata.items():
        for row in table:
            if row["term"] == "Residuals":
                continue
            error = one((line for line in table if line["term"] == "Residuals"), f"error of {name}")
            line = effect(response, row["term"])
            check_test(line, row)
            assert line.den_df is not None
            agree(line.den_df, error["df"], f"den_df of {row['term']}")
            assert line.mean_sq is not None
            assert line.f is not None
            agree(line.sum_sq, row["sum_sq"], f"sum of squares of {row['term']}")
            agree(line.mean_sq, row["mean_sq"], f"mean square of {row['term']}")
            agree(line.mean_sq / line.f, error["mean_sq"], f"error of {name}")
            compared += 1
    return compared


def npk() -> ResponseFindings:
    return analyse(
        Setup(
            R / "04_npk.csv",
            ("N", "P", "K"),
            (Group("block"),),
            options=options("yield", interactions=3),
        )
    )


def test_npk_every_line() -> None:
    response = npk()
    assert response.method.estimator == "strata"
    assert line_by_line(response, pick("04_npk", "error_strata")) == 7
    assert effect(response, "N:P:K").stratum == "block"
    assert effect(response, "N:P").stratum != "block"


def test_npk_components_and_means() -> None:
    response = npk()
    rows = pick("04_npk", "random_block_full/variance_components")
    check_components(response, rows, {"block": "block", "Residual": "residual"})
    kr = pick("04_npk", "random_block_full/emmeans_N/kenward_roger")
    check_means(response, kr["emmeans"])
    check_pairs(response, kr["pairs"])


def oats(df: str = "auto") -> ResponseFindings:
    return analyse(
        Setup(
            R / "05_oats_split_plot.csv",
            ("N", "V"),
            ("B", "B/V"),
            (("V", "B/V"),),
            options("Y", df=df),
        )
    )


def test_oats_every_line() -> None:
    response = oats()
    assert (response.method.estimator, response.method.df) == ("strata", "strata")
    assert line_by_line(response, pick("05_oats_split_plot", "error_strata")) == 3
    assert effect(response, "V").stratum == "B/V"


OATS_GROUPS = {"B": "B", "B:V": "B/V", "Residual": "residual"}


@pytest.mark.parametrize("df", ["auto", "strata", "kenward-roger", "satterthwaite"])
def test_oats_components_by_each_route(df: str) -> None:
    check_components(oats(df), pick("05_oats_split_plot", "variance_components"), OATS_GROUPS)


@pytest.mark.parametrize(
    ("df", "table"), [("kenward-roger", "kenward_roger"), ("satterthwaite", "satterthwaite")]
)
def test_oats_by_reml(df: str, table: str) -> None:
    response = oats(df)
    assert (response.method.estimator, response.method.df) == ("reml", df)
    for row in pick("05_oats_split_plot", f"anova/type3_{table}"):
        check_test(effect(response, row["term"]), row)


@pytest.mark.parametrize("term", ["N", "V"])
@pytest.mark.parametrize("df", ["auto", "kenward-roger", "satterthwaite"])
def test_oats_means_and_pairs(df: str, term: str) -> None:
    key = "satterthwaite" if df == "satterthwaite" else "kenward_roger"
    values = pick("05_oats_split_plot", f"emmeans_{term}/{key}")
    check_means(oats(df), values["emmeans"])
    check_pairs(oats(df), values["pairs"])


@pytest.mark.parametrize("df", ["auto", "kenward-roger", "satterthwaite"])
def test_oats_cell_means_and_simple_effects(df: str) -> None:
    """Varieties at one level of nitrogen mix two strata: 30.2 df, from neither alone."""
    key = "satterthwaite" if df == "satterthwaite" else "kenward_roger"
    check_means(oats(df), pick("05_oats_split_plot", f"emmeans_NV/{key}/emmeans"))
    for path in ("N_within_V", "V_within_N"):
        check_pairs(oats(df), pick("05_oats_split_plot", f"{path}/{key}/pairs"))


def machines(df: str = "auto") -> ResponseFindings:
    return analyse(
        Setup(
            R / "07a_machines.csv",
            ("Machine",),
            ("Worker", "Worker/Machine"),
            (("Machine", "Worker/Machine"),),
            options("score", df=df),
        )
    )


@pytest.mark.parametrize("df", ["auto", "kenward-roger"])
def test_machines(df: str) -> None:
    """Three readings of each worker on each machine: the machine is tested on its differences
    between workers, not on the readings."""
    response = machines(df)
    (row,) = pick("07a_machines", "anova/type3_kenward_roger")
    check_test(effect(response, "Machine"), row)
    names = {"Worker": "Worker", "Worker:Machine": "Worker/Machine", "Residual": "residual"}
    check_components(response, pick("07a_machines", "variance_components"), names)
    values = pick("07a_machines", "emmeans_Machine/kenward_roger")
    check_means(response, values["emmeans"])
    check_pairs(response, values["pairs"])


def sprays(df: str = "auto") -> ResponseFindings:
    return analyse(
        Setup(
            R / "10_orchardsprays.csv",
            ("treatment",),
            ("row", "col"),
            options=options("decrease", df=df),
        )
    )


@pytest.mark.parametrize("df", ["auto", "kenward-roger"])
def test_latin_square_with_random_rows_and_columns(df: str) -> None:
    response = sprays(df)
    (row,) = pick("10_orchardsprays", "random_rows_cols_raw/anova/type3_kenward_roger")
    check_test(effect(response, "treatment"), row)
    names = {"row": "row", "col": "col", "Residual": "residual"}
    rows = pick("10_orchardsprays", "random_rows_cols_raw/variance_components")
    check_components(response, rows, names)
    values = pick("10_orchardsprays", "random_rows_cols_raw/emmeans_treatment/kenward_roger")
    check_means(response, values["emmeans"])
    check_pairs(response, values["pairs"])


def lessons(
    case: str, *, random: bool, df: str = "auto", bounded: bool = False
) -> ResponseFindings:
    """Heat is applied to a firing ('load' in the file), dye to a cell that is read twice."""
    return analyse(
        Setup(
            R / f"{case}.csv",
            ("heat", "dye"),
            (Group("lesson", random=random), Group("lesson/load")),
            (("heat", "lesson/load"),),
            options("mv", item="cell", df=df, bounded=bounded),
        )
    )


LESSON_GROUPS = {
    "lesson": "lesson",
    "load": "lesson/load",
    "cell": "cell",
    "Residual": "residual",
}


def too_little(response: ResponseFindings, term: str) -> None:
    """Two numerator on two denominator df by REML: no F, no p, and a note that says so."""
    line = effect(response, term)
    assert line.num_df == 2
    assert line.f is None
    assert line.p is None
    assert line.notes


@pytest.mark.parametrize("case", ["13_three_strata", "13c_three_strata_boundary"])
@pytest.mark.parametrize("random", [True, False])
def test_three_strata_with_readings(case: str, random: bool) -> None:
    """48 readings of 24 cells count as 24: dye on 9 df, not on 33.

    Heat has 2 on 2 df. In a complete plan that F is exact, so it is shown; Kenward-Roger's has no
    meaning there, so it is not (below).
    """
    response = lessons(case, random=random)
    assert (response.n_items, response.n_readings) == (24, 48)
    tables = dict(pick(case, "error_strata_readings"))
    if not random:
        del tables["lesson"]
    assert line_by_line(response, tables) == 3


@pytest.mark.parametrize("df", ["auto", "kenward-roger"])
def test_three_strata_components(df: str) -> None:
    response = lessons("13_three_strata", random=True, df=df)
    rows = pick("13_three_strata", "lesson_random/variance_components")
    check_components(response, rows, LESSON_GROUPS)


@pytest.mark.parametrize("random", [True, False])
@pytest.mark.parametrize("df", ["auto", "kenward-roger"])
@pytest.mark.parametrize("term", ["heat", "dye"])
def test_three_strata_means_and_pairs(term: str, df: str, random: bool) -> None:
    """Single contrasts stand even at 2 df; at fewer R has no Tukey value and none is compared."""
    response = lessons("13_three_strata", random=random, df=df)
    kind = "lesson_random" if random else "lesson_fixed"
    values = pick("13_three_strata", f"{kind}/emmeans_{term}/kenward_roger")
    check_means(response, values["emmeans"])
    check_pairs(response, values["pairs"])


def test_dye_by_reml_equals_its_stratum() -> None:
    response = lessons("13_three_strata", random=True, df="kenward-roger")
    rows = pick("13_three_strata", "lesson_random/anova/type3_kenward_roger")
    for row in rows:
        if not row["degenerate_below_about_2_df"]:
            check_test(effect(response, row["term"]), row)
    too_little(response, "heat")


def test_negative_variance_of_firings_as_the_strata_give_it() -> None:
    """Case 13c: the firings vary less than their cells would make them.

    The value that may be negative comes from R's mean squares, (load - cell) / 8; what is reported
    as the variance is 0, with the flag. R's lmer stops at 0 and then moves the other components;
    that is a convention, and no target here.
    """
    tables = pick("13c_three_strata_boundary", "error_strata_readings")
    error = {
        name: one((row for row in table if row["term"] == "Residuals"), name)["mean_sq"]
        for name, table in tables.items()
    }
    load = (error["lesson:l"] - error["lesson:l:cc"]) / 8
    cell = (error["lesson:l:cc"] - error["Within"]) / 2
    lesson = (error["lesson"] - error["lesson:l"]) / 24
    assert load < 0
    for df in ("auto", "kenward-roger"):
        response = lessons("13c_three_strata_boundary", random=True, df=df)
        agree(component(response, "lesson/load").unbounded, load, f"firings by {df}")
        agree(component(response, "cell").unbounded, cell, f"cells by {df}")
        agree(component(response, "lesson").unbounded, lesson, f"lessons by {df}")
        agree(component(response, "residual").unbounded, error["Within"], f"readings by {df}")
        firings = component(response, "lesson/load")
        assert firings.at_boundary
        assert firings.variance == 0
        dye = one((row for row in tables["lesson:l:cc"] if row["term"] == "dye"), "dye")
        check_test(effect(response, "dye"), {**dye, "den_df": 9})


@pytest.mark.parametrize("random", [True, False])
def test_bounded_components_are_those_of_lme4(random: bool) -> None:
    response = lessons("13c_three_strata_boundary", random=random, df="kenward-roger", bounded=True)
    kind = "lesson_random" if random else "lesson_fixed"
    for row in pick("13c_three_strata_boundary", f"{kind}/variance_components"):
        found = component(response, LESSON_GROUPS[row["group"]])
        if row["variance_or_cov"] == 0:
            assert found.variance == 0
            assert found.at_boundary
        else:
            agree(found.variance, row["variance_or_cov"], row["group"])
