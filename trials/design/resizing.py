"""Other numbers of items for a study whose groups say how many items each member holds.

Nothing is promised here: each change is tried on a plan drawn anew before anybody is told of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from trials.study.check_groups import members_in_all

if TYPE_CHECKING:
    from trials.study import Study, StudyGroup

Lines = tuple[tuple[tuple[str, ...], Any], ...]
Tried = tuple[str, Lines, str]  # the kind of change, its lines, and the name of what changes

LARGER = 1.5  # times the items of a plan that is made larger for the sake of items
FEWEST_LEVELS = 3  # of a factor that can do without one


def sized_lines(study: Study, items: int, members: Mapping[str, int]) -> Lines | None:
    """Return the lines that give a study so many items, and some groups so many members in all.

    The smallest sizes grow first, the largest shrink first. Groups without sizes grow where they
    have no room. None where it can't be so.

    Examples
    --------
    >>> from trials.study import Response, Study, StudyGroup
    >>> team = StudyGroup(name="team", count=3, sizes=(5, 4, 4))
    >>> study = Study(title="", question="", factors=(), responses=(Response(name="y"),),
    ...               groups=(team,))
    >>> sized_lines(study, 15, {})
    ((('groups', 'team', 'sizes'), (5, 5, 5)),)
    """
    lines: list[tuple[tuple[str, ...], Any]] = []
    for group in study.groups:
        if group.sizes:
            continue
        want = _members(study, group, items, members)
        parents = members_in_all(study, group.name) // group.count
        if want == group.count * parents:
            continue
        if want % parents or group.members or any(g.within == group.name for g in study.groups):
            return None
        lines.append((("groups", group.name, "count"), want // parents))
    sizes = sizes_lines(study, items)
    if sizes is None:
        return None
    lines += sizes
    if study.limits.copies is not None:
        lines.append((("limits", "copies"), None))
    if study.limits.items is not None and study.limits.items < items:
        lines.append((("limits", "items"), items))
    return tuple(lines)


def _members(study: Study, group: StudyGroup, items: int, members: Mapping[str, int]) -> int:
    """Return how many members a group without sizes has in all, once there is room."""
    have = members_in_all(study, group.name)
    want = members.get(group.name, have)
    if group.capacity is not None and items > group.capacity * want:
        step = math.lcm(have // group.count, _versions(study, group.name))
        want = -(-math.ceil(items / group.capacity) // step) * step
    return want


def _versions(study: Study, unit: str | None) -> int:
    return math.prod(len(f.levels) for f in study.factors if f.applied_to == unit)


def sizes_lines(study: Study, items: int) -> list[tuple[tuple[str, ...], Any]] | None:
    """Return the lines of the sizes that change so that they add up; None where they can't.

    The sizes inside a group follow its own.
    """
    done: dict[str, list[int]] = {}
    lines: list[tuple[tuple[str, ...], Any]] = []
    for group in sorted(study.groups, key=lambda g: study.path(g.name).count("/")):
        if not group.sizes:
            continue
        old = list(group.sizes) * (members_in_all(study, group.name) // len(group.sizes))
        outer = [name for name in study.path(group.name).split("/")[:-1] if name in done]
        whole = done[outer[-1]] if outer else [items]
        each = len(old) // len(whole)
        new: list[int] = []
        for place, total in enumerate(whole):
            part = fitted(old[place * each : (place + 1) * each], total, group.capacity)
            if part is None:
                return None
            new += part
        done[group.name] = new
        if new != old:
            short = new[: len(group.sizes)]
            alike = short * (len(new) // len(short)) == new
            lines.append((("groups", group.name, "sizes"), tuple(short if alike else new)))
    return lines


def fitted(sizes: Sequence[int], total: int, capacity: int | None) -> list[int] | None:
    """Return sizes that add up to a total: the smallest grow, the largest shrink.

    None where one would be empty or hold more than fits.

    Examples
    --------
    >>> fitted([5, 4, 4], 15, None), fitted([5, 4, 4], 11, None), fitted([5, 4, 4], 16, 5)
    ([5, 5, 5], [3, 4, 4], None)
    """
    out = list(sizes)
    if not len(out) <= total <= (math.inf if capacity is None else capacity * len(out)):
        return None
    while (by := total - sum(out)) != 0:
        place = out.index(min(out) if by > 0 else max(out))
        out[place] += 1 if by > 0 else -1
    return out


def with_member(study: Study, name: str, by: int) -> tuple[Lines, int] | None:
    """Return the lines for members more or fewer of a group with sizes, and the items there are.

    New members are as large as the middle one, and the smallest go first. Where the group is
    within another this holds in each of that. None where it can't be so.

    Examples
    --------
    >>> from trials.study import Response, Study, StudyGroup
    >>> team = StudyGroup(name="team", count=3, sizes=(5, 4, 4))
    >>> study = Study(title="", question="", factors=(), responses=(Response(name="y"),),
    ...               groups=(team,))
    >>> with_member(study, "team", -1)
    (((('groups', 'team', 'count'), 2), (('groups', 'team', 'sizes'), (5, 4))), 9)
    """
    from trials.study import with_changes

    group = study.group(name)
    inside = study.path(name).split("/")[:-1]
    if group.members or group.count + by < 2 or any(study.group(g).sizes for g in inside):
        return None
    sizes: list[int] = []
    for first in range(0, len(group.sizes), group.count):
        part = list(group.sizes[first : first + group.count])
        part += [sorted(part)[len(part) // 2]] * by
        for _ in range(-by):
            part.remove(min(part))
        sizes += part
    own: Lines = (
        (("groups", name, "count"), group.count + by),
        (("groups", name, "sizes"), tuple(sizes)),
    )
    try:
        other = with_changes(study, own)
    except ValueError:
        return None
    items = sum(sizes) * (members_in_all(other, name) // len(sizes))
    more = sized_lines(other, items, {})
    return None if more is None else ((*own, *more), items)


def sized_tries(study: Study, items: int, recipes: int) -> Iterator[Tried]:
    """Yield other sizes of a study whose groups have sizes, the most telling first.

    Kinds: ``more`` (units and items), ``fewer`` (copies), ``whole`` (each recipe equally often),
    ``member_fewer`` and ``member_more`` of a group.
    """
    units = dict.fromkeys(f.applied_to for f in study.factors)
    for unit in sorted(units, key=lambda unit: unit is None):  # groups are what there is least of
        yield from _more(study, items, recipes, unit)
    copies = items // recipes
    wanted = [("fewer", number * recipes) for number in range(max(-(-copies // 2), 1), copies)]
    if items % recipes:
        wanted += [("whole", (copies + 1) * recipes), ("whole", copies * recipes)]
    for code, number in wanted:
        lines = sized_lines(study, number, {}) if number else None
        if lines is not None:
            yield code, lines, ""
    for group in study.groups:
        if group.sizes and _versions(study, group.name) == 1:
            for code, by in (("member_fewer", -1), ("member_more", 1)):
                changed = with_member(study, group.name, by)
                if changed is not None:
                    yield code, changed[0], group.name


def _more(study: Study, items: int, recipes: int, unit: str | None) -> Iterator[Tried]:
    """Yield larger plans: more of a factor's unit, or half as many items again."""
    members: dict[str, int] = {}
    number = math.ceil(LARGER * items)
    if unit is not None:
        have = members_in_all(study, unit)
        parents = have // study.group(unit).count
        step = math.lcm(parents, _versions(study, unit))
        want = (have // step + 1) * step
        if study.group(unit).sizes:
            changed = with_member(study, unit, (want - have) // parents)
            if changed is not None:
                yield "more", changed[0], ""
            return
        members[unit] = want
        number = math.ceil(items * want / have)
    lines = sized_lines(study, -(-number // recipes) * recipes, members)
    if lines is not None:
        yield "more", lines, ""
