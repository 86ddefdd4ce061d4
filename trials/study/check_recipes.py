"""Checks of combinations: which may not be made, which have to be, and whether both can be."""

from __future__ import annotations

import math

from trials.study.bans import Combination, named_groups, recipe_bans
from trials.study.check_bans import check_ban, check_version
from trials.study.check_groups import members_in_all
from trials.study.messages import Places, shorten
from trials.study.positions import Path
from trials.study.recipes import MOST_RECIPES, allowed_recipes, holds, without_recipe
from trials.study.values import Study


def check_recipes(study: Study, places: Places) -> None:
    """Refuse combinations that don't exist or contradict each other, and sizes that don't fit.

    Raises
    ------
    StudyError : the first fault; of bans that contradict each other the fewest are named.
    """
    for key in ("forbidden", "required"):
        for place, combination in enumerate(getattr(study.limits, key)):
            path: Path = ("limits", key, place)
            if key == "forbidden" and named_groups(study, combination):
                check_ban(study, combination, path, places)
            else:
                _check_combination(study, combination, path, places)
    _check_sizes(study, places)
    limits = study.limits
    if not (limits.forbidden or limits.required or limits.fraction):
        return
    every = math.prod(len(factor.levels) for factor in study.factors)
    if every > MOST_RECIPES:
        raise places.error(
            ("limits",),
            "There are too many recipes to choose from.",
            code="too_many_recipes",
            found=f"{every}",
            allowed=f"at most {MOST_RECIPES}",
            do="Change fewer things, or give them fewer versions.",
        )
    _check_bans(study, places)
    _check_required(study, places)


def _check_combination(study: Study, combination: Combination, path: Path, places: Places) -> None:
    for name, level in combination.items():
        check_version(study, name, level, (*path, name), places)
    if len(combination) < 2:
        raise places.error(
            path,
            "A combination needs two factors or more.",
            code="short_combination",
            found=text_of(combination) or "nothing",
            allowed='such as { heat = "oven", time = "long" }',
            do="Name the version of another factor too; a version that is never wanted is "
            "deleted from the levels.",
        )


def text_of(combination: Combination) -> str:
    """Return a combination in words.

    Examples
    --------
    >>> text_of({"heat": "oven", "soak": "2"})
    'heat oven with soak 2'
    """
    return " with ".join(f"{shorten(name)} {shorten(level)}" for name, level in combination.items())


def _check_bans(study: Study, places: Places) -> None:
    found = without_recipe(study)
    if found is None:
        return
    factor, level, bans = found
    told = "; ".join(text_of(study.limits.forbidden[ban]) for ban in bans)
    raise places.error(
        ("limits", "forbidden", bans[0]),
        f"'{shorten(level)}' of '{shorten(factor)}' could never be made.",
        code="level_without_recipe",
        found=f"forbidden together: {told}",
        allowed="for every level at least one recipe that isn't forbidden",
        do=f"Take one of these combinations out, or delete '{shorten(level)}' from the levels.",
    )


def _check_required(study: Study, places: Places) -> None:
    for place, combination in enumerate(study.limits.required):
        if any(holds(study, recipe, combination) for recipe in allowed_recipes(study)):
            continue
        bans = [
            ban
            for ban in recipe_bans(study)
            if all(combination.get(name, level) == level for name, level in ban.items())
        ]
        raise places.error(
            ("limits", "required", place),
            "A combination is required, but what is forbidden leaves no recipe for it.",
            code="required_forbidden",
            found=f"required: {text_of(combination)}; forbidden: "
            + "; ".join(text_of(ban) for ban in bans),
            allowed="a combination of which at least one recipe may be made",
            do="Take it out of one of the two lists.",
        )


def _check_sizes(study: Study, places: Places) -> None:
    for group in study.groups:
        if not group.sizes:
            continue
        path: Path = ("groups", group.name, "sizes")
        total = members_in_all(study, group.name)
        if len(group.sizes) not in (group.count, total):
            raise places.error(
                path,
                f"'{shorten(group.name)}' has {total} members but {len(group.sizes)} sizes.",
                code="sizes_count",
                found=", ".join(str(size) for size in group.sizes[:12]),
                allowed=f"{total} whole numbers"
                + (f", or {group.count} that hold in each {group.within}" if group.within else ""),
                do="Write how many items each of them has.",
            )
        if min(group.sizes) < 1:
            raise places.error(
                path,
                f"A size of '{shorten(group.name)}' can't be this.",
                code="bad_number",
                found=", ".join(str(size) for size in group.sizes[:12]),
                allowed="whole numbers from 1",
                do="Write how many items each of them has.",
            )
        if group.capacity is not None and max(group.sizes) > group.capacity:
            raise places.error(
                path,
                f"A size of '{shorten(group.name)}' is more than fits into one.",
                code="sizes_room",
                found=", ".join(str(size) for size in group.sizes[:12]),
                allowed=f"whole numbers from 1 to the capacity, {group.capacity}",
                do="Lower the size, or raise the capacity.",
            )
        within = [other for other in study.groups if other.name == group.within and other.sizes]
        for other in within:
            if all_sizes(study, group.name) != all_sizes(study, other.name):
                raise places.error(
                    path,
                    f"The sizes of '{shorten(group.name)}' don't add up to those of "
                    f"'{shorten(other.name)}'.",
                    code="sizes_sum",
                    found=f"{all_sizes(study, group.name)} items against "
                    f"{all_sizes(study, other.name)}",
                    allowed="the same number of items",
                    do="Change one of the two, or delete one.",
                )


def all_sizes(study: Study, name: str) -> int | None:
    """Return how many items the sizes of a group add up to; None where it has none."""
    group = study.group(name)
    if not group.sizes:
        return None
    times = members_in_all(study, name) // len(group.sizes)
    return sum(group.sizes) * times
