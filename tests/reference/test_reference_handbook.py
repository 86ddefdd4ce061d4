"""Worked examples printed in handbooks: two randomised blocks and two Latin squares.

Each printed number is compared at the digits it is printed with. Groups of fewer than six members
are fixed by our rule unless declared random; in these complete plans the treatment's line is the
same either way, and both are run.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from decimal import Decimal

import pandas as pd
import pytest

from trials.analysis.findings import ResponseFindings
from trials.model.structure import Group

from .support import HERE, Setup, analyse, component, effect, mean, options

HANDBOOK = HERE / "handbook"


@dataclass(frozen=True)
class Example:
    """One worked example: the table's treatment line and error line as printed."""

    table: str
    source: str
    response: str
    factor: str
    blocks: tuple[str, ...]
    df: int
    sum_sq: str
    f: str
    error_df: int
    error_mean_sq: str
    means: tuple[tuple[str, str], ...]
    p: str | None = None


HARDNESS = Example(
    table="hardness_blocks.csv",
    source="D. C. Montgomery, Design and Analysis of Experiments, 4th ed., Wiley, table 5-1 (p."
    " 172) and its analysis: four tips on four coupons of metal. Checked against the"
    " listing of the table in course notes of North Dakota State University (Stat 4662);"
    " in the book the data are coded, (y - 9.5) x 10, so that its sums are 100 times"
    " these.",
    response="hardness",
    factor="tip",
    blocks=("coupon",),
    df=3,
    sum_sq="0.385",
    f="14.44",
    error_df=9,
    error_mean_sq="0.00889",
    means=(("1", "9.575"), ("2", "9.600"), ("3", "9.450"), ("4", "9.875")),
    p="0.0009",
)
PENICILLIN = Example(
    table="penicillin_blocks.csv",
    source="G. E. P. Box, W. G. Hunter and J. S. Hunter, Statistics for Experimenters, Wiley"
    " 1978, p. 209: four processes in five blends of corn steep liquor. Data checked"
    " against the copy in the R package BHH2; the printed sums 264, 70, 226 and the ratio"
    " 1.24 from memory.",
    response="yield",
    factor="process",
    blocks=("blend",),
    df=3,
    sum_sq="70",
    f="1.24",
    error_df=12,
    error_mean_sq="18.8",
    means=(("A", "84"), ("B", "85"), ("C", "89"), ("D", "86")),
)
PROPELLANT = Example(
    table="propellant_square.csv",
    source="D. C. Montgomery, Design and Analysis of Experiments, 4th ed., Wiley, table 5-9 (p."
    " 194), example 5-4: five formulations, batches and operators. Data, error (128 on 12"
    " df) and total (676) checked against the listing in course notes of North Dakota"
    " State University; 330 and the ratio 7.73 from memory.",
    response="rate",
    factor="formulation",
    blocks=("batch", "operator"),
    df=4,
    sum_sq="330.00",
    f="7.73",
    error_df=12,
    error_mean_sq="10.67",
    means=(("A", "28.6"), ("B", "20.2"), ("C", "22.4"), ("D", "29.8"), ("E", "26.0")),
    p="0.0025",
)
WHEAT = Example(
    table="wheat_square.csv",
    source="W. G. Cochran and G. M. Cox, Experimental Designs, 2nd ed., Wiley 1957, pp. 122-125:"
    " six samplers measure shoot heights of wheat in six areas in six orders. Data and"
    " numbers as in the examples of GNU Dap (ed122), which follow those pages.",
    response="error",
    factor="sampler",
    blocks=("order", "area"),
    df=5,
    sum_sq="155.596",
    f="9.35024",
    error_df=20,
    error_mean_sq="3.32817",
    means=(
        ("A", "6.06667"),
        ("B", "5.58333"),
        ("C", "6.11667"),
        ("D", "6.91667"),
        ("E", "2.66667"),
        ("F", "1.20000"),
    ),
)
EXAMPLES = (HARDNESS, PENICILLIN, PROPELLANT, WHEAT)


def printed(found: float | None, wanted: str, what: str) -> None:
    """Compare at the decimals that are printed."""
    assert found is not None, what
    step = Decimal(1).scaleb(int(Decimal(wanted).as_tuple().exponent))
    assert abs(Decimal(found) - Decimal(wanted)) <= step / 2, f"{what}: {found!r}, printed {wanted}"


def run(example: Example, random: bool) -> ResponseFindings:
    return analyse(
        Setup(
            HANDBOOK / example.table,
            (example.factor,),
            tuple(Group(block, random=random) for block in example.blocks),
            options=options(example.response),
        )
    )


@pytest.mark.parametrize("random", [True, False])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.table)
def test_the_printed_table(example: Example, random: bool) -> None:
    response = run(example, random)
    line = effect(response, example.factor)
    assert line.num_df == example.df
    assert line.den_df == example.error_df
    printed(line.sum_sq, example.sum_sq, "sum of squares")
    printed(line.f, example.f, "F")
    assert line.mean_sq is not None
    assert line.f is not None
    printed(line.mean_sq / line.f, example.error_mean_sq, "error mean square")
    if example.p is not None:
        printed(line.p, example.p, "p")
    for level, value in example.means:
        printed(mean(response, {example.factor: level}).mean, value, f"mean of {level}")


def test_blend_variance_from_the_printed_mean_squares() -> None:
    """(66.0 - 18.8) / 4 with the unrounded mean squares 66 and 226/12."""
    response = run(PENICILLIN, random=True)
    found = component(response, "blend").variance
    assert found == pytest.approx((66 - 226 / 12) / 4, rel=1e-10)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.table)
def test_statsmodels_agrees(example: Example) -> None:
    """A second library on the same table, with the blocks as fixed terms."""
    ols = importlib.import_module("statsmodels.formula.api").ols
    anova = importlib.import_module("statsmodels.stats.anova").anova_lm
    table = pd.read_csv(HANDBOOK / example.table)
    terms = "+".join(f"C({name})" for name in (*example.blocks, example.factor))
    other = anova(ols(f"Q('{example.response}') ~ {terms}", table).fit(), typ=2)
    row = other.loc[f"C({example.factor})"]
    line = effect(run(example, random=False), example.factor)
    assert line.f == pytest.approx(float(row["F"]), rel=1e-9)
    assert line.p == pytest.approx(float(row["PR(>F)"]), rel=1e-9)
