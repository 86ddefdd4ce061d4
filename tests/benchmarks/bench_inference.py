"""How fast the inference is beside what a person would run instead, as ratios in one run.

Run it by hand: ``python tests/benchmarks/bench_inference.py``. It prints tables, judges
nothing: seconds depend on the machine, ratios much less.
"""

from __future__ import annotations

import statistics
import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from trials.analysis.permutation import permute
from trials.model import FitOptions, Group, Structure, fit_rows, make_layout
from trials.model.many import Many
from trials.randomness import stream

OATS = Path(__file__).parents[1] / "reference" / "r" / "05_oats_split_plot.csv"
RUNS = 15


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


def main() -> None:
    """Print the tables."""
    out = sys.stdout.write
    out(f"{'what':34} {'here, ms':>9} {'there, ms':>10} {'there / here':>13}\n")
    for name, work in (
        ("oats: fit + tests / MixedLM fit", oats),
        ("9,999 shuffles / permutation_test", shuffles),
    ):
        here, there = work()
        out(f"{name:34} {here:9.2f} {there:10.2f} {there / here:13.1f}\n")
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
