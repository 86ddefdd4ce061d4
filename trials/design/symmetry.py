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
from dataclasses import dataclass, replace
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
class Held:
    """Kinds of places in a grid: only places of one kind change, so that something stays as it is.

    ``members`` holds for each family and depth the kind of each member, (parents, members), and
    ``items`` the kind of each item, in the shape of the grid's places. Kinds never fall along the
    last axis, and members of one kind hold the same kinds in the same order.
    """

    members: tuple[tuple[Codes, ...], ...]
    items: Codes


@dataclass(frozen=True)
class Grid:
    """A complete structure: families of nested groups that cross, equal numbers everywhere.

    ``families`` holds for each family the number of members at each depth, such as (2, 4) for two
    sessions of four firings. ``places`` has shape (leaves of each family ..., items in a cell) and
    holds positions. ``names`` are the groups of each family, largest first. ``held``: what every
    exchange leaves as it is; None: nothing.
    """

    families: tuple[tuple[int, ...], ...]
    names: tuple[tuple[str, ...], ...]
    places: Codes
    held: Held | None = None

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
            for axis, (step, counts) in enumerate(zip(steps, self.families, strict=True)):
                kinds = None if self.held is None else self.held.members[axis]
                orders = random_orders(counts, len(part), rng, kinds) * step
                taken = (taken[:, :, None] + orders[:, None, :]).reshape(len(part), -1)
            slots = np.zeros((*taken.shape, self.per_cell), dtype=np.intp)
            if self.per_cell > 1:
                if self.held is not None:
                    slots += 2 * self.held.items.reshape(-1, self.per_cell)
                slots = (slots + rng.random(slots.shape)).argsort(axis=-1)
            cells = (taken[:, :, None] + slots).reshape(len(part), -1)
            part[:] = spots[cells[:, back]]
        return out

    def steps(self) -> list[Codes]:
        """Return the simplest exchanges: neighbours trade places. Together they make all others."""
        out = []
        for axis, counts in enumerate(self.families):
            kinds = None if self.held is None else self.held.members[axis]
            for order in neighbour_orders(counts, kinds):
                out.append(self._as_exchange(np.take(self.places, order, axis=axis)))
        for cell in np.ndindex(self.places.shape[:-1]):
            for slot in range(self.per_cell - 1):
                if self.held is not None and np.diff(self.held.items[cell])[slot]:
                    continue
                taken = self.places.copy()
                taken[(*cell, [slot, slot + 1])] = taken[(*cell, [slot + 1, slot])]
                out.append(self._as_exchange(taken))
        return out

    def holding(self, marks: Codes) -> Grid:
        """Return the structure with exchanges that leave some marks where they are.

        The exchanges are those in which each family by itself leaves the marks alone, once the
        items of a cell are put in order: a group of their own, though where families cross it need
        not be all there are.

        Parameters
        ----------
        marks : of each position, (positions,).

        Examples
        --------
        >>> held = find_grid(Units(4, (), {})).holding(np.array([0, 1, 0, 1]))
        >>> len(held.steps())  # the first trades with the third, the second with the fourth
        2
        """
        order = np.argsort(marks[self.places], axis=-1, kind="stable")
        places = np.take_along_axis(self.places, order, axis=-1)
        members = []
        for axis, counts in enumerate(self.families):
            front = np.moveaxis(marks[places], axis, 0)
            leaves, kinds = _by_kind(counts, front.reshape(len(front), -1))
            places = np.take(places, leaves, axis=axis)
            members.append(kinds)
        return replace(self, places=places, held=Held(tuple(members), marks[places]))

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


