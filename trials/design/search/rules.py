"""Rules of balance and required recipes, checked for many changes of a layout at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.values import Bools, Floats, Problem
from trials.design.values import Balance

ROUNDING = 1e-9  # of an intended count
FEW = 2  # positions of a change that are followed one after another
SHIFTS = np.array([-1, 0, 1])  # of a count that another position left, or entered, just before


@dataclass(frozen=True)
class Counted:
    """One rule as a table of counts: cells are (member of what it holds within, version).

    The cell of a position is ``base`` (n,) plus its level codes times ``steps`` (factors,).
    """

    base: Codes
    steps: Codes
    rows: Bools  # (n,), whether a position counts: each unit once
    versions: int
    members: int
    shares: Floats  # intended share of each version, shape (versions,)
    still: bool  # whether each member has as many positions in every layout

    def cells(self, codes: Codes) -> Codes:
        """Return the cell of every position that counts, from codes of shape (n, factors)."""
        cells: Codes = (self.base + codes @ self.steps)[self.rows]
        return cells

    def counts(self, codes: Codes) -> Codes:
        """Return how often each cell occurs, shape (members * versions,)."""
        return np.bincount(self.cells(codes), minlength=self.members * self.versions).astype(
            np.intp
        )

    def fair(self, totals: Codes) -> tuple[Codes, Codes]:
        """Return the least and most fair count of each version; (..., 1) to (..., versions)."""
        return _fair(totals, self.shares)

    def excess(self, counts: Codes) -> Codes:
        """Return the excess of many tables of counts, shape (..., cells) to (...)."""
        table = counts.reshape(*counts.shape[:-1], self.members, self.versions)
        totals = table.sum(axis=-1, keepdims=True)
        low, high = self.fair(totals)
        out: Codes = _beyond(table, low, high).sum(axis=(-1, -2))
        return out


class _Together:
    """Rules counted together.

    The cells of all of them stand in one row, one more after them for what does not count. What a
    rule that is not still holds within is dealt out as well, so its fair counts are those of the
    layout at hand; they stay as they are wherever a change leaves that alone.
    """

    def __init__(self, rules: Sequence[Counted], problem: Problem) -> None:
        n, count = problem.n, len(rules)
        self.count = count
        sizes = [rule.members * rule.versions for rule in rules]
        starts = np.cumsum([0, *sizes])
        self.spare = int(starts[-1])
        self.of_cell = np.repeat(np.arange(count, dtype=np.intp), sizes)
        self.base = np.zeros((n, count), dtype=np.intp)
        self.rows = np.zeros((n, count), dtype=bool)
        for number, (rule, start) in enumerate(zip(rules, starts, strict=False)):
            self.base[:, number] = rule.base + start
            self.rows[:, number] = rule.rows
        # whole numbers as floats: their products are exact, and many times as fast
        steps = [rule.steps for rule in rules]
        self.steps = np.array(steps, dtype=np.float64).reshape(count, len(problem.factors)).T
        versions = [rule.versions for rule in rules for _ in range(rule.members)]
        self.versions = np.array(versions, dtype=np.intp)
        self.members = np.append(0, np.cumsum(self.versions))[:-1].astype(np.intp)  # first cells
        self.shares = np.concatenate([np.tile(rule.shares, rule.members) for rule in rules])
        self.every_row = bool(self.rows.all())
        self.still = all(rule.still for rule in rules)
        self.known: tuple[Codes, Codes] | None = None  # fair counts that stand still

    def cells(self, rows: Codes | slice, codes: Codes) -> Codes:
        """Return the cell of each rule for some positions; (m,) and (m, factors) to (m, rules)."""
        cells: Codes = self.base[rows] + (codes.astype(np.float64) @ self.steps).astype(np.intp)
        return cells if self.every_row else np.where(self.rows[rows], cells, self.spare)

    def counts(self, now: Codes) -> Codes:
        """Return how often each cell occurs, (cells,), from the :meth:`cells` of all positions."""
        return np.bincount(now.ravel(), minlength=self.spare + 1)[:-1].astype(np.intp)

    def fair(self, counts: Codes) -> tuple[Codes, Codes]:
        """Return the smallest and largest fair count of each cell, from the counts of a layout."""
        if self.known is not None:
            return self.known
        totals = np.repeat(np.add.reduceat(counts, self.members), self.versions)
        fair = _fair(totals, self.shares)
        self.known = fair if self.still else None
        return fair

    def excess(self, counts: Codes) -> Codes:
        """Return the excess of each rule, shape (rules,), from the :meth:`counts` of a layout."""
        beyond = _beyond(counts, *self.fair(counts))
        return np.bincount(self.of_cell, beyond, minlength=self.count).astype(np.intp)

    def growth(self, now: Codes, counts: Codes, rows: Codes, after: Codes) -> Codes:
        """Return by how much changes raise the excess of each rule, shape (c, rules).

        ``now`` and ``counts``: of the layout as it stands. Fair counts are those of that layout.
        """
        if rows.shape[1] <= FEW:
            return self._growth_of_few(now, counts, rows, after)
        before = now[rows.ravel()]
        then = self.cells(rows.ravel(), after.reshape(-1, after.shape[2]))
        other = np.flatnonzero(before != then)
        first = other // (rows.shape[1] * self.count) * self.spare
        size = len(rows) * self.spare
        come = np.bincount(first + then.ravel()[other], minlength=size)
        net = come - np.bincount(first + before.ravel()[other], minlength=size)
        touched = np.flatnonzero(net)
        change, cell = np.divmod(touched, max(self.spare, 1))
        low, high = self.fair(counts)
        low, high, had = low[cell], high[cell], counts[cell]
        grown = _beyond(had + net[touched], low, high) - _beyond(had, low, high)
        of = change * self.count + self.of_cell[cell]
        out: Codes = np.bincount(of, grown, minlength=len(rows) * self.count).astype(np.intp)
        return out.reshape(len(rows), self.count)

    def _growth_of_few(self, now: Codes, counts: Codes, rows: Codes, after: Codes) -> Codes:
        """Return what :meth:`growth` does for changes of one or two positions, one after another.

        A count that loses one comes nearer to what is fair, or further away, by one or not at all.
        The second position finds counts that the first may have shifted by one.
        """
        low, high = (counts - ends + SHIFTS[:, None] for ends in self.fair(counts))
        none = np.zeros((len(SHIFTS), 1), dtype=np.int8)  # for what does not count
        less = np.hstack([(low <= 0).view(np.int8) - (high > 0).view(np.int8), none]).ravel()
        more = np.hstack([(high >= 0).view(np.int8) - (low < 0).view(np.int8), none]).ravel()
        width = self.spare + 1
        before = now[rows] + width  # in the table of counts that were not shifted
        then = self.cells(rows, after) + width
        moved = before != then
        grown = less[before[:, 0]] + more[then[:, 0]]
        grown *= moved[:, 0]
        if rows.shape[1] > 1:
            left, entered = before[:, 0], then[:, 0]
            shifted = width * moved[:, 0]
            second = 0
            for table, at in ((less, before[:, 1]), (more, then[:, 1])):
                shift = (at == entered).view(np.int8) - (at == left).view(np.int8)
                second = second + table[at + shift * shifted]
            grown += second * moved[:, 1]
        out: Codes = grown.astype(np.intp)
        return out


def _fair(totals: Codes, shares: Floats) -> tuple[Codes, Codes]:
    """Return the smallest and largest fair count of something that is to have a share of a total.

    A share such as 1/3 is not quite a third, hence the little more or less.
    """
    meant = totals * shares
    low: Codes = np.floor(meant + ROUNDING).astype(np.intp)
    high: Codes = np.ceil(meant - ROUNDING).astype(np.intp)
    return low, high


def _beyond(counts: Codes, low: Codes, high: Codes) -> Codes:
    """Return how far counts are from what is fair."""
    out: Codes = np.maximum(counts - high, 0) + np.maximum(low - counts, 0)
    return out


class Rules:
    """All rules of a problem.

    A change of some positions is told as ``rows`` of shape (c, m), c changes of m positions each,
    and their level codes afterwards, shape (c, m, factors). A row that comes twice in one change
    keeps its codes the second time.
    """

    def __init__(self, problem: Problem) -> None:
        self.counted = tuple(_counted(problem, rule) for rule in problem.balance)
        self.granted = np.array([rule.excess for rule in problem.balance], dtype=np.intp)
        self.required = np.array(problem.required, dtype=np.intp).reshape(-1, len(problem.factors))
        self._all = _Together(self.counted, problem) if self.counted else None
        self._unsteady = [(at, rule) for at, rule in enumerate(self.counted) if not rule.still]
        names = [factor.name for factor in problem.factors]
        inside = {name for rule in problem.balance for name in rule.within if name in names}
        self._inside = [place for place, name in enumerate(names) if name in inside]

    def excess(self, codes: Codes) -> Codes:
        """Return the excess of each rule, shape (rules,)."""
        out = np.zeros(len(self.counted), dtype=np.intp)
        if self._all is not None:
            counts = self._all.counts(self._all.cells(slice(None), codes))
            out = self._all.excess(counts)
        return out

    def missing(self, codes: Codes) -> int:
        """Return how many required recipes don't occur."""
        return int((~self._present(codes)).sum())

    def kept(self, codes: Codes, rows: Codes, after: Codes, limit: Codes) -> Bools:
        """Return which changes keep every rule's excess within ``limit`` (rules,), shape (c,).

        A rule that is beyond its limit already is kept by what does not take it further.
        """
        ok = np.ones(len(rows), dtype=bool)
        if self.counted:
            now, then = self._now_and_after(codes, rows, after)
            ok = np.asarray((then <= np.maximum(limit, now)).all(axis=1))
        if len(self.required):
            ok &= self._keeps_required(codes, rows, after)
        return ok

    def excess_after(self, codes: Codes, rows: Codes, after: Codes) -> Codes:
        """Return the excess of every rule after each change, shape (c, rules)."""
        return self._now_and_after(codes, rows, after)[1]

    def _now_and_after(self, codes: Codes, rows: Codes, after: Codes) -> tuple[Codes, Codes]:
        """Return the excess of every rule, (rules,), and after each change, (c, rules)."""
        if self._all is None:
            return np.zeros(0, dtype=np.intp), np.zeros((len(rows), 0), dtype=np.intp)
        cells = self._all.cells(slice(None), codes)
        counts = self._all.counts(cells)
        now = self._all.excess(counts)
        then: Codes = now + self._all.growth(cells, counts, rows, after)
        if self._inside:
            shifts = after[:, :, self._inside] != codes[:, self._inside][rows]
            moved = np.flatnonzero(shifts.any(axis=(1, 2)))
            if len(moved):  # what a rule holds within changes, and so do its fair counts
                for place, rule in self._unsteady:
                    then[moved, place] = self._excess_after(rule, codes, rows[moved], after[moved])
        return now, then

    def missing_after(self, codes: Codes, rows: Codes, after: Codes) -> Codes:
        """Return how many required recipes don't occur after each change, shape (c,)."""
        out = np.zeros(len(rows), dtype=np.intp)
        for recipe in self.required:
            out += self._often(recipe, codes, rows, after) < 1
        return out

    @staticmethod
    def _excess_after(rule: Counted, codes: Codes, rows: Codes, after: Codes) -> Codes:
        """Return the excess of one rule after each change, shape (c,)."""
        out = np.full(len(rows), int(rule.excess(rule.counts(codes))), dtype=np.intp)
        base = rule.base[rows]
        before = base + codes[rows] @ rule.steps
        then = base + after @ rule.steps
        spare = rule.members * rule.versions  # a cell for what doesn't count
        if not rule.rows.all():
            counting = rule.rows[rows]
            before, then = np.where(counting, before, spare), np.where(counting, then, spare)
        other = np.flatnonzero((before != then).any(axis=1))
        if not len(other):
            return out
        width = spare + 1
        offset = np.arange(len(other))[:, None] * width
        plus = np.bincount((offset + then[other]).ravel(), minlength=len(other) * width)
        minus = np.bincount((offset + before[other]).ravel(), minlength=len(other) * width)
        tables = rule.counts(codes) + (plus - minus).reshape(len(other), width)[:, :spare]
        out[other] = rule.excess(tables)
        return out

    def _present(self, codes: Codes) -> Bools:
        there: Bools = (codes[None, :, :] == self.required[:, None, :]).all(axis=2).any(axis=1)
        return there

    def _keeps_required(self, codes: Codes, rows: Codes, after: Codes) -> Bools:
        """Return which changes leave no required recipe out that occurred before."""
        ok = np.ones(len(rows), dtype=bool)
        for recipe in self.required:
            there = (codes == recipe).all(axis=1).any()
            ok &= (self._often(recipe, codes, rows, after) >= 1) | ~there
        return ok

    @staticmethod
    def _often(recipe: Codes, codes: Codes, rows: Codes, after: Codes) -> Codes:
        gone = (codes[rows] == recipe).all(axis=2).sum(axis=1)
        come = (after == recipe).all(axis=2).sum(axis=1)
        out: Codes = (codes == recipe).all(axis=1).sum() - gone + come
        return out


