"""What is forbidden: to every item, or to the items of one member of a group.

A ban such as ``{heat = "oven", dye = "berry"}`` names versions only and holds for every item. One
that names a member of a group too, ``{team = "T3", heat = "burner"}``, holds for the items of that
member. In place of a version it may name a piece of equipment, ``{team = "T3", equipment =
"burner"}``: then it stands for all versions that need it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trials.study.check_groups import members_in_all
from trials.study.values import Step, Study

EQUIPMENT = "equipment"  # key of a ban

Combination = Mapping[str, str]


def member_labels(study: Study, name: str) -> tuple[str, ...]:
    """Return what the members of a group are called in the plan; empty where names don't fit.

    Labels are unique over the whole plan.

    Examples
    --------
    >>> from trials.study.values import StudyGroup
    >>> groups = (StudyGroup(name="session", count=2), StudyGroup(name="shelf", count=2))
    >>> member_labels(Study(title="", question="", factors=(), responses=(), groups=groups),
    ...               "shelf")
    ('SH1', 'SH2')
    """
    group, total = study.group(name), members_in_all(study, name)
    if not group.members:
        start = _prefix(name, [other.name for other in study.groups])
        return tuple(f"{start}{number}" for number in range(1, total + 1))
    if len(set(group.members)) == len(group.members) == total:
        return group.members
    if len(set(group.members)) == len(group.members) == group.count and group.within:
        around = member_labels(study, group.within)
        return tuple(f"{parent} {member}" for parent in around for member in group.members)
    return ()


def _prefix(name: str, names: Sequence[str]) -> str:
    """Return the shortest start of a group's name that no other group's name shares, in capitals.

    Examples
    --------
    >>> _prefix("session", ["session", "firing"]), _prefix("shelf", ["session", "shelf"])
    ('S', 'SH')
    """
    others = [other.upper() for other in names if other != name]
    for length in range(1, len(name) + 1):
        start = name[:length].upper()
        if not any(other.startswith(start) for other in others):
            return start
    return name.upper() + "-"


def member_of(study: Study, group: str, text: str) -> str | None:
    """Return the member of a group that is meant: by its name, or by its number; None: none.

    Examples
    --------
    >>> from trials.study.values import StudyGroup
    >>> study = Study(title="", question="", factors=(), responses=(),
    ...               groups=(StudyGroup(name="team", count=3),))
    >>> member_of(study, "team", "T3"), member_of(study, "team", "3"), member_of(study, "team", "4")
    ('T3', 'T3', None)
    """
    labels = member_labels(study, group)
    if text in labels:
        return text
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 9 else 0
    return labels[number - 1] if 0 < number <= len(labels) else None


def named_groups(study: Study, ban: Combination) -> tuple[str, ...]:
    """Return the groups that a ban names a member of."""
    return tuple(group.name for group in study.groups if group.name in ban)


def recipe_bans(study: Study) -> tuple[Combination, ...]:
    """Return the bans that hold for every item."""
    return tuple(ban for ban in study.limits.forbidden if not named_groups(study, ban))


def member_bans(study: Study) -> tuple[Combination, ...]:
    """Return the bans that hold for the items of some members only, as :func:`written_out`."""
    return tuple(
        one
        for ban in study.limits.forbidden
        if named_groups(study, ban)
        for one in written_out(study, ban)
    )


def all_bans(study: Study) -> tuple[dict[str, str], ...]:
    """Return every ban in the form that a plan records: member's label, level of a factor."""
    return tuple(dict(one) for ban in study.limits.forbidden for one in written_out(study, ban))


def written_out(study: Study, ban: Combination) -> tuple[Combination, ...]:
    """Return a ban by the labels of members and by levels, one for each that its equipment means.

    A member that isn't there has nothing forbidden to it.
    """
    groups = named_groups(study, ban)
    if not groups:
        return (ban,)
    told = dict(ban)
    for group in groups:
        label = member_of(study, group, ban[group])
        if label is None:
            return ()
        told[group] = label
    if EQUIPMENT not in told:
        return (told,)
    name = told.pop(EQUIPMENT)
    return tuple({**told, factor: level} for factor, level in needing(study, groups, name))


def needing(study: Study, groups: Sequence[str], equipment: str) -> tuple[tuple[str, str], ...]:
    """Return the factors and levels that need a piece of equipment in the hands of some groups."""
    steps = [step for step in study.steps if _in_their_hands(study, groups, step)]
    return tuple(
        (factor.name, level)
        for factor in study.factors
        for level in factor.levels
        if any(equipment in step.equipment_for.get(level, ()) for step in steps)
    )


def needed_by_all(study: Study, groups: Sequence[str], equipment: str) -> tuple[str, ...]:
    """Return the steps at which some groups need a piece of equipment under every version."""
    return tuple(
        step.name
        for step in study.steps
        if equipment in step.equipment and _in_their_hands(study, groups, step)
    )


def _in_their_hands(study: Study, groups: Sequence[str], step: Step) -> bool:
    """Return whether a step is done by the members of some groups: makers leave some to others."""
    return not step.by or all(study.group(name).role != "maker" for name in groups)
