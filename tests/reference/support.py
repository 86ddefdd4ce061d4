"""Load an outside case, analyse it once through the public call, and compare digit by digit.

The cases in ``r/`` are data (CSV) and results (JSON) of R, made by ``r/run_reference.R`` and cut
by ``r/trim.py``; each JSON names its publication and the packages' versions. ``handbook/`` holds
tables printed in books. A value that is missing on our side fails the comparison.

R's own studentised range is not exact: against a separate integration (test_reference_tukey.py)
its upper tail is off by 2e-12, and near 2 degrees of freedom by 8e-7. Tukey's values get that much
room.

Digits wanted: six significant ones for F, means, standard errors, variance components and p-values
above 1e-6; four for degrees of freedom.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd

import trials
from tests.unmoved import analyse_table
from trials.analysis.findings import Comparison, Component, Effect, Mean, ResponseFindings
from trials.model.structure import Factor, Group

HERE = Path(__file__).resolve().parent
R = HERE / "r"
VALUES = 6
DEGREES = 4
SMALL_P = 1e-6
R_TUKEY_TAIL = 5e-12
R_TUKEY_FEW_DF = 1e-5

Row = Mapping[str, Any]
Levels = Mapping[str, str]


@dataclass(frozen=True)
class Setup:
    """What to analyse and how: hashable, so that each analysis runs once a session."""

    table: Path
    factors: tuple[Factor | str, ...]
    groups: tuple[Group | str, ...] = ()
    applied_to: tuple[tuple[str, str], ...] = ()
    options: trials.Options = field(default_factory=trials.Options)


def read_table(path: Path) -> pd.DataFrame:
    """Read a CSV as text: what a number looked like is part of the data."""
    return pd.read_csv(path, dtype=str, keep_default_na=False)


@cache
def results(name: str) -> dict[str, Any]:
    """Return the results of the case in ``r/NAME.json``."""
    case: dict[str, Any] = json.loads((R / f"{name}.json").read_text(encoding="utf-8"))
    found: dict[str, Any] = case["results"]
    return found


def pick(name: str, path: str) -> Any:
    """Return one result of a case, by its path; KeyError if there is none."""
    here: Any = results(name)
    for step in path.split("/"):
        here = here[step]
    return here


@cache
def analyse(setup: Setup) -> ResponseFindings:
    """Analyse the one response of a table."""
    structure = trials.Structure(
        factors=setup.factors, groups=setup.groups, applied_to=dict(setup.applied_to)
    )
    findings = analyse_table(read_table(setup.table), structure, setup.options)
    (response,) = findings.responses
    return response


def options(response: str, **chosen: Any) -> trials.Options:
    """Return options without permutations, unless ``resamples`` is given."""
    return trials.Options.model_validate({"resamples": 0, "response": response, **chosen})


def digits(found: float | None, wanted: float) -> float:
    """Count the correct significant digits of ``found`` (16 where the two are equal)."""
    assert found is not None, f"no value where {wanted!r} is expected"
    assert math.isfinite(found), f"{found!r} where {wanted!r} is expected"
    if found == wanted:
        return 16.0
    gap = abs(found - wanted)
    return -math.log10(gap / abs(wanted)) if wanted else -math.log10(gap)


def agree(found: float | None, wanted: float, what: str, at_least: float = VALUES) -> None:
    """Fail unless ``found`` has at least so many correct digits."""
    assert found is not None, f"{what}: nothing, expected {wanted!r}"
    right = digits(found, wanted)
    assert right >= at_least, f"{what}: {found!r}, expected {wanted!r} ({right:.2f} digits)"


def agree_near(found: float | None, wanted: float, scale: float, what: str) -> None:
    """Compare a value that may be near 0 against the size of ``scale``."""
    assert found is not None, f"{what}: nothing, expected {wanted!r}"
    assert abs(found - wanted) <= 10**-VALUES * abs(scale), f"{what}: {found!r}, not {wanted!r}"


def agree_p(found: float | None, wanted: float, what: str, at_least: float = VALUES) -> None:
    """Compare a p-value: by digits above 1e-6; below that only 'as small as that'."""
    if wanted > SMALL_P:
        agree(found, wanted, what, at_least)
    else:
        assert found is not None, f"{what}: nothing, expected {wanted!r}"
        assert 0 <= found <= 10 * SMALL_P, f"{what}: {found!r}, expected {wanted!r}"


def one(candidates: Iterable[Any], what: str) -> Any:
    """Return the only candidate."""
    found = list(candidates)
    assert len(found) == 1, f"{what}: found {len(found)} times"
    return found[0]


def effect(response: ResponseFindings, term: str) -> Effect:
    """Return the line of a term, whatever the order of its factors."""
    parts = set(term.split(":"))
    hits = [line for line in response.effects if set(line.term.split(":")) == parts]
    found: Effect = one(hits, f"effect {term} among {[line.term for line in response.effects]}")
    return found


def mean(response: ResponseFindings, levels: Levels) -> Mean:
    """Return the estimated mean at these levels."""
    found: Mean = one((m for m in response.means if m.levels == dict(levels)), f"mean at {levels}")
    return found


def comparison(response: ResponseFindings, a: Levels, b: Levels) -> tuple[Comparison, int]:
    """Return the comparison of two sets of levels, and -1 if it is the other way round."""
    hits = [
        (line, sign)
        for line in response.comparisons
        for sign, pair in ((1, (dict(a), dict(b))), (-1, (dict(b), dict(a))))
        if (line.a, line.b) == pair
    ]
    found: tuple[Comparison, int] = one(hits, f"comparison of {a} and {b}")
    return found


def component(response: ResponseFindings, group: str) -> Component:
    """Return the variance component of a group, named by its path or by the path's last part."""
    hits = [c for c in response.variance_components if c.group == group]
    hits = hits or [
        c
        for c in response.variance_components
        if c.group.rpartition("/")[2] == group.rpartition("/")[2]
    ]
    named = [c.group for c in response.variance_components]
    found: Component = one(hits, f"component {group} among {named}")
    return found


