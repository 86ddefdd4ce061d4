"""The plan's own shuffle: how its layout was drawn, and how to draw others just as likely."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, permutations, product
from math import factorial, prod
from typing import Literal

import numpy as np

from trials.design.chain import BURN_IN, STEPS, Chain, Kept
from trials.design.factorials import Codes
from trials.design.planned import part_plans
from trials.design.symmetry import Count, Grid, count_layouts, find_grid
from trials.design.units import Units
from trials.design.values import Plan, PlanFactor, PlanPart, Shuffle, WorthRule
from trials.design.worth import WIDER
from trials.model.terms import term_name, treatment_terms
from trials.randomness import stream

MOST_RENAMINGS = 720
MOST_LISTED = 20_000
LARGEST = 10**300  # a count beyond it is said to be at least so large: no number of a file holds it
TRIED_PER_TERM = 3_000
SEEN, SEEN_PLAIN = 300, 60  # draws of a chain that a set is judged by; of a sketch's set
GLANCE = 100  # draws from which it is seen whether a set is large enough
ENOUGH = 20  # layouts of a term: with fewer no p of a test by shuffling is 0.05 or less

Exchanged = Literal["units", "units and levels"]


@dataclass(frozen=True)
class Moving:
    """The one factor that moves while all others are held; ``pair``: only two of its levels do."""

    factor: str
    pair: tuple[int, int] | None = None


@dataclass(frozen=True)
class Shuffler:
    """Everything needed to draw layouts from a plan's set.

    ``renamed`` gives for each factor whose levels may be renamed the levels that trade names.
    """

    units: Units
    factors: tuple[PlanFactor, ...]
    renamed: Mapping[str, tuple[int, ...]]
    grid: Grid | None
    chain: Chain | None

    @property
    def levels(self) -> dict[str, int]:
        """Number of levels of each factor."""
        return {factor.name: len(factor.levels) for factor in self.factors}

    def draw(self, start: Mapping[str, Codes], rng: np.random.Generator) -> dict[str, Codes]:
        """Return one layout from the set of ``start``, each as likely as any other."""
        if self.grid is None:
            return _need(self.chain).walk(start, BURN_IN, rng)
        exchange = self.grid.exchange(rng)
        return {name: self._new_names(name, rng)[codes[exchange]] for name, codes in start.items()}

    def only(self, moving: Moving, layout: Mapping[str, Codes]) -> Shuffler | None:
        """Return the part of the set in which one factor moves and the rest lies as in a layout.

        Its layouts are equally likely, given that the rest lies so: they are what some of the moves
        of the whole set make of one another. None for a pair of several levels of a chain.
        """
        factor, pair = moving.factor, moving.pair
        if self.grid is not None:
            held = dict(layout)
            held[factor] = np.zeros_like(layout[factor])
            if pair is not None:
                held[factor] = np.where(layout[factor] == pair[0], pair[1], layout[factor])
            grid = self.grid.holding(_combined(self.levels, held, list(held)))
            return replace(self, renamed={}, grid=grid)
        if pair is not None:
            return None
        return replace(self, renamed={}, chain=_need(self.chain).only(factor))

    def draws(
        self,
        observed: Mapping[str, Codes],
        count: int,
        rng: np.random.Generator,
        before: int | None = None,
    ) -> Iterator[dict[str, Codes]]:
        """Yield ``count`` layouts from the set that ``observed`` was drawn from.

        ``before``: how many of a chain come before ``observed``; None leaves it to chance.
        """
        if self.grid is None:
            yield from _need(self.chain).draws(observed, count, rng, before=before)
            return
        for _ in range(count):
            yield self.draw(observed, rng)

    def _new_names(self, factor: str, rng: np.random.Generator) -> Codes:
        names = np.arange(self.levels[factor], dtype=np.intp)
        if factor in self.renamed:
            free = np.array(self.renamed[factor], dtype=np.intp)
            names[free] = rng.permutation(free)
        return names


def _combined(
    levels: Mapping[str, int], layout: Mapping[str, Codes], names: Sequence[str]
) -> Codes:
    """Return one code for the versions that a position has of some factors, (positions,)."""
    code = np.zeros(len(next(iter(layout.values()))), dtype=np.intp)
    for name in names:
        code = code * levels[name] + layout[name]
    return code


def _need(chain: Chain | None) -> Chain:
    if chain is None:
        raise ValueError("a shuffle has either a grid or a chain")
    return chain


def make_shuffler(
    units: Units,
    factors: Sequence[PlanFactor],
    renamed: Mapping[str, tuple[int, ...]],
    kept: Kept,
) -> Shuffler:
    """Return the shuffle of some units: exchanges of places where complete, else the chain.

    Members that are meant to have versions of their own, or may not have some that others may,
    can't change places either.
    """
    barred = any(0 < units.having(ban).sum() < units.n for ban in kept.forbidden)
    own = barred or any(rule.each for rule in kept.balance)
    grid = None if own else find_grid(units)
    chain = None
    if grid is None:
        chain = Chain(units, factors, kept, renamed)
    return Shuffler(units, tuple(factors), renamed, grid, chain)


def wide_enough(
    shuffler: Shuffler, kept: Kept, start: Mapping[str, Codes], interactions: int
) -> tuple[Shuffler, Kept]:
    """Return a shuffle and its rules, the one of worth widened until it leaves enough for a test.

    Enough is 20 layouts of every term, or half of those that are seen without such a rule.
    Exchanges of places change no layout's worth: they need no rule.
    """
    if kept.worth is None or shuffler.chain is None:
        return shuffler, replace(kept, worth=None)
    terms = treatment_terms(tuple(start), interactions)

    def ruled(rule: WorthRule | None) -> tuple[Shuffler, list[int]]:
        rules = replace(kept, worth=rule)
        made = make_shuffler(shuffler.units, shuffler.factors, shuffler.renamed, rules)
        return made, _stories(_sample(made, start, GLANCE), terms)

    at, counts = ruled(kept.worth)
    if min(counts) >= ENOUGH:
        return at, kept
    wanted = [min(ENOUGH, count / 2) for count in ruled(None)[1]]
    rule = kept.worth
    for times in WIDER:
        if all(count >= least for count, least in zip(counts, wanted, strict=True)):
            break
        rule = rule.model_copy(update={"times": times})
        at, counts = ruled(rule)
    return at, replace(kept, worth=rule)


def describe(
    shuffler: Shuffler, layout: Mapping[str, Codes], kept: Kept, interactions: int, seen: int
) -> Shuffle:
    """Return the shuffle as the plan records it: kind, size, smallest p of each term.

    A chain's set is judged by ``seen`` draws.
    """
    terms = treatment_terms(tuple(layout), interactions)
    if shuffler.grid is None:
        size, smallest, exact = _judge_chain(shuffler, layout, terms, seen)
    else:
        size, smallest, exact = _judge_grid(shuffler, layout, terms)
    found = {"size": size, "smallest_p": smallest, "exact": exact}
    return declared(shuffler, kept).model_copy(update=found)


def declared(shuffler: Shuffler, kept: Kept) -> Shuffle:
    """Return the shuffle without the size of its set, which takes long to find out."""
    relabelled = tuple(shuffler.renamed)
    exchanged: Exchanged = "units and levels" if relabelled else "units"
    return Shuffle(
        kind="chain" if shuffler.grid is None else exchanged,
        size=None,
        smallest_p={},
        relabelled=relabelled,
        balance=kept.balance,
        forbidden=kept.forbidden,
        required=kept.required,
        worth=kept.worth,
    )


def _judge_grid(
    shuffler: Shuffler, layout: Mapping[str, Codes], terms: Sequence[tuple[str, ...]]
) -> tuple[float, dict[str, float | None], bool]:
    whole = _count(shuffler, layout, tuple(layout), shuffler.renamed)
    renamings = prod(factorial(len(free)) for free in shuffler.renamed.values())
    size = whole.layouts * renamings // whole.alike
    every = {name: tuple(range(levels)) for name, levels in shuffler.levels.items()}
    smallest: dict[str, float | None] = {}
    exact = whole.exact and size <= LARGEST
    for term in terms:
        count = _count(shuffler, layout, term, {name: every[name] for name in term}, TRIED_PER_TERM)
        smallest[term_name(term)] = min(1.0, count.alike / count.layouts)
        exact &= count.exact or count.alike / count.layouts < 0.001
    return float(min(size, LARGEST)), smallest, exact


def _count(
    shuffler: Shuffler,
    layout: Mapping[str, Codes],
    names: Sequence[str],
    free: Mapping[str, tuple[int, ...]],
    most: int = MOST_LISTED,
) -> Count:
    """Count the layouts of some factors; ``free`` says which levels may trade names."""
    grid = shuffler.grid
    if grid is None:
        raise ValueError("only a complete structure can be counted")
    levels = shuffler.levels
    code = _combined(levels, layout, names)
    held = None if grid.held is None else grid.held.items
    ways = prod(factorial(len(free.get(name, ()))) for name in names)
    if ways > MOST_RENAMINGS:
        identity = [tuple(range(prod(levels[name] for name in names)))]
        count = count_layouts(grid, code[grid.places], identity, most, held)
        return Count(count.layouts, ways, False)
    renamings = _renamings([(levels[name], free.get(name, ())) for name in names])
    return count_layouts(grid, code[grid.places], renamings, most, held)


def _renamings(factors: Sequence[tuple[int, tuple[int, ...]]]) -> list[tuple[int, ...]]:
    """Return every way of renaming combined levels, the one that changes nothing first."""
    single = []
    for levels, free in factors:
        ways = []
        for order in permutations(free):
            renamed = list(range(levels))
            for place, level in zip(free, order, strict=True):
                renamed[place] = level
            ways.append(tuple(renamed))
        single.append(ways)
    out = []
    for choice in product(*single):
        combined = [0]
        for names in choice:
            combined = [c * len(names) + new for c in combined for new in names]
        out.append(tuple(combined))
    return out


def _judge_chain(
    shuffler: Shuffler, layout: Mapping[str, Codes], terms: Sequence[tuple[str, ...]], seen: int
) -> tuple[float, dict[str, float | None], bool]:
    """Judge the chain's set from below, by what a short run visits."""
    visited = _sample(shuffler, layout, seen)
    different = {b"".join(codes.tobytes() for codes in one.values()) for one in visited}
    counts = _stories(visited, terms)
    smallest: dict[str, float | None] = {
        term_name(term): 1 / count for term, count in zip(terms, counts, strict=True)
    }
    return float(len(different)), smallest, False


