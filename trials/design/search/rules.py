"""Rules of balance and required recipes, checked for many changes of a layout at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.values import Bools, Floats, Problem
from trials.design.values import Balance

ROUNDING = 1e-9  # of an intended count


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
        """Return the smallest and largest fair count of each version; (..., 1) to (..., versions).

        A share such as 1/3 is not quite a third, hence the little more or less.
        """
        meant = totals * self.shares
        low: Codes = np.floor(meant + ROUNDING).astype(np.intp)
        high: Codes = np.ceil(meant - ROUNDING).astype(np.intp)
        return low, high

    def excess(self, counts: Codes) -> Codes:
        """Return the excess of many tables of counts, shape (..., cells) to (...)."""
        table = counts.reshape(*counts.shape[:-1], self.members, self.versions)
        totals = table.sum(axis=-1, keepdims=True)
        low, high = self.fair(totals)
        beyond = np.maximum(table - high, 0) + np.maximum(low - table, 0)
        out: Codes = beyond.sum(axis=(-1, -2))
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

    def excess(self, codes: Codes) -> Codes:
        """Return the excess of each rule, shape (rules,)."""
        parts = [int(rule.excess(rule.counts(codes))) for rule in self.counted]
        return np.array(parts, dtype=np.intp)

    def missing(self, codes: Codes) -> int:
        """Return how many required recipes don't occur."""
        return int((~self._present(codes)).sum())

    def kept(self, codes: Codes, rows: Codes, after: Codes, limit: Codes) -> Bools:
        """Return which changes keep every rule's excess within ``limit`` (rules,), shape (c,)."""
        ok = np.ones(len(rows), dtype=bool)
        moved = (after != codes[rows]).any(axis=(0, 1))
        for rule, most in zip(self.counted, limit, strict=True):
            if not (moved & (rule.steps != 0)).any():
                continue
            left = np.flatnonzero(ok)
            if not len(left):
                break
            other, tables = self._tables(rule, codes, rows[left], after[left])
            if len(other):
                ok[left[other]] = rule.excess(tables) <= most
        if len(self.required):
            ok &= self._keeps_required(codes, rows, after)
        return ok

    def excess_after(self, codes: Codes, rows: Codes, after: Codes) -> Codes:
        """Return the excess of every rule after each change, shape (c, rules)."""
        parts = [self._excess_after(rule, codes, rows, after) for rule in self.counted]
        return np.stack(parts, axis=1) if parts else np.zeros((len(rows), 0), dtype=np.intp)

    def missing_after(self, codes: Codes, rows: Codes, after: Codes) -> Codes:
        """Return how many required recipes don't occur after each change, shape (c,)."""
        out = np.zeros(len(rows), dtype=np.intp)
        for recipe in self.required:
            out += self._often(recipe, codes, rows, after) < 1
        return out

    @staticmethod
    def _excess_after(rule: Counted, codes: Codes, rows: Codes, after: Codes) -> Codes:
        out = np.full(len(rows), int(rule.excess(rule.counts(codes))), dtype=np.intp)
        other, tables = Rules._tables(rule, codes, rows, after)
        if len(other):
            out[other] = rule.excess(tables)
        return out

    @staticmethod
    def _tables(rule: Counted, codes: Codes, rows: Codes, after: Codes) -> tuple[Codes, Codes]:
        """Return which changes alter the counts of a rule, and their counts (changes, cells)."""
        base = rule.base[rows]
        before = base + codes[rows] @ rule.steps
        then = base + after @ rule.steps
        spare = rule.members * rule.versions  # a cell for what doesn't count
        if not rule.rows.all():
            counting = rule.rows[rows]
            before, then = np.where(counting, before, spare), np.where(counting, then, spare)
        other = np.flatnonzero((np.sort(before, axis=1) != np.sort(then, axis=1)).any(axis=1))
        if not len(other):
            return other, np.zeros((0, spare), dtype=np.intp)
        width = spare + 1
        offset = np.arange(len(other))[:, None] * width
        plus = np.bincount((offset + then[other]).ravel(), minlength=len(other) * width)
        minus = np.bincount((offset + before[other]).ravel(), minlength=len(other) * width)
        return other, rule.counts(codes) + (plus - minus).reshape(len(other), width)[:, :spare]

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
    return Counted(base, steps, rows, versions, size // versions, shares)


def total_beyond(excess: Codes, granted: Sequence[int] | Codes) -> Codes:
    """Return how far beyond what is granted all rules are together, shape (..., rules) to (...)."""
    out: Codes = np.maximum(excess - np.asarray(granted, dtype=np.intp), 0).sum(axis=-1)
    return out
