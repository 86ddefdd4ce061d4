"""Unequal numbers: REML with Kenward-Roger or Satterthwaite degrees of freedom, against R.

Sources: ``source`` in each JSON of ``r/`` (lme4 with its optimiser driven on to the optimum,
lmerTest, pbkrtest, emmeans). Only type III is compared: in unequal mixed plans packages define
types I and II differently, and all agree on III. R's convention at a zero variance is no target
(our default lets a variance estimate be negative); there the optimum is found here once more, by a
separate short calculation.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from numpy.typing import NDArray

from trials.analysis.findings import ResponseFindings
from trials.model.structure import Factor, Group

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
    mean,
    options,
    pick,
    read_table,
)

ROUTES = [("kenward-roger", "kenward_roger"), ("satterthwaite", "satterthwaite")]
# Satterthwaite's df for several contrasts at once depends slightly on how these are written.
JOINT_SATTERTHWAITE = 3.0


def compare_tests(response: ResponseFindings, case: str, path: str, table: str) -> None:
    for row in pick(case, f"{path}anova/type3_{table}"):
        loose = table == "satterthwaite" and row["num_df"] > 1
        check_test(
            effect(response, row["term"]),
            row,
            *((JOINT_SATTERTHWAITE, JOINT_SATTERTHWAITE) if loose else ()),
        )


def oats(df: str = "auto", sums: str = "III") -> ResponseFindings:
    return analyse(
        Setup(
            R / "06_oats_unbalanced.csv",
            ("N", "V"),
            ("B", "B/V"),
            (("V", "B/V"),),
            options("Y", df=df, sums=sums),
        )
    )


def test_lost_plots_lead_to_reml_with_kenward_roger() -> None:
    assert (oats().method.estimator, oats().method.df) == ("reml", "kenward-roger")


@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_oats_with_lost_plots_tests(df: str, table: str) -> None:
    compare_tests(oats(df), "06_oats_unbalanced", "", table)


def test_oats_with_lost_plots_components() -> None:
    names = {"B": "B", "B:V": "B/V", "Residual": "residual"}
    check_components(oats(), pick("06_oats_unbalanced", "variance_components"), names)


@pytest.mark.parametrize("term", ["N", "V"])
@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_oats_with_lost_plots_means_and_pairs(df: str, table: str, term: str) -> None:
    values = pick("06_oats_unbalanced", f"emmeans_{term}/{table}")
    check_means(oats(df), values["emmeans"])
    check_pairs(oats(df), values["pairs"])


@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_oats_with_lost_plots_cell_means_and_simple_effects(df: str, table: str) -> None:
    check_means(oats(df), pick("06_oats_unbalanced", f"emmeans_NV/{table}/emmeans"))
    for path in ("N_within_V", "V_within_N"):
        check_pairs(oats(df), pick("06_oats_unbalanced", f"{path}/{table}/pairs"))


def test_the_highest_interaction_is_the_same_in_every_type() -> None:
    row = next(
        row
        for row in pick("06_oats_unbalanced", "anova/type1_kenward_roger")
        if row["term"] == "N:V"
    )
    for sums in ("I", "II", "III"):
        check_test(effect(oats(sums=sums), "N:V"), row)


def machines(df: str = "auto") -> ResponseFindings:
    return analyse(
        Setup(
            R / "07a2_machines_unbalanced.csv",
            ("Machine",),
            ("Worker", "Worker/Machine"),
            (("Machine", "Worker/Machine"),),
            options("score", df=df),
        )
    )


@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_machines_with_lost_readings(df: str, table: str) -> None:
    response = machines(df)
    compare_tests(response, "07a2_machines_unbalanced", "", table)
    names = {"Worker": "Worker", "Worker:Machine": "Worker/Machine", "Residual": "residual"}
    rows = pick("07a2_machines_unbalanced", "variance_components")
    check_components(response, rows, names)
    values = pick("07a2_machines_unbalanced", f"emmeans_Machine/{table}")
    check_means(response, values["emmeans"])
    check_pairs(response, values["pairs"])


@pytest.mark.parametrize("df", ["auto", "kenward-roger"])
def test_pastes_nothing_was_changed_only_components(df: str) -> None:
    response = analyse(
        Setup(
            R / "07b_pastes.csv",
            (),
            ("batch", "batch/cask"),
            options=options("strength", df=df),
        )
    )
    names = {"batch": "batch", "batch:cask": "batch/cask", "Residual": "residual"}
    check_components(response, pick("07b_pastes", "variance_components"), names)


@pytest.mark.parametrize("df", ["auto", "kenward-roger"])
def test_penicillin_plates_crossed_with_samples(df: str) -> None:
    response = analyse(
        Setup(R / "07c_penicillin.csv", (), ("plate", "sample"), options=options("diameter", df=df))
    )
    names = {"plate": "plate", "sample": "sample", "Residual": "residual"}
    check_components(response, pick("07c_penicillin", "variance_components"), names)


def teams(case: str, df: str = "auto", *, bounded: bool = False) -> ResponseFindings:
    return analyse(
        Setup(
            R / f"{case}.csv",
            ("treatment",),
            ("team",),
            options=options("y", df=df, bounded=bounded),
        )
    )


@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_blocks_with_lost_cells(df: str, table: str) -> None:
    case = "08_rcbd_lost_cells"
    response = teams(case, df)
    compare_tests(response, case, "random_team/", table)
    rows = pick(case, "random_team/variance_components")
    check_components(response, rows, {"team": "team", "Residual": "residual"})
    values = pick(case, f"random_team/emmeans_treatment/{table}")
    check_means(response, values["emmeans"])
    check_pairs(response, values["pairs"])


def test_blocks_with_lost_cells_take_kenward_roger_unasked() -> None:
    assert teams("08_rcbd_lost_cells").method.df == "kenward-roger"
    compare_tests(
        teams("08_rcbd_lost_cells"), "08_rcbd_lost_cells", "random_team/", "kenward_roger"
    )


@pytest.mark.parametrize("term", ["treatment"])
@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_incomplete_blocks_with_recovered_information(df: str, table: str, term: str) -> None:
    """Balanced incomplete blocks are not orthogonal: differences between blocks carry some
    information, and REML weighs it in (Yates 1940 calls this recovery)."""
    response = analyse(Setup(R / "11_bibd.csv", (term,), ("block",), options=options("y", df=df)))
    compare_tests(response, "11_bibd", "random_block/", table)
    rows = pick("11_bibd", "random_block/variance_components")
    check_components(response, rows, {"block": "block", "Residual": "residual"})
    values = pick("11_bibd", f"random_block/emmeans_{term}/{table}")
    check_means(response, values["emmeans"])
    check_pairs(response, values["pairs"])


def test_incomplete_blocks_are_not_taken_for_orthogonal() -> None:
    response = analyse(Setup(R / "11_bibd.csv", ("treatment",), ("block",), options=options("y")))
    assert response.method.estimator == "reml"


def lessons(case: str, *, random: bool, df: str = "auto") -> ResponseFindings:
    return analyse(
        Setup(
            R / f"{case}.csv",
            ("heat", "dye"),
            (Group("lesson", random=random), Group("lesson/load")),
            (("heat", "lesson/load"),),
            options("mv", item="cell", df=df),
        )
    )


KINDS = [(True, "lesson_random"), (False, "lesson_fixed")]
LESSON_GROUPS = {
    "lesson": "lesson",
    "load": "lesson/load",
    "cell": "cell",
    "Residual": "residual",
}
FOUR = "13d_three_strata_4_lessons_unbalanced"
TWO = "13b_three_strata_unbalanced"


@pytest.mark.parametrize(("random", "kind"), KINDS)
@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_four_lessons_tests(df: str, table: str, random: bool, kind: str) -> None:
    """The sound unequal case of three strata: heat has about six denominator df."""
    response = lessons(FOUR, random=random, df=df)
    for row in pick(FOUR, f"{kind}/anova/type3_{table}"):
        if row["term"] == "lesson":
            continue
        loose = table == "satterthwaite" and row["num_df"] > 1
        check_test(
            effect(response, row["term"]),
            row,
            *((JOINT_SATTERTHWAITE, JOINT_SATTERTHWAITE) if loose else ()),
        )


@pytest.mark.parametrize(("random", "kind"), KINDS)
def test_four_lessons_components(random: bool, kind: str) -> None:
    response = lessons(FOUR, random=random)
    assert (response.n_items, response.n_readings) == (45, 84)
    check_components(response, pick(FOUR, f"{kind}/variance_components"), LESSON_GROUPS)


@pytest.mark.parametrize(("random", "kind"), KINDS)
@pytest.mark.parametrize(("df", "table"), ROUTES)
@pytest.mark.parametrize("term", ["heat", "dye"])
def test_four_lessons_means_and_pairs(
    term: str, df: str, table: str, random: bool, kind: str
) -> None:
    response = lessons(FOUR, random=random, df=df)
    values = pick(FOUR, f"{kind}/emmeans_{term}/{table}")
    check_means(response, values["emmeans"])
    check_pairs(response, values["pairs"])


@pytest.mark.parametrize(("random", "kind"), KINDS)
def test_two_lessons_keep_what_two_denominator_df_can_carry(random: bool, kind: str) -> None:
    """Case 13b: Kenward-Roger for heat degenerates just below 2 df (R prints F 0.33, p 0.75).

    That row is no target: nothing is printed and a note says why. Everything else is compared.
    """
    response = lessons(TWO, random=random)
    for row in pick(TWO, f"{kind}/anova/type3_kenward_roger"):
        if row["term"] == "lesson":
            continue
        line = effect(response, row["term"])
        if row["degenerate_below_about_2_df"]:
            assert line.f is None
            assert line.p is None
            assert line.notes
        else:
            check_test(line, row)
    check_components(response, pick(TWO, f"{kind}/variance_components"), LESSON_GROUPS)
    for term in ("heat", "dye"):
        values = pick(TWO, f"{kind}/emmeans_{term}/kenward_roger")
        check_means(response, values["emmeans"])
        check_pairs(response, values["pairs"])


def test_bounded_team_variance_stops_at_zero() -> None:
    """What lme4 does, on request. Its tests there are a convention: only the estimates count."""
    case = "08b_rcbd_boundary"
    response = teams(case, bounded=True)
    team, residual = component(response, "team"), component(response, "residual")
    assert response.method.bounded
    assert team.variance == 0
    assert team.at_boundary
    rows = {row["group"]: row for row in pick(case, "random_team/variance_components")}
    assert rows["team"]["variance_or_cov"] == 0
    agree(residual.variance, rows["Residual"]["variance_or_cov"], "residual variance")
    for row in pick(case, "random_team/emmeans_treatment/kenward_roger/emmeans"):
        found = mean(response, {"treatment": row["treatment"]})
        agree(found.mean, row["emmean"], "mean")


def test_unbounded_team_variance_is_the_optimum() -> None:
    """By default a variance estimate may be negative; the optimum is found here a second way."""
    wanted = unbounded_one_group("08b_rcbd_boundary")
    response = teams("08b_rcbd_boundary")
    assert wanted["group"] < 0
    team = component(response, "team")
    agree(team.unbounded, wanted["group"], "team variance")
    assert team.variance == 0
    assert team.at_boundary
    agree(component(response, "residual").unbounded, wanted["residual"], "residual variance")
    for level in ("T1", "T2", "T3", "T4"):
        agree(mean(response, {"treatment": level}).mean, wanted[level], f"mean of {level}")


def test_the_second_way_agrees_with_lme4_inside() -> None:
    """The separate calculation is itself checked where R has the answer."""
    found = unbounded_one_group("08_rcbd_lost_cells")
    rows = pick("08_rcbd_lost_cells", "random_team/variance_components")
    wanted = {row["group"]: row["variance_or_cov"] for row in rows}
    agree(found["group"], wanted["team"], "team variance")
    agree(found["residual"], wanted["Residual"], "residual variance")


def unbounded_one_group(case: str) -> Mapping[str, float]:
    """Solve the REML equation of treatments in random teams by bracketing.

    With V = I + g ZZ', P the residual projector in that metric and N - p its rank, the equation is
    tr(P ZZ') = (N - p) y'P ZZ' P y / y'P y. The ratio g may go down to -1 over the largest member.
    """
    from scipy.optimize import brentq

    table = read_table(R / f"{case}.csv")
    y = np.array([float(value) for value in table["y"]])
    levels, members = list(table["treatment"]), list(table["team"])
    names = sorted(set(levels))
    x = np.array([[float(level == name) for name in names] for level in levels])
    z = np.array([[float(member == name) for name in sorted(set(members))] for member in members])
    zz = z @ z.T
    rank = len(y) - len(names)

    def projector(g: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        inverse = np.linalg.inv(np.eye(len(y)) + g * zz)
        core = np.linalg.solve(x.T @ inverse @ x, x.T @ inverse)
        return inverse - inverse @ x @ core, core

    def score(g: float) -> float:
        p, _ = projector(g)
        py = p @ y
        return float(rank * (py @ zz @ py) / (y @ py) - np.sum(p * zz))

    lowest = -1 / z.sum(axis=0).max()
    # the likelihood falls without end at the lower limit, so the sign changes on the way up
    g = float(brentq(score, lowest * (1 - 1e-6), 1e3, xtol=1e-15, rtol=1e-14))
    p, core = projector(g)
    residual = float(y @ p @ y) / rank
    return {
        "group": g * residual,
        "residual": residual,
        **dict(zip(names, (core @ y).tolist(), strict=True)),
    }


@pytest.mark.parametrize(("df", "table"), ROUTES)
def test_reaction_times_as_a_straight_line_over_days(df: str, table: str) -> None:
    """A number as a trend, 18 people of 10 days each; the models with slopes for each person are
    left out, for a group here varies in its level only."""
    response = analyse(
        Setup(
            R / "07d_sleepstudy.csv",
            (Factor("Days", kind="quantity", trend=True),),
            ("Subject",),
            options=options("Reaction", df=df),
        )
    )
    compare_tests(response, "07d_sleepstudy", "intercept_only/", table)
    rows = pick("07d_sleepstudy", "intercept_only/variance_components")
    check_components(response, rows, {"Subject": "Subject", "Residual": "residual"})
