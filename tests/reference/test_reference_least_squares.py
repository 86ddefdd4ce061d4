"""One error term: one- and two-way, fixed blocks and squares, a covariate, half fractions.

Sources: the ``source`` line of each JSON in ``r/`` (R's lm, car, emmeans). Rules of ours that show
here: blocks of six members or more would be random, so those cases ask for ``random=False``; a
covariate stands at its mean over all rows.
"""

from __future__ import annotations

import pytest

from trials.analysis.findings import ResponseFindings
from trials.model.structure import Group

from .support import (
    R,
    Setup,
    agree,
    agree_near,
    analyse,
    check_anova,
    check_means,
    check_pairs,
    check_test,
    comparison,
    effect,
    options,
    pick,
)

TWO_WAY = ("supp", "dose", "supp:dose")


def test_one_way_plant_growth() -> None:
    response = analyse(Setup(R / "01_plantgrowth.csv", ("group",), options=options("weight")))
    assert (response.n_items, response.n_readings) == (30, 30)
    check_anova(response, pick("01_plantgrowth", "anova"), ("group",))
    check_means(response, pick("01_plantgrowth", "emmeans"))
    check_pairs(response, pick("01_plantgrowth", "pairs_emmeans"))


def tooth(case: str, sums: str) -> ResponseFindings:
    return analyse(Setup(R / f"{case}.csv", ("supp", "dose"), options=options("len", sums=sums)))


@pytest.mark.parametrize("case", ["02_toothgrowth", "02b_toothgrowth_unbalanced"])
@pytest.mark.parametrize(
    ("sums", "table"), [("I", "type1_supp_first"), ("II", "type2"), ("III", "type3")]
)
def test_two_way_each_type_of_sums(case: str, sums: str, table: str) -> None:
    check_anova(tooth(case, sums), pick(case, table), TWO_WAY)


def test_the_types_differ_where_numbers_are_unequal() -> None:
    """The unbalanced case is worth having: without it a wrong type would pass unseen."""
    found = {
        sums: effect(tooth("02b_toothgrowth_unbalanced", sums), "supp").f
        for sums in ("I", "II", "III")
    }
    assert len({round(f, 3) for f in found.values() if f is not None}) == 3


@pytest.mark.parametrize("case", ["02_toothgrowth", "02b_toothgrowth_unbalanced"])
@pytest.mark.parametrize("term", ["supp", "dose"])
def test_two_way_means_and_pairs(case: str, term: str) -> None:
    response = tooth(case, "III")
    check_means(response, pick(case, f"emmeans_{term}/emmeans"))
    check_pairs(response, pick(case, f"emmeans_{term}/pairs"))


@pytest.mark.parametrize("case", ["02_toothgrowth", "02b_toothgrowth_unbalanced"])
def test_two_way_cell_means_and_simple_effects(case: str) -> None:
    """Pairs of one factor at each level of the other, Tukey's family being those of one level."""
    response = tooth(case, "III")
    check_means(response, pick(case, "emmeans_cells/emmeans"))
    check_pairs(response, pick(case, "simple_effects_dose_within_supp"))
    check_pairs(response, pick(case, "simple_effects_supp_within_dose"))


def test_warp_breaks() -> None:
    response = analyse(
        Setup(R / "03_warpbreaks.csv", ("wool", "tension"), options=options("breaks"))
    )
    check_anova(response, pick("03_warpbreaks", "raw/type3"), ("wool", "tension", "wool:tension"))
    for term in ("wool", "tension"):
        check_means(response, pick("03_warpbreaks", f"raw/emmeans_{term}/emmeans"))
        check_pairs(response, pick("03_warpbreaks", f"raw/emmeans_{term}/pairs"))
    check_means(response, pick("03_warpbreaks", "raw/emmeans_cells/emmeans"))
    check_pairs(response, pick("03_warpbreaks", "raw/tension_within_wool"))