def _by_kind(counts: Sequence[int], rows: Codes) -> tuple[Codes, tuple[Codes, ...]]:
    """Return an order of leaves in which members of one kind stand together, and all kinds.

    Parameters
    ----------
    rows : what each leaf is marked with, (leaves, marks). Members are of one kind if some order of
        what is inside makes their marks the same.

    Returns
    -------
    The order, (leaves,): alike members then hold the same in the same order; and for each depth the
    kind of each member in that order, (parents, members).
    """
    order = np.arange(len(rows), dtype=np.intp)
    kind = np.unique(rows, axis=0, return_inverse=True)[1].reshape(-1)
    kinds: list[Codes] = []
    for members in reversed(counts):
        table = kind.reshape(-1, members)
        inner = np.argsort(table, axis=1, kind="stable")
        kinds = [_reordered(deeper, inner) for deeper in kinds]
        order = _reordered(order, inner)
        kinds.insert(0, np.take_along_axis(table, inner, axis=1).astype(np.intp))
        kind = np.unique(kinds[0], axis=0, return_inverse=True)[1].reshape(-1)
    return order, tuple(kinds)


def _reordered(values: Codes, inner: Codes) -> Codes:
    """Return values of what is inside some members when these are put in order, inside a parent."""
    moved: Codes = np.take_along_axis(values.reshape(*inner.shape, -1), inner[:, :, None], axis=1)
    return moved.reshape(values.shape)


def random_orders(
    counts: Sequence[int],
    count: int,
    rng: np.random.Generator,
    kinds: Sequence[Codes] | None = None,
) -> Codes:
    """Return random orders of the leaves of a family, (count, leaves): groups stay together.

    ``kinds``: only members of one kind trade places, as in :class:`Held`; None: all are alike.

    Examples
    --------
    >>> (order,) = random_orders((2, 2), 1, np.random.default_rng(1))
    >>> sorted(order[:2].tolist()) in ([0, 1], [2, 3])
    True
    """
    orders = np.zeros((count, 1), dtype=np.intp)
    for depth, members in enumerate(counts):
        shape = (count, orders.shape[1], members)
        if kinds is None:
            own = rng.permuted(np.broadcast_to(np.arange(members, dtype=np.intp), shape), axis=-1)
        else:
            own = (2 * kinds[depth] + rng.random(shape)).argsort(axis=-1)
        orders = (orders[..., None] * members + own).reshape(count, -1)
    return orders


def neighbour_orders(
    counts: Sequence[int], kinds: Sequence[Codes] | None = None
) -> Iterator[Codes]:
    """Yield the orders of leaves in which two neighbours with the same parent trade places.

    ``kinds``: as in :func:`random_orders`.
    """
    leaves = prod(counts)
    for depth, count in enumerate(counts):
        parents = prod(counts[:depth])
        below = prod(counts[depth + 1 :])
        for parent in range(parents):
            for child in range(count - 1):
                if kinds is not None and np.diff(kinds[depth][parent])[child]:
                    continue
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


def arrangements(
    counts: Sequence[int], marks: Sequence[Hashable], held: Sequence[Hashable] | None = None
) -> int:
    """Return how many different ways the marks of the leaves can come to stand.

    ``held``: other marks, which stay as they are; each is told by the leaf's mark as well.

    Examples
    --------
    >>> arrangements((2, 4), list("ababbaab"))  # two of four in each of two sessions
    36
    >>> arrangements((4,), list("aabb")), arrangements((4,), list("abcd"), list("xxyy"))
    (6, 4)
    """
    if not counts:
        return 1
    parts = _inside(counts, marks)
    others = [None] * len(parts) if held is None else _inside(counts, held)
    ways = prod(arrangements(counts[1:], *one) for one in zip(parts, others, strict=True))
    free = Counter(None if other is None else kind_of(counts[1:], other) for other in others)
    same = Counter(kind_of(counts[1:], part) for part in parts)
    ways *= prod(factorial(times) for times in free.values())
    return ways // prod(factorial(times) for times in same.values())


def kind_of(counts: Sequence[int], marks: Sequence[Hashable]) -> Hashable:
    """Return the same for two markings of the leaves exactly if some order makes them the same."""
    if not counts:
        return marks[0]
    return frozenset(Counter(kind_of(counts[1:], part) for part in _inside(counts, marks)).items())


