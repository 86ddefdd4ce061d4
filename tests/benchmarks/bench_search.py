"""How good and how fast the search is: beside a library's optimal designs, and on large problems.

Run it by hand: ``python tests/benchmarks/bench_search.py``; with a number of seconds, the large
problem is also searched for so long, to compare. It prints tables, judges nothing: seconds depend
on the machine, ratios much less. ``OPENBLAS_NUM_THREADS=1`` keeps matrices this small from being
divided among threads, which only costs.
"""

from __future__ import annotations

import resource
import sys
import time
import warnings
from dataclasses import replace
from typing import Literal

import numpy as np

from trials.design.factorials import full_factorial
from trials.design.search import Criterion, Found, Problem, SearchFactor, SearchGroup, search
from trials.design.values import Balance
from trials.randomness import stream

Method = Literal["sequential", "simple_exchange", "fedorov", "modified_fedorov", "detmax"]
METHODS: tuple[Method, ...] = ("sequential", "simple_exchange", "fedorov", "detmax")
# factors, levels, runs: quadratics on a grid
CASES = (
    (2, 3, 6),
    (2, 3, 9),
    (2, 5, 9),
    (3, 3, 10),
    (3, 3, 14),
    (3, 5, 20),
    (4, 3, 18),
    (5, 3, 26),
)


def say(*parts: str) -> None:
    """Write one line."""
    sys.stdout.write("".join(parts).rstrip() + "\n")
    sys.stdout.flush()


def quadratic(factors: int, levels: int, runs: int) -> Problem:
    values = tuple(np.linspace(-1, 1, levels).tolist())
    names = "uvwxyz"[:factors]
    return Problem(
        runs, tuple(SearchFactor(name, levels, values=values, degree=2) for name in names)
    )


def columns(points: np.ndarray) -> np.ndarray:
    levels = list(points.T)
    out = [np.ones(len(points)), *levels, *(x * x for x in levels)]
    out += [x * y for i, x in enumerate(levels) for y in levels[i + 1 :]]
    return np.column_stack(out)


def efficiency(points: np.ndarray) -> float:
    """Return 100 |X'X|^(1/p) / n."""
    X = columns(points)
    sign, size = np.linalg.slogdet(X.T @ X)
    return 100 * float(np.exp(size / X.shape[1])) / len(points) if sign > 0 else 0.0


def timed(problem: Problem, criterion: Criterion, starts: int) -> tuple[Found, float]:
    start = time.process_time()
    found = search(problem, criterion, starts=starts, rng=stream(1, "benchmark"))
    return found, time.process_time() - start


def beside_a_library() -> None:
    """Criterion D, the same candidates, as 100 |X'X|^(1/p) / n; the ratio is our 10 starts to one.

    Ours repeats points where that helps, theirs can't.
    """
    from pyDOE3.doe_optimal import optimal_design  # type: ignore[import-untyped]  # it ships no types

    say(f"{'quadratic':24}{'ours, 1 start':>18}{'10 starts':>18}", *(f"{m:>22}" for m in METHODS))
    for factors, levels, runs in CASES:
        problem = quadratic(factors, levels, runs)
        grid = np.linspace(-1, 1, levels)
        cells = []
        for starts in (1, 10):
            found, seconds = timed(problem, Criterion("D"), starts)
            made = np.stack([grid[found.codes[f.name]] for f in problem.factors], axis=1)
            cells.append(f"{efficiency(made):9.3f}{seconds:8.3f}s")
        for method in METHODS:
            candidates = grid[full_factorial([levels] * factors)]
            start = time.process_time()
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                theirs, _ = optimal_design(candidates, runs, 2, criterion="D", method=method)
            other = time.process_time() - start
            cells.append(f"{efficiency(theirs):9.3f}{other:7.3f}s{seconds / other:4.0f}x")
        say(f"{factors} factors {levels}^{factors}, n={runs:<8}", *cells)


def large(*, balanced: bool = True) -> Problem:
    """200 items, six factors, three group sizes: ovens of ten, trays of five, items; ten teams."""
    position = np.arange(200)
    groups = (
        SearchGroup("session", position // 50, None),
        SearchGroup("oven", position // 10, 1.0),
        SearchGroup("tray", position // 5, 0.5),
        SearchGroup("team", position % 10, 0.3),
    )
    factors = (
        SearchFactor("a", 3, "oven"),
        SearchFactor("b", 2, "oven"),
        SearchFactor("c", 4, "tray"),
        SearchFactor("d", 3),
        SearchFactor("e", 3),
        SearchFactor("f", 2),
    )
    larger = {"oven": ((), ("session",)), "tray": ((), ("session",), ("oven",))}
    items = ((), ("session",), ("oven",), ("tray",), ("team",))
    rules = tuple(
        Balance(factors=(f.name,), within=within, counted=f.group)
        for f in factors
        for within in (items if f.group is None else larger[f.group])
    )
    return Problem(200, factors, groups, balance=rules if balanced else ())


def class_of_48() -> Problem:
    """Two sessions, eight firings of six, six teams; one combination is forbidden."""
    position = np.arange(48)
    groups = (
        SearchGroup("session", position // 24, None),
        SearchGroup("firing", position // 6, 1.0),
        SearchGroup("team", position % 6, 0.5),
    )
    factors = (SearchFactor("a", 2, "firing"), SearchFactor("b", 2), SearchFactor("c", 3))
    rules = [Balance(factors=("a",), within=w, counted="firing") for w in ((), ("session",))]
    rules += [
        Balance(factors=(name,), within=within)
        for name in "bc"
        for within in ((), ("session",), ("firing",), ("team",))
    ]
    recipes = full_factorial([2, 2, 3])
    recipes = recipes[~((recipes[:, 1] == 1) & (recipes[:, 2] == 2))]
    return Problem(48, factors, groups, recipes=recipes, balance=tuple(rules))


def sizes(long: float | None) -> None:
    say()
    say(f"{'problem':24}{'starts':>8}{'CPU s':>8}{'value':>12}{'bound/value':>13}")
    for name, problem, starts in (
        ("48, one forbidden", class_of_48(), 8),
        ("200, balanced", large(), 1),
        ("200, balanced", large(), 3),
        ("200, no rules", large(balanced=False), 1),
        ("200, no rules", large(balanced=False), 3),
    ):
        found, seconds = timed(problem, Criterion(), starts)
        say(f"{name:24}{found.starts:8}{seconds:8.2f}{found.value:12.6f}{found.efficiency:13.4f}")
        if long is not None and starts == 3:
            best = search(
                replace(problem, start=found.codes),
                starts=100_000,
                rng=stream(2, "benchmark"),
                seconds=long,
            )
            say(
                f"  {long:.0f} s: {best.value:.6f} in {best.starts} starts;"
                f" the short one reaches {best.value / found.value:.4f} of it"
            )
    say(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:.0f} MB")


if __name__ == "__main__":
    beside_a_library()
    sizes(float(sys.argv[1]) if len(sys.argv) > 1 else None)