def check_test(
    line: Effect, row: Row, df_digits: float = DEGREES, p_digits: float = VALUES
) -> None:
    """Compare F, its degrees of freedom and p with a row of an R table."""
    what = line.term
    assert line.num_df == row.get("num_df", row.get("df")), what
    agree(line.f, row["F"], f"F of {what}")
    if "den_df" in row:
        agree(line.den_df, row["den_df"], f"den_df of {what}", df_digits)
    agree_p(line.p, row["p"], f"p of {what}", p_digits)


def check_anova(response: ResponseFindings, table: Sequence[Row], terms: Sequence[str]) -> None:
    """Compare every line of a least-squares table, and the residual through F and mean squares."""
    residual = one((row for row in table if row["term"] == "Residuals"), "residual row")
    spread = residual.get("mean_sq", residual["sum_sq"] / residual["df"])
    for term in terms:
        row = one((row for row in table if row["term"] == term), f"row {term}")
        line = effect(response, term)
        check_test(line, row)
        assert line.den_df == residual["df"], term
        agree(line.sum_sq, row["sum_sq"], f"sum of squares of {term}")
        assert line.mean_sq is not None
        assert line.f is not None
        agree(line.mean_sq, row["sum_sq"] / row["df"], f"mean square of {term}")
        agree(line.mean_sq / line.f, spread, f"residual mean square under {term}")


def check_means(
    response: ResponseFindings, rows: Sequence[Row], df_digits: float = DEGREES
) -> None:
    """Compare estimated means: value, standard error, degrees of freedom, 95 % interval."""
    for row in rows:
        levels = {key: value for key, value in row.items() if isinstance(value, str)}
        line = mean(response, levels)
        what = f"at {levels}"
        agree(line.mean, row["emmean"], f"mean {what}")
        agree(line.se, row["se"], f"se {what}")
        agree(line.df, row["df"], f"df {what}", df_digits)
        for found, wanted in zip(line.interval, (row["lower"], row["upper"]), strict=True):
            agree_near(found, wanted, row["se"] * 10, f"interval {what}")


def check_pairs(
    response: ResponseFindings,
    rows: Sequence[Row],
    *,
    tukey: bool = True,
    df_digits: float = DEGREES,
) -> None:
    """Compare differences: value, standard error, df, t, p, interval; and Tukey's p, interval."""
    for row in rows:
        line, sign = comparison(response, row["a"], row["b"])
        what = f"of {row['a']} - {row['b']}"
        agree_near(line.difference, sign * row["estimate"], row["se"], f"difference {what}")
        agree(line.se, row["se"], f"se {what}")
        agree(line.df, row["df"], f"df {what}", df_digits)
        agree_near(line.t, sign * row["t"], max(1, abs(row["t"])), f"t {what}")
        agree_p(line.p, row["p"], f"p {what}")
        ends = sorted((sign * row["lower"], sign * row["upper"]))
        for found, wanted in zip(line.interval, ends, strict=True):
            agree_near(found, wanted, row["se"] * 10, f"interval {what}")
        if tukey:
            check_tukey(line, row, sign)


def check_tukey(line: Comparison, row: Row, sign: int) -> None:
    """Compare Tukey's p and interval, where R has them (from 2 df on)."""
    what = f"of {row['a']} - {row['b']}"
    if row["p_tukey"] is not None:
        assert line.p_adjusted is not None, what
        if abs(line.p_adjusted - row["p_tukey"]) > R_TUKEY_TAIL:
            agree_p(line.p_adjusted, row["p_tukey"], f"Tukey p {what}")
    if row.get("lower_tukey") is not None:
        room = R_TUKEY_FEW_DF / 10**-VALUES if row["df"] < 3 else 1.0
        ends = sorted((sign * row["lower_tukey"], sign * row["upper_tukey"]))
        for found, wanted in zip(line.interval_adjusted, ends, strict=True):
            agree_near(found, wanted, row["se"] * 10 * room, f"Tukey interval {what}")


def check_components(
    response: ResponseFindings, rows: Sequence[Row], names: Mapping[str, str]
) -> None:
    """Compare variance components; ``names`` gives our name of each of R's groups."""
    for row in rows:
        ours = names[row["group"]]
        found = component(response, ours)
        agree(found.variance, row["variance_or_cov"], f"variance of {ours}")
        assert not found.at_boundary, ours
    assert len(response.variance_components) == len(rows)
