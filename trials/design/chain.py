"""A chain of exchanges over all layouts that keep the declared balance.

Where groups are unequal or cross incompletely, members can't simply change places. The chain then
proposes an exchange of versions and takes it exactly if every declared rule of balance still holds.
Each proposal is as likely as the one that undoes it, so in the long run every layout that can be
reached is equally likely.

Draws for a test are taken from one long run in which the layout at hand has a place chosen by
chance: such a test is exact whatever the number of steps between draws. Source: J. Besag and
P. Clifford (1989), Generalized Monte Carlo significance tests, Biometrika 76, 633-642 (the serial
method, for a chain that looks the same in both directions).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import prod

import numpy as np

from trials.design.balance import fair_range, joint
from trials.design.factorials import Codes
from trials.design.units import Units
from trials.design.values import Balance, PlanFactor, PlanGroup

STEPS = 25  # proposals between two draws
BURN_IN = 4_000  # proposals before the plan itself is taken

Columns = Mapping[str, Codes]


@dataclass(frozen=True)
class Kept:
    """What every layout of a set keeps: rules of balance, and combinations to make or not."""

    balance: tuple[Balance, ...] = ()
    forbidden: tuple[dict[str, str], ...] = ()
    required: tuple[dict[str, str], ...] = ()

    def named(self) -> frozenset[str]:
        """Return the factors that a combination names: their levels can't trade names."""
        return frozenset(name for one in (*self.forbidden, *self.required) for name in one)


@dataclass(frozen=True)
class _Check:
    """One rule of balance, ready to be counted.

    ``scope`` is what of the rule's scope no exchange changes: members of groups, (rows,), of
    ``scopes``. ``ends`` are the fair counts, where the totals never change either.
    """

    names: frozenset[str]  # factors that it depends on
    rule: Balance
    rows: Codes
    scope: Codes
    scopes: int
    moving: tuple[str, ...]  # factors in the rule's scope
    ends: tuple[Codes, Codes] | None

    def holds(self, columns: Columns, levels: Mapping[str, int]) -> bool:
        cell, cells = self.scope, self.scopes
        for name in self.moving:
            cell, cells = cell * levels[name] + columns[name][self.rows], cells * levels[name]
        classes = 1
        for name in self.rule.factors:
            cell, classes = cell * levels[name] + columns[name][self.rows], classes * levels[name]
        table = np.bincount(cell, minlength=cells * classes).reshape(cells, classes)
        low, high = self.ends or fair_range(table.sum(axis=1), classes, self.rule.shares)
        beyond = np.maximum(table - high, 0) + np.maximum(low - table, 0)
        return int(beyond.sum()) <= self.rule.excess


def _check_of(units: Units, rule: Balance, levels: Mapping[str, int]) -> _Check:
    rows = _rows(units, rule.counted)
    held = [name for name in rule.within if name in units.codes]
    moving = tuple(name for name in rule.within if name not in units.codes)
    scope, scopes = joint([(units.codes[name][rows], levels[name]) for name in held], len(rows))
    ends = None
    if not moving:
        classes = prod(levels[name] for name in rule.factors)
        ends = fair_range(np.bincount(scope, minlength=scopes), classes, rule.shares)
    names = frozenset({*rule.factors, *moving})
    return _Check(names, rule, rows, scope, scopes, moving, ends)


@dataclass(frozen=True)
class _Trade:
    """Two members of a group that trade: ``own`` factors as a whole, ``items`` place by place."""

    whole: tuple[Codes, Codes]
    own: tuple[str, ...]
    matched: tuple[Codes, Codes]
    items: tuple[str, ...]


