"""Layouts to begin from: allowed recipes everywhere, balance as well as it can be."""

from __future__ import annotations

import numpy as np

from trials.design.factorials import Codes
from trials.design.search.layouts import Ready, Recipes, Stage
from trials.design.search.moves import all_changes, chunks
from trials.design.search.rules import Counted, total_beyond
from trials.design.search.values import Bools
from trials.design.solver import Rule, is_contradictory, solve
from trials.errors import PlanError

EFFORT = 1.0  # of the solver, about seconds
SOLVER_SIZE = 20_000  # units times choices above which the solver is not asked
PATIENCE = 3  # rounds of mending without getting nearer


def first_layout(ready: Ready, rng: np.random.Generator, *, nearest: bool = True) -> Codes:
    """Return the recipes of a layout, shape (n,): as balanced as was found.

    The declared start, else dealt by chance and mended by exchanges; where balance is not reached,
    the constraint solver is asked for a layout that keeps all rules. Where it has none either,
    ``nearest`` True asks it, at some length, for one that comes near.

    Raises
    ------
    PlanError : no layout has allowed recipes everywhere, or the declared start is not allowed.
    """
    problem = ready.problem
    if problem.start is not None:
        return declared(ready, np.stack([problem.start[f.name] for f in problem.factors], axis=1))
    best = mended(ready, dealt(ready, rng), rng)
    for hard in (True, False) if nearest else (True,):
        if not beyond(ready, best):
            break
        solved = _solved(ready, rng, hard=hard)
        if solved is not None:
            best = min(best, mended(ready, solved, rng), key=lambda recipe: beyond(ready, recipe))
    return best


def beyond(ready: Ready, recipe: Codes) -> int:
    """Return how far a layout is from its rules: excess beyond what is granted, and missing."""
    codes = ready.recipes[recipe]
    rules = ready.rules
    return int(total_beyond(rules.excess(codes), rules.granted)) + rules.missing(codes)


def keeps_as_well(ready: Ready, recipe: Codes, other: Codes) -> bool:
    """Return whether a layout keeps every rule as well as another does, or as well as it must."""
    rules = ready.rules
    codes, others = ready.recipes[recipe], ready.recipes[other]
    most = np.maximum(rules.excess(others), rules.granted)
    return bool((rules.excess(codes) <= most).all()) and rules.missing(codes) <= rules.missing(
        others
    )


def declared(ready: Ready, codes: Codes) -> Codes:
    """Return a given layout, shape (n, factors), as recipes (n,).

    Raises
    ------
    PlanError : it has a forbidden recipe, changes a kept item or a factor within its unit.
    """
    recipe = ready.find(codes)
    faults = []
    for position, kept in ready.problem.fixed.items():
        if tuple(codes[position].tolist()) != tuple(kept):
            faults.append(f"position {position} is kept but differs")
        else:
            recipe[position] = int(np.searchsorted(ready.keys, codes[position] @ ready.radix))
    barred = (recipe < 0) | ~ready.fit(np.arange(len(recipe)), recipe)
    faults += [f"position {p} has a forbidden recipe" for p in np.flatnonzero(barred)]
    for stage in ready.stages:
        own = codes[:, stage.factors]
        if (own[stage.rows] != own[stage.rows[:, :1]]).any():
            faults.append(f"a factor changes within one {stage.group}")
    if faults:
        raise PlanError(
            "The layout to begin from is not allowed.",
            code="search.start",
            where="the plan to begin from",
            found="; ".join(faults[:5]),
            do="Begin from a layout of allowed recipes, or from none.",
        )
    return recipe


def dealt(ready: Ready, rng: np.random.Generator) -> Codes:
    """Return recipes dealt out by chance, each stage's combinations as equally often as fits."""
    codes = _kept_codes(ready)
    done: list[int] = []
    for stage in ready.stages:
        partial = stage.partial
        possible = _possible(ready, stage, codes, done, partial)
        used = np.zeros(len(partial))
        free = set(stage.free.tolist())
        for unit in rng.permutation(len(stage.rows)).tolist():
            if unit in free:
                options = np.flatnonzero(possible[unit])
                pick = options[np.argmin(used[options] + rng.random(len(options)) / 2)]
                codes[np.ix_(stage.rows[unit], stage.factors)] = partial[pick]
                used[pick] += 1
        done += stage.factors
    return declared(ready, codes)


