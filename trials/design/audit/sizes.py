"""Changes of size to try: more units, more items, and what has to grow with them.

Nothing is promised here. Each change is tried on a plan drawn anew before anybody is told of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from trials.design.audit.view import Mend, View
from trials.design.growing import MOST_ROWS
from trials.design.treatments import amount
from trials.errors import PlanError
from trials.study import recipes, with_changes

if TYPE_CHECKING:
    from trials.study import Study

Sizes = tuple[tuple[tuple[str, ...], int], ...]  # keys of study.toml, and the number to write

MOST_STEPS = 4  # sizes looked at for one finding
LARGEST_PLAIN = 150  # items of the largest plan drawn only to try a remedy
MOST_TIMES = 10  # nobody is told to make more than ten times as many


def more_units(
    view: View, unit: str | None, least: int = 0, most: int = MOST_STEPS
) -> Iterator[Mend]:
    """Yield up to ``most`` larger numbers of a unit that share out evenly; ``needed``: in all."""
    if unit is None:
        yield from more_items(view, least, most)
        return
    have = view.units.count(unit)
    within = view.units.group(unit).within
    parents = 1 if within is None else view.units.count(within)
    levels = math.prod(len(f.levels) for f in view.plan.factors if view.unit[f.name] == unit)
    step = math.lcm(parents, levels)
    for members in _steps(have, least, step, most):
        items = _up(math.ceil(view.units.n * members / have), recipes(view.study))
        lines = resized(view, items, {unit: members})
        if lines:
            told = dict(lines).get(("groups", unit, "count"), have // parents)
            yield Mend(lines, {"needed": told * parents}, unit=unit)


def more_items(view: View, least: int = 0, most: int = MOST_STEPS) -> Iterator[Mend]:
    """Yield larger numbers of items, in whole copies of all recipes; ``needed`` is the total."""
    for items in _steps(view.units.n, least, recipes(view.study), most):
        lines = resized(view, items, {})
        if lines:
            yield Mend(lines, {"needed": items})


def every_size(view: View, unit: str | None) -> tuple[Mend, ...]:
    """Return all sizes up to ten times the present one at which a clear answer may be looked for.

    Step by step while a plan is small enough to be drawn anew, then in whole repeats.
    """
    have = view.units.count(unit)
    sizes: dict[Any, Mend] = {}
    for mend in more_units(view, unit, most=MOST_TIMES * have):
        items = _items_of(view, mend)
        if items > LARGEST_PLAIN:
            break
        facts = {**mend.facts, "items": items}
        sizes.setdefault(mend.lines, Mend(mend.lines, facts, unit=unit))
    known = max((mend.facts["needed"] for mend in sizes.values()), default=have)
    for times in range(2, MOST_TIMES + 1):
        if times * have > known and times * view.units.n <= MOST_ROWS:
            facts = {"needed": times * have, "items": times * view.units.n, "times": times}
            sizes[times] = Mend((), facts, repeats=times, unit=unit)
    return tuple(sorted(sizes.values(), key=lambda mend: int(mend.facts["needed"])))


def _items_of(view: View, mend: Mend) -> int:
    return _asked(with_changes(view.study, mend.lines))


def equal_items(view: View) -> Iterator[Mend]:
    """Yield the nearest numbers of items that make whole copies: the larger one first."""
    each = recipes(view.study)
    copies = view.units.n // each
    for items in ((copies + 1) * each, copies * each):
        lines = resized(view, items, {}) if items else None
        if lines:
            yield Mend(lines, {"needed": items})


def rearranged(view: View) -> Iterator[Mend]:
    """Yield other sizes at which groups and versions may fit together."""
    each = recipes(view.study)
    for group in view.units.groups:
        if group.within is None or group.name in view.unit.values():
            continue
        yield from more_units(view, group.name)
    for unit in dict.fromkeys(view.unit.values()):
        members = [len(g.members) for g in view.units.groups if unit is None or g.name != unit]
        step = math.lcm(each, *members)
        if unit is None and step <= MOST_TIMES * view.units.n:
            yield from more_items(view, _up(view.units.n + 1, step))
        yield from more_units(view, unit)


def resized(view: View, items: int, members: Mapping[str, int]) -> Sizes | None:
    """Return the lines that give a study so many items, and some groups so many members in all.

    Groups without room for the items grow too. None where it can't be said with such lines, or
    where the plan has another number of items than the study asks for.
    """
    study = view.study
    if any(group.sizes for group in study.groups) or _asked(study) != view.units.n:
        return None
    lines: list[tuple[tuple[str, ...], int]] = []
    for group in study.groups:
        have = view.units.count(group.name)
        parents = have // group.count
        want = members.get(group.name, have)
        if group.capacity is not None and items > group.capacity * want:
            applied = [f for f in view.plan.factors if view.unit[f.name] == group.name]
            levels = math.prod(len(f.levels) for f in applied)
            want = _up(math.ceil(items / group.capacity), math.lcm(parents, levels))
        if want == have:
            continue
        if want % parents or group.members or any(g.within == group.name for g in study.groups):
            return None
        lines.append((("groups", group.name, "count"), want // parents))
    if items != view.units.n:
        limits = _limits(study, items)
        if limits is None:
            return None
        lines += limits
    return tuple(lines)


def _limits(study: Study, items: int) -> list[tuple[tuple[str, ...], int]] | None:
    limits = study.limits
    lines: list[tuple[tuple[str, ...], int]] = []
    if limits.copies is not None:
        if items % recipes(study):
            return None
        lines.append((("limits", "copies"), items // recipes(study)))
    if limits.copies is None or (limits.items is not None and limits.items < items):
        lines.append((("limits", "items"), items))
    return lines


def _asked(study: Study) -> int:
    try:
        return amount(study).items
    except PlanError:
        return 0


def _steps(have: int, least: int, step: int, most: int) -> Iterator[int]:
    first = _up(max(have + 1, least), step)
    for place in range(most):
        if first + place * step <= MOST_TIMES * have:
            yield first + place * step


def _up(number: int, step: int) -> int:
    return -(-number // step) * step
