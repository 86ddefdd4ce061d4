"""What is asked of the search, and what it found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import prod
from typing import Literal

import numpy as np
import numpy.typing as npt

from trials.design.factorials import Codes, full_factorial
from trials.design.values import Balance
from trials.errors import PlanError
from trials.model.terms import term_name, treatment_terms

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Kind = Literal["A", "D", "I"]
Term = tuple[str, ...]

INDEX_MOST = 2**62  # joint codes of recipes must fit an integer


@dataclass(frozen=True)
class SearchFactor:
    """A factor as the search sees it.

    ``group``: what it is applied to; None: each item. ``values``: numbers of a quantity's levels on
    its scale, for a trend of ``degree`` 1 (a slope) or 2 (a curve) instead of a difference per
    level; in interactions a trend is a slope. ``control``: the level all others are compared with.
    """

    name: str
    levels: int
    group: str | None = None
    values: tuple[float, ...] | None = None
    degree: int = 1
    control: int | None = None


@dataclass(frozen=True)
class SearchGroup:
    """A grouping of the n positions: ``codes`` of shape (n,) from 0.

    ``variance`` is that of its members, in the unit in which ``Problem.residual`` is; None: its
    members stand for themselves, and differences between them are taken out.
    """

    name: str
    codes: Codes
    variance: float | None = 0.0


@dataclass(frozen=True)
class Barred:
    """Levels that some positions may not have together.

    ``rows``: which positions, shape (n,). ``levels``: for each factor, by its place, the level.
    """

    rows: Bools
    levels: Mapping[int, int]


@dataclass(frozen=True)
class Problem:
    """Positions in groups, and what may be given to them.

    ``recipes``: allowed combinations as level codes, shape (R, factors); None: all. ``barred``:
    what some positions may not have of these. ``fixed``: recipes of positions that must stay as
    they are, barred or not. ``required``: recipes that must occur.
    ``balance``: rules that every layout keeps as well as its start does. ``start``: a layout to
    begin from, shape (n,) per factor. ``interactions``: most factors in a term of the model, unless
    ``terms`` lists them. ``information``: the matrix W of shape (n, n), where groups and variances
    don't tell it.
    """

    n: int
    factors: tuple[SearchFactor, ...]
    groups: tuple[SearchGroup, ...] = ()
    residual: float = 1.0
    recipes: Codes | None = None
    barred: tuple[Barred, ...] = ()
    interactions: int = 2
    terms: tuple[Term, ...] | None = None
    fixed: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    required: tuple[tuple[int, ...], ...] = ()
    balance: tuple[Balance, ...] = ()
    start: Mapping[str, Codes] | None = None
    information: Floats | None = None

    def __post_init__(self) -> None:
        check_problem(self)

    @cached_property
    def allowed(self) -> Codes:
        """The allowed recipes, each once, shape (R, factors)."""
        if self.recipes is None:
            return full_factorial([f.levels for f in self.factors])
        return np.unique(np.asarray(self.recipes, dtype=np.intp), axis=0)

    @cached_property
    def model_terms(self) -> tuple[Term, ...]:
        """The terms of the model, main effects first."""
        if self.terms is not None:
            return self.terms
        return treatment_terms(tuple(f.name for f in self.factors), self.interactions)

    def place(self, factor: str) -> int:
        """Return the number of a factor's column; KeyError if there is none."""
        for place, own in enumerate(self.factors):
            if own.name == factor:
                return place
        raise KeyError(factor)

    def group(self, name: str) -> SearchGroup:
        """Return the group called ``name``; KeyError if there is none."""
        for group in self.groups:
            if group.name == name:
                return group
        raise KeyError(name)

    def unit(self, group: str | None) -> Codes:
        """Return the unit that each position belongs to, shape (n,); None: the position itself."""
        return np.arange(self.n, dtype=np.intp) if group is None else self.group(group).codes

    @cached_property
    def kinds(self) -> tuple[Codes, list[tuple[int, ...]]]:
        """The kind of each position, shape (n,), and which of ``barred`` hold for each kind."""
        table = np.zeros((self.n, len(self.barred)), dtype=bool)
        for number, one in enumerate(self.barred):
            table[:, number] = one.rows
        table[list(self.fixed)] = False
        own, kind = np.unique(table, axis=0, return_inverse=True)
        return kind.reshape(-1).astype(np.intp), [tuple(np.flatnonzero(row)) for row in own]

    def may_have(self, recipes: Codes) -> Bools:
        """Return which recipes, (R, factors), each kind of position may have, (kinds, R)."""
        out = np.ones((len(self.kinds[1]), len(recipes)), dtype=bool)
        for kind, own in enumerate(self.kinds[1]):
            for number in own:
                levels = self.barred[number].levels
                out[kind] &= ~np.all([recipes[:, f] == k for f, k in levels.items()], axis=0)
        return out

    def with_ratio(self, ratio: float) -> Problem:
        """Return the problem with every random group's variance ``ratio`` times the residual."""
        groups = tuple(
            g if g.variance is None else replace(g, variance=ratio * self.residual)
            for g in self.groups
        )
        return replace(self, groups=groups)