def _sample(
    shuffler: Shuffler, layout: Mapping[str, Codes], count: int
) -> list[Mapping[str, Codes]]:
    chain, rng = _need(shuffler.chain), stream(0, "size of the set")
    return [layout, *chain.draws(layout, count, rng, 2 * STEPS)]


def _stories(layouts: Sequence[Mapping[str, Codes]], terms: Sequence[tuple[str, ...]]) -> list[int]:
    """Return for each term how many layouts differ in more than the names of levels."""
    known = [{name: _partition(codes) for name, codes in one.items()} for one in layouts]
    return [len({tuple(one[name] for name in term) for one in known}) for term in terms]


def _partition(codes: Codes) -> bytes:
    """Return the same value for codes that differ only in the names of levels."""
    _, first, inverse = np.unique(codes, return_index=True, return_inverse=True)
    order: Codes = np.argsort(np.argsort(first))
    return order[inverse].tobytes()


@dataclass(frozen=True)
class Alone:
    """The layouts of a plan's set in which only one factor moves.

    ``size``: how many there are; ``smallest_p``: of a test against all of them. ``exact`` False:
    ``size`` is a lower and ``smallest_p`` an upper bound. ``chained``: they are drawn by a chain.
    """

    size: float
    smallest_p: float
    exact: bool
    chained: bool = False

    @property
    def enough(self) -> bool:
        """Whether a test against them can have a p of 0.05 or less."""
        return self.smallest_p * ENOUGH <= 1 + 1e-9


