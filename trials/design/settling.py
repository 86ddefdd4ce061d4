"""What chance settles: who gets what, in which order, under which code."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trials.design.allocation import allocate, check_units
from trials.design.chain import Kept
from trials.design.factorials import Codes
from trials.design.order import check_count, item_codes, making_order, measuring_order
from trials.design.planned import plan_factors
from trials.design.searched import STARTS, Searched, better, can_tell, choose, is_even, try_layouts
from trials.design.shuffle import (
    SEEN,
    SEEN_PLAIN,
    Shuffler,
    declared,
    describe,
    free_levels,
    make_shuffler,
    wide_enough,
)
from trials.design.symmetry import find_grid
from trials.design.tied import check_apart
from trials.design.treatments import amount
from trials.design.units import Units, make_units
from trials.design.values import PlanFactor, PlanRow, SearchReport, Shuffle
from trials.progress import Step, silent
from trials.randomness import stream
from trials.study import recipes
from trials.study.bans import all_bans

if TYPE_CHECKING:
    from trials.study import Study

NO_SEED = 0  # of a preview, which is shown and thrown away
SOON_SPREAD = 200  # items times recipes up to which a layout is soon spread evenly


@dataclass(frozen=True)
class Drawn:
    """What has been settled by chance: places, versions, and the shuffle they came from."""

    units: Units
    factors: tuple[PlanFactor, ...]
    layout: Mapping[str, Codes]
    shuffle: Shuffle
    search: SearchReport | None = None


@dataclass(frozen=True)
class Dealt:
    """Who gets what, dealt out by chance, with what it was found and shuffled by."""

    units: Units
    factors: tuple[PlanFactor, ...]
    layout: Mapping[str, Codes]
    first: Searched
    shuffler: Shuffler
    kept: Kept


def settle(
    study: Study, seed: int, items: int | None, tell: Step = silent, *, plain: bool = False
) -> Drawn:
    """Return where everything goes, drawn from the seed; ``tell`` hears how the search goes on.

    ``plain`` True: a fair layout found at once, where there is one, without looking for a better.

    Raises
    ------
    PlanError : the study asks for something impossible.
    """
    drawn, judged = begin(study, seed, items, tell, plain=plain)
    return replace(drawn, shuffle=judged())


def begin(
    study: Study,
    seed: int,
    items: int | None,
    tell: Step = silent,
    *,
    plain: bool = False,
    starts: int = STARTS,
) -> tuple[Drawn, Callable[[], Shuffle]]:
    """Return what :func:`settle` does but for the size of the shuffle's set, and what tells it.

    Parameters
    ----------
    starts : layouts from which a search sets out, where one is needed.

    Raises
    ------
    PlanError : the study asks for something impossible.
    """
    dealt = deal(study, seed, items, tell, plain=plain, starts=starts)
    report = None if plain else dealt.first.report(dealt.layout, stream(seed, "robustness"))
    rules = declared(dealt.shuffler, dealt.kept)
    seen = SEEN_PLAIN if plain else SEEN

    def judged() -> Shuffle:
        return _shuffle(study, dealt, seen)

    return Drawn(dealt.units, dealt.factors, dealt.layout, rules, report), judged


def deal(
    study: Study,
    seed: int,
    items: int | None,
    tell: Step = silent,
    *,
    plain: bool = False,
    starts: int = STARTS,
) -> Dealt:
    """Return who gets what as :func:`begin` does, without saying how good it is.

    Raises
    ------
    PlanError : the study asks for something impossible.
    """
    units, factors = _begun(study, seed, items)
    found = 1 if plain else starts
    first = _first(study, units, factors, seed, tell, plain=plain, starts=found)
    start, limits = first.allocation.codes, study.limits
    kept = Kept(first.allocation.balance, all_bans(study), limits.required, first.worth())
    shuffler = make_shuffler(units, factors, _renamed(factors, kept), kept)
    if not plain:
        shuffler, kept = wide_enough(shuffler, kept, start, study.analysis.interactions)
    layout = shuffler.draw(start, stream(seed, "shuffle"))
    return Dealt(units, factors, layout, first, shuffler, kept)


def try_out(study: Study, items: int | None = None) -> int:
    """Return how many items a plan of this study has, having found a layout for it.

    Small plans go the way of :func:`settle` up to the shuffle. For others, which take long to
    spread evenly, any layout that may be made and leaves nothing open will do.

    Raises
    ------
    PlanError : the study asks for something impossible.
    """
    units, factors = _begun(study, NO_SEED, items)
    if is_even(study, units.n):
        check_units(study, units)  # the versions are then spread as evenly as can be
    elif units.n * recipes(study) <= SOON_SPREAD:
        _first(study, units, factors, NO_SEED, silent, plain=True, starts=1)
    else:
        try_layouts(study, units, factors, stream(NO_SEED, "allocation"))
    return units.n


def _begun(study: Study, seed: int, items: int | None) -> tuple[Units, tuple[PlanFactor, ...]]:
    """Return where the items belong, and the factors that they get versions of."""
    count = amount(study, items).items
    check_count(count)
    check_apart(study)
    return make_units(study, count, stream(seed, "units")), plan_factors(study)


def _first(
    study: Study,
    units: Units,
    factors: tuple[PlanFactor, ...],
    seed: int,
    tell: Step,
    *,
    plain: bool,
    starts: int,
) -> Searched:
    """Return the layout that the shuffle sets out from."""
    rng = stream(seed, "allocation")
    if factors and not is_even(study, units.n):
        return choose(study, units, factors, rng, tell, starts=starts)
    # where places can't be exchanged freely, each rule more makes the set of layouts smaller
    grid = find_grid(units) is not None
    even = allocate(study, units, rng, finer=grid and not plain)
    if plain or not factors or not can_tell(study, units.n):
        return Searched(even)
    return better(study, units, factors, even, stream(seed, "search"))


def _renamed(factors: tuple[PlanFactor, ...], kept: Kept) -> dict[str, tuple[int, ...]]:
    fixed = kept.named()
    free = {factor.name: free_levels(factor) for factor in factors if factor.name not in fixed}
    return {name: levels for name, levels in free.items() if len(levels) > 1}


def _shuffle(study: Study, dealt: Dealt, seen: int) -> Shuffle:
    if not dealt.layout:
        return Shuffle(kind="units", size=1.0, smallest_p={})
    return describe(dealt.shuffler, dealt.layout, dealt.kept, study.analysis.interactions, seen)


def settled_rows(
    study: Study, drawn: Drawn, seed: int, taken: Collection[str] = ()
) -> tuple[PlanRow, ...]:
    """Return the rows of the plan in the order of making; no code is one of ``taken``."""
    units = drawn.units
    made = making_order(study, units, stream(seed, "making order"))
    measured = measuring_order(study, units, stream(seed, "measuring order"))
    place = np.empty(units.n, dtype=np.intp)
    place[measured] = np.arange(units.n)
    labels = {member for group in units.groups for member in group.members} | set(taken)
    codes = item_codes(units.n, stream(seed, "codes"), labels)
    return tuple(
        PlanRow(
            run=run,
            measure=int(place[position]) + 1,
            item=codes[run - 1],
            groups={g.name: g.members[units.codes[g.name][position]] for g in units.groups},
            factors={f.name: f.levels[drawn.layout[f.name][position]] for f in drawn.factors},
        )
        for run, position in enumerate(made, start=1)
    )
