"""Places that may be exchanged without anybody noticing, and how many layouts that makes.

Where groups are nested in equal numbers and different families of groups cross completely, the
members of each group (within the larger one) and the items in the smallest cells can change places.
Giving the versions out anew by such an exchange makes every layout of the set equally likely, which
is what the tests by shuffling rest on.

Source of the idea: J. A. Nelder (1965), Proc. R. Soc. A 283, 147-162 (simple orthogonal block
structures and their permutations); R. A. Bailey (2008), Design of Comparative Experiments, ch. 4.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations, product
from math import factorial, prod

import numpy as np
import numpy.typing as npt

from trials.design.factorials import Codes
from trials.design.units import Units

AT_ONCE = 2_000  # exchanges made together
MOST_MARKS = 2**62  # marks must fit an integer
MOST_TRIED = 20_000  # exchanges looked at one by one when layouts are counted


@dataclass(frozen=True)
class Grid:
    """A complete structure: families of nested groups that cross, equal numbers everywhere.

    ``families`` holds for each family the number of members at each depth, such as (2, 4) for two
    sessions of four firings. ``places`` has shape (leaves of each family ..., items in a cell) and
    holds positions. ``names`` are the groups of each family, largest first.
    """

    families: tuple[tuple[int, ...], ...]
    names: tuple[tuple[str, ...], ...]
    places: Codes

    @property
    def per_cell(self) -> int:
        """Items in each smallest cell."""
        return int(self.places.shape[-1])

    def exchange(self, rng: np.random.Generator) -> Codes:
        """Return a random exchange of places: position i takes what stood at position out[i]."""
        out: Codes = self.exchanges(1, rng)[0]
        return out

    def exchanges(self, count: int, rng: np.random.Generator) -> Codes:
        """Return ``count`` random exchanges of places, (count, positions), as :meth:`exchange`."""
        out = np.empty((count, self.places.size), dtype=np.intp)
        spots = self.places.ravel()
        back = np.argsort(spots)
        shape = self.places.shape
        steps = [prod(shape[axis + 1 :]) for axis in range(len(self.families))]
        for start in range(0, count, AT_ONCE):
            part = out[start : start + AT_ONCE]
            taken = np.zeros((len(part), 1), dtype=np.intp)  # cells in their order, item by item
            for step, counts in zip(steps, self.families, strict=True):
                orders = random_orders(counts, len(part), rng) * step
                taken = (taken[:, :, None] + orders[:, None, :]).reshape(len(part), -1)
            slots = np.zeros((*taken.shape, self.per_cell), dtype=np.intp)
            if self.per_cell > 1:
                slots = rng.random(slots.shape).argsort(axis=-1)
            cells = (taken[:, :, None] + slots).reshape(len(part), -1)
            part[:] = spots[cells[:, back]]
        return out

    def steps(self) -> list[Codes]:
        """Return the simplest exchanges: neighbours trade places. Together they make all others."""
        out = []
        for axis, counts in enumerate(self.families):
            for order in neighbour_orders(counts):
                out.append(self._as_exchange(np.take(self.places, order, axis=axis)))
        for cell in np.ndindex(self.places.shape[:-1]):
            for slot in range(self.per_cell - 1):
                taken = self.places.copy()
                taken[(*cell, [slot, slot + 1])] = taken[(*cell, [slot + 1, slot])]
                out.append(self._as_exchange(taken))
        return out

    def _as_exchange(self, taken: Codes) -> Codes:
        out = np.empty(self.places.size, dtype=np.intp)
        out[self.places.ravel()] = taken.ravel()
        return out


def find_grid(units: Units) -> Grid | None:
    """Return the complete structure of some units, or None where they are not complete.

    Examples
    --------
    >>> import numpy as np
    >>> find_grid(Units(4, (), {})).places.shape
    (4,)
    """
    families = _families(units)
    if families is None:
        return None
    counts = []
    for names in families:
        sizes = [units.count(name) for name in names]
        counts.append(tuple(b // a for a, b in zip([1, *sizes], sizes, strict=False)))
        for larger, smaller in pairwise(names):
            children = _children(units, larger, smaller)
            if len(set(children)) > 1:
                return None
    leaves = [units.codes[names[-1]] for names in families]
    shape = tuple(units.count(names[-1]) for names in families)
    per_cell, rest = divmod(units.n, prod(shape))
    if rest or not per_cell:
        return None
    cell = np.ravel_multi_index(leaves, shape) if leaves else np.zeros(units.n, dtype=np.intp)
    if (np.bincount(cell, minlength=prod(shape)) != per_cell).any():
        return None
    order = np.argsort(cell, kind="stable").astype(np.intp)
    return Grid(tuple(counts), families, order.reshape((*shape, per_cell)))


def _families(units: Units) -> tuple[tuple[str, ...], ...] | None:
    """Return each family of nested groups, largest first; None where one branches."""
    deepest = [
        group
        for group in units.groups
        if not any(other.within == group.name for other in units.groups)
    ]
    lines = tuple(tuple(group.path.split("/")) for group in deepest)
    names = [name for line in lines for name in line]
    return None if len(names) != len(set(names)) else lines


def _children(units: Units, larger: str, smaller: str) -> list[int]:
    pairs = np.unique(np.stack([units.codes[larger], units.codes[smaller]]), axis=1)
    counts: list[int] = np.bincount(pairs[0]).tolist()
    return counts


def random_orders(counts: Sequence[int], count: int, rng: np.random.Generator) -> Codes:
    """Return random orders of the leaves of a family, (count, leaves): groups stay together.

    Examples
    --------
    >>> (order,) = random_orders((2, 2), 1, np.random.default_rng(1))
    >>> sorted(order[:2].tolist()) in ([0, 1], [2, 3])
    True
    """
    orders = np.zeros((count, 1), dtype=np.intp)
    for members in counts:
        shape = (count, orders.shape[1], members)
        own = rng.permuted(np.broadcast_to(np.arange(members, dtype=np.intp), shape), axis=-1)
        orders = (orders[..., None] * members + own).reshape(count, -1)
    return orders


def neighbour_orders(counts: Sequence[int]) -> Iterator[Codes]:
    """Yield the orders of leaves in which two neighbours with the same parent trade places."""
    leaves = prod(counts)
    for depth, count in enumerate(counts):
        parents = prod(counts[:depth])
        below = prod(counts[depth + 1 :])
        for parent in range(parents):
            for child in range(count - 1):
                order = np.arange(leaves, dtype=np.intp).reshape(parents, count, below)
                order[parent, [child, child + 1]] = order[parent, [child + 1, child]]
                yield order.ravel()


def all_orders(counts: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Yield every order of the leaves of a family that keeps every group together."""
    if not counts:
        yield (0,)
        return
    below = prod(counts[1:])
    for outer in permutations(range(counts[0])):
        for inner in product(list(all_orders(counts[1:])), repeat=counts[0]):
            yield tuple(
                place * below + leaf
                for place, own in zip(outer, inner, strict=True)
                for leaf in own
            )


