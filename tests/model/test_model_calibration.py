"""False alarms, coverage and wrong verdicts over whole null studies, as promised and as counted.

Eight designs: two heats over 2, 3, 4 or 6 firings each, six items in a firing, three tints twice in
every firing, complete and with one item in ten lost by chance; firings vary 0, 0.5, 1 or 2 times as
much as items (variances). Promised: never more than 5.5 false alarms in 100 at a nominal 5, and 4.5
to 5.5 where the factor's unit has at least 6 degrees of freedom and its variance is estimated above
zero in 95 of 100 studies; elsewhere the rate is published. Beside it stands the naive analysis:
three readings of each item taken for three items, and firings left out.

Never is meant up to Monte Carlo error: 3.5 standard errors are allowed everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import combinations, product
from math import sqrt

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from trials.design.simulation import reach
from trials.model import Layout, Structure, make_layout
from trials.model.hypotheses import pair_line
from trials.model.many import Many, ManyLines, ManyTests
from trials.model.margins import is_beyond, is_inside
from trials.randomness import stream

Floats = NDArray[np.float64]

STUDIES = 20_000
PATTERNS = 20  # ways of losing items that the studies of a design are shared among
ERRORS = 3.5
READINGS, READING_SD = 3, 0.2
FIRINGS = (2, 3, 4, 6)
RATIOS = (0.0, 0.5, 1.0, 2.0)
TINTS = "abc"
MARGIN = 1.0  # in item standard deviations
NOMINAL, MOST, LEAST = 0.05, 0.055, 0.045


@dataclass
class Counts:
    """How often something happened, by its name, among ``studies``."""

    studies: int = 0
    happened: dict[str, int] = field(default_factory=dict)

    def add(self, name: str, hits: ArrayLike) -> None:
        self.happened[name] = self.happened.get(name, 0) + int(np.sum(hits))

    def share(self, name: str) -> float:
        return self.happened[name] / self.studies


def rows(firings: int) -> list[tuple[str, str, str]]:
    """Return firing, heat and tint of every item; odd firings are hot."""
    return [
        (str(f), "hot" if f % 2 else "cool", tint)
        for f, tint, _ in product(range(2 * firings), TINTS, "xy")
    ]


def layout_of(cells: list[tuple[str, str, str]], *, grouped: bool) -> Layout:
    columns = {
        name: [cell[place] for cell in cells]
        for place, name in enumerate(("firing", "heat", "tint"))
    }
    if grouped:
        return make_layout(Structure(["heat", "tint"], ["firing"], {"heat": "firing"}), columns)
    return make_layout(Structure(["heat", "tint"]), columns)


def losses(n: int, lost: bool, patterns: int, name: str) -> Iterator[NDArray[np.intp]]:
    """Yield the places of the items that are left."""
    rng = stream(26, name)
    for _ in range(patterns):
        gone = rng.permutation(n)[: round(n / 10) if lost else 0]
        yield np.setdiff1d(np.arange(n), gone)


def p_values(test: ManyTests) -> Floats:
    f = test.f(np.zeros(test.hypothesis.L.shape[1]))
    return np.asarray(stats.f.sf(f, test.hypothesis.df, test.den_df), dtype=np.float64)


@dataclass(frozen=True)
class Pairs:
    """Pairs of each factor's levels as rows (m, k), and which rows are whose."""

    rows: Floats
    whose: dict[str, list[int]]
    levels: dict[str, int]


def pairs_of(many: Many) -> Pairs:
    lines: list[Floats] = []
    whose: dict[str, list[int]] = {}
    levels = {name: len(coded.levels) for name, coded in many.design.layout.factors.items()}
    for name, count in levels.items():
        for a, b in combinations(range(count), 2):
            row, _ = pair_line(many.design, name, a, b)
            assert row is not None
            whose.setdefault(name, []).append(len(lines))
            lines.append(row)
    return Pairs(np.array(lines), whose, levels)


def judge(counts: Counts, pairs: Pairs, lines: ManyLines) -> None:
    """Count how often intervals miss, and verdicts err at their worst: a truth just at the margin.

    The first pair of a factor is then truly ``MARGIN`` apart, and with three levels so is the
    second; the third pair does not differ.
    """
    for name, mine in pairs.whose.items():
        se, df, estimate = (x[:, mine] for x in (lines.se, lines.df, lines.estimate))
        single = np.abs(estimate) > stats.t.isf(NOMINAL / 2, df) * se
        counts.add(f"{name}: an interval misses", single[:, 0])
        half = reach(1 - NOMINAL, pairs.levels[name], df) * se
        counts.add(f"{name}: any of all intervals misses", (np.abs(estimate) > half).any(axis=1))
        truth = MARGIN * np.array([1.0, 1.0, 0.0][: len(mine)])
        low, high = estimate + truth - half, estimate + truth + half
        counts.add(f"{name}: 'mattered' at the margin", is_beyond(low, high, MARGIN).any(axis=1))
        inside = is_inside(low, high, MARGIN).all(axis=1)
        counts.add(f"{name}: 'no practical difference' at the margin", inside)