def moving_alone(plan: Plan, moving: Moving) -> Alone:
    """Count the layouts in which one factor moves and every other one lies as it does in the plan.

    Those of a chain are judged by a short run. A part that makes up for what earlier ones lack
    depends on how these were dealt: then nothing moves alone.
    """
    if any(part.makes_up for part in plan.parts):
        return Alone(1.0, 1.0, exact=False)
    if plan.parts:
        parts = [moving_alone(part, moving) for part in part_plans(plan)]
        size = min(prod(part.size for part in parts), float(LARGEST))
        chained = any(part.chained for part in parts)
        return Alone(size, prod(part.smallest_p for part in parts), False, chained)
    layout, factor = plan_layout(plan), moving.factor
    shuffler = plan_shuffler(plan).only(moving, layout)
    if shuffler is None:
        return Alone(1.0, 1.0, exact=False)
    if shuffler.grid is None:
        size, smallest, _ = _judge_chain(shuffler, layout, [(factor,)], SEEN)
        return Alone(size, smallest[factor] or 1.0, exact=False, chained=True)
    free = {factor: moving.pair or tuple(range(shuffler.levels[factor]))}
    count = _count(shuffler, layout, (factor,), free)
    smallest_p = min(1.0, count.alike / count.layouts)
    return Alone(float(min(count.layouts, LARGEST)), smallest_p, count.exact)