@pytest.mark.parametrize(("sums", "table"), [("I", "type1"), ("II", "type2"), ("III", "type3")])
def test_npk_with_fixed_blocks(sums: str, table: str) -> None:
    """N x P x K is lost in the blocks; as a declared error it is not asked for."""
    response = npk(sums=sums)
    terms = ("N", "P", "K", "N:P", "N:K", "P:K")
    check_anova(response, pick("04_npk", f"fixed_block_two_factor/{table}"), terms)


def npk(sums: str = "III", interactions: int = 2) -> ResponseFindings:
    return analyse(
        Setup(
            R / "04_npk.csv",
            ("N", "P", "K"),
            (Group("block", random=False),),
            options=options("yield", sums=sums, interactions=interactions),
        )
    )


def test_npk_fixed_block_means() -> None:
    for key in ("N", "NP"):
        check_means(npk(), pick("04_npk", f"fixed_block_two_factor/{key}/emmeans"))
    check_pairs(npk(), pick("04_npk", "fixed_block_two_factor/N/pairs"))


def test_npk_main_effects_only() -> None:
    response = npk(interactions=1)
    check_anova(response, pick("04_npk", "fixed_block_main/type2"), ("N", "P", "K"))
    check_means(response, pick("04_npk", "fixed_block_main/N/emmeans"))
    check_pairs(response, pick("04_npk", "fixed_block_main/N/pairs"))


def test_npk_three_factor_interaction_is_named_as_lost_in_fixed_blocks() -> None:
    """R drops the aliased N:P:K in silence (lm) or stops (car); here it is to be named."""
    response = npk(interactions=3)
    check_anova(
        response,
        pick("04_npk", "fixed_block_two_factor/type1"),
        ("N", "P", "K", "N:P", "N:K", "P:K"),
    )
    named = [text for text in response.not_estimable if {"N", "P", "K"} <= set(text)]
    lines = [line for line in response.effects if line.term.count(":") == 2]
    assert named
    assert all(line.f is None and line.p is None for line in lines)


def ancova(sums: str) -> ResponseFindings:
    return analyse(
        Setup(
            R / "09_ancova.csv",
            ("A", "B"),
            options=options("y", covariates=("x",), sums=sums),
        )
    )


@pytest.mark.parametrize(("sums", "table"), [("II", "type2"), ("III", "type3")])
def test_covariance_adjusted_tests(sums: str, table: str) -> None:
    check_anova(ancova(sums), pick("09_ancova", f"common_slope/{table}"), ("A", "B", "A:B"))


@pytest.mark.parametrize("term", ["A", "B"])
def test_covariance_adjusted_means_and_pairs(term: str) -> None:
    check_means(ancova("III"), pick("09_ancova", f"common_slope/adjusted_{term}/emmeans"))
    check_pairs(ancova("III"), pick("09_ancova", f"common_slope/adjusted_{term}/pairs"))


def test_covariance_adjusted_cell_means() -> None:
    check_means(ancova("III"), pick("09_ancova", "common_slope/adjusted_AB/emmeans"))


def test_latin_square_with_fixed_rows_and_columns() -> None:
    response = analyse(
        Setup(
            R / "10_orchardsprays.csv",
            ("treatment",),
            (Group("row", random=False), Group("col", random=False)),
            options=options("decrease"),
        )
    )
    check_anova(response, pick("10_orchardsprays", "raw/anova"), ("treatment",))
    check_means(response, pick("10_orchardsprays", "raw/treatment/emmeans"))
    check_pairs(response, pick("10_orchardsprays", "raw/treatment/pairs"))


def test_incomplete_blocks_within_blocks_only() -> None:
    """With fixed blocks only the comparisons inside blocks count (the intra-block analysis)."""
    response = analyse(
        Setup(
            R / "11_bibd.csv",
            ("treatment",),
            (Group("block", random=False),),
            options=options("y"),
        )
    )
    check_anova(response, pick("11_bibd", "intra_block/type2"), ("treatment",))
    check_means(response, pick("11_bibd", "intra_block/treatment/emmeans"))
    check_pairs(response, pick("11_bibd", "intra_block/treatment/pairs"))


