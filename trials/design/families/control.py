"""One factor with a control: how many items of each when only comparisons with it count.

With t other versions, the control should have about the square root of t times as many items as
each of them (C. W. Dunnett, 1955, JASA 50, 1096-1121, section 6; D. J. Finney, 1952, *Statistical
Method in Biological Assay*, from memory). The best whole numbers are found by trying.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations_with_replacement, permutations
from math import comb, inf, prod
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from trials.design.factorials import Codes

MOST_TRIED = 3_000  # arrangements of small blocks that are all tried
DESCENTS = 3
ROUNDS = 60
NEAR = 1e-9
SINGULAR = 1e-8


def control_counts(others: int, items: int) -> tuple[int, ...]:
    """Return how many items of the control and of each other version to make.

    The average variance of the comparisons with the control, in units of an item's own, is the
    smallest that whole numbers allow; where two answers are as good, the more even one is taken.

    Parameters
    ----------
    others : versions beside the control, at least 1.
    items : at least one of each version.

    Returns
    -------
    The control's count first.

    Raises
    ------
    ValueError : too few items.

    Examples
    --------
    >>> control_counts(4, 24), control_counts(4, 14)
    ((8, 4, 4, 4, 4), (5, 3, 2, 2, 2))
    """
    if others < 1 or items < others + 1:
        raise ValueError(f"{items} items are too few for {others} versions and a control")
    answers = [(first, *_even(items - first, others)) for first in range(1, items - others + 1)]
    least = min(average_variance(answer) for answer in answers)
    return min(
        (answer for answer in answers if average_variance(answer) < least + NEAR),
        key=lambda answer: max(answer) - min(answer),
    )


def _even(total: int, parts: int) -> tuple[int, ...]:
    whole, more = divmod(total, parts)
    return (whole + 1,) * more + (whole,) * (parts - more)


def average_variance(counts: Sequence[int]) -> float:
    """Return the average variance of the comparisons with the first version, without blocks.

    Examples
    --------
    >>> average_variance((8, 4, 4, 4, 4))
    0.375
    """
    return 1 / counts[0] + sum(1 / count for count in counts[1:]) / (len(counts) - 1)


@dataclass(frozen=True)
class ControlBlocks:
    """Which versions each block holds; version 0 is the control.

    ``average_variance`` is that of the comparisons with the control, within blocks. ``proved``:
    every arrangement was tried.
    """

    others: int
    table: tuple[tuple[int, ...], ...]
    average_variance: float
    proved: bool

    @property
    def counts(self) -> tuple[int, ...]:
        """Items of each version over all blocks."""
        found = Counter(version for row in self.table for version in row)
        return tuple(found[version] for version in range(self.others + 1))

    @cached_property
    def codes(self) -> Codes:
        """Block and version of each run, shape (runs, 2)."""
        pairs = [(block, version) for block, row in enumerate(self.table) for version in row]
        return np.array(pairs, dtype=np.intp)


def control_blocks(others: int, sizes: Sequence[int]) -> ControlBlocks | None:
    """Return the best way found of giving a control and other versions out over blocks.

    Parameters
    ----------
    others : versions beside the control.
    sizes : items of each block.

    Returns
    -------
    None where no arrangement lets every version be compared with the control.

    Examples
    --------
    >>> best = control_blocks(2, (4, 4))
    >>> best.table, best.average_variance, best.proved
    (((0, 0, 1, 2), (0, 0, 1, 2)), 0.75, True)
    """
    if others < 1 or not sizes or min(sizes) < 1 or sum(sizes) < others + 1:
        return None
    choices = prod(comb(size + others, others) for size in sizes)
    proved = choices <= MOST_TRIED
    tried = _every(others, sizes) if proved else _starts(others, sizes)
    tables = np.array(list(tried), dtype=np.intp)
    values = _judge(tables)
    order = np.argsort(values, kind="stable")
    value, counts = float(values[order[0]]), tables[order[0]]
    if not proved:  # change by change, from the starts that are best as they are
        better = [_descend(tables[place], float(values[place])) for place in order[:DESCENTS]]
        value, counts = min(better, key=lambda pair: pair[0])
    if value == inf:
        return None
    return ControlBlocks(others, _rows(counts), value, proved)


def _rows(counts: Codes) -> tuple[tuple[int, ...], ...]:
    versions = range(counts.shape[1])
    return tuple(tuple(v for v in versions for _ in range(int(row[v]))) for row in counts)


def _every(others: int, sizes: Sequence[int]) -> Iterator[Codes]:
    """Yield the counts of every arrangement, shape (blocks, versions)."""
    done: list[list[Codes]] = [[]]
    for size in sizes:
        rows = [
            np.bincount(row, minlength=others + 1)
            for row in combinations_with_replacement(range(others + 1), size)
        ]
        done = [[*start, row] for start in done for row in rows]
    for rows in done:
        yield np.array(rows, dtype=np.intp)


def _starts(others: int, sizes: Sequence[int]) -> Iterator[Codes]:
    """Yield arrangements with even numbers of controls and the other versions dealt in turn."""
    items = sum(sizes)
    best = control_counts(others, items)[0]
    for controls in range(max(1, best - len(sizes)), min(best + len(sizes), items - others) + 1):
        share = [size * controls / items for size in sizes]
        mine = [int(part) for part in share]
        for block in sorted(range(len(sizes)), key=lambda b: mine[b] - share[b]):
            if sum(mine) < controls and mine[block] < sizes[block]:
                mine[block] += 1
        counts = np.zeros((len(sizes), others + 1), dtype=np.intp)
        counts[:, 0] = mine
        yield _dealt(counts, sizes)


def _dealt(counts: Codes, sizes: Sequence[int]) -> Codes:
    """Return blocks filled up, each place by the version that is rarest, and new to its block."""
    for block, size in enumerate(sizes):
        while counts[block].sum() < size:
            together = counts.T @ counts
            met = together[1:, 1:] @ counts[block, 1:]
            order = np.lexsort([met, counts[block, 1:], counts[:, 1:].sum(axis=0)])
            counts[block, 1 + order[0]] += 1
    return counts


def _judge(tables: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
    """Return the average variance of the comparisons with version 0, within blocks.

    Parameters
    ----------
    tables : counts of several arrangements, shape (arrangements, blocks, versions).
    """
    sizes = tables.sum(axis=2, keepdims=True)
    within = np.swapaxes(tables / sizes, 1, 2) @ tables
    total = tables.sum(axis=1)
    information = total[:, :, None] * np.eye(tables.shape[2]) - within
    # with the control as zero: singular unless every version can be compared with it
    sizes_of = np.linalg.eigvalsh(information[:, 1:, 1:])
    told = sizes_of.min(axis=1) > SINGULAR
    out = np.full(len(tables), inf)
    out[told] = (1 / sizes_of[told]).mean(axis=1)
    return out


def _descend(counts: Codes, value: float) -> tuple[float, Codes]:
    """Return the arrangement after single changes, each the best there is, until none helps."""
    for _ in range(ROUNDS):
        tables = np.array(list(_changed(counts)), dtype=np.intp)
        values = _judge(tables)
        best = int(values.argmin())
        if values[best] > value - NEAR:
            break
        value, counts = float(values[best]), tables[best]
    return value, counts


def _changed(counts: Codes) -> Iterator[Codes]:
    """Yield the arrangements that differ in one item's version, or by a trade of two blocks."""
    blocks, versions = counts.shape
    for block in range(blocks):
        for out, new in permutations(range(versions), 2):
            if not counts[block, out]:
                continue
            other = counts.copy()
            other[block, [out, new]] += (-1, 1)
            yield other
            for partner in range(block + 1, blocks):
                if counts[partner, new]:
                    traded = other.copy()
                    traded[partner, [out, new]] += (1, -1)
                    yield traded
