"""How fast the inference is beside what a person would run instead, as ratios in one run.

Run it by hand: ``python tests/benchmarks/bench_inference.py``. It prints tables, judges
nothing: seconds depend on the machine, ratios much less. The two rows of 100,000 are processor
time.
"""

from __future__ import annotations

import functools
import itertools
import math
import statistics
import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from trials.analysis.exchanges import FixedModel
from trials.analysis.layouts import Replayed, moved
from trials.analysis.permutation import permute, residual_permutation
from trials.design.symmetry import find_grid
from trials.design.units import Units
from trials.model import FitOptions, Group, Structure, fit_rows, make_layout
from trials.model.many import Many
from trials.model.terms import make_design
from trials.randomness import stream

OATS = Path(__file__).parents[1] / "reference" / "r" / "05_oats_split_plot.csv"
RUNS = 15
SHUFFLES = 100_000


def median_ms(work: Callable[[], object]) -> float:
    """Return the median time of one call in milliseconds, after one call that isn't counted."""
    work()
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        work()
        times.append(1000 * (time.perf_counter() - start))
    return statistics.median(times)


def oats() -> tuple[float, float]:
    """Fit and Kenward-Roger tests here; the fit alone, without small-sample tests, there."""
    frame = pd.read_csv(OATS, dtype=str)
    columns = {name: list(frame[name]) for name in frame.columns}
    y = frame["Y"].to_numpy(dtype=np.float64)
    structure = Structure(["N", "V"], ["B", "B/V"], {"V": "B/V"})

    def ours() -> object:
        return fit_rows(make_layout(structure, columns), y, FitOptions(df="kenward-roger"))

    import statsmodels.formula.api as smf  # type: ignore[import-untyped]  # it ships no types

    plain = frame.assign(Y=y)

    def theirs() -> object:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = smf.mixedlm(
                "Y ~ C(N, Sum) * C(V, Sum)", plain, groups="B", vc_formula={"V": "0 + C(V)"}
            )
            return model.fit(reml=True)

    return median_ms(ours), median_ms(theirs)


def shuffles() -> tuple[float, float]:
    """9,999 shuffles of one factor in 48 items, F as the statistic; vectorised there as well."""
    from scipy import stats

    rng = stream(1, "benchmark")
    y = rng.normal(size=48)
    codes = np.tile(np.arange(4), 12)
    parts = [y[codes == level] for level in range(4)]

    def f(*samples: np.ndarray, axis: int = -1) -> np.ndarray:
        return np.asarray(stats.f_oneway(*samples, axis=axis).statistic)

    def ours() -> object:
        return permute(y, codes, None, 9999, rng)

    def theirs() -> object:
        return stats.permutation_test(
            parts, f, n_resamples=9999, vectorized=True, alternative="greater", rng=rng
        )

    return median_ms(ours), median_ms(theirs)


