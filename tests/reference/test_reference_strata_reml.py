"""On complete, equal plans the strata analysis and REML are one and the same.

A theorem, not a table: with orthogonal block structure and the variance estimates free to be
negative, REML's estimates are the strata's, and Kenward-Roger's tests are the strata's F tests (M.
G. Kenward and J. H. Roger 1997, Biometrics 53). Two separate ways through the program check each
other on plans drawn by hypothesis.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import trials
from tests.unmoved import analyse_table
from trials.analysis.findings import ResponseFindings

from .support import options

CLOSE = 1e-8
PLANS = settings(derandomize=True, max_examples=12, deadline=None)


def same(strata: float | None, reml: float | None, what: str, scale: float = 0.0) -> None:
    assert (strata is None) == (reml is None), what
    if strata is not None and reml is not None:
        gap = abs(strata - reml)
        assert gap <= CLOSE * max(abs(strata), scale), f"{what}: {strata!r} and {reml!r}"


def both_ways(
    table: pd.DataFrame, structure: trials.Structure
) -> tuple[ResponseFindings, ResponseFindings]:
    first, second = (
        analyse_table(table, structure, options("y", random=("all",), df=df))
        for df in ("auto", "kenward-roger")
    )
    strata, reml = first.responses[0], second.responses[0]
    assert strata.method.estimator == "strata"
    assert reml.method.estimator == "reml"
    return strata, reml


def interior(found: ResponseFindings) -> bool:
    """Whether every variance is well above 0 (a hundredth of the largest)."""
    values = [c.unbounded for c in found.variance_components]
    assert None not in values
    numbers = [value for value in values if value is not None]
    return min(numbers) > max(numbers) / 100


def compare(strata: ResponseFindings, reml: ResponseFindings) -> None:
    for a, b in zip(strata.variance_components, reml.variance_components, strict=True):
        assert a.group == b.group
        same(a.unbounded, b.unbounded, f"variance of {a.group}")
    for line, other in zip(strata.effects, reml.effects, strict=True):
        assert (line.term, line.num_df) == (other.term, other.num_df)
        same(line.f, other.f, f"F of {line.term}")
        same(line.den_df, other.den_df, f"den_df of {line.term}")
        same(line.p, other.p, f"p of {line.term}", scale=1e-6)
    for mean, again in zip(strata.means, reml.means, strict=True):
        assert mean.levels == again.levels
        same(mean.mean, again.mean, f"mean at {mean.levels}")
        same(mean.se, again.se, f"se at {mean.levels}")
        same(mean.df, again.df, f"df at {mean.levels}")
    for pair, twin in zip(strata.comparisons, reml.comparisons, strict=True):
        assert (pair.a, pair.b) == (twin.a, twin.b)
        assert pair.se is not None
        same(pair.difference, twin.difference, "difference", scale=pair.se)
        same(pair.se, twin.se, "se of a difference")
        same(pair.df, twin.df, "df of a difference")


def blocks(levels: int, members: int, spread: float, seed: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    between = rng.normal(scale=spread, size=members)
    return pd.DataFrame(
        {
            "block": str(block),
            "a": f"a{level}",
            "y": f"{20 + level + between[block] + rng.normal():.3f}",
        }
        for block in range(members)
        for level in range(levels)
    )


@PLANS
@given(
    levels=st.integers(2, 4),
    members=st.integers(4, 7),
    spread=st.floats(1.0, 6.0),
    seed=st.integers(0, 10**6),
)
def test_randomised_blocks(levels: int, members: int, spread: float, seed: int) -> None:
    table = blocks(levels, members, spread, seed)
    strata, reml = both_ways(table, trials.Structure(factors=("a",), groups=("block",)))
    assume(interior(strata))
    compare(strata, reml)


def split_plot(whole: int, sub: int, members: int, spread: float, seed: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    between = rng.normal(scale=2 * spread, size=members)
    plots = rng.normal(scale=spread, size=(members, whole))
    plots += between[:, None] + np.arange(whole)
    return pd.DataFrame(
        {
            "block": str(block),
            "plot": str(plot),
            "a": f"a{plot}",
            "b": f"b{level}",
            "y": f"{50 + 2 * level + plots[block, plot] + rng.normal():.3f}",
        }
        for block in range(members)
        for plot in range(whole)
        for level in range(sub)
    )


@PLANS
@given(
    whole=st.integers(2, 3),
    sub=st.integers(2, 4),
    members=st.integers(4, 6),
    spread=st.floats(1.0, 5.0),
    seed=st.integers(0, 10**6),
)
def test_split_plots(whole: int, sub: int, members: int, spread: float, seed: int) -> None:
    table = split_plot(whole, sub, members, spread, seed)
    structure = trials.Structure(
        factors=("a", "b"), groups=("block", "block/plot"), applied_to={"a": "plot"}
    )
    strata, reml = both_ways(table, structure)
    assume(interior(strata))
    compare(strata, reml)


def test_they_agree_where_a_variance_comes_out_negative() -> None:
    """Blocks more alike than chance allows: each adds up to about 6."""
    values = ("3.1 2.9 0.2", "0.1 3.0 2.8", "2.9 0.0 3.2", "3.0 3.1 0.0")
    table = pd.DataFrame(
        {"block": str(block), "a": f"a{level}", "y": value}
        for block, row in enumerate(values)
        for level, value in enumerate(row.split())
    )
    strata, reml = both_ways(table, trials.Structure(factors=("a",), groups=("block",)))
    found = strata.variance_components[0].unbounded
    assert found is not None
    assert found < 0
    compare(strata, reml)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_row_order_does_not_matter(seed: int) -> None:
    table = split_plot(2, 3, 4, 2.0, seed)
    structure = trials.Structure(
        factors=("a", "b"), groups=("block", "block/plot"), applied_to={"a": "plot"}
    )
    mixed = table.sample(frac=1, random_state=seed).reset_index(drop=True)
    first, _ = both_ways(table, structure)
    second, _ = both_ways(mixed, structure)
    for line in first.effects:
        twin = next(other for other in second.effects if other.term == line.term)
        same(line.f, twin.f, f"F of {line.term}")