def plan_units(plan: Plan) -> Units:
    """Return where every row of a plan belongs, positions in the order of its rows."""
    codes = {}
    for group in plan.groups:
        index = {member: place for place, member in enumerate(group.members)}
        codes[group.name] = np.array([index[row.groups[group.name]] for row in plan.rows], np.intp)
    return Units(len(plan.rows), plan.groups, codes)


def plan_layout(plan: Plan) -> dict[str, Codes]:
    """Return the level codes of a plan's factors, shape (rows,) each, in the order of its rows."""
    out = {}
    for factor in plan.factors:
        index = {level: place for place, level in enumerate(factor.levels)}
        out[factor.name] = np.array([index[row.factors[factor.name]] for row in plan.rows], np.intp)
    return out


def plan_shuffler(plan: Plan, moving: Moving | None = None) -> Shuffler:
    """Return the shuffle that a plan records; ``moving``: of one factor, all others held.

    Raises
    ------
    ValueError : there is no such part of the shuffle, see :meth:`Shuffler.only`.
    """
    renamed = {
        factor.name: free_levels(factor)
        for factor in plan.factors
        if factor.name in plan.shuffle.relabelled
    }
    rules = plan.shuffle
    kept = Kept(rules.balance, rules.forbidden, rules.required, rules.worth)
    whole = make_shuffler(plan_units(plan), plan.factors, renamed, kept)
    part = whole if moving is None else whole.only(moving, plan_layout(plan))
    if part is None:
        raise ValueError("a chain moves all levels of a factor or none")
    return part


def free_levels(factor: PlanFactor) -> tuple[int, ...]:
    """Return the levels that may trade names: all but the control of a category."""
    if factor.kind != "category":
        return ()
    return tuple(place for place, level in enumerate(factor.levels) if level != factor.control)


def shuffles(
    plan: Plan, rng: np.random.Generator, count: int, moving: Moving | None = None
) -> Iterator[dict[str, Codes]]:
    """Yield layouts drawn from exactly the plan's shuffle, for tests by shuffling.

    Parameters
    ----------
    count : how many to draw. The plan's own layout is not added to them; the p-value of a statistic
        is (b + 1) / (count + 1), with b the draws at least as extreme as the plan's own.
    moving : what to shuffle, all else held where it is; None: everything.

    Yields
    ------
    For each factor level codes of shape (rows,), in the order of ``plan.rows``; a code is an index
    into the factor's ``levels``. Groups stay as they are.
    """
    if not plan.parts:
        yield from plan_shuffler(plan, moving).draws(plan_layout(plan), count, rng)
        return
    # the plan's own layout has one place in the whole line, the same in every part
    before = int(rng.integers(count + 1))
    lines = [
        plan_shuffler(part, moving).draws(plan_layout(part), count, rng, before)
        for part in part_plans(plan)
    ]
    for layouts in zip(*lines, strict=True):
        yield {f.name: np.concatenate([one[f.name] for one in layouts]) for f in plan.factors}