class Chain:
    """Layouts of some units that keep some rules.

    Parameters
    ----------
    units : where every position belongs.
    factors : with their levels and the group each is applied to.
    kept : what every layout keeps; rules of balance within the excess each allows.
    renamed : factors whose levels may be renamed, with the levels that may trade names.
    """

    def __init__(
        self,
        units: Units,
        factors: Sequence[PlanFactor],
        kept: Kept,
        renamed: Mapping[str, Sequence[int]],
    ) -> None:
        self.units = units
        self.renamed = {name: tuple(levels) for name, levels in renamed.items() if len(levels) > 1}
        self.levels = {g.name: len(g.members) for g in units.groups}
        self.levels |= {f.name: len(f.levels) for f in factors}
        of_path = {group.path: group.name for group in units.groups}
        self.unit = {
            f.name: None if f.applied_to is None else of_path[f.applied_to] for f in factors
        }
        self.members = {unit: _positions(units, unit) for unit in set(self.unit.values())}
        self.stages = [
            [name for name in self.unit if self.unit[name] == unit] for unit in self.members
        ]
        self.blocks = self._blocks()
        self.checks = [_check_of(units, rule, self.levels) for rule in kept.balance]
        codes = {f.name: {level: code for code, level in enumerate(f.levels)} for f in factors}
        self.combinations = [
            ({name: codes[name][level] for name, level in combination.items()}, wanted)
            for several, wanted in ((kept.forbidden, False), (kept.required, True))
            for combination in several
        ]

    def walk(self, start: Columns, steps: int, rng: np.random.Generator) -> dict[str, Codes]:
        """Return the layout that ``steps`` proposals lead to from ``start``."""
        now = {**self.units.codes, **start}
        for _ in range(steps):
            changed = self._propose(now, rng)
            then = {**now, **changed}
            if self._keeps(then, changed):
                now = then
        return {name: now[name] for name in self.unit}

    def _keeps(self, then: Columns, changed: Mapping[str, Codes]) -> bool:
        """Return whether a layout still keeps what a change could have broken."""
        for check in self.checks:
            if not check.names.isdisjoint(changed) and not check.holds(then, self.levels):
                return False
        return all(
            _made(combination, then) is wanted
            for combination, wanted in self.combinations
            if not combination.keys().isdisjoint(changed)
        )

    def draws(
        self,
        observed: Columns,
        count: int,
        rng: np.random.Generator,
        steps: int = STEPS,
        before: int | None = None,
    ) -> Iterator[dict[str, Codes]]:
        """Yield ``count`` layouts of one run in which ``observed`` has a place chosen by chance.

        ``before`` says how many come before that place, where it was chosen elsewhere.
        """
        if before is None:
            before = int(rng.integers(count + 1))
        for length in (before, count - before):
            at: Columns = observed
            for _ in range(length):
                at = self.walk(at, steps, rng)
                yield dict(at)

    def _propose(self, now: Columns, rng: np.random.Generator) -> dict[str, Codes]:
        kind = rng.random()
        if self.renamed and kind < 0.1:
            return self._rename(now, rng)
        if self.blocks and kind < 0.25:
            return self._trade_members(now, rng)
        changed: dict[str, Codes] = {}
        for _ in range(int(rng.integers(1, 4))):
            changed |= self._trade_units({**now, **changed}, rng)
        return changed

    def _rename(self, now: Columns, rng: np.random.Generator) -> dict[str, Codes]:
        name = list(self.renamed)[int(rng.integers(len(self.renamed)))]
        one, other = (self.renamed[name][place] for place in _two(len(self.renamed[name]), rng))
        names = np.arange(self.levels[name], dtype=np.intp)
        names[[one, other]] = other, one
        return {name: names[now[name]]}

    def _trade_units(self, now: Columns, rng: np.random.Generator) -> dict[str, Codes]:
        """Let two units trade all their versions, or those of one factor."""
        stage = self.stages[int(rng.integers(len(self.stages)))]
        members = self.members[self.unit[stage[0]]]
        if len(members) < 2:
            return {}
        one, other = _two(len(members), rng)
        which = int(rng.integers(len(stage) + 1))
        traded = stage if which == len(stage) else [stage[which]]
        return {
            name: _swap(now[name], members[one], members[other], same_length=False)
            for name in traded
        }

    def _trade_members(self, now: Columns, rng: np.random.Generator) -> dict[str, Codes]:
        """Let two members of a group trade their own versions and those of what is inside them."""
        trades = self.blocks[int(rng.integers(len(self.blocks)))]
        trade = trades[int(rng.integers(len(trades)))]
        one, other = trade.whole
        changed = {name: _swap(now[name], one, other, same_length=False) for name in trade.own}
        one, other = trade.matched
        changed |= {name: _swap(now[name], one, other, same_length=True) for name in trade.items}
        return changed

    def _blocks(self) -> list[list[_Trade]]:
        """Return for each group the trades between two members with the same parent."""
        items = tuple(name for name in self.unit if self.unit[name] is None)
        out = []
        for group in self.units.groups:
            own = tuple(name for name in self.unit if self.unit[name] == group.name)
            codes = self.units.codes[group.name]
            parent = self.units.codes[group.within] if group.within else np.zeros_like(codes)
            places = [np.flatnonzero(codes == member) for member in range(len(group.members))]
            trades = [
                _Trade((one, other), own, self._matched(group, one, other), items)
                for one, other in combinations(places, 2)
                if (own or items) and parent[one[0]] == parent[other[0]]
            ]
            if trades:
                out.append(trades)
        return out

    def _matched(self, group: PlanGroup, one: Codes, other: Codes) -> tuple[Codes, Codes]:
        """Return the positions of two members that stand alike in all groups that cross theirs.

        What has no counterpart stays where it is.
        """
        crossing = [
            self.units.codes[g.name]
            for g in self.units.groups
            if g.name not in group.path.split("/") and not g.path.startswith(group.path + "/")
        ]
        waiting: dict[tuple[int, ...], list[int]] = {}
        for place in other.tolist():
            waiting.setdefault(tuple(int(codes[place]) for codes in crossing), []).append(place)
        pairs = []
        for place in one.tolist():
            alike = waiting.get(tuple(int(codes[place]) for codes in crossing))
            if alike:
                pairs.append((place, alike.pop(0)))
        table = np.array(pairs, dtype=np.intp).reshape(-1, 2)
        return table[:, 0], table[:, 1]


def _positions(units: Units, unit: str | None) -> list[Codes]:
    codes = units.of_unit(unit)
    return [np.flatnonzero(codes == member) for member in range(units.count(unit))]


def _made(combination: Mapping[str, int], columns: Columns) -> bool:
    """Return whether some item has all the levels of a combination."""
    alike = [columns[name] == code for name, code in combination.items()]
    return bool(np.all(alike, axis=0).any())


def _rows(units: Units, counted: str | None) -> Codes:
    _, first = np.unique(units.of_unit(counted), return_index=True)
    return first.astype(np.intp)


def _two(count: int, rng: np.random.Generator) -> tuple[int, int]:
    """Return two different numbers below ``count``."""
    one = int(rng.integers(count))
    return one, (one + 1 + int(rng.integers(count - 1))) % count


def _swap(codes: Codes, one: Codes, other: Codes, *, same_length: bool) -> Codes:
    """Return codes with two sets of positions traded: place by place, or as two constants."""
    out = codes.copy()
    if same_length:
        out[one], out[other] = codes[other], codes[one]
    else:
        out[one], out[other] = codes[other[0]], codes[one[0]]
    return out
