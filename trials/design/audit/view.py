"""One study and plan under examination, and the shape of what is looked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, Protocol

import numpy as np

from trials.design.columns import Columns, model_layout, plan_structure, ready_of
from trials.design.factorials import Codes
from trials.design.growing import grown_anew, is_lopsided, repeated
from trials.design.shuffle import plan_layout, plan_units
from trials.design.units import Units
from trials.design.values import Plan, PlanFactor, PlanGroup
from trials.model import Layout, Prepared, make_layout
from trials.words.fairness_areas import area_of

if TYPE_CHECKING:
    from trials.study import Study

DF_WANTED = 2  # below this, nothing is said of chance

Severity = Literal["stop", "warn", "note"]
Facts = dict[str, Any]
Lines = tuple[tuple[tuple[str, ...], Any], ...]  # keys of study.toml, and what to write there


@dataclass(frozen=True)
class Mend:
    """Lines that may settle a finding, and the numbers that the sentence about them needs.

    ``repeats``: the plan so many times as large, told as a number only; then
    there are no lines. ``unit``: what ``needed`` among the facts counts; None: items.
    """

    lines: Lines
    facts: Facts = field(default_factory=dict)
    repeats: int = 0
    unit: str | None = None


@dataclass(frozen=True)
class Found:
    """One thing found: what it is about, the facts of it, and what may be done.

    ``about`` holds names from the study, so that the same finding is known again in another plan.
    ``mends`` yields changes to try, the smallest first. ``guess`` is given where these are sizes
    from small to large: the number needed as estimated; then the smallest that helps is searched
    for among all of them, and the one before it was tried too. ``settled`` tells whether a changed
    plan is free of it; None: the rule is asked again. ``severity`` None: that of the situation.
    """

    about: tuple[str, ...]
    facts: Facts
    severity: Severity | None = None
    mends: Callable[[], Iterator[Mend]] | None = None
    settled: Callable[[View], bool] | None = None
    guess: float | None = None


@dataclass(frozen=True)
class Situation:
    """What is looked for: its code, how bad it is, and the rule, a pure function of the view.

    ``layout``: it hangs on who gets what, not on numbers alone. ``order``: on the orders drawn.
    ``timed``: on the timetable of a class, which a plan is given after it is drawn.
    """

    code: str
    severity: Severity
    find: Callable[[View], Iterator[Found]]
    layout: bool = False
    order: bool = False
    timed: bool = False

    @property
    def area(self) -> str:
        """The area of difficulty that it belongs to, by its key."""
        return area_of(self.code)


Smallest = Mapping[str, float | None]  # p that a test by shuffling can have, by the term


class Again(Protocol):
    """Draws the plan of a changed study, without its check."""

    def __call__(self, other: Study, *, plain: bool) -> tuple[Plan, Callable[[], Smallest]]:
        """Return the plan; ``plain`` True: the first fair one, without looking for a better.

        And what tells how small the p of its shuffle can be: few ask, and it takes long.
        """


@dataclass(frozen=True)
class View:
    """A study and its plan, with what several rules need worked out once.

    ``repeats``: the plan several times as large; only ``layout``, ``ready`` and ``anew`` are of
    that one. ``shuffled``: tells the smallest p of the plan's shuffle, where the plan doesn't.
    """

    study: Study
    plan: Plan
    repeats: tuple[str | None, int] | None = None  # for the sake of which unit, how many times
    shuffled: Callable[[], Smallest] | None = None

    @cached_property
    def smallest_p(self) -> Smallest:
        """The smallest p that a test by shuffling can have, by the term."""
        return self.plan.shuffle.smallest_p if self.shuffled is None else self.shuffled()

    @cached_property
    def units(self) -> Units:
        """Where every item belongs."""
        return plan_units(self.plan)

    @cached_property
    def codes(self) -> dict[str, Codes]:
        """The level of every item, factor by factor."""
        return plan_layout(self.plan)

    @cached_property
    def layout(self) -> Layout:
        """The plan as the model sees it."""
        if self.repeats is not None:
            structure = plan_structure(self.plan.factors, self.plan.groups)
            columns = self.anew or repeated(self.study, self.plan, *self.repeats)
            return make_layout(structure, columns, random=self.study.analysis.random)
        return self.ready.layout

    @cached_property
    def ready(self) -> Prepared:
        """The plan as the model judges it at assumed variances."""
        if self.repeats is None:
            return ready_of(self.study, self.plan)
        return Prepared(self.layout, self.study.analysis.interactions)

    @cached_property
    def lopsided(self) -> bool:
        """Whether recipes are left out, or made more often than others without being meant to."""
        return is_lopsided(self.study, self.plan)

    @cached_property
    def anew(self) -> Columns | None:
        """The rows of a lopsided plan several times as large, drawn anew; None: it isn't."""
        if self.repeats is None or not self.lopsided:
            return None
        return grown_anew(self.study, self.plan, *self.repeats)

    @cached_property
    def _larger(self) -> dict[tuple[str | None, int], View]:
        return {}

    def larger(self, unit: str | None, times: int) -> View:
        """Return the plan so many times as large, for the sake of one unit."""
        key = (unit, times)
        if key not in self._larger:
            self._larger[key] = View(self.study, self.plan, key)
        return self._larger[key]

    @cached_property
    def _found(self) -> dict[str, tuple[Found, ...]]:
        return {}

    def found(self, situation: Situation) -> tuple[Found, ...]:
        """Return all that is found of a situation."""
        if situation.code not in self._found:
            self._found[situation.code] = tuple(situation.find(self))
        return self._found[situation.code]

    @cached_property
    def times_needed(self) -> dict[tuple[str, str], float | None]:
        """How many times as many units a clear answer takes, as far as it was looked for.

        By response and factor; what it means tells the rule that looks for it.
        """
        return {}

    @cached_property
    def unit(self) -> dict[str, str | None]:
        """The group that each factor is applied to; None: the item."""
        return {f.name: last(f.applied_to) for f in self.plan.factors}

    @cached_property
    def labels(self) -> dict[str, str]:
        """What people call factors, groups and responses."""
        labels = {group.name: group.name for group in self.plan.groups}
        labels |= {f.name: f.label or f.name for f in self.study.factors}
        labels |= {g.name: g.label or g.name for g in self.study.groups}
        return labels | {r.name: r.label or r.name for r in self.study.responses}

    def without(self, keep: np.ndarray) -> Layout:
        """Return the layout of some of the items; ``keep`` has shape (items,)."""
        codes = {name: column[keep] for name, column in self.units.codes.items()}
        units = Units(int(keep.sum()), self.units.groups, codes)
        levels = {name: column[keep] for name, column in self.codes.items()}
        return model_layout(self.study, units, self.plan.factors, levels)

    def unit_label(self, factor: str) -> str | None:
        """Return what people call the group that a factor is applied to; None for the item."""
        unit = self.unit[factor]
        return None if unit is None else self.labels[unit]

    def places(self, factor: PlanFactor) -> Codes:
        """Return one position for each unit that the factor is applied to."""
        _, first = np.unique(self.units.of_unit(self.unit[factor.name]), return_index=True)
        return first.astype(np.intp)

    def holding(self, factor: PlanFactor) -> Iterator[tuple[PlanGroup, list[Codes]]]:
        """Yield the groups that could balance a factor, with each member's units of it."""
        rows = self.places(factor)
        own = factor.applied_to
        for group in self.units.groups:
            if own is not None and (group.path + "/").startswith(own + "/"):
                continue
            above = own is None or own.startswith(group.path + "/")
            at = rows if above else np.arange(self.units.n, dtype=np.intp)
            member = self.units.codes[group.name][at]
            yield group, [at[member == place] for place in range(len(group.members))]

    def tied_to(self, factor: PlanFactor) -> list[PlanGroup]:
        """Return the groups of which each member has one version only of a factor."""
        codes = self.codes[factor.name]
        if len(np.unique(codes)) < 2:
            return []
        out = []
        for group, members in self.holding(factor):
            several = [places for places in members if len(places) > 1]
            if several and all(len(np.unique(codes[places])) == 1 for places in several):
                out.append(group)
        return out

    @cached_property
    def free(self) -> tuple[PlanFactor, ...]:
        """The factors that are not tied to any group."""
        return tuple(f for f in self.plan.factors if not self.tied_to(f))

    @cached_property
    def uneven_by_intent(self) -> frozenset[str]:
        """The factors whose versions are not meant to come equally often."""
        parts = [self.plan.shuffle, *(part.shuffle for part in self.plan.parts)]
        rules = [rule for shuffle in parts for rule in shuffle.balance]
        return frozenset(name for rule in rules if rule.shares for name in rule.factors)

    def tested_df(self, factor: str) -> float:
        """Return the degrees of freedom that a factor is judged by; 0 where there is no test."""
        lines = [line for line in self.plan.skeleton if line.source == factor]
        return max((line.den_df or 0.0 for line in lines if line.tested_by), default=0.0)

    def term_labels(self, term: Sequence[str]) -> list[str]:
        """Return what people call the factors of a term."""
        return [self.labels[name] for name in term]


def last(path: str | None) -> str | None:
    """Return the last name of a path of groups."""
    return None if path is None else path.split("/")[-1]


def only_way(keys: tuple[str, ...], value: Any) -> Callable[[], Iterator[Mend]]:
    """Return what to try where only one line will do."""
    return lambda: iter((Mend(((keys, value),)),))
