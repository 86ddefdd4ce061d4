"""A study's plan by search: what may be given to whom, and the best layout that was found.

Plans with every recipe equally often begin from an even allocation, which the search can only
better. Where recipes are forbidden, required or left out, where groups differ in size, or where a
control deserves more items, there is no even allocation: the search first chooses which recipes to
make, and how often, then spreads every version over the groups in proportion.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from math import prod
from typing import TYPE_CHECKING

import numpy as np

from trials.design.allocation import Allocation
from trials.design.balance import Ledger, joint
from trials.design.columns import model_layout
from trials.design.factorials import Codes
from trials.design.families import Wanted, offer
from trials.design.outlook import assume, main_response
from trials.design.search import (
    Criterion,
    Problem,
    SearchGroup,
    layout_value,
    robustness,
    search,
)
from trials.design.search.bounds import lower_bound
from trials.design.search.engine import MEETS
from trials.design.search.layouts import make_ready
from trials.design.sharing import Bools, member_shares
from trials.design.units import Units
from trials.design.values import Balance, PlanFactor, PlanGrouping, SearchReport, WorthRule
from trials.design.worth import TIMES, assumed_problem, recorded
from trials.errors import PlanError
from trials.model import RESIDUAL
from trials.model.terms import treatment_terms
from trials.progress import Step, silent
from trials.study import recipes
from trials.study.bans import all_bans, recipe_bans

if TYPE_CHECKING:
    from trials.study import Study

STARTS = 8
POLISH_STARTS = 4  # of an even allocation
SMALL = 100  # items up to which it is polished more than once
PLAIN_RATIO = 1.0  # variance of a group to that of items, where no spread is given


@dataclass(frozen=True)
class Searched:
    """An allocation, and how it was searched for; without a problem it was not.

    ``best``: what was proved to be the best value of all layouts that are as even; None: nothing
    was proved, or evenness was not the aim.
    """

    allocation: Allocation
    problem: Problem | None = None
    criterion: Criterion = field(default_factory=Criterion)
    starts: int = 0
    best: float | None = None

    def worth(self) -> WorthRule | None:
        """Return the rule that a layout tells nearly as much as this one; None: not searched."""
        problem, value = self.problem, self.value(self.allocation.codes)
        if problem is None or not np.isfinite(value):
            return None
        return WorthRule(
            criterion=self.criterion.kind,
            found=recorded(value),
            times=TIMES,
            interactions=problem.interactions,
            groups=tuple(
                PlanGrouping(
                    groups=tuple(group.name.split(":")),
                    variance=None if group.variance is None else recorded(group.variance),
                )
                for group in problem.groups
            ),
        )

    def value(self, codes: Mapping[str, Codes]) -> float:
        """Return the criterion of a layout; infinite where it leaves something open."""
        return 0.0 if self.problem is None else layout_value(self.problem, codes, self.criterion)

    def report(self, codes: Mapping[str, Codes], rng: np.random.Generator) -> SearchReport | None:
        """Return how good a layout is known to be; None where that can't be said.

        It is held against what no layout of the allowed recipes goes below: no even one where all
        versions are meant to be made equally often, else none at all.
        """
        problem, value = self.problem, self.value(codes)
        if problem is None or not np.isfinite(value):
            return None
        bound = self.best
        if bound is None:
            bound = lower_bound(make_ready(problem, self.criterion), balanced=bool(problem.balance))
        proved = value <= bound * (1 + MEETS)
        worst = None
        if any(group.variance is not None for group in problem.groups) and not proved:
            worst = robustness(problem, codes, self.criterion, starts=1, rng=rng).worst
        return SearchReport(
            criterion=self.criterion.kind,
            value=value,
            bound=min(bound, value),
            efficiency=min(1.0, bound / value),
            proved=proved,
            starts=self.starts,
            worst_efficiency=worst,
        )


def is_even(study: Study, n: int) -> bool:
    """Return whether every recipe is to be made, and as often as the others."""
    limits = study.limits
    uneven = limits.forbidden or limits.required or any(group.sizes for group in study.groups)
    if uneven or (limits.fraction and n < recipes(study)):
        return False
    return not _favours_control(study)


def _favours_control(study: Study) -> bool:
    """Return whether a control is compared with several versions of the only factor.

    It then deserves more items than each of them, unless so many copies of each are asked for.
    """
    only = study.factors[0] if len(study.factors) == 1 else None
    if only is None or only.control is None or study.limits.copies is not None:
        return False
    return only.applied_to is None and len(only.levels) > 2


def asked_for(study: Study) -> int:
    """Return how many things the model asks about, the overall mean among them."""
    sizes = {factor.name: len(factor.levels) - 1 for factor in study.factors}
    terms = treatment_terms(tuple(sizes), study.analysis.interactions)
    return 1 + sum(prod(sizes[name] for name in term) for term in terms)


def can_tell(study: Study, n: int) -> bool:
    """Return whether so many items can tell apart all that the model asks about."""
    return n >= asked_for(study)


def better(
    study: Study,
    units: Units,
    factors: tuple[PlanFactor, ...],
    even: Allocation,
    rng: np.random.Generator,
) -> Searched:
    """Return the even allocation, bettered by exchanges that keep its balance.

    Where groups leave too little for the model, there is nothing to search by.
    """
    free = problem_of(study, units, factors)
    rules = known_rules(free, units, even.balance)
    problem = replace(free, balance=rules, start=even.codes)
    criterion = Criterion(study.plan.criterion)
    starts = POLISH_STARTS if units.n <= SMALL else 1
    try:
        found = search(problem, criterion, starts=starts, rng=rng)
    except PlanError:
        return Searched(even)
    if found.reason == "not_estimable":
        return Searched(even)
    return Searched(
        Allocation(found.codes, even.balance),
        replace(free, balance=rules),
        criterion,
        found.starts,
        found.value if found.proved else None,
    )


def choose(
    study: Study,
    units: Units,
    factors: tuple[PlanFactor, ...],
    rng: np.random.Generator,
    tell: Step = silent,
    *,
    starts: int = STARTS,
) -> Searched:
    """Return a layout of the recipes that may be made: the best of two searches of ``starts``.

    Raises
    ------
    PlanError : too few items for what is to be told apart, or for the combinations required.
    """
    free = problem = problem_of(study, units, factors)
    criterion = Criterion(study.plan.criterion)
    if len(problem.required) > units.n:
        raise _missing(study, len(study.limits.required) - 1)
    bare = replace(problem, groups=_unit_groups(problem))
    if not can_tell(study, units.n):
        raise too_few(study, units.n, asked_for(study))
    first_rng, second_rng = rng.spawn(2)
    made: Mapping[str, Codes] | None = _from_tables(study, units.n)
    if made is None:
        first = search(
            bare,
            criterion,
            starts=starts,
            rng=first_rng,
            tell=lambda done, _: tell(done, 2 * starts),
        )
        if first.reason == "not_estimable":
            raise too_few(study, units.n, asked_for(study))
        made = first.codes
    rules = _proportional(study, units, problem, made)
    problem = replace(problem, balance=known_rules(problem, units, rules))
    found = search(
        problem,
        criterion,
        starts=starts,
        rng=second_rng,
        tell=lambda done, _: tell(starts + done, 2 * starts),
    )
    if found.reason == "not_estimable":
        raise too_few(study, units.n, asked_for(study))
    _check_required(study, found.codes)
    kept = settled_rules(units, factors, problem.balance, found.codes)
    return Searched(Allocation(found.codes, kept), free, criterion, found.starts)


def try_layouts(
    study: Study, units: Units, factors: tuple[PlanFactor, ...], rng: np.random.Generator
) -> None:
    """Look for any layout of the recipes that may be made, however uneven.

    Raises
    ------
    PlanError : as :func:`choose`.
    """
    if not can_tell(study, units.n):
        raise too_few(study, units.n, asked_for(study))
    problem = problem_of(study, units, factors)
    for seconds in (0.0, None):  # the first one that is dealt mostly does
        found = search(problem, Criterion("D"), starts=1, rng=rng, seconds=seconds)
        if found.reason != "not_estimable":
            _check_required(study, found.codes)
            return
    raise too_few(study, units.n, asked_for(study))


def known_rules(problem: Problem, units: Units, rules: Sequence[Balance]) -> tuple[Balance, ...]:
    """Return rules in the groups that the search knows of.

    The model leaves out groups that say nothing: a group of one member is left out of a rule, and
    what holds within single items, or within a group that is the same as another, needs no rule.
    """
    names = {g.name for g in problem.groups} | {f.name for f in problem.factors}
    alone = {g.name for g in units.groups if len(g.members) == 1}
    out = [
        rule.model_copy(update={"within": tuple(w for w in rule.within if w not in alone)})
        for rule in rules
        if {*rule.factors, *rule.within} <= names | alone
    ]
    return tuple(dict.fromkeys(out))


def _from_tables(study: Study, n: int) -> dict[str, Codes] | None:
    """Return the recipes of a published design that takes all items and tells all that is asked.

    Such a design is known to be the best of its size, which a search could only hope to find.
    """
    if not study.limits.fraction or study.limits.forbidden or study.limits.required:
        return None
    if any(factor.applied_to is not None for factor in study.factors):
        return None
    names = tuple(factor.name for factor in study.factors)
    pairs = tuple(combinations(names, 2)) if study.analysis.interactions > 1 else ()
    wanted = Wanted({f.name: len(f.levels) for f in study.factors}, n, pairs)
    for one in offer(wanted):
        if one.recipes is not None and not one.spare and not one.unclear and one.block is None:
            table = np.tile(one.recipes, (one.copies, 1)).astype(np.intp)
            return {name: table[:, place] for place, name in enumerate(names)}
    return None


def problem_of(study: Study, units: Units, factors: tuple[PlanFactor, ...]) -> Problem:
    """Return the problem of a study without rules of balance."""
    groups = groupings(study, units, factors)
    # the model leaves out a group that is just like another: versions go to it all the same
    missing = {f.applied_to for f in study.factors} - {None, *(":".join(g.groups) for g in groups)}
    groups += [PlanGrouping(groups=(name,), variance=0.0) for name in sorted(filter(None, missing))]
    problem = assumed_problem(units, factors, all_bans(study), study.analysis.interactions, groups)
    return replace(problem, required=_required(study, problem.allowed))


def groupings(study: Study, units: Units, factors: tuple[PlanFactor, ...]) -> list[PlanGrouping]:
    """Return each grouping of the model, with its variance in units of the items'.

    None for one that stands for itself. A random one whose spread isn't given is taken to vary as
    items do. Which are random hangs on what is applied to them, on no layout: so the factors of
    items are left out, and the others stand with one version only.
    """
    applied = tuple(factor for factor in factors if factor.applied_to is not None)
    nothing = {factor.name: np.zeros(units.n, dtype=np.intp) for factor in applied}
    layout = model_layout(study, units, applied, nothing)
    assumed = assume(study, main_response(study))
    known: dict[str, float] = {}
    if assumed is not None and assumed.components[RESIDUAL] > 0:
        residual = assumed.components[RESIDUAL]
        known = {path: v / residual for path, v in assumed.components.items()}
    return [
        PlanGrouping(
            groups=tuple(path.split("/")[-1] for path in g.path.split(":")),
            variance=known.get(g.path, 0.0 if g.implied else PLAIN_RATIO) if g.random else None,
        )
        for g in layout.groupings
    ]


def _required(study: Study, allowed: Codes) -> tuple[tuple[int, ...], ...]:
    """Return recipes that have every required combination: each time one that has most of them."""
    names = [factor.name for factor in study.factors]
    fits = np.ones((len(study.limits.required), len(allowed)), dtype=bool)
    for place, combination in enumerate(study.limits.required):
        for name, level in combination.items():
            fits[place] &= allowed[:, names.index(name)] == study.factor(name).levels.index(level)
    out: list[tuple[int, ...]] = []
    while len(fits):
        pick = int(np.argmax(fits.sum(axis=0)))
        out.append(tuple(int(code) for code in allowed[pick]))
        fits = fits[~fits[:, pick]]
    return tuple(out)


def _unit_groups(problem: Problem) -> tuple[SearchGroup, ...]:
    """Return the groups that something is applied to."""
    used = {factor.group for factor in problem.factors}
    return tuple(group for group in problem.groups if group.name in used)


def _proportional(
    study: Study, units: Units, problem: Problem, codes: Mapping[str, Codes]
) -> tuple[Balance, ...]:
    """Return rules that keep how often each recipe is made and spread each version over the groups.

    Every version has in every group the share that it has overall; where some members may not have
    it, the others have as much more. Where a ban ties it to what is applied to that group, or to
    one around it, there is no such share and no rule.
    """
    names = tuple(factor.name for factor in study.factors)
    levels = [len(factor.levels) for factor in study.factors]
    recipe, classes = joint([(codes[n], k) for n, k in zip(names, levels, strict=True)], units.n)
    out = [Balance(factors=names, shares=shares_of(recipe, classes))]
    for place, factor in enumerate(study.factors):
        _, first = np.unique(units.of_unit(factor.applied_to), return_index=True)
        mine = codes[factor.name][first]
        shares = shares_of(mine, len(factor.levels))
        rule = Balance(factors=(factor.name,), counted=factor.applied_to, shares=shares)
        out.append(rule)
        may = _may_have(problem, place)[first]
        for within in units.above(factor.applied_to):
            inside = rule.model_copy(update={"within": (within,)})
            if not may.all():
                counts = np.bincount(mine, minlength=len(factor.levels))
                own = member_shares(may, units.codes[within][first], counts)
                if (own != own[0]).any():
                    each = {"shares": tuple(own.ravel().tolist()), "each": True}
                    inside = inside.model_copy(update=each)
            if not is_tied(study, factor.name, within):
                out.append(inside)
    return tuple(out)


def _may_have(problem: Problem, place: int) -> Bools:
    """Return which levels of a factor its unit may have at each position, shape (n, levels).

    A unit may have what all its positions may have.
    """
    recipes, kind = problem.allowed, problem.kinds[0]
    fitting = problem.may_have(recipes)
    levels = range(problem.factors[place].levels)
    own = np.stack([fitting[:, recipes[:, place] == one].any(axis=1) for one in levels], axis=1)
    unit = problem.unit(problem.factors[place].group)
    out = np.ones((int(unit.max()) + 1, own.shape[1]), dtype=bool)
    np.logical_and.at(out, unit, own[kind])
    found: Bools = out[unit]
    return found


def shares_of(codes: Codes, classes: int) -> tuple[float, ...]:
    """Return the share of each of some classes among codes."""
    counts = np.bincount(codes, minlength=classes)
    return tuple(float(share) for share in counts / counts.sum())


def is_tied(study: Study, factor: str, group: str) -> bool:
    """Return whether a ban ties a factor's versions to what a group has of another factor."""
    around = set(study.path(group).split("/"))
    for ban in recipe_bans(study):
        if factor in ban and any(study.factor(other).applied_to in around for other in ban):
            return True
    return False