def _kept_codes(ready: Ready) -> Codes:
    """Return level codes of kept items and of the units that they fix, 0 elsewhere."""
    problem = ready.problem
    codes = np.zeros((problem.n, len(problem.factors)), dtype=np.intp)
    for position, recipe in problem.fixed.items():
        for place, factor in enumerate(problem.factors):
            unit = problem.unit(factor.group)
            codes[unit == unit[position], place] = recipe[place]
    return codes


def _possible(ready: Ready, stage: Stage, codes: Codes, done: list[int], partial: Codes) -> Bools:
    """Return which combinations each unit of a stage may have, shape (units, P).

    Such that each of its positions still has an allowed recipe, given what was dealt before.

    Raises
    ------
    PlanError : a unit has none.
    """
    recipes, may = ready.recipes[ready.open], ready.may[:, ready.open]
    context = recipes[:, done] @ ready.radix[done]
    own = recipes[:, stage.factors] @ ready.radix[list(stage.factors)]
    choice = np.searchsorted(partial @ ready.radix[list(stage.factors)], own)
    keys, index = np.unique(context, return_inverse=True)
    # for each kind of position; last row: nothing is allowed
    table = np.zeros((len(may), len(keys) + 1, len(partial)), dtype=bool)
    for kind, fitting in enumerate(may):
        table[kind, index.reshape(-1)[fitting], choice[fitting]] = True
    here = codes[:, done] @ ready.radix[done]
    at = np.minimum(np.searchsorted(keys, here), len(keys) - 1)
    at = np.where(keys[at] == here, at, len(keys))
    out: Bools = np.all(table[ready.kind[stage.rows], at[stage.rows]], axis=1)
    if not out[stage.free].any(axis=1).all():
        names = ", ".join(ready.problem.factors[place].name for place in stage.factors)
        raise PlanError(
            "After what is given to larger groups, some units have no allowed recipe left.",
            code="search.no_layout",
            where=f"forbidden combinations that concern {names}",
            found=f"one {stage.group or 'item'} for which every version is forbidden",
            do="Allow more combinations, or keep fewer items as they are.",
        )
    return out


def mended(ready: Ready, recipe: Codes, rng: np.random.Generator) -> Codes:
    """Return a layout nearer to its rules, by exchanges that bring it closer or keep it as near."""
    state = Recipes(ready, recipe)
    now = nearest = beyond(ready, recipe)
    best, waited = state.recipe.copy(), 0
    while nearest and waited < PATIENCE:
        waited += 1
        for stage in ready.stages:
            for units in chunks(ready, stage, rng.permutation(stage.free)):
                now = _mend(state, stage, units, now, rng)
                if now < nearest:
                    best, nearest, waited = state.recipe.copy(), now, 0
                if not now:
                    return best
    return best


def _mend(state: Recipes, stage: Stage, units: Codes, now: int, rng: np.random.Generator) -> int:
    """Make the best change for balance of each kind that some units can make.

    ``now``: how far the layout is from its rules. Returns how far it is then.
    """
    ready = state.ready
    for rows, recipes in all_changes(state, stage, units):
        if not len(rows):
            continue
        after = ready.recipes[recipes]
        away = total_beyond(
            ready.rules.excess_after(state.codes, rows, after), ready.rules.granted
        ) + ready.rules.missing_after(state.codes, rows, after)
        pick = int(np.argmin(away + rng.random(len(away)) / 2))
        if away[pick] <= now:
            state.take(rows[pick], recipes[pick])
            now = int(away[pick])
    return now


