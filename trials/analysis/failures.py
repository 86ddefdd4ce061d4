"""Failures per level of a factor, with an exact test that respects blocks.

How many of a block's items failed is taken as given; the question is whether failures fell on the
levels as they would by chance within each block. The chance of each table follows from counting
(G. H. Freeman and J. H. Halton, 1951, Biometrika 38, 141-149; with blocks as in W. J. Conover,
1999, Practical Nonparametric Statistics, and N. Mantel and W. Haenszel, 1959, J. Natl Cancer Inst.
22); p adds up all tables that are no likelier than the one found. Without blocks and with two
levels that is Fisher's exact test.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from trials.analysis.data import Data
from trials.analysis.findings import FailureTable
from trials.analysis.permutation import Codes, permute, unit_means
from trials.analysis.plan_layouts import PlanLayouts
from trials.analysis.shuffling import ShuffleTest, replay_shuffle
from trials.design.columns import items_layout
from trials.design.values import Plan, PlanFactor
from trials.model.layout import is_constant_within
from trials.randomness import stream
from trials.record.values import ItemValue

MOST_STEPS = 2_000_000
RESAMPLES = 9999

Counts = tuple[int, ...]


@dataclass(frozen=True)
class Stage:
    """What the failures of one factor are judged on.

    ``level``, ``unit`` and ``block`` are codes (n,), one for each item made; a unit has one level
    and lies in one block. ``failed`` is a bool array (n,).
    """

    level: Codes
    failed: np.ndarray[tuple[int], np.dtype[np.bool_]]
    unit: Codes
    block: Codes


def failures_by_level(
    layouts: PlanLayouts, data: Data, values: Mapping[str, ItemValue]
) -> tuple[FailureTable, ...]:
    """Return the failures per level of each factor of a plan, with a test wherever there is one.

    Where counting can exchange nothing, because groups cross with one unit in each combination, the
    plan's own shuffle is asked instead, with the share that failed as the response.

    Parameters
    ----------
    layouts : of the plan.
    data : the items that worked.
    values : what is known of each item.
    """
    plan = layouts.plan
    tables = failure_tables(plan, values, layouts.seed)
    stuck = [t.factor for t in tables if "no_shuffle" in t.notes and "crossed" in t.notes]
    if not stuck:
        return tables
    made = _made(plan, values)
    layout = items_layout(plan, made, data.options.random)
    y = np.array([float(values[item].status == "failed") for item in made])
    whole = replace(data, items=tuple(made), layout=layout, y=y, runs=None)
    found = replay_shuffle(layouts, whole, stuck)
    return tuple(_replayed(table, found.get(table.factor)) for table in tables)


def failure_tables(
    plan: Plan, values: Mapping[str, ItemValue], seed: int = 1
) -> tuple[FailureTable, ...]:
    """Return the failures per level of each factor of a plan.

    Units are exchanged within all the groups that lie around them at once (team by session), which
    keeps every count that the plan balanced.

    Parameters
    ----------
    values : what is known of each item; those lost, set aside or not measured don't count as made.
    seed : of the shuffles, where there are too many tables to count.
    """
    made = _made(plan, values)
    failed = {item for item in made if values[item].status == "failed"}
    return tuple(_of_factor(plan, factor, made, failed, seed) for factor in plan.factors)


def _made(plan: Plan, values: Mapping[str, ItemValue]) -> list[str]:
    """Return the items that were made and tested, in the order of making."""
    return [
        row.item
        for row in sorted(plan.rows, key=lambda row: row.run)
        if row.item in values and values[row.item].status in ("measured", "at least", "failed")
    ]


def _replayed(table: FailureTable, test: ShuffleTest | None) -> FailureTable:
    """Return a table with the p of the plan's own shuffle, where there is one."""
    if test is None or test.p is None:
        return table
    notes = tuple(note for note in table.notes if note not in ("no_shuffle", "crossed"))
    return table.model_copy(update={"p": test.p, "notes": (*notes, "by_plan_shuffle")})


