"""Checks of what is forbidden to some members of a group: the member, and what it may not have."""

from __future__ import annotations

from trials.study.bans import (
    EQUIPMENT,
    Combination,
    member_labels,
    member_of,
    named_groups,
    needed_by_all,
    needing,
)
from trials.study.check_lessons import used_at
from trials.study.messages import Places, meant, shorten
from trials.study.positions import Path
from trials.study.values import Study
from trials.study.writing import toml_key, toml_value
from trials.words.numbers import listing


def check_version(study: Study, name: str, level: str, path: Path, places: Places) -> None:
    """Refuse a factor or a level of a combination that isn't there.

    Raises
    ------
    StudyError : naming what is.
    """
    names = [factor.name for factor in study.factors]
    some = [group.name for group in study.groups if path[1] == "forbidden"]
    if name not in names:
        raise places.error(
            path,
            "A combination names something that isn't changed in this study.",
            code="unknown_factor",
            found=shorten(name),
            allowed=", ".join(shorten(n) for n in names)
            + (f"; to forbid it to some only: {', '.join(map(shorten, some))}" if some else ""),
            do=meant(name, [*names, *some], "Use the names of factors."),
        )
    levels = study.factor(name).levels
    if level not in levels:
        raise places.error(
            path,
            f"A combination names a level that '{shorten(name)}' doesn't have.",
            code="unknown_level",
            found=shorten(level),
            allowed=", ".join(shorten(one) for one in levels),
            do=meant(level, levels, "Use the name of a level, written the same way."),
        )


def check_ban(study: Study, ban: Combination, path: Path, places: Places) -> None:
    """Refuse a ban for a member of a group that isn't there, or of what nobody can forbid it.

    Raises
    ------
    StudyError : the first fault.
    """
    groups = named_groups(study, ban)
    for group in groups:
        _check_member(study, group, ban[group], (*path, group), places)
    versions = {name: level for name, level in ban.items() if name not in groups}
    if EQUIPMENT in versions:
        _check_equipment(study, ban, path, places)
        return
    if not versions:
        raise places.error(
            path,
            "It isn't said what is forbidden here.",
            code="short_combination",
            found=" with ".join(f"{shorten(n)} {shorten(v)}" for n, v in ban.items()),
            allowed=f'such as {{ {groups[0]} = "{ban[groups[0]]}", heat = "burner" }}',
            do="Name the version, or the equipment, that is forbidden there.",
        )
    for name, level in versions.items():
        check_version(study, name, level, (*path, name), places)


def _check_member(study: Study, group: str, member: str, path: Path, places: Places) -> None:
    if member_of(study, group, member) is not None:
        return
    labels = member_labels(study, group)
    raise places.error(
        path,
        f"Something is forbidden to a member of '{shorten(group)}' that isn't there.",
        code="unknown_member",
        found=shorten(member),
        allowed=", ".join(shorten(label) for label in labels[:12])
        + (f", or a number from 1 to {len(labels)}" if labels else "no member: mend their names"),
        do=meant(member, labels, "Use its name as the plan has it, or its number."),
    )


def _only_some_need(study: Study, name: str, equipment: str) -> str:
    """Return how a step says that only some versions need a piece of equipment."""
    step = next(step for step in study.steps if step.name == name)
    out = f"Take '{shorten(equipment)}' out of the line equipment of '{shorten(name)}'"
    if any(equipment in named for named in step.equipment_for.values()):
        return f"{out}: the line equipment_for says already which versions need it."
    first = step.factors[0] if step.factors else study.factors[0].name
    factor = next((one for one in study.factors if one.name == first), study.factors[0])
    level = toml_key(factor.levels[-1])
    return (
        f"{out}, and write there which versions need it, such as equipment_for = "
        f"{{ {level} = [{toml_value(equipment)}] }} for '{shorten(factor.levels[-1])}' of "
        f"{shorten(factor.name)}."
    )


def _check_equipment(study: Study, ban: Combination, path: Path, places: Places) -> None:
    groups, name = named_groups(study, ban), ban[EQUIPMENT]
    here = (*path, EQUIPMENT)
    if len(ban) > len(groups) + 1:
        raise places.error(
            path,
            "A version and a piece of equipment are forbidden in one line.",
            code="ban_equipment",
            found=", ".join(shorten(key) for key in ban),
            allowed="the version or the equipment",
            do="Write two lines, or only one of the two.",
        )
    used = {used for step in study.steps for used in used_at(step)}
    if name not in used:
        raise places.error(
            here,
            "What is forbidden is equipment that no step uses.",
            code="unknown_name",
            found=shorten(name),
            allowed=", ".join(shorten(one) for one in sorted(used)) or "no step names equipment",
            do=meant(name, sorted(used), "Name equipment of a step, written the same way."),
        )
    who = " and ".join(f"{shorten(group)} {shorten(ban[group])}" for group in groups)
    everywhere = needed_by_all(study, groups, name)
    if everywhere:
        steps = listing([f"'{shorten(step)}'" for step in everywhere])
        raise places.error(
            here,
            f"{who} may not use the {shorten(name)}, but needs it under every version.",
            code="ban_equipment",
            found=f"'{shorten(name)}' under equipment of the step {steps}",
            allowed="equipment that only some versions need: equipment_for of a step",
            do=_only_some_need(study, everywhere[0], name)
            + ' Or let somebody else do the step: by = "the adult".',
        )
    if not needing(study, groups, name):
        raise places.error(
            here,
            f"{who} never uses the {shorten(name)}, so this line forbids nothing.",
            code="ban_equipment",
            found="others do the steps that need it",
            allowed="equipment that they use themselves",
            do="Delete the line; or forbid the version itself, such as "
            f'{{ {groups[0]} = "{ban[groups[0]]}", heat = "burner" }}.',
        )