def _solved(ready: Ready, rng: np.random.Generator, *, hard: bool) -> Codes | None:
    """Return a layout from the constraint solver, one stage after another; None if none."""
    codes = _kept_codes(ready)
    done: list[int] = []
    for stage in ready.stages:
        partial = stage.partial
        if len(stage.rows) * len(partial) > SOLVER_SIZE:
            return None
        possible = _possible(ready, stage, codes, done, partial)
        shuffled = rng.permutation(len(partial))  # the solver is drawn to low numbers
        rules = _stage_rules(ready, stage, codes, done, partial[shuffled], hard=hard)
        free = [place for place in range(len(stage.rows)) if place in set(stage.free.tolist())]
        barred = tuple((u, int(c), 1) for u in free for c in np.flatnonzero(~possible[u][shuffled]))
        rules.append(Rule(barred, 0, 0))
        for unit in set(range(len(stage.rows))) - set(free):
            own = codes[stage.rows[unit, 0]][list(stage.factors)]
            same = np.flatnonzero((partial[shuffled] == own).all(axis=1))
            rules.append(Rule(tuple((unit, int(c), 1) for c in same), min(len(same), 1), 1))
        seed = int(rng.integers(2**31))
        if hard and is_contradictory(len(stage.rows), len(partial), rules):
            return None
        answer = solve(len(stage.rows), len(partial), rules, seed=seed, effort=EFFORT)
        if not answer.found:
            return None
        for unit in free:
            codes[np.ix_(stage.rows[unit], stage.factors)] = partial[shuffled][answer.choice[unit]]
        done += stage.factors
    return declared(ready, codes)


def _stage_rules(
    ready: Ready, stage: Stage, codes: Codes, done: list[int], partial: Codes, *, hard: bool
) -> list[Rule]:
    """Return the rules that a stage settles, in the solver's terms."""
    known = {*done, *stage.factors}
    out: list[Rule] = []
    for number, rule in enumerate(ready.rules.counted):
        concerned = set(np.flatnonzero(rule.steps).tolist())
        if not concerned & set(stage.factors) or not concerned <= known:
            continue
        weight = 0 if hard else 1 + 9 * (number == 0)
        out += _counts(rule, stage, codes, partial, weight)
    for recipe in ready.rules.required:
        fits = (codes[:, done] == recipe[done]).all(axis=1)[stage.rows[:, 0]]
        choice = np.flatnonzero((partial == recipe[list(stage.factors)]).all(axis=1))
        counted = tuple((int(u), int(c), 1) for u in np.flatnonzero(fits) for c in choice)
        if counted:
            out.append(Rule(counted, 1, len(stage.rows), 0 if hard else 5))
    return out


def _counts(rule: Counted, stage: Stage, codes: Codes, partial: Codes, weight: int) -> list[Rule]:
    """Return the fair shares of one rule of balance, where what it holds within is settled."""
    steps = rule.steps[list(stage.factors)]
    others = rule.steps.copy()
    others[list(stage.factors)] = 0
    cells: dict[int, dict[tuple[int, int], int]] = {}
    totals = np.zeros(rule.members, dtype=np.intp)
    start = rule.base + codes @ others
    shift = partial @ steps
    for unit, rows in enumerate(stage.rows):
        for row in np.unique(rows):
            if not rule.rows[row]:
                continue
            for choice, cell in enumerate((start[row] + shift).tolist()):
                at = cells.setdefault(cell, {})
                at[unit, choice] = at.get((unit, choice), 0) + 1
            member = set(((start[row] + shift) // rule.versions).tolist())
            if len(member) > 1:
                return []  # what it holds within is being dealt out here: mended afterwards
            totals[member.pop()] += 1
    out = []
    for cell, counted in cells.items():
        total = int(totals[cell // rule.versions])
        own, version = divmod(cell, rule.versions)
        low, high = (int(ends[version]) for ends in rule.fair_of(own, total))
        triples = tuple((u, c, times) for (u, c), times in counted.items())
        out.append(Rule(triples, low, high, weight))
    return out