def _of_factor(
    plan: Plan, factor: PlanFactor, made: list[str], failed: set[str], seed: int
) -> FailureTable:
    rows = [plan.row(item) for item in made]
    labels = [row.factors[factor.name] for row in rows]
    codes = {group.path: _codes([row.groups[group.name] for row in rows]) for group in plan.groups}
    each = np.arange(len(rows), dtype=np.intp)
    unit = each if factor.applied_to is None else codes[factor.applied_to]
    larger = {
        path: code
        for path, code in codes.items()
        if len(rows) and code.max() < unit.max() and is_constant_within(code, unit)
    }
    around = {path: code for path, code in larger.items() if not _holds_a_finer(path, larger)}
    block = np.zeros(len(rows), dtype=np.intp)
    for code in around.values():
        block = _codes_of_pairs(block, code)
    stage = Stage(
        np.array([factor.levels.index(label) for label in labels], dtype=np.intp),
        np.array([row.item in failed for row in rows], dtype=bool),
        unit,
        block,
    )
    p, notes = failure_p(stage, stream(seed, f"failures {factor.name}"))
    if around and p is not None:
        notes = (*notes, f"within:{' and '.join(around)}")
    elif len(around) > 1:
        notes = (*notes, "crossed")
    return FailureTable(
        factor=factor.name,
        made={level: labels.count(level) for level in factor.levels},
        failed={
            level: int(np.sum(stage.failed & (stage.level == place)))
            for place, level in enumerate(factor.levels)
        },
        p=p,
        notes=notes,
    )


def failure_p(stage: Stage, rng: np.random.Generator) -> tuple[float | None, tuple[str, ...]]:
    """Return p and notes: "no_failures", "all_failed", "no_shuffle", "by_units", "sampled".

    Where several items share the factor's unit, whole units are shuffled with their failures, since
    the items of one unit may fail together; the statistic is then F of the units' shares failed.

    Examples
    --------
    >>> level = np.repeat([0, 1], 4)
    >>> failed = np.array([True, True, True, False, False, False, False, False])
    >>> stage = Stage(level, failed, np.arange(8), np.zeros(8, dtype=np.intp))
    >>> p, notes = failure_p(stage, np.random.default_rng(1))
    >>> round(p, 6), notes
    (0.142857, ())
    """
    if not stage.failed.any():
        return None, ("no_failures",)
    if stage.failed.all():
        return None, ("all_failed",)
    shares, first, sizes = unit_means(stage.failed.astype(np.float64), stage.unit)
    alone = int(sizes.max()) == 1
    weights = count_tables(stage) if alone else None
    if weights is not None:
        if len(weights) == 1:
            return None, ("no_shuffle",)
        here = weights[_totals(stage)]
        as_far = sum(weight for weight in weights.values() if weight <= here)
        return as_far / sum(weights.values()), ()
    found = permute(shares, stage.level[first], stage.block[first], RESAMPLES, rng)
    notes = () if alone else ("by_units",)
    if found.p is None:
        return None, (*notes, "no_shuffle")
    return found.p, notes if found.complete else (*notes, "sampled")


def count_tables(stage: Stage) -> dict[Counts, int] | None:
    """Return in how many ways each table of failures per level can arise, items shuffled in blocks.

    Whole numbers, so that tables of equal chance are equal. None if it takes too many steps.
    """
    levels = int(stage.level.max()) + 1
    weights: dict[Counts, int] = {(0,) * levels: 1}
    steps = 0
    for block in range(int(stage.block.max()) + 1):
        inside = stage.block == block
        sizes = np.bincount(stage.level[inside], minlength=levels).tolist()
        here = list(_ways(sizes, int(np.sum(stage.failed & inside))))
        steps += len(weights) * len(here)
        if steps > MOST_STEPS:
            return None
        longer: dict[Counts, int] = {}
        for (before, weight), (more, ways) in product(weights.items(), here):
            after = tuple(map(sum, zip(before, more, strict=True)))
            longer[after] = longer.get(after, 0) + weight * ways
        weights = longer
    return weights


def _ways(sizes: list[int], failures: int) -> Iterator[tuple[Counts, int]]:
    """Yield each split of a block's failures over the levels, and how many ways lead to it."""
    if len(sizes) == 1:
        if failures <= sizes[0]:
            yield (failures,), math.comb(sizes[0], failures)
        return
    for first in range(min(sizes[0], failures) + 1):
        for rest, ways in _ways(sizes[1:], failures - first):
            yield (first, *rest), math.comb(sizes[0], first) * ways


def _totals(stage: Stage) -> Counts:
    levels = int(stage.level.max()) + 1
    return tuple(np.bincount(stage.level[stage.failed], minlength=levels).tolist())


def _holds_a_finer(path: str, groups: Mapping[str, Codes]) -> bool:
    """Return whether another group divides the members of this one, or is the same by a name."""
    code = groups[path]
    return any(
        is_constant_within(code, other) and (other.max() > code.max() or name < path)
        for name, other in groups.items()
        if name != path
    )


def _codes_of_pairs(one: Codes, other: Codes) -> Codes:
    """Return codes of the combinations of two groups, counted from 0."""
    pairs = np.stack([one, other], axis=1)
    return np.unique(pairs, axis=0, return_inverse=True)[1].reshape(-1).astype(np.intp)


def _codes(labels: list[str]) -> Codes:
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)
