"""Many responses fitted together, against the fit of each on its own."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from trials.model import FitOptions, Layout, Structure, fit_rows, make_layout
from trials.model.many import Many

OATS = Path(__file__).parents[1] / "reference" / "r" / "05_oats_split_plot.csv"


def oats(*, rows: int = 72) -> Layout:
    """The split-plot of Yates (1935), whole or with its last rows lost."""
    frame = pd.read_csv(OATS, dtype=str).head(rows)
    columns = {name: list(frame[name]) for name in frame.columns}
    return make_layout(Structure(["N", "V"], ["B", "B/V"], {"V": "B/V"}), columns)


def one_way() -> Layout:
    return make_layout(Structure(["a"]), {"a": list("xxyyyzzzzz")})


@pytest.mark.parametrize(
    ("layout", "options", "at_once"),
    [
        (one_way(), FitOptions(), True),
        (oats(), FitOptions(), True),
        (oats(), FitOptions(df="kenward-roger"), False),
        (oats(), FitOptions(df="satterthwaite", bounded=True), False),
        (oats(rows=67), FitOptions(), False),
    ],
)
def test_many_responses_get_what_each_gets_alone(
    layout: Layout, options: FitOptions, at_once: bool
) -> None:
    many = Many(layout, options)
    assert many.at_once == at_once
    k = len(many.design.kept)
    rng = np.random.default_rng(5)
    Y = rng.normal(size=(4, layout.n))
    if layout.random:
        Y += rng.normal(size=(4, 18))[:, layout.grouping("B/V").coded.codes]
    rows = np.array([np.eye(k)[a] - np.eye(k)[b] for a, b in combinations(range(min(k, 4)), 2)])
    shift = rng.normal(size=k)
    tests, lines = many.fit(Y, rows)
    for place, y in enumerate(Y):
        for moved in (np.zeros(k), shift):
            alone = fit_rows(layout, y + many.design.XK @ moved, options)
            for test, single in zip(tests, alone.tests, strict=True):
                assert test.f(moved)[place] == pytest.approx(single.result.f, rel=1e-6)
                assert test.den_df[place] == pytest.approx(single.result.den_df, rel=1e-6)
            for column, row in enumerate(rows):
                line = alone.inference.line(row)
                assert lines.estimate[place, column] + row @ moved == pytest.approx(line.estimate)
                assert lines.se[place, column] == pytest.approx(line.se, rel=1e-6)
                assert lines.df[place, column] == pytest.approx(line.df, rel=1e-5)


def test_a_unit_without_repeats_has_no_test() -> None:
    """A factor given to one whole tray a version: nothing tells what trays differ by."""
    rows = {"feed": list("xxxyyy"), "tray": list("111222")}
    layout = make_layout(Structure(["feed"], ["tray"], {"feed": "tray"}), rows)
    tests, lines = Many(layout).fit(np.random.default_rng(1).normal(size=(3, 6)), np.eye(2)[1:])
    assert np.isnan(tests[0].den_df).all()
    assert np.isnan(lines.se).all()
