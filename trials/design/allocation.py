"""Which item gets which version: every factor on its own unit, spread as evenly as can be.

Units are done from large to small. On each, all factors applied to it are given out together.
Rules that a fair comparison needs come first; where they contradict each other the allocation with
the least excess is taken and each excess is named. Where the members of a unit hold unequal numbers
of items, every version gets as many items as well, if that can be. Then finer rules are added as
long as they hold: recipes within groups, versions within what two groups share, pairs of factors
within groups.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trials.design.balance import Ledger, fair_counts, joint
from trials.design.factorials import Codes, full_factorial
from trials.design.solver import Answer, Rule, solve
from trials.design.units import Units
from trials.design.values import Balance
from trials.errors import PlanError

if TYPE_CHECKING:
    from trials.study import Study, StudyFactor

NEEDED_EFFORT = 4.0  # deterministic units of the solver, about a second each
FINER_EFFORTS = (0.2, 0.3)  # fresh starts find more than one long search
FINER_SIZE = 6_000  # units times choices above which finer rules are not tried


@dataclass(frozen=True)
class Allocation:
    """Level codes of every factor, shape (n,) each, and the rules of balance that they keep."""

    codes: Mapping[str, Codes]
    balance: tuple[Balance, ...]


@dataclass(frozen=True)
class _Stage:
    """The factors of one unit, about to be given out."""

    unit: str | None
    factors: tuple[StudyFactor, ...]
    recipes: Codes  # (choices, factors)
    position: Codes  # one position for each unit, shape (units,)


def allocate(
    study: Study, units: Units, rng: np.random.Generator, *, finer: bool = True
) -> Allocation:
    """Give every item its versions.

    ``finer`` False leaves out the rules that a fair comparison can do without.

    Raises
    ------
    PlanError : a unit has fewer members than there are recipes for it, or none was found.
    """
    columns: dict[str, Codes] = dict(units.codes)
    levels = {group.name: len(group.members) for group in units.groups}
    levels |= {factor.name: len(factor.levels) for factor in study.factors}
    balance: list[Balance] = []
    for stage in _stages(study, units):
        ledger = Ledger(columns, levels, units.n)
        given, kept = _give_out(study, units, stage, ledger, rng=rng, finer=finer)
        columns |= given
        balance.extend(kept)
    return Allocation({f.name: columns[f.name] for f in study.factors}, tuple(balance))


def check_units(study: Study, units: Units) -> None:
    """Refuse units with fewer members than there are recipes for them.

    Raises
    ------
    PlanError : naming the unit.
    """
    _stages(study, units)


def _stages(study: Study, units: Units) -> list[_Stage]:
    kinds = {factor.applied_to for factor in study.factors}
    ordered = sorted(kinds, key=lambda unit: (unit is None, units.count(unit), unit or ""))
    out = []
    for unit in ordered:
        factors = tuple(f for f in study.factors if f.applied_to == unit)
        recipes = full_factorial([len(f.levels) for f in factors])
        _, first = np.unique(units.of_unit(unit), return_index=True)
        if len(recipes) > len(first):
            raise _too_few_units(unit, factors, len(recipes), len(first))
        out.append(_Stage(unit, factors, recipes, first.astype(np.intp)))
    return out


def _too_few_units(
    unit: str | None, factors: Sequence[StudyFactor], recipes: int, members: int
) -> PlanError:
    names = " and ".join(factor.name for factor in factors)
    kind = unit or "item"
    return PlanError(
        f"There are too few of '{kind}' to try every version of {names}.",
        code="plan.too_few_units",
        where=f"[groups.{kind}] in study.toml" if unit else "[limits] in study.toml",
        found=f"{members} x {kind} for {recipes} versions",
        allowed=f"at least {recipes}, better {2 * recipes} or more",
        do=f"Plan more of '{kind}', or apply {names} to something there is more of.",
    )


def _give_out(
    study: Study,
    units: Units,
    stage: _Stage,
    ledger: Ledger,
    *,
    rng: np.random.Generator,
    finer: bool,
) -> tuple[dict[str, Codes], tuple[Balance, ...]]:
    """Return the level codes of one stage's factors and the rules they keep."""
    needed, wished = _rules(study, units, stage)
    search = _Search(stage, ledger, rng)
    choice = search.needed(needed)
    kept = list(needed)
    if len(stage.position) * len(stage.recipes) <= FINER_SIZE:
        as_items = _as_items(units, stage)
        for rules in ((as_items,) if as_items else ()) + (wished if finer else ()):
            better = search.add(rules, kept, choice)
            if better is not None:
                kept.extend(rule for rule in rules if rule not in kept)
                choice = better
    after = search.ledger_with(choice)
    settled = tuple(rule.model_copy(update={"excess": after.excess(rule)}) for rule in kept)
    return search.columns(choice), settled


