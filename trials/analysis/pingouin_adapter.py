"""The one place where pingouin is called: typed, on plain arrays, its warnings filtered by name.

Source: R. Vallat (2018), "Pingouin: statistics in Python", J. Open Source Software 3(31), 1026.
pingouin is loaded when first asked, for it takes about a second.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class OneWay:
    """A test with an F statistic."""

    f: float
    num_df: float
    den_df: float
    p: float


@dataclass(frozen=True)
class UnequalPair:
    """Two levels compared without assuming equal spread: ``a`` minus ``b``."""

    a: str
    b: str
    difference: float
    se: float
    df: float
    p: float


def levene(values: Floats, labels: Sequence[str]) -> OneWay:
    """Return Levene's test of equal spread about the medians (Brown and Forsythe, 1974).

    ``labels`` names the level of each value; two levels or more, each with two values or more.
    """
    with _quiet() as pg:
        line = pg.homoscedasticity(_frame(values, labels), dv="y", group="level", method="levene")
    levels = len(set(labels))
    f, p = float(line["W"].iloc[0]), float(line["pval"].iloc[0])
    return OneWay(f, levels - 1, len(values) - levels, p)


def shapiro(values: Floats) -> tuple[float, float]:
    """Return W and p of Shapiro and Wilk's test of a normal shape (1965); 3 to 5000 values."""
    with _quiet() as pg:
        line = pg.normality(pd.Series(values, name="y"), method="shapiro")
    return float(line["W"].iloc[0]), float(line["pval"].iloc[0])


def welch_anova(values: Floats, labels: Sequence[str]) -> OneWay:
    """Return Welch's one-way analysis, which allows a spread for each level (Welch, 1951)."""
    with _quiet() as pg:
        line = pg.welch_anova(data=_frame(values, labels), dv="y", between="level")
    row = line.iloc[0]
    return OneWay(float(row["F"]), float(row["ddof1"]), float(row["ddof2"]), float(row["p_unc"]))


def games_howell(values: Floats, labels: Sequence[str]) -> tuple[UnequalPair, ...]:
    """Return all pairs, each with its own spread and df (Games and Howell, 1976)."""
    with _quiet() as pg:
        table = pg.pairwise_gameshowell(data=_frame(values, labels), dv="y", between="level")
    return tuple(
        UnequalPair(
            a=str(row["A"]),
            b=str(row["B"]),
            difference=float(row["diff"]),
            se=float(row["se"]),
            df=float(row["df"]),
            p=float(row["pval"]),
        )
        for _, row in table.iterrows()
    )


@contextmanager
def _quiet() -> Iterator[Any]:
    with warnings.catch_warnings():
        # pingouin 0.7 passes arguments to pandas that pandas 4 will drop; the results are right.
        warnings.filterwarnings("ignore", category=pd.errors.Pandas4Warning)
        import pingouin  # type: ignore[import-untyped]  # it ships no types

        yield pingouin


def _frame(values: Floats, labels: Sequence[str]) -> pd.DataFrame:
    return pd.DataFrame({"y": np.asarray(values, dtype=np.float64), "level": list(labels)})
