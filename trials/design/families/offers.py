"""Which textbook families fit: with exact numbers of items, and what each gives up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import prod

import numpy as np

from trials.design.factorials import Codes, full_factorial
from trials.design.families.checks import term_of
from trials.design.families.confounded import MOST_FACTORS, confounded
from trials.design.families.control import control_counts
from trials.design.families.fractions import fraction
from trials.design.families.generators import fraction_sizes
from trials.design.families.incomplete import incomplete_blocks
from trials.design.families.recognise import recognise
from trials.design.families.screening import SIZES, screening
from trials.design.families.seen import Seen
from trials.design.families.squares import latin_squares
from trials.design.families.values import Offer

Pair = tuple[str, str]

MOST_RECIPES = 1_000  # of a whole factorial that is still offered


@dataclass(frozen=True)
class Wanted:
    """What a plan is wanted for.

    Parameters
    ----------
    levels : number of levels of each factor, in the order of the study.
    items : how many can be made.
    pairs : pairs of factors whose joint effect is to be told.
    groups : sizes of the members of each group, in items.
    sites : the group that a factor is applied to, for those that are.
    control : factors with a control; level 0 stands for it in the recipes of an offer.
    """

    levels: Mapping[str, int]
    items: int
    pairs: tuple[Pair, ...] = ()
    groups: Mapping[str, tuple[int, ...]] | None = None
    sites: Mapping[str, str] | None = None
    control: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The factors."""
        return tuple(self.levels)

    @property
    def recipes(self) -> int:
        """How many combinations of levels there are."""
        return prod(self.levels.values())


def offer(wanted: Wanted, beyond: int = 0) -> tuple[Offer, ...]:
    """Return the textbook families that fit, those that tell most first.

    Parameters
    ----------
    beyond : families that need up to so many items more are offered as well, with ``spare`` below
        zero.

    Returns
    -------
    First those that keep every wanted pair, then by how little they give up, then by run count.
    Families in groups take one group at a time; a plan over several groups is searched for.

    Examples
    --------
    >>> for one in offer(Wanted(dict.fromkeys("abcde", 2), items=20)):
    ...     print(one.runs, one.family.textbook, one.family.gives_up[:2])
    16 two-level fractional factorial 2^(5-1), resolution V, completely randomised ()
    8 two-level fractional factorial 2^(5-2), resolution III, completely randomised ('a:b', 'a:c')
    12 Plackett-Burman design in 12 runs, completely randomised ('a:b', 'a:c')
    """
    if not wanted.levels:
        return ()
    every = _split(wanted) if _several(wanted) else _plain(wanted)
    found = [one for one in every if one.spare >= -beyond]
    different = {(one.family.textbook, one.family.gives_up, one.runs): one for one in found}
    return tuple(sorted(different.values(), key=_rank))


def _rank(one: Offer) -> tuple[int, int, int, bool, int]:
    family = one.family
    return (
        len(one.unclear),
        len(family.gives_up) + len(family.partly),
        _mixed_singles(one),
        one.spare < 0,
        one.runs,
    )


def _mixed_singles(one: Offer) -> int:
    """Return how many single factors are mixed up with a pair, wholly or in part."""
    if one.family.treatments == "plackett_burman" and one.recipes is not None:
        return int(one.recipes.shape[1])
    return sum(":" not in term for terms in one.family.mixed for term in terms)


def _several(wanted: Wanted) -> bool:
    return len({(wanted.sites or {}).get(name) for name in wanted.names}) > 1


def _plain(wanted: Wanted) -> Iterator[Offer]:
    """Yield the families of factors that are all applied to items."""
    if len(wanted.names) == 1:
        yield from _one_factor(wanted)
        return
    if wanted.recipes <= MOST_RECIPES:
        whole = full_factorial(list(wanted.levels.values()))
        yield from _alone(wanted, whole)
        yield from _in_whole_groups(wanted, whole)
        yield from _in_small_groups(wanted)
    if set(wanted.levels.values()) == {2}:
        yield from _fractions(wanted)
        yield from _screenings(wanted)