def all_layouts(
    plan: Plan,
    factors: Sequence[str] | None = None,
    most: int = MOST_LISTED,
    moving: Moving | None = None,
) -> dict[str, Codes] | None:
    """Return every layout of some factors in the plan's shuffle once; the plan's own comes first.

    All are equally likely. None where there are more than ``most``, or the set is only known by its
    chain. ``moving``: only those in which one factor moves, as :func:`shuffles` does.

    Returns
    -------
    For each factor level codes of shape (layouts, rows), in the order of ``plan.rows``.
    """
    if plan.parts:
        parts = [all_layouts(part, factors, most, moving) for part in part_plans(plan)]
        return _products(parts, most)
    shuffler = plan_shuffler(plan, moving)
    if shuffler.grid is None:
        return None
    names = [f.name for f in plan.factors] if factors is None else list(factors)
    if not names:
        return {}
    own = plan_layout(plan)
    most_levels = max(shuffler.levels[name] for name in names)
    small = np.min_scalar_type(most_levels)  # few bytes a layout, for there may be many
    start = np.array([own[name] for name in names], dtype=small)
    steps = _steps(shuffler, names, most_levels)
    fresh = [start.tobytes()]
    seen = dict.fromkeys(fresh)
    while fresh:
        at = np.frombuffer(fresh.pop(), dtype=small).reshape(start.shape)
        then = steps.after(at).tobytes()
        for place in range(0, len(then), start.nbytes):
            key = then[place : place + start.nbytes]
            if key not in seen:
                if len(seen) == most:
                    return None
                seen[key] = None
                fresh.append(key)
    every = np.frombuffer(b"".join(seen), dtype=small).astype(np.intp).reshape(-1, *start.shape)
    return {name: every[:, place] for place, name in enumerate(names)}


@dataclass(frozen=True)
class _Steps:
    """The simplest changes of a layout of some factors: together they make all others.

    ``moves``, (moves, rows), take each row's versions from another; trade t lets two levels of
    factor ``traded[t]`` change names: ``names``, (trades, levels), holds the new ones.
    """

    moves: Codes
    traded: Codes
    names: Codes

    def after(self, layout: Codes) -> Codes:
        """Return the layout, (factors, rows), after each change: (changes, factors, rows)."""
        moved = layout[:, self.moves].transpose(1, 0, 2)
        renamed = np.repeat(layout[None], len(self.traded), axis=0)
        each = np.arange(len(self.traded))
        renamed[each, self.traded] = self.names[each[:, None], layout[self.traded]]
        return np.concatenate([moved, renamed])


def _steps(shuffler: Shuffler, names: Sequence[str], levels: int) -> _Steps:
    """Return the simplest changes of some factors of a complete structure, of so many levels."""
    grid = shuffler.grid
    moves = grid.steps() if grid is not None else []
    trades = [
        (names.index(name), one, other)
        for name, free in shuffler.renamed.items()
        if name in names
        for one, other in combinations(free, 2)
    ]
    new = np.tile(np.arange(levels, dtype=np.intp), (len(trades), 1))
    for row, (_, one, other) in zip(new, trades, strict=True):
        row[[one, other]] = other, one
    return _Steps(
        np.array(moves, dtype=np.intp).reshape(len(moves), shuffler.units.n),
        np.array([factor for factor, *_ in trades], dtype=np.intp),
        new,
    )


def _products(parts: Sequence[dict[str, Codes] | None], most: int) -> dict[str, Codes] | None:
    """Return every layout of one part with every one of the others; None if too many."""
    known = [part for part in parts if part is not None]
    sizes = [len(next(iter(part.values()))) for part in known]
    if len(known) < len(parts) or prod(sizes) > most:
        return None
    places = np.indices(sizes).reshape(len(sizes), -1)
    return {
        name: np.concatenate(
            [part[name][place] for part, place in zip(known, places, strict=True)], axis=1
        )
        for name in known[0]
    }


def describe_parts(parts: Sequence[PlanPart]) -> Shuffle:
    """Return the shuffle of a plan whose parts are shuffled each by itself.

    The smallest p of a term is at most the product of those of the parts: what can be told from a
    layout in one part can be told in the whole.
    """
    sizes = [part.shuffle.size for part in parts]
    size = None if None in sizes else min(prod(s for s in sizes if s is not None), float(LARGEST))
    smallest: dict[str, float | None] = {}
    for term in parts[0].shuffle.smallest_p:
        found = [part.shuffle.smallest_p.get(term) for part in parts]
        known = [p for p in found if p is not None]
        smallest[term] = prod(known) if known else None
    return Shuffle(kind="parts", size=size, smallest_p=smallest, exact=False)