def _counted(problem: Problem, rule: Balance) -> Counted:
    names = [f.name for f in problem.factors]
    base = np.zeros(problem.n, dtype=np.intp)
    steps = np.zeros(len(names), dtype=np.intp)
    size = 1
    versions = 1
    for factor in reversed(rule.factors):
        place = names.index(factor)
        steps[place] += size
        size *= problem.factors[place].levels
        versions = size
    for name in reversed(rule.within):
        if name in names:
            place = names.index(name)
            steps[place] += size
            size *= problem.factors[place].levels
        else:
            codes = problem.group(name).codes
            base += codes * size
            size *= int(codes.max()) + 1
    rows = np.ones(problem.n, dtype=bool)
    if rule.counted is not None:
        rows[:] = False
        rows[np.unique(problem.group(rule.counted).codes, return_index=True)[1]] = True
    shares = np.array(rule.shares or [1 / versions] * versions)
    still = not set(rule.within) & set(names)
    return Counted(base, steps, rows, versions, size // versions, shares, still)


def total_beyond(excess: Codes, granted: Sequence[int] | Codes) -> Codes:
    """Return how far beyond what is granted all rules are together, shape (..., rules) to (...)."""
    out: Codes = np.maximum(excess - np.asarray(granted, dtype=np.intp), 0).sum(axis=-1)
    return out