def _seen(wanted: Wanted, recipes: Codes, groups: Mapping[str, Codes]) -> Seen:
    return Seen(
        levels=wanted.levels,
        codes={name: recipes[:, place] for place, name in enumerate(wanted.names)},
        groups=groups,
        control=dict.fromkeys(wanted.control, 0),
    )


def _made(wanted: Wanted, recipes: Codes, copies: int) -> Offer:
    """Return the offer of some recipes without groups."""
    family = recognise(_seen(wanted, recipes, {}))
    runs = copies * len(recipes)
    return Offer(
        family,
        runs,
        copies,
        wanted.items - runs,
        unclear=_unclear(wanted, family.gives_up),
        recipes=recipes,
    )


def _blocked(wanted: Wanted, group: str, recipes: Codes, block: Codes, copies: int) -> Offer:
    """Return the offer of some recipes in blocks, once or several times over."""
    family = recognise(_seen(wanted, recipes, {group: block}))
    runs = copies * len(recipes)
    return Offer(
        family,
        runs,
        copies,
        wanted.items - runs,
        group=group,
        blocks=copies * (int(block.max()) + 1),
        unclear=_unclear(wanted, family.gives_up),
        recipes=recipes,
        block=block,
    )


def _unclear(wanted: Wanted, gives_up: Sequence[str]) -> tuple[str, ...]:
    pairs = (term_of(pair, wanted.names) for pair in wanted.pairs)
    return tuple(pair for pair in pairs if pair in gives_up)