def _rules(
    study: Study, units: Units, stage: _Stage
) -> tuple[tuple[Balance, ...], tuple[tuple[Balance, ...], ...]]:
    """Return the rules a fair comparison needs, most important first, and bundles of finer ones."""
    names = tuple(f.name for f in stage.factors)
    single = tuple((name,) for name in names)
    above = units.above(stage.unit)
    larger = sorted(
        (g for g in units.groups if g.name in above), key=lambda g: (len(g.members), g.name)
    )
    upper = tuple(  # the same for all of a unit, so that every version of it must be served alike
        f.name
        for f in study.factors
        if f.applied_to is not None and f.applied_to != stage.unit and f.applied_to in above
    )

    def rules(factors: Iterable[tuple[str, ...]], *within: str) -> tuple[Balance, ...]:
        return tuple(Balance(factors=f, within=within, counted=stage.unit) for f in factors)

    needed = [*rules([names], *upper), *rules(single)]
    for group in larger:
        needed += rules(single, group.name)
    also = {
        group.name: tuple(
            f for f in upper if not _below(units, group.name, study.factor(f).applied_to)
        )
        for group in larger
    }
    wished: list[tuple[Balance, ...]] = []
    recipes = [rules([names], group.name, *also[group.name]) for group in larger]
    if len(names) > 1:
        wished += recipes[:1]  # each session, say, as a whole experiment of its own
    wished += [rules(single, group.name, *also[group.name]) for group in larger if also[group.name]]
    for one, other in combinations(larger, 2):
        apart = not (_below(units, one.name, other.name) or _below(units, other.name, one.name))
        if apart and units.n > len(one.members) * len(other.members):
            wished.append(rules(single, one.name, other.name))
    if len(names) > 1:
        wished += recipes[1:]
    if len(wished) > 1:  # all at once is often found sooner than one after another
        wished.insert(0, tuple(dict.fromkeys(rule for bundle in wished for rule in bundle)))
    if len(names) > 2:
        wished += [rules(combinations(names, 2), group.name) for group in larger]
    if stage.unit is not None:
        wished += [
            tuple(Balance(factors=f, within=(group.name,)) for f in single)
            for group in units.groups
            if group.name not in above and not _below(units, group.name, stage.unit)
        ]
    return tuple(dict.fromkeys(needed)), tuple(wished)


def _as_items(units: Units, stage: _Stage) -> tuple[Balance, ...]:
    """Return the rules that count items, where a unit's members hold unequal numbers of them.

    Every version then has as many members, and still not as many items.
    """
    if stage.unit is None or len(set(np.bincount(units.codes[stage.unit]).tolist())) == 1:
        return ()
    names = tuple(f.name for f in stage.factors)
    return tuple(Balance(factors=f) for f in dict.fromkeys((names, *((name,) for name in names))))


def _below(units: Units, group: str, other: str | None) -> bool:
    """Return whether a group is the other one or nested in it."""
    return other is not None and (units.group(group).path + "/").startswith(
        units.group(other).path + "/"
    )