@pytest.mark.parametrize("case", ["08_rcbd_lost_cells", "08b_rcbd_boundary"])
def test_blocks_with_lost_cells_and_fixed_teams(case: str) -> None:
    response = analyse(
        Setup(
            R / f"{case}.csv",
            ("treatment",),
            (Group("team", random=False),),
            options=options("y"),
        )
    )
    check_anova(response, pick(case, "fixed_team/type2"), ("treatment",))
    check_means(response, pick(case, "fixed_team/treatment/emmeans"))
    check_pairs(response, pick(case, "fixed_team/treatment/pairs"))


HALVES = [
    ("12_bhh_reactor_2_5_1", "reacted", ("B", "D", "E")),
    ("12b_montgomery_2_5_1", "yield", ("A", "B", "C")),
]


@pytest.mark.parametrize(("case", "response", "active"), HALVES)
def test_half_fraction_projected_on_three_factors(
    case: str, response: str, active: tuple[str, ...]
) -> None:
    """The half fraction is a replicated 2^3 in any three factors.

    Each sum of squares is R's (three-factor interactions under their alias); the error is the sum
    of R's remaining effects, as all fifteen are orthogonal.
    """
    found = analyse(Setup(R / f"{case}.csv", active, options=options(response, interactions=3)))
    fitted = {}
    error = 0.0
    for row in pick(case, "effects"):
        names = [name for name in (row["effect"], row["alias"]) if set(name) <= set(active)]
        fitted.update(dict.fromkeys(names, row))
        error += 0.0 if names else row["sum_sq"]
    assert len(fitted) == 7
    for name, row in fitted.items():
        line = effect(found, ":".join(name))
        assert (line.num_df, line.den_df) == (1, 8)
        agree_near(line.sum_sq, row["sum_sq"], error, f"sum of squares of {name}")
        agree_near(line.f, row["sum_sq"] / (error / 8), 1, f"F of {name}")
        if len(name) == 1:
            pair, sign = comparison(found, {name: "1"}, {name: "-1"})
            agree_near(pair.difference, sign * row["estimate"], 1, f"effect of {name}")


@pytest.mark.parametrize(("case", "response", "active"), HALVES)
def test_saturated_half_fraction_estimates_without_a_test(
    case: str, response: str, active: tuple[str, ...]
) -> None:
    """Fifteen effects from sixteen runs leave no error: estimates stand, no p-value is made up."""
    assert active
    found = analyse(Setup(R / f"{case}.csv", ("A", "B", "C", "D", "E"), options=options(response)))
    for row in pick(case, "effects"):
        if len(row["effect"]) > 2:
            continue
        line = effect(found, ":".join(row["effect"]))
        assert line.f is None
        assert line.p is None
        agree_near(line.sum_sq, row["sum_sq"], 1, f"sum of squares of {row['effect']}")
        if len(row["effect"]) == 1:
            pair, sign = comparison(found, {row["effect"]: "1"}, {row["effect"]: "-1"})
            agree_near(pair.difference, sign * row["estimate"], 1, row["effect"])
            assert pair.p is None
    assert found.method.notes or any(line.notes for line in found.effects)


def test_one_way_f_against_the_tables_p() -> None:
    """A check on the check: F and p of one table stand for one another."""
    from scipy import stats

    row = pick("01_plantgrowth", "anova")[0]
    agree(float(stats.f.sf(row["F"], 2, 27)), row["p"], "p from F", 12)
    check_test(
        effect(
            analyse(Setup(R / "01_plantgrowth.csv", ("group",), options=options("weight"))),
            "group",
        ),
        row,
    )
