"""Worked examples from textbooks: split-plots, incomplete blocks, covariates, one-way.

Data and printed numbers were typed from memory; that they agree with each other to every printed
digit is what vouches for both. Each number is compared at the decimals that are printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd
import pytest

import trials
from trials.analysis.findings import ResponseFindings
from trials.model.structure import Group

from .support import effect, mean, options
from .test_reference_handbook import printed

Line = tuple[int, float, str | None, str]  # numerator df, denominator df, sum of squares, F


@dataclass(frozen=True)
class Worked:
    """One example: rows of text, structure, and the printed lines and adjusted means."""

    name: str
    columns: tuple[str, ...]  # the last is the response
    rows: tuple[tuple[str, ...], ...]
    factors: tuple[str, ...]
    lines: Mapping[str, Line]
    groups: tuple[Group, ...] = ()
    applied: Mapping[str, str] = field(default_factory=dict)
    covariates: tuple[str, ...] = ()
    means: Mapping[tuple[str, str], str] = field(default_factory=dict)


def listed(text: str) -> tuple[tuple[str, ...], ...]:
    """Return rows from lines "A B: 1 2 3": what stands before the colon is repeated."""
    rows = []
    for line in text.strip().splitlines():
        before, after = line.split(":")
        rows += [(*before.split(), *one.split("/")) for one in after.split()]
    return tuple(rows)


# G. E. P. Box, W. G. Hunter and J. S. Hunter, Statistics for Experimenters, 2nd ed., Wiley 2005,
# table 9.1: corrosion resistance of coated steel bars; a heat of the furnace is a whole plot.
CORROSION = Worked(
    name="corrosion",
    columns=("heat", "temperature", "coating", "resistance"),
    rows=listed(
        """
        1 360: C2/73 C3/83 C1/67 C4/89
        2 370: C1/65 C3/87 C4/86 C2/91
        3 380: C3/147 C1/155 C2/127 C4/212
        4 380: C4/153 C3/90 C2/100 C1/108
        5 370: C4/150 C1/140 C3/121 C2/142
        6 360: C1/33 C4/54 C2/8 C3/46
        """
    ),
    factors=("temperature", "coating"),
    groups=(Group("heat"),),
    applied={"temperature": "heat"},
    lines={
        "temperature": (2, 3, "26519", "2.75"),
        "coating": (3, 9, "4289", "11.48"),
        "temperature:coating": (6, 9, "3270", "4.38"),
    },
)
# D. C. Montgomery, Design and Analysis of Experiments (5th ed., Wiley 2001, table 14-14): tensile
# strength of paper; a batch of pulp is a whole plot. Printed there with the replicates' part of the
# subplot error taken out; pooled as here it is 71.5 on 18.
PAPER = Worked(
    name="paper",
    columns=("replicate", "pulp", "temperature", "strength"),
    rows=listed(
        """
        1 P1: 200/30 225/35 250/37 275/36
        1 P2: 200/34 225/41 250/38 275/42
        1 P3: 200/29 225/26 250/33 275/36
        2 P1: 200/28 225/32 250/40 275/41
        2 P2: 200/31 225/36 250/42 275/40
        2 P3: 200/31 225/30 250/32 275/40
        3 P1: 200/31 225/37 250/41 275/40
        3 P2: 200/35 225/40 250/39 275/44
        3 P3: 200/32 225/34 250/39 275/45
        """
    ),
    factors=("pulp", "temperature"),
    groups=(Group("replicate"), Group("replicate/pulp")),
    applied={"pulp": "replicate/pulp"},
    lines={
        "pulp": (2, 4, "128.39", "7.08"),
        "temperature": (3, 18, "434.08", "36.43"),
        "pulp:temperature": (6, 18, "75.17", "3.15"),
    },
)
# Montgomery, the same, example 4-5: reaction time with four catalysts in four batches of three.
CATALYSTS = Worked(
    name="catalysts",
    columns=("batch", "catalyst", "time"),
    rows=listed(
        """
        1: 1/73 3/73 4/75
        2: 1/74 2/75 3/75
        3: 2/67 3/68 4/72
        4: 1/71 2/72 4/75
        """
    ),
    factors=("catalyst",),
    groups=(Group("batch", random=False),),
    lines={"catalyst": (3, 5, "22.75", "11.67")},
)
# P. W. M. John (1961), An application of a balanced incomplete block design, Technometrics 3,
# 51-54: plates washed before the foam is gone; nine detergents in twelve sessions of three basins.
DISHES = Worked(
    name="dishes",
    columns=("session", "detergent", "plates"),
    rows=listed(
        """
        1: A/19 B/17 C/11
        2: D/6 E/26 F/23
        3: G/21 H/19 J/28
        4: A/20 D/7 G/20
        5: B/17 E/26 H/19
        6: C/15 F/23 J/31
        7: A/20 E/26 J/31
        8: B/16 F/23 G/21
        9: C/13 D/7 H/20
        10: A/20 F/24 H/19
        11: B/17 D/6 J/29
        12: C/14 E/24 G/21
        """
    ),
    factors=("detergent",),
    groups=(Group("session", random=False),),
    lines={"detergent": (8, 16, "1086.81", "164.85")},
)
# Montgomery, the same, example 14-4: breaking strength of a fibre from three machines, with its
# diameter as covariate. R. A. Fisher's method.
FIBRES = Worked(
    name="fibres",
    columns=("machine", "diameter", "strength"),
    rows=listed(
        """
        1: 20/36 25/41 24/39 25/42 32/49
        2: 22/40 28/48 22/39 30/45 28/44
        3: 21/35 23/37 26/42 21/34 15/32
        """
    ),
    factors=("machine",),
    covariates=("diameter",),
    lines={"machine": (2, 11, None, "2.61")},
    means={("machine", "1"): "40.38", ("machine", "2"): "41.42", ("machine", "3"): "38.80"},
)
# G. W. Snedecor and W. G. Cochran, Statistical Methods, 6th ed., Iowa 1967, p. 422: leprosy bacilli
# after treatment with three drugs, with the count before as covariate.
LEPROSY = Worked(
    name="leprosy",
    columns=("drug", "before", "after"),
    rows=listed(
        """
        A: 11/6 8/0 5/2 14/8 19/11 6/4 10/13 6/1 11/8 3/0
        D: 6/0 6/2 7/3 8/1 18/18 8/4 19/14 8/9 5/1 15/9
        F: 16/13 13/10 11/18 9/5 21/23 16/12 12/5 12/16 7/1 12/20
        """
    ),
    factors=("drug",),
    covariates=("before",),
    lines={"drug": (2, 26, "68.55", "2.14")},
    means={("drug", "A"): "6.7150", ("drug", "D"): "6.8239", ("drug", "F"): "10.1611"},
)
# NIST/SEMATECH e-Handbook of Statistical Methods, section 7.4.3.3: three levels of five values.
ONE_WAY = Worked(
    name="one-way",
    columns=("level", "value"),
    rows=listed(
        """
        1: 6.9 5.4 5.8 4.6 4.0
        2: 8.3 6.8 7.8 9.2 6.5
        3: 8.0 10.5 8.1 6.9 9.3
        """
    ),
    factors=("level",),
    lines={"level": (2, 12, "27.897", "9.59")},
)
EXAMPLES = (CORROSION, PAPER, CATALYSTS, DISHES, FIBRES, LEPROSY, ONE_WAY)


def run(example: Worked) -> ResponseFindings:
    table = pd.DataFrame(list(example.rows), columns=list(example.columns), dtype=str)
    structure = trials.Structure(example.factors, example.groups, example.applied)
    chosen = options(example.columns[-1], covariates=example.covariates)
    (response,) = trials.analyse_table(table, structure, chosen).responses
    return response


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_the_printed_lines(example: Worked) -> None:
    response = run(example)
    for term, (num_df, den_df, sum_sq, f) in example.lines.items():
        line = effect(response, term)
        assert line.num_df == num_df
        assert line.den_df == pytest.approx(den_df, rel=1e-6)
        if sum_sq is not None:
            printed(line.sum_sq, sum_sq, f"sum of squares of {term}")
        printed(line.f, f, f"F of {term}")
    for (factor, level), value in example.means.items():
        printed(mean(response, {factor: level}).mean, value, f"mean of {level}")
