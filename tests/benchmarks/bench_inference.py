"""How fast the inference is beside what a person would run instead, as ratios in one run.

Run it by hand: ``python tests/benchmarks/bench_inference.py``. It prints a table, judges nothing:
seconds depend on the machine, ratios much less.
"""

from __future__ import annotations

import statistics
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from trials.analysis.permutation import permute
from trials.model import FitOptions, Structure, fit_rows, make_layout
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


def main() -> None:
    """Print the table."""
    out = sys.stdout.write
    out(f"{'what':34} {'here, ms':>9} {'there, ms':>10} {'there / here':>13}\n")
    for name, work in (
        ("oats: fit + tests / MixedLM fit", oats),
        ("9,999 shuffles / permutation_test", shuffles),
    ):
        here, there = work()
        out(f"{name:34} {here:9.2f} {there:10.2f} {there / here:13.1f}\n")


if __name__ == "__main__":
    main()
