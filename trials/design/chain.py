"""A chain of exchanges over all layouts that keep the declared balance.

Where groups are unequal or cross incompletely, members can't simply change places. The chain then
proposes an exchange of versions and takes it exactly if every declared rule of balance still holds.
Each proposal is as likely as the one that undoes it, so in the long run every layout that can be
reached is equally likely.

A layout may also have to tell enough (its worth). That takes longer to work out than whether it is
balanced, so it is asked of every 25th proposal only: the 25 are taken, or taken back, together. A
row of proposals, too, is as likely as the row that undoes it.

Draws for a test are taken from one long run in which the layout at hand has a place chosen by
chance: such a test is exact whatever the number of steps between draws. Source: J. Besag and
P. Clifford (1989), Generalized Monte Carlo significance tests, Biometrika 76, 633-642 (the serial
method, for a chain that looks the same in both directions).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from trials.design.factorials import Codes
from trials.design.tallies import Columns, EvenRule, MadeRule, Run, even_rule, made_rule
from trials.design.units import Units
from trials.design.values import Balance, PlanFactor, PlanGroup, WorthRule
from trials.design.worth import make_worth
from trials.randomness import Chance

STEPS = 25  # proposals between two draws
BURN_IN = 4_000  # proposals before the plan itself is taken

Rows = list[int]  # positions


@dataclass(frozen=True)
class Kept:
    """What every layout of a set keeps: balance, combinations to make or not, and its worth."""

    balance: tuple[Balance, ...] = ()
    forbidden: tuple[dict[str, str], ...] = ()
    required: tuple[dict[str, str], ...] = ()
    worth: WorthRule | None = None

    def named(self) -> frozenset[str]:
        """Return the factors that a combination names: their levels can't trade names."""
        return frozenset(name for one in (*self.forbidden, *self.required) for name in one)


@dataclass(frozen=True)
class _Trade:
    """Two members of a group that trade: ``own`` factors as a whole, ``items`` place by place."""

    whole: tuple[Rows, Rows]
    own: tuple[str, ...]
    matched: tuple[Rows, Rows]
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
        self.levels = {f.name: len(f.levels) for f in factors}
        of_path = {group.path: group.name for group in units.groups}
        self.unit = {
            f.name: None if f.applied_to is None else of_path[f.applied_to] for f in factors
        }
        ordered: list[str | None] = [*(group.name for group in units.groups), None]
        used = [unit for unit in ordered if unit in self.unit.values()]
        self.members = {unit: _positions(units, unit) for unit in used}
        self.stages = [
            [name for name in self.unit if self.unit[name] == unit] for unit in self.members
        ]
        self.blocks = self._blocks()
        self.rules = self._rules(factors, kept)
        self.worth = make_worth(units, factors, kept.forbidden, kept.worth) if kept.worth else None
        noticing = frozenset(name for rule in self.rules for name in rule.uneven)
        self.renaming = tuple(name for name in self.renamed if name not in noticing)

    def only(self, factor: str) -> Chain:
        """Return the chain of those moves that alter one factor and leave all others.

        Each is a move of this chain, and as likely as the one that undoes it: every layout that it
        reaches is as likely as any other, given where the other factors lie.
        """
        out = copy(self)
        out.stages, out.blocks, out.renamed, out.renaming = [[factor]], [], {}, ()
        return out

    def _rules(self, factors: Sequence[PlanFactor], kept: Kept) -> list[EvenRule | MadeRule]:
        """Return all rules ready to be counted, those first that most exchanges break."""
        levels = {group.name: len(group.members) for group in self.units.groups} | self.levels
        even = [even_rule(self.units, rule, levels) for rule in kept.balance]
        codes = {f.name: {level: code for code, level in enumerate(f.levels)} for f in factors}
        made = [
            made_rule(
                {f: codes[f][level] for f, level in one.items() if f in codes},
                wanted,
                levels,
                np.flatnonzero(self.units.having(one)),
            )
            for several, wanted in ((kept.forbidden, False), (kept.required, True))
            for one in several
        ]
        return [*made, *sorted(even, key=lambda rule: (rule.moving, -rule.cells.cells))]

    def _run(self, start: Columns) -> Run:
        return Run({name: start[name] for name in self.unit}, self.rules, self.renaming)

    def walk(self, start: Columns, steps: int, rng: np.random.Generator) -> dict[str, Codes]:
        """Return the layout that ``steps`` proposals lead to from one that keeps the rules."""
        run = self._run(start)
        with Chance(rng) as chance:
            self._step(run, steps, chance)
        return run.layout()

    def _step(self, run: Run, steps: int, chance: Chance) -> None:
        """Make proposals, ``STEPS`` of them at a time.

        Where layouts have to be worth something, those that lead to one of too little worth are
        taken back together: what lies between two draws may be worth less.
        """
        for done in range(0, steps, STEPS):
            for _ in range(min(STEPS, steps - done)):
                self._propose(run, chance)
                run.keep_or_undo()
            if self.worth is not None and run.moved:
                if self.worth.holds(run.layout()):
                    run.mark()
                else:
                    run.back()

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
            run = self._run(observed)
            for _ in range(length):
                with Chance(rng) as chance:
                    self._step(run, steps, chance)
                yield run.layout()

    def _propose(self, run: Run, chance: Chance) -> None:
        kind = chance.random()
        if self.renamed and kind < 0.1:
            self._rename(run, chance)
        elif self.blocks and kind < 0.25:
            self._trade_members(run, chance)
        else:
            for _ in range(1 + chance.below(3)):
                self._trade_units(run, chance)

    def _rename(self, run: Run, chance: Chance) -> None:
        name = list(self.renamed)[chance.below(len(self.renamed))]
        one, other = (self.renamed[name][place] for place in chance.two(len(self.renamed[name])))
        run.rename(name, one, other, self.levels[name])

    def _trade_units(self, run: Run, chance: Chance) -> None:
        """Let two units trade all their versions, or those of one factor."""
        stage = self.stages[chance.below(len(self.stages))]
        members = self.members[self.unit[stage[0]]]
        if len(members) < 2:
            return
        one, other = chance.two(len(members))
        which = chance.below(len(stage) + 1)
        for name in stage if which == len(stage) else stage[which : which + 1]:
            run.trade(name, members[one], members[other])

    def _trade_members(self, run: Run, chance: Chance) -> None:
        """Let two members of a group trade their own versions and those of what is inside them."""
        trades = self.blocks[chance.below(len(self.blocks))]
        trade = trades[chance.below(len(trades))]
        for name in trade.own:
            run.trade(name, *trade.whole)
        for name in trade.items:
            run.swap(name, *trade.matched)

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
                _Trade((one.tolist(), other.tolist()), own, self._matched(group, one, other), items)
                for one, other in combinations(places, 2)
                if (own or items) and parent[one[0]] == parent[other[0]]
            ]
            if trades:
                out.append(trades)
        return out

    def _matched(self, group: PlanGroup, one: Codes, other: Codes) -> tuple[Rows, Rows]:
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
        return [place for place, _ in pairs], [place for _, place in pairs]


def _positions(units: Units, unit: str | None) -> list[Rows]:
    codes = units.of_unit(unit)
    return [np.flatnonzero(codes == member).tolist() for member in range(units.count(unit))]
