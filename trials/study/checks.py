"""What a study as a whole must obey before anything is planned.

Every check looks at the finished value and knows, through :class:`Places`, where in the file the
key stands. Checks run in a fixed order; the first that fails speaks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from trials.study.bans import recipe_bans
from trials.study.check_analysis import check_analysis
from trials.study.check_groups import check_groups, check_room, members_in_all
from trials.study.check_lessons import check_lessons
from trials.study.check_names import check_names
from trials.study.check_recipes import all_sizes, check_recipes
from trials.study.check_responses import check_responses
from trials.study.check_steps import check_steps
from trials.study.check_stock import check_stock
from trials.study.columns import check_columns
from trials.study.messages import Places, meant, shorten
from trials.study.recipes import recipes
from trials.study.values import Study, StudyFactor

__all__ = ["check_request", "check_study", "members_in_all", "settled"]

MOST_LEVELS = 100
MOST_ITEMS = 10_000


def settled(study: Study) -> Study:
    """Return the study with what goes without saying: a single response is the main one.

    Examples
    --------
    >>> from trials.study.values import Response
    >>> study = Study(title="t", question="q", factors=(), responses=(Response(name="height"),))
    >>> settled(study).responses[0].primary
    True
    """
    if len(study.responses) != 1 or study.responses[0].primary:
        return study
    only = study.responses[0].model_copy(update={"primary": True})
    return study.model_copy(update={"responses": (only,)})


def check_study(study: Study, places: Places | None = None) -> None:
    """Refuse a study that contradicts itself or can't be carried out.

    Raises
    ------
    StudyError : with the place, what was found, what is allowed and what to do.
    """
    places = places or Places()
    _check_texts(study, places)
    _check_spread_from(study, places)
    check_names(study, places)
    _check_factors(study, places)
    check_groups(study, places)
    check_responses(study, places)
    check_columns(study, places)
    check_steps(study, places)
    check_lessons(study, places)
    check_stock(study, places)
    check_request(study, places)
    check_analysis(study, places)


def check_request(study: Study, places: Places | None = None) -> None:
    """Refuse recipes, items and groups that can't go together; the rest is taken as right.

    Raises
    ------
    StudyError : as :func:`check_study`.
    """
    places = places or Places()
    check_recipes(study, places)
    _check_items(study, places)
    check_room(study, recipes(study), places)


def _check_texts(study: Study, places: Places) -> None:
    for key in ("title", "question", "item_name"):
        if not str(getattr(study, key)).strip():
            raise places.error(
                (key,),
                f"The {key.replace('_', ' ')} is empty.",
                code="empty_text",
                allowed="a few words",
                do="Write it in your own words.",
            )


def _check_spread_from(study: Study, places: Places) -> None:
    if study.spread_from is None:
        return
    if not study.spread_from.strip():
        raise places.error(
            ("spread_from",),
            "It isn't said from which folder the spread is taken.",
            code="empty_text",
            found='""',
            allowed="the folder of a practice run, as seen from the folder of study.toml",
            do='Write for instance: spread_from = "../practice"',
        )
    if study.practice:
        raise places.error(
            ("spread_from",),
            "A practice run finds the spread out; it doesn't take it from another.",
            code="practice_spread_from",
            found=shorten(study.spread_from),
            allowed="spread_from in the study that is planned afterwards",
            do="Delete this line.",
        )


def _check_factors(study: Study, places: Places) -> None:
    if study.practice and study.factors:
        raise places.error(
            ("factors", study.factors[0].name),
            "A practice run changes nothing: all its items are built alike.",
            code="practice_factor",
            found=", ".join(shorten(factor.name) for factor in study.factors),
            allowed="no [factors.NAME]",
            do="Delete the factors, or delete 'practice = true'.",
        )
    if not study.practice and not study.factors:
        raise places.error(
            ("factors",),
            "Nothing is changed in this study, so there is nothing to compare.",
            code="no_factor",
            found="no [factors.NAME]",
            allowed="one factor or more",
            do='Add [factors.NAME] and under it: levels = ["this way", "that way"]',
        )
    for factor in study.factors:
        _check_levels(factor, places)
        if factor.kind == "quantity":
            _check_quantity(factor, places)
        elif factor.scale == "log":
            raise places.error(
                ("factors", factor.name, "scale"),
                f"'{shorten(factor.name)}' has a log scale but its levels are names, not numbers.",
                code="scale_of_names",
                found='"log"',
                allowed='scale = "log" together with kind = "quantity"',
                do='Add kind = "quantity", or delete the scale.',
            )
        _check_level_words(factor, places)


def _check_levels(factor: StudyFactor, places: Places) -> None:
    path = ("factors", factor.name, "levels")
    name = shorten(factor.name)
    for place, level in enumerate(factor.levels):
        if not level.strip():
            raise places.error(
                (*path, place),
                f"A level of '{name}' has no name.",
                code="empty_level",
                found=f'"{level}"',
                allowed="a few letters or a number",
                do="Name the version, or delete it.",
            )
    for place, level, other in _alike(factor.levels):
        raise places.error(
            (*path, place),
            f"A level of '{name}' stands twice.",
            code="level_twice",
            found=shorten(level) if level == other else f"{shorten(other)} and {shorten(level)}",
            allowed="each level once; big and small letters and spaces around it don't count",
            do="Delete one of the two, or give it another name.",
        )
    if len(factor.levels) < 2:
        raise places.error(
            path,
            f"'{name}' has {'only one level' if factor.levels else 'no level'}, "
            "so there is nothing to compare.",
            code="too_few_levels",
            found=", ".join(shorten(level) for level in factor.levels) or "nothing",
            allowed="two levels or more",
            do="Add another version, or list it under 'same' as something kept the same.",
        )
    if len(factor.levels) > MOST_LEVELS:
        raise places.error(
            path,
            f"'{name}' has too many levels to compare.",
            code="too_many_levels",
            found=str(len(factor.levels)),
            allowed=f"at most {MOST_LEVELS}",
            do="Choose the few that answer the question.",
        )


def _alike(levels: Sequence[str]) -> Iterator[tuple[int, str, str]]:
    """Yield place, level and earlier level wherever two can't be told apart."""
    seen: dict[object, str] = {}
    for place, level in enumerate(levels):
        number = as_number(level)
        key = number if number is not None else " ".join(level.split()).casefold()
        if key in seen:
            yield place, level, seen[key]
        seen[key] = level