def settled_rules(
    units: Units,
    factors: tuple[PlanFactor, ...],
    rules: tuple[Balance, ...],
    codes: Mapping[str, Codes],
) -> tuple[Balance, ...]:
    """Return the rules with what each misses."""
    levels = {group.name: len(group.members) for group in units.groups}
    levels |= {factor.name: len(factor.levels) for factor in factors}
    ledger = Ledger({**units.codes, **codes}, levels, units.n)
    return tuple(rule.model_copy(update={"excess": ledger.excess(rule)}) for rule in rules)


def _check_required(study: Study, codes: Mapping[str, Codes]) -> None:
    for place, combination in enumerate(study.limits.required):
        fits = [
            codes[name] == study.factor(name).levels.index(level)
            for name, level in combination.items()
        ]
        if not np.all(fits, axis=0).any():
            raise _missing(study, place)


def _missing(study: Study, place: int) -> PlanError:
    """Return the error about a required combination that no layout has."""
    return PlanError(
        "A combination is required, but no layout was found that has it with all the others.",
        code="plan.required_missing",
        where=f"limits.required[{place + 1}] in study.toml",
        found=" with ".join(f"{n} {level}" for n, level in study.limits.required[place].items()),
        allowed="combinations that fit together into the items and groups there are",
        do="Require fewer combinations, or plan more items, or more of the groups that get one "
        "version together.",
    )


def too_few(study: Study, n: int, least: int | None) -> PlanError:
    """Return the error about a model with more to tell than the items can, with what it costs.

    ``least``: how many items would do; None: no number would.
    """
    needed = asked_for(study)
    alone = 1 + sum(len(f.levels) - 1 for f in study.factors)
    cures = [f"make {least - n} more (at least {least})"] if needed > n and least else []
    if needed <= n:
        cures.append("forbid fewer combinations")
    if study.analysis.interactions > 1 and alone <= n:
        cures.append(
            "write interactions = 1 under [analysis], and give up what factors do together"
        )
    cures.append("change one thing fewer")
    what, allowed = (
        "With so few items, what the factors do can't be told apart.",
        f"at least {least} items, better {least + 6} or more" if least else "",
    )
    if needed <= n:
        what = "In these groups, with these combinations, what the factors do can't be told apart."
        allowed = "groups and combinations in which every factor changes by itself too"
    return PlanError(
        what,
        code="plan.too_few_to_tell",
        where="factors and [limits] in study.toml",
        found=f"{n} items for {needed} things to find out",
        allowed=allowed,
        do="One of these: " + "; or ".join(cures) + ".",
    )