def nested(n: int) -> tuple[Structure, dict[str, list[str]], np.ndarray]:
    """Ten items in a firing, ten firings in a session, a factor at each level; a tenth lost."""
    rng = stream(1, "benchmark")
    kept = np.flatnonzero(rng.random(n) > 0.1)
    firing, session = kept // 10, kept // 100
    columns = {
        "session": [str(i) for i in session],
        "firing": [str(i) for i in firing],
        "day": ["pq"[i % 2] for i in session],
        "heat": ["ab"[i % 2] for i in firing],
        "dye": ["xyz"[i] for i in rng.integers(3, size=len(kept))],
    }
    groups = [Group("session", random=True), Group("session/firing", random=True)]
    structure = Structure(["day", "heat", "dye"], groups, {"day": "session", "heat": "firing"})
    y = rng.normal(size=len(kept)) + rng.normal(size=n // 10)[firing]
    return structure, columns, y + rng.normal(size=max(n // 100, 1))[session]


def nested_cost(n: int, spread_by: str | None) -> tuple[float, float, float]:
    """Return seconds of the processor for the layout and for fit and tests, and megabytes."""
    structure, columns, y = nested(n)
    options = FitOptions(df="kenward-roger", spread_by=spread_by)
    start = time.process_time()
    layout = make_layout(structure, columns)
    between = time.process_time()
    fit_rows(layout, y, options)
    end = time.process_time()
    tracemalloc.start()
    fit_rows(make_layout(structure, columns), y, options)
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return between - start, end - between, peak


def split_plots(studies: int, *, lost: int) -> float:
    """Return seconds of the processor for simulated split-plots, each with Kenward-Roger."""
    frame = pd.read_csv(OATS, dtype=str).iloc[lost:]
    columns = {name: list(frame[name]) for name in frame.columns}
    layout = make_layout(Structure(["N", "V"], ["B", "B/V"], {"V": "B/V"}), columns)
    many = Many(layout, FitOptions(df="kenward-roger"))
    rng = stream(1, "benchmark")
    rows = np.eye(len(many.design.kept))[1:4]
    start = time.process_time()
    for _ in range(studies // 100):
        Y = rng.normal(size=(100, layout.n))
        for group in layout.random:
            Y += rng.normal(size=(100, group.members))[:, group.coded.codes]
        many.fit(Y, rows)
    return time.process_time() - start


class FourFactors(NamedTuple):
    """A made-up table of 48 items: 3 x 2 x 2 x 2 recipes twice, and its six pairs of factors."""

    y: np.ndarray
    columns: dict[str, list[str]]
    terms: list[tuple[str, ...]]

    @staticmethod
    def made() -> FourFactors:
        """Return the table."""
        levels = {"a": "xyz", "b": "pq", "c": "rs", "d": "tu"}
        rows = list(itertools.product(*levels.values())) * 2
        columns = {name: [row[place] for row in rows] for place, name in enumerate(levels)}
        terms = [*((name,) for name in levels), *itertools.combinations(levels, 2)]
        return FourFactors(stream(1, "benchmark").normal(size=48), columns, terms)


def all_terms() -> tuple[float, float]:
    """100,000 shuffles of all ten terms of 48 items here; term by term there, vectorised as well.

    There each term's statistic is handed its projections ready made, and permutes the response
    itself; here the residuals of the model without the term are permuted, which is more work.
    """
    from scipy import stats

    made = FourFactors.made()
    layout = make_layout(Structure(list("abcd")), made.columns)
    design = make_design(layout, 2)
    terms = {t.name: range(t.columns.start, t.columns.stop) for t in design.treatments}
    blocks = [design.X[:, own] for own in terms.values()]
    model = FixedModel.of(np.ones((48, 1)), blocks)
    rng = stream(2, "benchmark")

    def ours() -> object:
        return residual_permutation(
            made.y, design.X, terms, blocks=None, resamples=SHUFFLES, rng=rng
        )

    def f(y: np.ndarray, *, own: np.ndarray, axis: int = -1) -> np.ndarray:
        rest = (y**2).sum(axis=axis) - ((y @ model.whole) ** 2).sum(axis=axis)
        return np.asarray(((y @ own) ** 2).sum(axis=axis) / rest)

    def theirs() -> object:
        return [
            stats.permutation_test(
                (made.y,), functools.partial(f, own=own), permutation_type="pairings",
                n_resamples=SHUFFLES, vectorized=True, alternative="greater", batch=5000, rng=rng,
            )
            for own in model.own
        ]  # fmt: skip

    return best_ms(ours), best_ms(theirs)


def planned() -> tuple[float, float]:
    """The same for a plan: drawing 100,000 of its layouts, and F of all terms in each.

    There: the time of the table's ten terms is not measured again.
    """
    made = FourFactors.made()
    units = Units(48, (), {})
    grid = find_grid(units)
    codes = {name: np.unique(c, return_inverse=True)[1] for name, c in made.columns.items()}
    levels = {name: int(c.max()) + 1 for name, c in codes.items()}
    at = Replayed(made.y, codes, {n: c[None, :] for n, c in codes.items()}, levels)
    rng = stream(3, "benchmark")

    def ours() -> object:
        assert grid is not None
        return moved(at, grid.exchanges(SHUFFLES, rng), made.terms, made.terms[4:])

    return best_ms(ours), math.nan


def best_ms(work: Callable[[], object]) -> float:
    """Return the least processor time of three calls in milliseconds."""
    times = []
    for _ in range(3):
        start = time.process_time()
        work()
        times.append(1000 * (time.process_time() - start))
    return min(times)


def main() -> None:
    """Print the tables."""
    out = sys.stdout.write
    out(f"{'what':40} {'here, ms':>9} {'there, ms':>10} {'there / here':>13}\n")
    for name, work in (
        ("oats: fit + tests / MixedLM fit", oats),
        ("9,999 shuffles / permutation_test", shuffles),
        ("100,000 of ten terms / permutation_test", all_terms),
        ("100,000 layouts of a plan, ten terms", planned),
    ):
        here, there = work()
        out(f"{name:40} {here:9.2f} {there:10.2f} {there / here:13.1f}\n")
    out("\nItems in firings in sessions, a factor at each, a tenth lost: REML with Kenward-Roger\n")
    out(f"{'items':>8} {'spread by':>10} {'layout, s':>10} {'fit, s':>8} {'peak, MB':>9}\n")
    for spread_by in (None, "dye"):
        for n in (100, 1_000, 10_000, 100_000):
            ready, fitted, peak = nested_cost(n, spread_by)
            out(f"{n:8} {spread_by or '-':>10} {ready:10.3f} {fitted:8.3f} {peak:9.1f}\n")
    out("\n10,000 simulated split-plots of 72 plots by REML with Kenward-Roger\n")
    for lost in (0, 7):
        out(f"{lost} plots lost: {split_plots(10_000, lost=lost):.1f} s\n")


if __name__ == "__main__":
    main()