@dataclass(frozen=True)
class Criterion:
    """What a good layout makes small.

    ``A``: the mean variance of the declared comparisons, each term's scaled to be 1/n where n
    independent items of variance 1 are shared out evenly, and averaged with ``weights`` by term
    name (1 where none is given). ``D``: the volume of the confidence region, as det(M)^(-1/p).
    ``I``: the mean variance of prediction over the allowed recipes.
    """

    kind: Kind = "A"
    weights: Mapping[str, float] = field(default_factory=dict)

    def weight(self, term: Term) -> float:
        """Return the weight of a term, 1 unless another is given."""
        return self.weights.get(term_name(term), 1.0)


@dataclass(frozen=True)
class Found:
    """The best layout found.

    ``codes``: level codes per factor, shape (n,). ``value``: of the criterion, small is good;
    infinite where the model can't be estimated. ``bound``: no layout has a smaller value.
    ``efficiency``: bound / value, 0 to 1. ``proved``: no layout is better. ``excess``: of each rule
    of balance. ``reason``: a stable word for how it ended, one of ``meets_bound``, ``exhausted``,
    ``starts_done``, ``time_up``, ``not_estimable``.
    """

    codes: Mapping[str, Codes]
    value: float
    efficiency: float
    bound: float
    proved: bool
    starts: int
    reason: str
    excess: tuple[int, ...] = ()


@dataclass(frozen=True)
class RatioScore:
    """How a layout does at one ratio of the groups' variance to the items'."""

    ratio: float
    value: float
    best: float  # value of the best layout found at this ratio
    efficiency: float


@dataclass(frozen=True)
class Robustness:
    """Scores at several ratios; ``worst`` is the smallest efficiency."""

    scores: tuple[RatioScore, ...]

    @property
    def worst(self) -> float:
        """The smallest efficiency over all ratios."""
        return min(score.efficiency for score in self.scores)


def check_problem(problem: Problem) -> None:
    """Refuse a problem that contradicts itself.

    Raises
    ------
    PlanError : naming what doesn't fit.
    """
    names = {f.name for f in problem.factors}
    groups = {g.name for g in problem.groups}
    faults = [f"{f.name}: fewer than two levels" for f in problem.factors if f.levels < 2]
    faults += [
        f"{f.name}: {len(f.values)} numbers for {f.levels} levels"
        for f in problem.factors
        if f.values is not None and len(set(f.values)) != f.levels
    ]
    faults += [
        f"{f.name}: no group {f.group}"
        for f in problem.factors
        if f.group is not None and f.group not in groups
    ]
    faults += [f"group {g.name}: wrong length" for g in problem.groups if len(g.codes) != problem.n]
    faults += [
        f"term {term_name(t)}: no such factor" for t in problem.model_terms if not set(t) <= names
    ]
    faults += [
        f"rule of balance: {name} is neither factor nor group"
        for rule in problem.balance
        for name in (*rule.factors, *rule.within)
        if name not in names | groups
    ]
    if prod(f.levels for f in problem.factors) > INDEX_MOST:
        faults.append("too many combinations of levels to number")
    if not faults:
        faults = _recipe_faults(problem)
    if faults:
        raise PlanError(
            "What the search is given doesn't fit together.",
            code="search.problem",
            where="factors, groups and recipes of the plan",
            found="; ".join(faults),
            do="Correct the levels, groups or recipes named here.",
        )


def _recipe_faults(problem: Problem) -> list[str]:
    levels = [f.levels for f in problem.factors]
    allowed = problem.allowed
    if allowed.ndim != 2 or allowed.shape[1] != len(levels) or not len(allowed):
        return ["no recipe is allowed"]
    faults = []
    if allowed.min() < 0 or (allowed.max(axis=0) >= levels).any():
        faults.append("an allowed recipe has a level that doesn't exist")
    known = {tuple(row) for row in allowed.tolist()}
    faults += [f"required recipe {r} is not allowed" for r in problem.required if r not in known]
    for position, recipe in problem.fixed.items():
        fits = len(recipe) == len(levels) and all(
            0 <= code < count for code, count in zip(recipe, levels, strict=True)
        )
        if not (0 <= position < problem.n and fits):
            faults.append(f"the kept recipe of position {position}")
    for f, factor in enumerate(problem.factors):
        unit = problem.unit(factor.group)
        kept: dict[int, set[int]] = {}
        for position, recipe in problem.fixed.items():
            if 0 <= position < problem.n and f < len(recipe):
                kept.setdefault(int(unit[position]), set()).add(recipe[f])
        if any(len(levels_in) > 1 for levels_in in kept.values()):
            faults.append(f"{factor.name}: kept recipes differ within one {factor.group}")
    return faults
