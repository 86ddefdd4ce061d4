"""Permutation tests where every arrangement can be counted, against R's full enumerations.

Sources: ``r/16c_permutation.json``: made-up small sets; Cushny & Peebles (1905) via Student
(1908); Darwin's maize in Fisher (1935), The Design of Experiments, section 21; Yates's oats. A
table without a plan gets ``p_permutation`` (arrangements assumed exchangeable), never
``p_randomisation``. The statistic is F, two-sided by nature; for two groups it orders arrangements
as the absolute difference does.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest

import trials
from trials.analysis.findings import Effect

from .support import R, effect, options, pick, read_table

MANY = 200_000  # above every number of arrangements here


def permuted(
    table: pd.DataFrame, response: str, factor: str, groups: tuple[str, ...] = ()
) -> Effect:
    structure = trials.Structure(factors=(factor,), groups=groups)
    chosen = options(response, resamples=MANY)
    (found,) = trials.analyse_table(table, structure, chosen).responses
    return effect(found, factor)


def same_count(line: Effect, extreme: int, arrangements: int) -> None:
    """All arrangements counted: the p-value is that fraction of them."""
    assert line.p_randomisation is None
    assert line.p_permutation is not None
    found = Fraction(line.p_permutation).limit_denominator(arrangements)
    assert found == Fraction(extreme, arrangements)
    assert line.exact


def test_five_against_six() -> None:
    row = pick("16c_permutation", "small_two_group")
    line = permuted(read_table(R / "16c_permutation_small.csv"), "y", "group")
    same_count(line, row["two_sided"]["n_as_extreme"], row["n_arrangements"])


def test_three_groups_of_three() -> None:
    row = pick("16c_permutation", "three_groups_of_three")
    line = permuted(read_table(R / "16g_permutation_three_groups.csv"), "y", "group")
    same_count(line, row["n_as_extreme"], row["n_arrangements"])


def test_sleep_as_two_groups() -> None:
    row = pick("16c_permutation", "sleep_as_two_independent_groups")
    line = permuted(read_table(R / "16d_sleep.csv"), "extra", "group")
    same_count(line, row["two_sided"]["n_as_extreme"], row["n_arrangements"])


def test_sleep_within_each_patient() -> None:
    """1,024 sign changes; as two loose groups the same numbers would give p = 0.08."""
    row = pick("16c_permutation", "sleep_blocked_by_subject")
    line = permuted(read_table(R / "16d_sleep.csv"), "extra", "group", ("ID",))
    same_count(line, row["n_two_sided"], row["n_arrangements"])


# Heights in eighths of an inch, pair by pair: Darwin (1876) as in Fisher (1935), from memory; their
# differences are checked below against the file.
CROSSED = (188, 96, 168, 176, 153, 172, 177, 163, 146, 173, 186, 168, 177, 184, 96)
SELFED = (139, 163, 160, 160, 147, 149, 149, 122, 132, 144, 130, 144, 102, 124, 144)


def darwin() -> pd.DataFrame:
    rows = [
        {"pair": str(number), "kind": kind, "height": str(height)}
        for number, both in enumerate(zip(CROSSED, SELFED, strict=True), start=1)
        for kind, height in zip(("crossed", "selfed"), both, strict=True)
    ]
    return pd.DataFrame(rows)


def test_darwins_maize_is_typed_right() -> None:
    file = read_table(R / "16e_darwin_maize.csv")["difference_eighths"].astype(int)
    assert [a - b for a, b in zip(CROSSED, SELFED, strict=True)] == file.tolist()


def test_darwins_maize() -> None:
    """Fisher: 863 of 32,768 arrangements in one direction, twice that in both: 5.267 %."""
    row = pick("16c_permutation", "darwin_blocked_by_pair")
    line = permuted(darwin(), "height", "kind", ("pair",))
    same_count(line, row["n_two_sided"], row["n_arrangements"])
    assert row["n_two_sided"] == 2 * 863
    assert line.f == pytest.approx(row["paired_t"]["statistic"] ** 2, rel=1e-9)
    assert line.p == pytest.approx(row["paired_t"]["p"], rel=1e-9)


def test_oat_varieties_within_blocks() -> None:
    row = pick("16c_permutation", "oats_varieties_within_blocks")
    line = permuted(read_table(R / "16f_oats_wholeplots.csv"), "total", "V", ("B",))
    same_count(line, row["n_as_extreme"], row["n_arrangements"])
    assert line.f == pytest.approx(row["F_observed"], rel=1e-9)


def share_as_extreme(values: list[int], chosen: int) -> float:
    """Count every choice of ``chosen`` out of the values by the sum it gives, and weigh the tails.

    The shift algorithm (B. Streitberg and J. Roehmel 1986, Statistical Software Newsletter 12): the
    values are taken up one at a time; row k of the table counts the choices of k by their sum.
    """
    counts = np.zeros((chosen + 1, sum(values) + 1))
    counts[0, 0] = 1.0
    for value in values:
        counts[1:, value:] += counts[:-1, : counts.shape[1] - value]
    ways = counts[chosen]
    centre = sum(values) * chosen / len(values)
    away = np.abs(np.arange(len(ways)) - centre)
    return float(ways[away >= abs(sum(values[:chosen]) - centre)].sum() / ways.sum())


def test_the_shift_algorithm_counts_as_r_does() -> None:
    row = pick("16c_permutation", "sleep_as_two_independent_groups")
    table = read_table(R / "16d_sleep.csv")
    tenths = [round(10 * float(value)) for value in table["extra"]]
    moved = [value - min(tenths) for value in tenths]
    assert share_as_extreme(moved, 10) == pytest.approx(row["two_sided"]["p"], rel=1e-12)


def test_drawn_at_random_comes_near_the_count() -> None:
    """30 of 60 teeth in 1.2e17 ways: drawn, so (b + 1) / (m + 1), within 4 standard errors."""
    table = read_table(R / "02_toothgrowth.csv").sort_values("supp")
    tenths = [round(10 * float(value)) for value in table["len"]]
    wanted = share_as_extreme(tenths, 30)
    draws = 9999
    structure = trials.Structure(factors=("supp",))
    chosen = options("len", resamples=draws)
    (found,) = trials.analyse_table(table[["supp", "len"]], structure, chosen).responses
    line = effect(found, "supp")
    assert line.p_permutation is not None
    assert line.exact  # of the kind of test (one factor, all arrangements alike), not of the count
    assert abs(line.p_permutation - wanted) < 4 * math.sqrt(wanted * (1 - wanted) / draws)
    counted = line.p_permutation * (draws + 1)
    assert counted == pytest.approx(round(counted), abs=1e-6)


def test_no_draws_no_value() -> None:
    (found,) = trials.analyse_table(
        read_table(R / "16c_permutation_small.csv"),
        trials.Structure(factors=("group",)),
        options("y", resamples=0),
    ).responses
    assert effect(found, "group").p_permutation is None
