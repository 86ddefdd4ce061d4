"""A new part that is the best beside what is already made, where an even one is not.

An even part is best as long as what stands beside it is even. Where items were lost, where a
combination was never made, or where a team has one version more than another, a part that makes up
for it tells more. It is searched for with the earlier rows held as they are. Layouts are judged by
the criterion of the study, as sets and not as drawn: the set that makes up is taken only if its
layouts tell clearly more of the whole plan, and the part by itself still nearly as much as an even
one. So nobody draws until it pleases, and the part remains a fair study of its own.

What is tied to the earlier rows stays as found in every layout of the set: how often each recipe
is made, and how often each version in the members of a group that was there before. New members
(a new session, new firings) and the items in each remain free to change places.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod
from typing import TYPE_CHECKING

import numpy as np

from trials.design.balance import joint
from trials.design.chain import Kept
from trials.design.factorials import Codes
from trials.design.search import Criterion, Problem, layout_values, search
from trials.design.searched import (
    POLISH_STARTS,
    is_tied,
    known_rules,
    problem_of,
    settled_rules,
    shares_of,
)
from trials.design.settling import Drawn
from trials.design.shuffle import SEEN, Shuffler, describe, free_levels, make_shuffler
from trials.design.units import Units
from trials.design.values import Balance, PlanGroup, PlanRow, Shuffle
from trials.errors import PlanError
from trials.randomness import stream
from trials.study.bans import all_bans

if TYPE_CHECKING:
    from trials.study import Study

WORTH = 0.02  # a set must be better by this share, for an even one is larger and plainer
ALONE = 0.8  # efficiency that the part by itself must keep, against an even one
MOVED = (None, 2, 1)  # items by which the part may be less even than it could; None: any number
LOOKED_AT = 20  # layouts of a set from which it is judged
SEEN_AT = 0.05  # a test by shuffling must still be able to go below this
LAYOUTS_LEAST = 100  # that a chain must be seen to reach, or it hardly moves


@dataclass(frozen=True)
class Beside:
    """What a new part will stand beside.

    ``study`` has the groups of the whole plan. ``rows`` were made and are not lost. ``groups`` are
    those of the whole plan; ``names`` says for each what the members of the new part are called in
    it. ``block`` is the group in which the part is a member; ``fresh`` are the groups whose members
    are new in the part.
    """

    study: Study
    rows: tuple[PlanRow, ...]
    groups: tuple[PlanGroup, ...]
    names: Mapping[str, Mapping[str, str]]
    block: str
    fresh: frozenset[str]


@dataclass(frozen=True)
class _Set:
    """Layouts of the new part: one of them, and the shuffle that leads to the others."""

    codes: Mapping[str, Codes]
    shuffler: Shuffler
    kept: Kept


def made_up(small: Study, even: Drawn, beside: Beside, seed: int) -> Drawn | None:
    """Return a part that makes up for what the rows beside it lack; None where an even one does.

    Parameters
    ----------
    small : the study of the new part alone.
    even : the part as it is drawn without looking at the earlier rows.
    """
    if not even.factors or not beside.rows or _lacks_nothing(even, beside):
        return None
    units = whole_units(even.units, beside)
    first = len(beside.rows)
    fixed = _recipes(even, beside.rows)
    start = _joined(even, fixed, even.layout)
    criterion = Criterion(beside.study.plan.criterion)
    try:
        problem = replace(problem_of(beside.study, units, even.factors), fixed=fixed, start=start)
        own = problem_of(small, even.units, even.factors)
    except PlanError:  # groups that the model can't hold: there is nothing to search by
        return None

    def worth(one: _Set) -> tuple[float, float]:
        """Return how much the whole plan and the part alone leave open, on average over the set."""
        layouts = list(_some(one, stream(seed, "layouts looked at")))
        joined = [_joined(even, fixed, codes) for codes in layouts]
        whole = list(layout_values(problem, joined, criterion))
        alone = list(layout_values(own, layouts, criterion))
        return float(np.mean(whole)), float(np.mean(alone))

    together, alone = worth(_Set(even.layout, _shuffler_of(even), Kept()))
    for moved in MOVED:
        rules = _own_rules(problem, units, even, beside, moved)
        codes = _found(replace(problem, balance=rules), criterion, seed)
        if codes is None:
            continue
        other = _set(small, even, beside, {name: c[first:] for name, c in codes.items()})
        whole, by_itself = worth(other)
        if whole < together * (1 - WORTH) and by_itself * ALONE <= alone:
            drawn = _drawn(small, even, other, seed)
            if drawn is not None:
                return drawn
    return None


def _lacks_nothing(even: Drawn, beside: Beside) -> bool:
    """Return whether the earlier rows have every recipe, and every version in every group that was
    there before, equally often."""
    names = [factor.name for factor in even.factors]
    recipes = Counter(tuple(row.factors[name] for name in names) for row in beside.rows)
    if len(recipes) < prod(len(f.levels) for f in even.factors) or len({*recipes.values()}) > 1:
        return False
    for group in beside.groups:
        if group.name in beside.fresh:
            continue
        for factor in even.factors:
            met = Counter((row.groups[group.name], row.factors[factor.name]) for row in beside.rows)
            if len(met) < len(group.members) * len(factor.levels) or len({*met.values()}) > 1:
                return False
    return True


def whole_units(units: Units, beside: Beside) -> Units:
    """Return where the rows made and then the new positions belong, in members that are used."""
    columns = {}
    for group in beside.groups:
        names = beside.names[group.name]
        if group.name in units.codes:
            members = units.group(group.name).members
            new = [names[members[code]] for code in units.codes[group.name]]
        else:  # the block, where only an extension makes it
            new = [next(iter(names.values()))] * units.n
        columns[group.name] = [*(row.groups[group.name] for row in beside.rows), *new]
    groups = tuple(
        group.model_copy(
            update={"members": tuple(m for m in group.members if m in set(columns[group.name]))}
        )
        for group in beside.groups
    )
    codes = {
        group.name: np.array([group.members.index(m) for m in columns[group.name]], dtype=np.intp)
        for group in groups
    }
    return Units(len(beside.rows) + units.n, groups, codes)


def _recipes(even: Drawn, rows: Sequence[PlanRow]) -> dict[int, tuple[int, ...]]:
    return {
        place: tuple(f.levels.index(row.factors[f.name]) for f in even.factors)
        for place, row in enumerate(rows)
    }


def _joined(
    even: Drawn, fixed: Mapping[int, tuple[int, ...]], layout: Mapping[str, Codes]
) -> dict[str, Codes]:
    """Return the layout of the whole plan: what is fixed, then the new part."""
    table = np.array(list(fixed.values()), dtype=np.intp)
    return {
        factor.name: np.concatenate([table[:, place], layout[factor.name]])
        for place, factor in enumerate(even.factors)
    }


def _shuffler_of(even: Drawn) -> Shuffler:
    """Return the shuffle that the even part was drawn by."""
    told = even.shuffle
    renamed = {f.name: free_levels(f) for f in even.factors if f.name in told.relabelled}
    return make_shuffler(
        even.units, even.factors, renamed, Kept(told.balance, told.forbidden, told.required)
    )


def _some(one: _Set, rng: np.random.Generator) -> Iterator[Mapping[str, Codes]]:
    return one.shuffler.draws(one.codes, LOOKED_AT, rng)


def _own_rules(
    problem: Problem, units: Units, even: Drawn, beside: Beside, moved: int | None
) -> tuple[Balance, ...]:
    """Return the rules of the even part, each within the part and with some items moved.

    What the earlier rows miss of a rule counts as granted.
    """
    if moved is None:
        return ()
    blocks = len(units.group(beside.block).members)
    rules = [
        rule.model_copy(
            update={
                "within": (beside.block, *rule.within),
                "shares": rule.shares * (blocks if rule.each else 1),
            }
        )
        for rule in even.shuffle.balance
        if beside.block not in rule.within
    ]
    known = known_rules(problem, units, rules)
    now = settled_rules(units, even.factors, known, problem.start or {})
    return tuple(rule.model_copy(update={"excess": rule.excess + 2 * moved}) for rule in now)


def _found(problem: Problem, criterion: Criterion, seed: int) -> Mapping[str, Codes] | None:
    """Return the best layout of the whole plan that was found; None where not all can be told."""
    try:
        found = search(problem, criterion, starts=POLISH_STARTS, rng=stream(seed, "beside"))
    except PlanError:
        return None
    return None if found.reason == "not_estimable" else found.codes


def _set(small: Study, even: Drawn, beside: Beside, codes: Mapping[str, Codes]) -> _Set:
    """Return the layouts that make up as much as the one that was found."""
    limits = small.limits
    rules = settled_rules(even.units, even.factors, _rules(small, even, beside, codes), codes)
    required = tuple(one for one in limits.required if _is_made(even, codes, one))
    kept = Kept(rules, all_bans(small), required)
    return _Set(codes, make_shuffler(even.units, even.factors, {}, kept), kept)


def _rules(
    small: Study, even: Drawn, beside: Beside, codes: Mapping[str, Codes]
) -> tuple[Balance, ...]:
    """Return what ties a layout to the earlier rows, and even shares of everything else."""
    units = even.units
    names = tuple(factor.name for factor in even.factors)
    levels = [len(factor.levels) for factor in even.factors]
    recipe, classes = joint([(codes[n], k) for n, k in zip(names, levels, strict=True)], units.n)
    out = [Balance(factors=names, shares=shares_of(recipe, classes))]
    for factor in small.factors:
        unit = factor.applied_to
        _, places = np.unique(units.of_unit(unit), return_index=True)
        mine = codes[factor.name][places]
        shares = shares_of(mine, len(factor.levels))
        rule = Balance(factors=(factor.name,), counted=unit, shares=shares)
        out.append(rule)
        for within in units.above(unit):
            own = _own_shares(mine, units.codes[within][places], len(factor.levels))
            inside = rule.model_copy(update={"within": (within,)})
            if within not in beside.fresh and len(set(own)) > 1:
                each = tuple(share for row in own for share in row)
                out.append(inside.model_copy(update={"shares": each, "each": True}))
            elif not is_tied(small, factor.name, within):
                out.append(inside)
    return tuple(out)


def _own_shares(codes: Codes, members: Codes, levels: int) -> list[tuple[float, ...]]:
    """Return the shares of the versions in each member of a group."""
    return [shares_of(codes[members == m], levels) for m in range(int(members.max()) + 1)]


def _is_made(even: Drawn, codes: Mapping[str, Codes], combination: Mapping[str, str]) -> bool:
    fits = np.ones(even.units.n, dtype=bool)
    for factor in even.factors:
        if factor.name in combination:
            fits &= codes[factor.name] == factor.levels.index(combination[factor.name])
    return bool(fits.any())


def _drawn(small: Study, even: Drawn, best: _Set, seed: int) -> Drawn | None:
    """Return a layout of the set; None where its tests by shuffling could no longer tell."""
    layout = best.shuffler.draw(best.codes, stream(seed, "beside shuffle"))
    shuffle = describe(best.shuffler, layout, best.kept, small.analysis.interactions, SEEN)
    if not _still_tests(even, shuffle):
        return None
    return replace(even, layout=layout, shuffle=shuffle, search=None)


def _still_tests(even: Drawn, shuffle: Shuffle) -> bool:
    if shuffle.kind == "chain" and (shuffle.size or 0) < LAYOUTS_LEAST:
        return False
    for factor in even.factors:
        before, after = (one.smallest_p.get(factor.name) for one in (even.shuffle, shuffle))
        if before is not None and (after is None or after > max(before, SEEN_AT)):
            return False
    return True