def as_number(text: str) -> float | None:
    """Return the number a level is, or None.

    Examples
    --------
    >>> as_number("2.50"), as_number("oven"), as_number("nan")
    (2.5, None, None)
    """
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) and "_" not in text else None


def _check_quantity(factor: StudyFactor, places: Places) -> None:
    for place, level in enumerate(factor.levels):
        path = ("factors", factor.name, "levels", place)
        number = as_number(level)
        if number is None:
            comma = as_number(level.replace(",", ".", 1))
            raise places.error(
                path,
                f"A level of the quantity '{shorten(factor.name)}' isn't a number.",
                code="level_not_number",
                found=shorten(level),
                allowed="a number with a decimal point, without its unit",
                do=f"Write {level.replace(',', '.', 1)}."
                if comma is not None
                else 'Write only the number, with the unit under unit = "..."; '
                'or delete kind = "quantity".',
            )
        if factor.scale == "log" and number <= 0:
            raise places.error(
                path,
                f"'{shorten(factor.name)}' has a log scale, which has no place for zero or less.",
                code="log_not_positive",
                found=shorten(level),
                allowed="numbers above 0",
                do='Change the level, or write scale = "linear".',
            )


def _check_level_words(factor: StudyFactor, places: Places) -> None:
    """Check everything that names a level."""
    base = ("factors", factor.name)
    levels = ", ".join(shorten(level) for level in factor.levels)
    if factor.control is not None and factor.control not in factor.levels:
        raise places.error(
            (*base, "control"),
            f"The control isn't one of the levels of '{shorten(factor.name)}'.",
            code="unknown_level",
            found=shorten(factor.control),
            allowed=levels,
            do=meant(factor.control, factor.levels, "Choose one of the levels."),
        )
    for level in factor.how:
        if level not in factor.levels:
            raise places.error(
                (*base, "how", level),
                f"'how' explains something that isn't a level of '{shorten(factor.name)}'.",
                code="unknown_level",
                found=shorten(level),
                allowed=levels,
                do=meant(level, factor.levels, "Use the name of a level, written the same way."),
            )


def _check_items(study: Study, places: Places) -> None:
    """Check that there are enough items for the recipes."""
    most, copies = study.limits.items, study.limits.copies
    for key, value in (("items", most), ("copies", copies)):
        if value is not None and not 1 <= value <= MOST_ITEMS:
            raise places.error(
                ("limits", key),
                f"'{key}' can't be this.",
                code="bad_number",
                found=str(value),
                allowed=f"a whole number from 1 to {MOST_ITEMS}",
                do="Write how many you can make.",
            )
    _check_sum_of_sizes(study, places)
    if study.limits.fraction:
        return
    kinds = recipes(study)
    needed = kinds * (copies or 1)
    allowed = most if most is not None else MOST_ITEMS
    if needed <= allowed:
        return
    of_levels = " x ".join(f"{len(f.levels)} {shorten(f.name)}" for f in study.factors)
    of_levels += " without what is forbidden" if recipe_bans(study) else ""
    times = f", each {copies} times, are {needed} items" if (copies or 1) > 1 else ""
    fewer = (
        "Make more items, drop a level or a factor, or write fraction = true under [limits]: "
        "then some recipes are left out."
    )
    if (copies or 1) > 1 and kinds <= allowed:
        fewer = "Make more items, lower copies, or drop a level or a factor."
    raise places.error(
        ("limits", "items") if most is not None else ("factors",),
        "There are more recipes than items." if times == "" else "There are too few items.",
        code="more_recipes_than_items",
        found=f"{of_levels} = {kinds} recipes{times}; items: {allowed}",
        allowed=f"at least {needed} items",
        do=fewer,
    )


def _check_sum_of_sizes(study: Study, places: Places) -> None:
    most = study.limits.items
    for group in study.groups:
        total = all_sizes(study, group.name)
        if total is not None and most is not None and total > most:
            raise places.error(
                ("groups", group.name, "sizes"),
                f"The sizes of '{shorten(group.name)}' are more items than can be made.",
                code="sizes_sum",
                found=f"{total} items; [limits] items: {most}",
                allowed=f"at most {most} in all",
                do="Lower a size, or raise items under [limits].",
            )