class _Search:
    """Rules of balance in the solver's terms, for one stage."""

    def __init__(self, stage: _Stage, ledger: Ledger, rng: np.random.Generator) -> None:
        self.stage = stage
        self.ledger = ledger
        self.seed = int(rng.integers(2**31))
        # the solver is drawn to low numbers, so recipes are numbered by chance
        self.recipes = stage.recipes[rng.permutation(len(stage.recipes))]
        self.levels = [len(factor.levels) for factor in stage.factors]
        of_unit = np.arange(ledger.n) if stage.unit is None else ledger.columns[stage.unit]
        self.of_position = np.searchsorted(np.unique(of_unit), of_unit).astype(np.intp)

    @property
    def units(self) -> int:
        """How many units get a recipe."""
        return len(self.stage.position)

    def needed(self, rules: Sequence[Balance]) -> Codes:
        """Return an allocation that keeps the rules, or comes nearest."""
        if not any(rule.within for rule in rules):
            return self._without_groups()
        weights = [0] * len(rules)
        answer = self._solve(rules, weights, NEEDED_EFFORT / 2)
        if not answer.found:
            weights = [1000, *([10] * len(self.levels)), *([1] * len(rules))][: len(rules)]
            answer = self._solve(rules, weights, NEEDED_EFFORT)
        if not answer.found:
            raise PlanError(
                "No fair way of giving out the versions was found.",
                code="plan.no_allocation",
                where="factors and groups in study.toml",
                found=f"{self.units} units and {len(self.recipes)} recipes",
                do="Make the groups equal in size, or change fewer things at once.",
            )
        return answer.choice

    def add(
        self, rules: tuple[Balance, ...], kept: Sequence[Balance], choice: Codes
    ) -> Codes | None:
        """Return an allocation that keeps some more rules as well; None if none was found."""
        ledger = self.ledger_with(choice)
        if any(ledger.excess(rule) for rule in kept):
            return None  # where the needed rules can't all hold, finer ones are not pursued
        if not any(ledger.excess(rule) for rule in rules):
            return choice
        both = [*kept, *rules]
        for attempt, effort in enumerate(FINER_EFFORTS):
            answer = self._solve(both, [0] * len(both), effort, attempt)
            if answer.found:
                return answer.choice
            if answer.status == "impossible":
                break
        return None

    def columns(self, choice: Codes) -> dict[str, Codes]:
        """Return the level codes of each factor of the stage, shape (n,)."""
        recipe = choice[self.of_position]
        return {
            factor.name: self.recipes[recipe, column]
            for column, factor in enumerate(self.stage.factors)
        }

    def ledger_with(self, choice: Codes) -> Ledger:
        """Return the ledger with this stage's factors filled in."""
        columns = {**self.ledger.columns, **self.columns(choice)}
        return Ledger(columns, self.ledger.levels, self.ledger.n)

    def _without_groups(self) -> Codes:
        """Return whole copies of all recipes, and a balanced choice of those that get one more."""
        whole, extra = divmod(self.units, len(self.recipes))
        choice = np.tile(np.arange(len(self.recipes), dtype=np.intp), whole)
        return np.concatenate([choice, self._extra(extra)]) if extra else choice

    def _extra(self, count: int) -> Codes:
        counted = np.ones(count, dtype=np.intp)
        parts = []
        for classes, weight in [
            (np.arange(len(self.recipes)), 0),
            *((c, 1) for c in self._single()),
        ]:
            number = int(classes.max()) + 1
            parts += _count_rules(np.arange(count), counted, classes, number, weight)
        return solve(count, len(self.recipes), parts, seed=self.seed, effort=1.0).choice

    def _single(self) -> list[Codes]:
        return [self.recipes[:, column] for column in range(len(self.levels))]

    def _solve(
        self,
        rules: Sequence[Balance],
        weights: Sequence[int],
        effort: float,
        attempt: int = 0,
    ) -> Answer:
        parts = [
            part
            for rule, weight in zip(rules, weights, strict=True)
            for part in self._parts(rule, weight)
        ]
        seed = (self.seed + attempt) % 2**31
        return solve(self.units, len(self.recipes), parts, seed=seed, effort=effort)

    def _parts(self, rule: Balance, weight: int) -> list[Rule]:
        """Return the solver's rules for one rule of balance."""
        names = [factor.name for factor in self.stage.factors]
        picked = [names.index(name) for name in rule.factors]
        classes, number = joint(
            [(self.recipes[:, c], self.levels[c]) for c in picked], len(self.recipes)
        )
        columns = [(self.ledger.columns[w], self.ledger.levels[w]) for w in rule.within]
        scope, _ = joint(columns, self.ledger.n)
        units, counted = self.of_position, np.ones(self.ledger.n, dtype=np.intp)
        if rule.counted is not None:  # each unit once
            scope, units = scope[self.stage.position], np.arange(self.units)
            counted = counted[: self.units]
        out: list[Rule] = []
        for value in np.unique(scope):
            inside = scope == value
            here, inverse = np.unique(units[inside], return_inverse=True)
            weights = np.bincount(inverse, weights=counted[inside]).astype(np.intp)
            out += _count_rules(here, weights, classes, number, weight)
        return out


def _count_rules(
    units: Codes, counted: Codes, classes: Codes, number: int, weight: int
) -> list[Rule]:
    """Return one rule for each class of choices: a fair share of what is counted."""
    low, high = fair_counts(int(counted.sum()), number)
    each = list(zip(units.tolist(), counted.tolist(), strict=True))
    out = []
    for value in range(number):
        chosen = np.flatnonzero(classes == value).tolist()
        counts = tuple((unit, choice, times) for unit, times in each for choice in chosen)
        out.append(Rule(counts, low, high, weight))
    return out