def _inside(counts: Sequence[int], marks: Sequence[Hashable]) -> list[Sequence[Hashable]]:
    below = prod(counts[1:])
    return [marks[place * below : (place + 1) * below] for place in range(counts[0])]


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
    held: Codes | None = None,
) -> Count:
    """Count the layouts that exchanges of places make of one.

    Parameters
    ----------
    table : versions in the shape of ``grid.places``.
    renamings : for each way of renaming, the new version of each old one; the first changes none.
    most : how many exchanges to try before settling for a lower bound.
    held : marks in the same shape that stay as they are, as :meth:`Grid.holding` lets them.
    """
    if held is not None:
        versions = len(renamings[0])
        table = held * versions + table
        every = np.arange(int(held.max()) + 1)[:, None] * versions
        renamings = [(every + np.asarray(one)).ravel().tolist() for one in renamings]
        held = np.sort(held, axis=-1)
    else:
        held = np.zeros(table.shape, dtype=np.intp)
    table = np.sort(table, axis=-1)  # the order in a cell tells nothing: its places are exchanged
    cells = table.reshape(-1, grid.per_cell)
    within = prod(map(_ways, held.reshape(cells.shape).tolist(), cells.tolist()))
    families, table, held = _relevant(grid.families, table, held)
    if not families:
        alike = sum((np.sort(np.asarray(r)[cells], axis=1) == cells).all() for r in renamings)
        return Count(within, int(alike), True)
    sizes = [number_of_orders(counts) for counts in families]
    main = int(np.argmax(sizes))
    tried = prod(sizes) // sizes[main]
    front, kept_front = np.moveaxis(table, main, 0), np.moveaxis(held, main, 0)
    stays = _mark(kept_front[None], front.shape[0])[0].tolist()
    marks = _mark(front[None], front.shape[0])[0].tolist()
    ways = arrangements(families[main], marks, stays)
    if tried * len(renamings) > most:
        return Count(ways * within, len(renamings), False)
    moved = front[None]
    for axis, counts in enumerate([f for place, f in enumerate(families) if place != main], 1):
        orders = np.array(list(all_orders(counts)), dtype=np.intp)
        kept_rows, rows = np.moveaxis(kept_front, axis, 0), np.moveaxis(moved, axis + 1, 0)
        if kept_front.any():
            stay = (kept_rows[orders] == kept_rows).reshape(len(orders), -1).all(axis=1)
            orders = orders[stay]
        made = np.moveaxis(rows[orders], 1, axis + 2)  # (orders, moved, ...)
        moved = made.reshape(-1, *front.shape)
    kept, alike = 0, 0
    for which, renaming in enumerate(renamings):
        both = np.concatenate([front[None], np.asarray(renaming)[moved]])
        hits = _same_kind(families[main], _mark(np.sort(both, axis=-1), front.shape[0]))
        alike += hits > 0
        kept = hits if which == 0 else kept
    return Count(ways * len(moved) // kept * within, alike, True)


def _ways(held: Sequence[int], cell: Sequence[int]) -> int:
    """Return in how many ways the versions in a cell can stand, trading within what is held."""
    free = prod(factorial(times) for times in Counter(held).values())
    return free // prod(factorial(times) for times in Counter(cell).values())


def _relevant(
    families: tuple[tuple[int, ...], ...], table: npt.NDArray[np.int64], held: Codes
) -> tuple[tuple[tuple[int, ...], ...], npt.NDArray[np.int64], Codes]:
    """Leave out the families whose members all have the same versions, sorted in each cell."""
    kept: list[tuple[int, ...]] = []
    for counts in families:
        axis = len(kept)
        if (table == np.take(table, [0], axis=axis)).all():
            table, held = (np.take(one, 0, axis=axis) for one in (table, held))
        else:
            kept.append(counts)
    return tuple(kept), table, held


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


def _same_kind(counts: tuple[int, ...], marks: npt.NDArray[np.int64]) -> int:
    """Return how many of the other rows of marks are of the kind of the first."""
    kind = kind_of(counts, marks[0].tolist())
    ordered = np.sort(marks, axis=1)
    likely = marks[1:][(ordered[1:] == ordered[0]).all(axis=1)]
    return sum(kind_of(counts, row) == kind for row in likely.tolist())