def number_of_orders(counts: Sequence[int]) -> int:
    """Return how many orders of the leaves keep every group together.

    Examples
    --------
    >>> number_of_orders((2, 4)), number_of_orders(())
    (1152, 1)
    """
    return prod(factorial(count) ** prod(counts[:depth]) for depth, count in enumerate(counts))


def arrangements(counts: Sequence[int], marks: Sequence[Hashable]) -> tuple[int, Hashable]:
    """Return how many different ways the marks of the leaves can come to stand, and their kind.

    Two markings have the same kind exactly if an exchange of places makes one from the other.

    Examples
    --------
    >>> arrangements((2, 4), list("ababbaab"))[0]  # two of four in each of two sessions
    36
    >>> arrangements((4,), list("aabb"))[0]
    6
    """
    if not counts:
        return 1, marks[0]
    below = prod(counts[1:])
    parts = [
        arrangements(counts[1:], marks[place * below : (place + 1) * below])
        for place in range(counts[0])
    ]
    same = Counter(kind for _, kind in parts)
    ways = prod(ways for ways, _ in parts) * factorial(counts[0])
    ways //= prod(factorial(times) for times in same.values())
    return ways, frozenset(same.items())


@dataclass(frozen=True)
class Count:
    """How many layouts there are, and how many of them tell the same story.

    ``alike`` counts the layouts in which only the names of levels differ, which give every test the
    same result. ``exact`` False: ``layouts`` is a lower bound.
    """

    layouts: int
    alike: int
    exact: bool


