"""Checks of groups: who is within whom, how many there are, and whether the items fit."""

from __future__ import annotations

import math

from trials.study.check_names import twice_in
from trials.study.messages import Places, meant, shorten
from trials.study.values import Study, StudyGroup

MOST_MEMBERS = 10_000


def members_in_all(study: Study, group: str) -> int:
    """Return how many members a group has over the whole study.

    Examples
    --------
    >>> study = Study(title="t", question="q", factors=(), responses=(), groups=(
    ...     StudyGroup(name="session", count=2), StudyGroup(name="firing", count=4,
    ...                                                      within="session")))
    >>> members_in_all(study, "firing")
    8
    """
    this = study.group(group)
    return this.count * (1 if this.within is None else members_in_all(study, this.within))


def check_groups(study: Study, places: Places) -> None:
    """Refuse groups that don't exist, hold themselves or have impossible numbers.

    Raises
    ------
    StudyError : the first fault.
    """
    names = tuple(group.name for group in study.groups)
    for group in study.groups:
        _check_within(study, group, names, places)
    for group in study.groups:
        _check_numbers(study, group, places)
    for factor in study.factors:
        if factor.applied_to is not None and factor.applied_to not in names:
            raise places.error(
                ("factors", factor.name, "applied_to"),
                f"'{shorten(factor.name)}' is applied to a group that isn't there.",
                code="unknown_group",
                found=shorten(factor.applied_to),
                allowed=", ".join(names) or "no group has been named",
                do=_group_remedy(factor.applied_to, names),
            )
        if factor.applied_to is not None:
            _check_random(study.group(factor.applied_to), factor.name, places)
    makers = [group.name for group in study.groups if group.role == "maker"]
    if len(makers) > 1:
        raise places.error(
            ("groups", makers[1], "role"),
            "Two groups have the role 'maker'.",
            code="two_makers",
            found=", ".join(shorten(name) for name in makers),
            allowed='role = "maker" at one group: those who make the items',
            do="Delete the role of one of the two.",
        )


def _check_random(group: StudyGroup, factor: str, places: Places) -> None:
    if group.random is False:
        name = shorten(group.name)
        raise places.error(
            ("groups", group.name, "random"),
            f"'{name}' must count as random: '{shorten(factor)}' is applied to it, "
            "and is judged by how different its members with one version are.",
            code="unit_not_random",
            found="false",
            allowed="true, or no 'random' at all",
            do=f"Delete 'random' at [groups.{name}].",
        )


def _group_remedy(word: str, names: tuple[str, ...]) -> str:
    return meant(word, names, f"Add [groups.{shorten(word)}] with its count, or mend the name.")


def _check_within(study: Study, group: StudyGroup, names: tuple[str, ...], places: Places) -> None:
    path = ("groups", group.name, "within")
    if group.within is not None and group.within not in names:
        raise places.error(
            path,
            f"'{shorten(group.name)}' is within a group that isn't there.",
            code="unknown_group",
            found=shorten(group.within),
            allowed=", ".join(name for name in names if name != group.name)
            or "no other group has been named",
            do=_group_remedy(group.within, names),
        )
    chain, above = [group.name], group.within
    while above is not None and above in names:
        chain.append(above)
        if above in chain[:-1]:
            inside = " within ".join(shorten(name) for name in chain)
            raise places.error(
                path,
                f"'{shorten(chain[-1])}' is within itself.",
                code="group_within_itself",
                found=inside,
                allowed="a larger group, or no 'within' for the largest",
                do="Delete 'within' at the largest of these groups.",
            )
        above = study.group(above).within


def _check_numbers(study: Study, group: StudyGroup, places: Places) -> None:
    base = ("groups", group.name)
    name = shorten(group.name)
    for key, value in (("count", group.count), ("capacity", group.capacity)):
        if value is not None and not 1 <= value <= MOST_MEMBERS:
            meaning = "how many there are" if key == "count" else "how many items fit into one"
            raise places.error(
                (*base, key),
                f"The {key} of '{name}' can't be this.",
                code="bad_number",
                found=str(value),
                allowed=f"a whole number from 1 to {MOST_MEMBERS}",
                do=f"Write {meaning}.",
            )
    total = members_in_all(study, group.name)
    if total > MOST_MEMBERS:
        raise places.error(
            (*base, "count"),
            f"There are too many members of '{name}'.",
            code="bad_number",
            found=f"{total} in all",
            allowed=f"at most {MOST_MEMBERS}",
            do="Lower the count here or in the group around it.",
        )
    if not group.members:
        return
    for place, member in enumerate(group.members):
        if not member.strip():
            raise places.error(
                (*base, "members", place),
                f"A member of '{name}' has no name.",
                code="empty_name",
                found=f'"{member}"',
                allowed="a few letters or a number",
                do="Name it, or delete all names: the program then counts them.",
            )
        twice_in(group.members, place, (*base, "members", place), "member", places)
    if len(group.members) != total:
        raise places.error(
            (*base, "members"),
            f"'{name}' has {total} {'member' if total == 1 else 'members'} "
            f"but {len(group.members)} {'name' if len(group.members) == 1 else 'names'}.",
            code="members_count",
            found=", ".join(shorten(member) for member in group.members[:8]),
            allowed=f"{total} names, or none",
            do="Change the count or the names.",
        )


def check_room(study: Study, recipes: int, places: Places) -> None:
    """Refuse groups that can't hold the plan.

    Raises
    ------
    StudyError : the items don't fit into a group's members, or a factor that is applied to a
        group has more versions than the group has members.
    """
    needed = recipes * (study.limits.copies or 1)
    if study.limits.fraction:
        needed = 1
    for group in study.groups:
        total = members_in_all(study, group.name)
        if group.capacity is not None and needed > total * group.capacity:
            raise places.error(
                ("groups", group.name, "capacity"),
                f"The items don't fit into '{shorten(group.name)}'.",
                code="capacity",
                found=f"{needed} items; room for {total} x {group.capacity} = "
                f"{total * group.capacity}",
                allowed=f"room for at least {needed}",
                do=f"Raise the count to {_count_needed(study, group, needed)}, "
                "raise the capacity, or make fewer.",
            )
        applied = [factor for factor in study.factors if factor.applied_to == group.name]
        versions = math.prod(len(factor.levels) for factor in applied)
        if applied and versions > total:
            raise places.error(
                ("groups", group.name, "count"),
                f"There are too few of '{shorten(group.name)}' for what is applied to them.",
                code="too_few_units",
                found=f"{total} of '{shorten(group.name)}', {versions} versions "
                f"({', '.join(shorten(factor.name) for factor in applied)})",
                allowed=f"at least {versions}, and twice that to compare fairly",
                do="Raise the count, or drop a level.",
            )


def _count_needed(study: Study, group: StudyGroup, needed: int) -> int:
    around = members_in_all(study, group.name) // group.count
    return math.ceil(needed / ((group.capacity or 1) * around))