def _alone(wanted: Wanted, recipes: Codes) -> Iterator[Offer]:
    """Yield recipes without groups, as many copies as fit."""
    yield _made(wanted, recipes, max(1, wanted.items // len(recipes)))


def _in_whole_groups(wanted: Wanted, recipes: Codes) -> Iterator[Offer]:
    """Yield recipes in groups that hold all of them."""
    for group, sizes in (wanted.groups or {}).items():
        each = min(sizes) // len(recipes)
        if len(sizes) < 2 or each < 1:
            continue
        members = max(2, min(len(sizes), wanted.items // (each * len(recipes))))
        block = np.repeat(np.arange(members, dtype=np.intp), each * len(recipes))
        yield _blocked(wanted, group, np.tile(recipes, (members * each, 1)), block, 1)


def _one_factor(wanted: Wanted) -> Iterator[Offer]:
    versions = wanted.recipes
    single = np.arange(versions, dtype=np.intp)[:, None]
    yield from _alone(wanted, single)
    yield from _in_whole_groups(wanted, single)
    if wanted.control and versions > 2 and wanted.items > versions:
        counts = control_counts(versions - 1, wanted.items)
        yield _made(wanted, np.repeat(single, counts, axis=0), 1)
        for group, sizes in (wanted.groups or {}).items():
            if len(sizes) > 1 and min(sizes) > versions:
                inside = np.repeat(single, control_counts(versions - 1, min(sizes)), axis=0)
                block = np.repeat(np.arange(len(sizes), dtype=np.intp), len(inside))
                yield _blocked(wanted, group, np.tile(inside, (len(sizes), 1)), block, 1)
    for group, sizes in (wanted.groups or {}).items():
        design = incomplete_blocks(versions, min(sizes), most=len(sizes))
        if design is not None:
            codes, copies = design.codes, max(1, len(sizes) // design.blocks)
            copies = max(1, min(copies, wanted.items // len(codes)))
            yield _blocked(wanted, group, codes[:, 1:], codes[:, 0], copies)
    for row, column in combinations(wanted.groups or {}, 2):
        square = _square(wanted, row, column)
        if square is not None:
            yield square


def _square(wanted: Wanted, row: str, column: str) -> Offer | None:
    """Return a Latin square over two groups that cross, where both have as many members."""
    versions = wanted.recipes
    groups = wanted.groups or {}
    if not len(groups[row]) == len(groups[column]) == versions > 2:
        return None
    if min(*groups[row], *groups[column]) < versions:
        return None
    codes = latin_squares(versions, np.random.default_rng(0)).codes
    seen = _seen(wanted, codes[:, 3:], {row: codes[:, 1], column: codes[:, 2]})
    family = recognise(seen)
    return Offer(
        family,
        len(codes),
        1,
        wanted.items - len(codes),
        group=f"{row} x {column}",
        blocks=versions,
        recipes=codes[:, 3:],
        block=codes[:, 1],
    )


def _in_small_groups(wanted: Wanted) -> Iterator[Offer]:
    """Yield all recipes in groups too small for them, where a scheme gives up little."""
    levels = set(wanted.levels.values())
    if len(levels) > 1:
        return
    (count,) = levels
    if len(wanted.names) > MOST_FACTORS.get(count, 0):
        return
    for group, sizes in (wanted.groups or {}).items():
        blocks = 1
        while wanted.recipes > blocks * min(sizes):
            blocks *= count
        if blocks == 1 or blocks > len(sizes):  # room for all, or not enough groups
            continue
        found = confounded(wanted.names, blocks, count, wanted.pairs)
        if found is not None:
            copies = min(len(sizes) // blocks, wanted.items // wanted.recipes)
            yield _blocked(wanted, group, found.codes, found.block, max(1, copies))


def _fractions(wanted: Wanted) -> Iterator[Offer]:
    for runs in fraction_sizes(len(wanted.names)):
        plain = fraction(wanted.names, runs)
        if plain is None:
            continue
        # with twice the runs there is a larger fraction, or the whole, that tells more
        first = _made(wanted, plain.codes, 1)
        yield first
        yield from _in_whole_groups(wanted, plain.codes)
        if first.unclear:
            other = fraction(wanted.names, runs, wanted.pairs)
            if other is not None:
                yield _made(wanted, other.codes, 1)


def _screenings(wanted: Wanted) -> Iterator[Offer]:
    for runs in SIZES:
        if len(wanted.names) < 4 or runs >= wanted.recipes:
            continue
        table = screening(wanted.names, runs)
        if table is not None:
            yield _made(wanted, table.codes, 1)
            return  # a larger table tells no more about pairs


def _split(wanted: Wanted) -> Iterator[Offer]:
    """Yield the split-plot of two unit sizes: all recipes of the small units in every large one."""
    sites = wanted.sites or {}
    large = dict.fromkeys(site for name in wanted.names if (site := sites.get(name)))
    if len(large) != 1 or wanted.recipes > MOST_RECIPES:
        return
    (group,) = large
    whole = full_factorial([wanted.levels[n] for n in wanted.names if n in sites])
    inner = full_factorial([wanted.levels[n] for n in wanted.names if n not in sites])
    sizes = (wanted.groups or {}).get(group, ())
    if not sizes or len(sizes) < len(whole):
        return
    each = min(sizes) // len(inner)
    if each < 1:
        return
    members = len(sizes) // len(whole) * len(whole)
    while members > len(whole) and members * each * len(inner) > wanted.items:
        members -= len(whole)
    each = max(1, min(each, wanted.items // (members * len(inner))))
    block = np.repeat(np.arange(members, dtype=np.intp), each * len(inner))
    inside = np.tile(inner, (members * each, 1))
    outside = np.tile(np.repeat(whole, each * len(inner), axis=0), (members // len(whole), 1))
    columns = {n: outside[:, i] for i, n in enumerate(n for n in wanted.names if n in sites)}
    columns |= {n: inside[:, i] for i, n in enumerate(n for n in wanted.names if n not in sites)}
    recipes = np.column_stack([columns[name] for name in wanted.names])
    seen = replace(_seen(wanted, recipes, {group: block}), sites=sites)
    yield Offer(
        recognise(seen),
        len(recipes),
        1,
        wanted.items - len(recipes),
        group=group,
        blocks=members,
        recipes=recipes,
        block=block,
    )