def count_layouts(
    grid: Grid,
    table: npt.NDArray[np.int64],
    renamings: Sequence[Sequence[int]],
    most: int = MOST_TRIED,
) -> Count:
    """Count the layouts that exchanges of places make of one.

    Parameters
    ----------
    table : versions in the shape of ``grid.places``.
    renamings : for each way of renaming, the new version of each old one; the first changes none.
    most : how many exchanges to try before settling for a lower bound.
    """
    table = np.sort(table, axis=-1)  # the order in a cell tells nothing: its places are exchanged
    cells = table.reshape(-1, grid.per_cell)
    within = prod(
        factorial(grid.per_cell) // prod(factorial(n) for n in Counter(cell).values())
        for cell in cells.tolist()
    )
    families, table = _relevant(grid.families, table)
    if not families:
        alike = sum((np.sort(np.asarray(r)[cells], axis=1) == cells).all() for r in renamings)
        return Count(within, int(alike), True)
    sizes = [number_of_orders(counts) for counts in families]
    main = int(np.argmax(sizes))
    tried = prod(sizes) // sizes[main]
    front = np.moveaxis(table, main, 0)
    if tried * len(renamings) > most:
        marks = _mark(front[None], front.shape[0])[0]
        ways, _ = arrangements(families[main], marks.tolist())
        return Count(ways * within, len(renamings), False)
    moved = front[None]
    for axis, counts in enumerate([f for place, f in enumerate(families) if place != main]):
        orders = np.array(list(all_orders(counts)))
        taken = [np.take(moved, order, axis=axis + 2) for order in orders]
        moved = np.concatenate(taken)
    kept, alike, ways = 0, 0, 1
    for which, renaming in enumerate(renamings):
        both = np.concatenate([front[None], np.asarray(renaming)[moved]])
        marks = _mark(np.sort(both, axis=-1), front.shape[0])
        ways, hits = _same_kind(families[main], marks)
        alike += hits > 0
        kept = hits if which == 0 else kept
    return Count(ways * tried // kept * within, alike, True)


def _relevant(
    families: tuple[tuple[int, ...], ...], table: npt.NDArray[np.int64]
) -> tuple[tuple[tuple[int, ...], ...], npt.NDArray[np.int64]]:
    """Leave out the families whose members all have the same versions, sorted in each cell."""
    kept: list[tuple[int, ...]] = []
    for counts in families:
        axis = len(kept)
        if (table == np.take(table, [0], axis=axis)).all():
            table = np.take(table, 0, axis=axis)
        else:
            kept.append(counts)
    return tuple(kept), table


def _mark(tables: npt.NDArray[np.int64], leaves: int) -> npt.NDArray[np.int64]:
    """Return one mark a leaf of the first family, (tables, leaves): equal marks, equal versions."""
    rows = tables.reshape(len(tables) * leaves, -1)
    versions = int(rows.max(initial=0)) + 1
    marks, different = np.zeros(len(rows), dtype=np.int64), 1
    for column in rows.T:
        if different * versions > MOST_MARKS:
            known, marks = np.unique(marks, return_inverse=True)
            different = len(known)
        marks = marks * versions + column
        different *= versions
    return marks.reshape(len(tables), leaves)


def _same_kind(counts: tuple[int, ...], marks: npt.NDArray[np.int64]) -> tuple[int, int]:
    """Return the ways of arranging the first row of marks, and how many other rows are its kind."""
    ways, kind = arrangements(counts, marks[0].tolist())
    ordered = np.sort(marks, axis=1)
    likely = marks[1:][(ordered[1:] == ordered[0]).all(axis=1)]
    return ways, sum(arrangements(counts, row)[1] == kind for row in likely.tolist())
