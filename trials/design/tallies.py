"""Counts that follow a layout from exchange to exchange, so that none is counted anew.

An exchange touches few positions. Each rule keeps its table of counts, moves only what changed from
one cell to another, and takes it back where the rule would break.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from trials.design.balance import fair_range, joint
from trials.design.factorials import Codes
from trials.design.units import Units
from trials.design.values import Balance

Columns = Mapping[str, Codes]
Changes = Mapping[str, Mapping[int, int]]  # of each factor, by row: new code less old code
Weights = tuple[tuple[str, int], ...]  # of each factor: how many cells a step of its code is


@dataclass(frozen=True)
class Cells:
    """Which cell of a rule's table each counted position is in.

    The number of a cell is ``fixed``, (rows,), of what no exchange changes, plus for each factor of
    ``weights`` its code times its weight.
    """

    rows: Codes
    fixed: Codes
    weights: Weights
    cells: int


@dataclass(frozen=True)
class EvenRule:
    """A rule of balance, ready to be counted.

    ``low`` and ``high`` are the fair counts of every cell; where factors are in the rule's scope
    (``moving``) they depend on how many are in a scope: one row for each number, one after another.
    """

    cells: Cells
    classes: int
    low: tuple[int, ...]
    high: tuple[int, ...]
    moving: bool
    excess: int
    uneven: frozenset[str]  # factors whose levels can't trade names without breaking it

    def start(self, columns: Columns, n: int) -> Tally:
        """Return the counts of a layout of n positions."""
        return (_Within if self.moving else _Even)(self, columns, n)


@dataclass(frozen=True)
class MadeRule:
    """A combination of versions that some item has to have (``wanted``), or that none may have."""

    cells: Cells
    cell: int
    wanted: bool
    uneven: frozenset[str]

    def start(self, columns: Columns, n: int) -> Tally:
        """Return the counts of a layout of n positions."""
        return _Made(self, columns, n)


def even_rule(units: Units, rule: Balance, levels: Mapping[str, int]) -> EvenRule:
    """Return a rule of balance made ready; ``levels`` of every group and factor."""
    _, first = np.unique(units.of_unit(rule.counted), return_index=True)
    rows = first.astype(np.intp)
    held = [name for name in rule.within if name in units.codes]
    moving = [name for name in rule.within if name not in units.codes]
    scope, scopes = joint([(units.codes[name][rows], levels[name]) for name in held], len(rows))
    classes = prod(levels[name] for name in rule.factors)
    cells = _cells(rows, scope, scopes, [(name, levels[name]) for name in (*moving, *rule.factors)])
    totals = np.arange(len(rows) + 1) if moving else np.bincount(scope, minlength=scopes)
    low, high = (tuple(ends.ravel().tolist()) for ends in fair_range(totals, classes, rule.shares))
    uneven = frozenset(rule.factors if len(set(rule.shares)) > 1 else ())
    return EvenRule(cells, classes, low, high, bool(moving), rule.excess, uneven)


def made_rule(
    combination: Mapping[str, int], wanted: bool, levels: Mapping[str, int], rows: Codes
) -> MadeRule:
    """Return a combination made ready: the code of each factor it names, where it counts."""
    named = [(name, levels[name]) for name in combination]
    cells = _cells(rows, np.zeros_like(rows), 1, named)
    cell = sum(weight * combination[name] for name, weight in cells.weights)
    return MadeRule(cells, cell, wanted, frozenset(combination))


def _cells(rows: Codes, scope: Codes, scopes: int, factors: Sequence[tuple[str, int]]) -> Cells:
    weights, step = [], 1
    for name, levels in reversed(factors):
        weights.append((name, step))
        step *= levels
    return Cells(rows, scope * step, tuple(weights), scopes * step)


class Tally:
    """The counts of one rule in one layout, and what its last change moved."""

    def __init__(self, cells: Cells, columns: Columns, n: int) -> None:
        at = cells.fixed.copy()
        for name, weight in cells.weights:
            at += weight * columns[name][cells.rows]
        place = np.full(n, -1, dtype=np.intp)
        place[cells.rows] = at
        self.weights = cells.weights
        self.place: list[int] = place.tolist()  # cell of each position, -1: not counted
        self.counts: list[int] = np.bincount(at, minlength=cells.cells).tolist()
        self.moves: list[tuple[int, int, int]] = []  # position, cell before, cell after
        self.excess = 0  # counts too far apart, for rules of balance

    def follow(self, changes: Changes, weights: Weights) -> bool:
        """Count a change, and return whether the rule still holds.

        ``weights``: of those factors of the rule that change.
        """
        name, weight = weights[0]
        shift = changes[name]
        if len(weights) > 1:
            shift, weight = _together(changes, weights), 1
        place = self.place
        self.moves = moves = []
        for row, by in shift.items():
            if by:
                before = place[row]
                if before >= 0:
                    place[row] = after = before + weight * by
                    moves.append((row, before, after))
        return self.move()

    def move(self) -> bool:
        """Bring the counts to the moves, and return whether the rule holds."""
        counts = self.counts
        for _, before, after in self.moves:
            counts[before] -= 1
            counts[after] += 1
        return True

    def mark(self) -> None:
        """Remember the counts as they are, for :meth:`back`."""
        self.marked = (self.place.copy(), self.counts.copy(), self.excess)

    def back(self) -> None:
        """Return to the counts of the last :meth:`mark`."""
        place, counts, self.excess = self.marked
        self.place, self.counts = place.copy(), counts.copy()

    def undo(self) -> None:
        """Take the last change back."""
        place, counts = self.place, self.counts
        for row, before, after in self.moves:
            place[row] = before
            counts[before] += 1
            counts[after] -= 1


def _together(changes: Changes, weights: Weights) -> dict[int, int]:
    """Return by how many cells each row moves if several factors change."""
    shift: dict[int, int] = {}
    for name, weight in weights:
        for row, by in changes[name].items():
            shift[row] = shift.get(row, 0) + weight * by
    return shift


class _Made(Tally):
    """Whether a combination is made."""

    def __init__(self, rule: MadeRule, columns: Columns, n: int) -> None:
        super().__init__(rule.cells, columns, n)
        self.cell, self.wanted = rule.cell, rule.wanted

    def move(self) -> bool:
        super().move()
        return (self.counts[self.cell] > 0) is self.wanted


class _Even(Tally):
    """Balance where the fair count of every cell stays what it is."""

    def __init__(self, rule: EvenRule, columns: Columns, n: int) -> None:
        super().__init__(rule.cells, columns, n)
        self.low, self.high, self.most = rule.low, rule.high, rule.excess
        self.excess = self.before = sum(
            max(count - high, low - count, 0)
            for count, low, high in zip(self.counts, self.low, self.high, strict=True)
        )

    def move(self) -> bool:
        counts, low, high = self.counts, self.low, self.high
        excess = self.before = self.excess
        for _, before, after in self.moves:
            many = counts[before]
            excess += (many <= low[before]) - (many > high[before])
            counts[before] = many - 1
            many = counts[after]
            excess += (many >= high[after]) - (many < low[after])
            counts[after] = many + 1
        self.excess = excess
        return excess <= self.most

    def undo(self) -> None:
        super().undo()
        self.excess = self.before


class _Within(Tally):
    """Balance within factors: a change moves positions from one scope to another."""

    def __init__(self, rule: EvenRule, columns: Columns, n: int) -> None:
        super().__init__(rule.cells, columns, n)
        self.classes, self.most = rule.classes, rule.excess
        self.low, self.high = rule.low, rule.high
        self.excess = self.before = self._excess(range(len(self.counts) // self.classes))

    def move(self) -> bool:
        self.before = self.excess
        touched = {cell // self.classes for _, *ends in self.moves for cell in ends}
        self.excess -= self._excess(touched)
        super().move()
        self.excess += self._excess(touched)
        return self.excess <= self.most

    def undo(self) -> None:
        super().undo()
        self.excess = self.before

    def _excess(self, scopes: Iterable[int]) -> int:
        out, classes = 0, self.classes
        for scope in scopes:
            here = self.counts[scope * classes : (scope + 1) * classes]
            first = sum(here) * classes
            for place, count in enumerate(here, first):
                out += max(count - self.high[place], self.low[place] - count, 0)
        return out


class Run:
    """A layout on the move, with the counts of every rule that it keeps.

    Parameters
    ----------
    start : codes of shape (n,) of each factor; they keep the rules.
    rules : what every layout keeps.
    renaming : factors whose levels trade names without any rule noticing. Their names stand beside
        the codes, so that a trade of names moves nothing.
    """

    def __init__(
        self, start: Columns, rules: Sequence[EvenRule | MadeRule], renaming: Iterable[str]
    ) -> None:
        n = len(next(iter(start.values())))
        self.codes: dict[str, list[int]] = {name: one.tolist() for name, one in start.items()}
        self.names: dict[str, list[int]] = {name: [] for name in renaming}
        self.tallies = [rule.start(start, n) for rule in rules]
        self.changes: dict[str, dict[int, int]] = {}  # since rules were last looked at
        self.touched: dict[tuple[str, ...], list[tuple[Tally, Weights]]] = {}
        self.mark()

    def mark(self) -> None:
        """Remember the layout as it stands, for :meth:`back`."""
        self.marked = _copied(self.codes), _copied(self.names)
        for tally in self.tallies:
            tally.mark()
        self.moved = False  # since then

    def back(self) -> None:
        """Return to the layout that was marked last."""
        codes, names = self.marked
        self.codes, self.names = _copied(codes), _copied(names)
        for tally in self.tallies:
            tally.back()
        self.moved = False

    def trade(self, name: str, one: Sequence[int], other: Sequence[int]) -> None:
        """Let two sets of positions trade the version that each has of a factor."""
        codes = self.codes[name]
        by = codes[other[0]] - codes[one[0]]
        if not by:
            return
        changes = self.changes.setdefault(name, {})
        for row in one:
            codes[row] += by
            changes[row] = changes.get(row, 0) + by
        for row in other:
            codes[row] -= by
            changes[row] = changes.get(row, 0) - by

    def swap(self, name: str, one: Sequence[int], other: Sequence[int]) -> None:
        """Let two sets of positions, equal in number, trade their versions place by place."""
        codes, changes = self.codes[name], self.changes.get(name, {})
        for row, partner in zip(one, other, strict=True):
            by = codes[partner] - codes[row]
            if by:
                codes[row] += by
                codes[partner] -= by
                changes[row] = changes.get(row, 0) + by
                changes[partner] = changes.get(partner, 0) - by
        if changes:
            self.changes[name] = changes

    def rename(self, name: str, one: int, other: int, levels: int) -> None:
        """Let two levels of a factor trade names."""
        names = self.names.get(name)
        if names is None:
            codes, changes = self.codes[name], self.changes.setdefault(name, {})
            for row, code in enumerate(codes):
                if code in (one, other):
                    codes[row] = one + other - code
                    changes[row] = changes.get(row, 0) + one + other - 2 * code
            return
        self.moved = True
        names[:] = names or range(levels)
        here, there = names.index(one), names.index(other)
        names[here], names[there] = other, one

    def keep_or_undo(self) -> None:
        """Keep what was changed since the last call if every rule holds, else take it back."""
        changes = self.changes
        if not changes:
            return
        self.changes = {}
        names = tuple(changes)
        touched = self.touched.get(names) or self._touched(names)
        for place, (tally, weights) in enumerate(touched):
            if not tally.follow(changes, weights):
                for followed, _ in touched[: place + 1]:
                    followed.undo()
                for name, rows in changes.items():
                    codes = self.codes[name]
                    for row, by in rows.items():
                        codes[row] -= by
                return
        self.moved = True

    def _touched(self, names: tuple[str, ...]) -> list[tuple[Tally, Weights]]:
        """Return the rules that some factors concern, each with the weights of those."""
        own = [tuple(w for w in tally.weights if w[0] in names) for tally in self.tallies]
        found = [
            (tally, weights) for tally, weights in zip(self.tallies, own, strict=True) if weights
        ]
        self.touched[names] = found
        return found

    def layout(self) -> dict[str, Codes]:
        """Return the codes as they stand, shape (n,) for each factor."""
        out = {}
        for name, codes in self.codes.items():
            column = np.array(codes, dtype=np.intp)
            names = self.names.get(name)
            out[name] = np.array(names, dtype=np.intp)[column] if names else column
        return out


def _copied(columns: Mapping[str, list[int]]) -> dict[str, list[int]]:
    return {name: column.copy() for name, column in columns.items()}