def count(firings: int, lost: bool, ratio: float, studies: int) -> Counts:
    """Simulate null studies of one design and count."""
    cells = rows(firings)
    n = len(cells)
    code = np.array([int(cell[0]) for cell in cells])
    name = f"{firings} firings, {'lost' if lost else 'whole'}, ratio {ratio}"
    rng = stream(1988, name)
    counts = Counts()
    patterns = PATTERNS if lost else 1
    each = max(studies // patterns, 10)
    for left in losses(n, lost, patterns if studies >= 200 else 2, name):
        Y = rng.standard_normal((each, n))
        Y += sqrt(ratio) * rng.standard_normal((each, 2 * firings))[:, code]
        read = Y[:, :, None] + READING_SD * rng.standard_normal((each, n, READINGS))
        counts.studies += each
        counts.add("firings above zero", is_above_zero(Y, cells, code))
        kept = [cells[place] for place in left]
        many = Many(layout_of(kept, grouped=True))
        pairs = pairs_of(many)
        tests, lines = many.fit(read.mean(axis=2)[:, left], pairs.rows)
        for test in tests:
            counts.add(test.hypothesis.term.name, p_values(test) < NOMINAL)
        judge(counts, pairs, lines)
        naive = Many(layout_of([cell for cell in kept for _ in range(READINGS)], grouped=False))
        flat = read[:, left].reshape(each, -1)
        for test in naive.fit(flat, pairs_of(naive).rows)[0]:
            counts.add(f"naive {test.hypothesis.term.name}", p_values(test) < NOMINAL)
    return counts


def is_above_zero(Y: Floats, cells: list[tuple[str, str, str]], code: NDArray[np.intp]) -> (
    NDArray[np.bool_]
):  # fmt: skip
    """Return in which studies the firings' variance is estimated above zero, nothing being lost."""
    means = np.stack([Y[:, code == firing].mean(axis=1) for firing in np.unique(code)], axis=1)
    heat = np.array([firing % 2 for firing in np.unique(code)])
    between = sum(
        ((means[:, heat == h] - means[:, heat == h].mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
        for h in (0, 1)
    )
    fixed = np.array([[c == f for f in np.unique(code)] for c in code], dtype=float)
    tint = np.array([TINTS.index(cell[2]) for cell in cells])
    crossed = np.array([[(h, t) == (c % 2, u) for h in (0, 1) for t in range(3)]
                        for c, u in zip(code, tint, strict=True)], dtype=float)  # fmt: skip
    X = np.hstack([fixed, crossed])
    rank = int(np.linalg.matrix_rank(X))
    basis = np.linalg.svd(X, full_matrices=False)[0][:, :rank]
    within = (Y**2).sum(axis=1) - ((Y @ basis) ** 2).sum(axis=1)
    size = len(code) / len(heat)
    df = len(heat) - 2
    return np.asarray(size * between / df > within / (len(code) - rank))


def room(share: float, studies: int) -> float:
    """Return the Monte Carlo error that is allowed a share."""
    return ERRORS * sqrt(share * (1 - share) / studies)


def faults(firings: int, counts: Counts) -> list[str]:
    """Return where a design breaks a promise."""
    n = counts.studies
    interior = counts.share("firings above zero") >= 0.95
    wrong = []
    for name in counts.happened:
        share = counts.share(name)
        if name.startswith("naive") or name == "firings above zero":
            continue
        if share > MOST + room(MOST, n):
            wrong.append(f"{name}: {share}")
        exact = interior and (name.startswith("tint") or 2 * firings - 2 >= 6)
        if exact and "margin" not in name and ":" not in name and share < LEAST - room(LEAST, n):
            wrong.append(f"{name}: only {share}")
    return wrong


@pytest.mark.long
@pytest.mark.parametrize("lost", [False, True], ids=["whole", "one in ten lost"])
def test_alarms_intervals_and_verdicts_keep_their_promises(
    lost: bool, effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    quick = lost and effort(STUDIES) < STUDIES  # each study is then fitted by itself
    studies = effort(STUDIES // 2 if quick else STUDIES)
    told: dict[str, object] = {}
    wrong: dict[str, list[str]] = {}
    for firings, ratio in product(FIRINGS, RATIOS[2:3] if quick else RATIOS):
        counts = count(firings, lost, ratio, studies)
        name = f"{firings} firings for each heat, variance ratio {ratio:g}"
        told[name] = {what: round(counts.share(what), 5) for what in counts.happened}
        found = faults(firings, counts)
        if found:
            wrong[name] = found
    evidence(
        f"calibration_{'lost' if lost else 'whole'}",
        {"studies": studies, "nominal": NOMINAL, "designs": told},
    )
    assert wrong == {}


def test_the_naive_analysis_is_far_off(effort: Callable[[int], int]) -> None:
    """Or the check could not tell a right analysis from a wrong one."""
    counts = count(3, False, 1.0, effort(STUDIES))
    assert counts.share("naive heat") > 0.3
    assert counts.share("naive tint") > 0.15
