"""Checks of what a class needs: lessons, equipment, times and materials of the steps."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Collection, Iterator

from trials.errors import StudyError
from trials.quantities import convertible
from trials.study.check_groups import members_in_all
from trials.study.messages import Places, meant, nearest, shorten
from trials.study.positions import Path
from trials.study.values import Equipment, Lessons, Step, Study

_HOURS = re.compile(r"\s*(\d{1,2}):([0-5]\d)\s*-\s*(\d{1,2}):([0-5]\d)\s*")
START = "%Y-%m-%d %H:%M"
_LONGEST_LESSON = 24 * 60.0
_MOST = 10_000
_MOST_HOURS = 24 * 366.0


def check_lessons(study: Study, places: Places) -> None:
    """Refuse lessons that can't be, equipment nobody uses, and steps that name what isn't there.

    Raises
    ------
    StudyError : the first fault.
    """
    if study.lessons is not None:
        _check_numbers(study.lessons, places)
        _check_starts(study.lessons, places)
        _check_hours(study, study.lessons, places)
    _check_equipment(study, places)
    for place, step in enumerate(study.steps):
        _check_step(study, step, ("steps", place), places)
        _check_materials(study, step, ("steps", place), places)


def used_at(step: Step) -> tuple[str, ...]:
    """Return all equipment that a step names, under whatever level."""
    return (*step.equipment, *(name for named in step.equipment_for.values() for name in named))


def start_of(text: str) -> datetime.datetime | None:
    """Return the moment that the text of a lesson's start means, or None.

    Examples
    --------
    >>> start_of("2030-05-14 10:15"), start_of("Tuesday")
    (datetime.datetime(2030, 5, 14, 10, 15), None)
    """
    try:
        return datetime.datetime.strptime(text.strip(), START)
    except ValueError:
        return None


def hours_of(text: str) -> tuple[int, int] | None:
    """Return the hours that a text means, in minutes from midnight, or None.

    Examples
    --------
    >>> hours_of("08:00-17:30"), hours_of("0:00-24:00"), hours_of("17:00-08:00"), hours_of("day")
    ((480, 1050), (0, 1440), None, None)
    """
    found = _HOURS.fullmatch(text)
    if found is None:
        return None
    begin, end = (60 * int(found[n]) + int(found[n + 1]) for n in (1, 3))
    return (begin, end) if begin < end <= 24 * 60 else None


def _check_hours(study: Study, lessons: Lessons, places: Places) -> None:
    hours = hours_of(lessons.between)
    if hours is None:
        raise places.error(
            ("lessons", "between"),
            "These are no hours in which somebody can work between lessons.",
            code="bad_hours",
            found=shorten(lessons.between),
            allowed='hours of one day, such as "08:00-17:00"; at any time: "00:00-24:00"',
            do="Write when the step is begun at the earliest and finished at the latest.",
        )
    for place, step in enumerate(study.steps):
        if step.when == "between" and (step.minutes or 0) > hours[1] - hours[0]:
            raise places.error(
                ("steps", place, "minutes"),
                f"The step '{shorten(step.name)}' takes longer than the hours between lessons.",
                code="bad_hours",
                found=f"{step.minutes:.12g} minutes; {shorten(lessons.between)} are "
                f"{hours[1] - hours[0]}",
                allowed=f"at most {hours[1] - hours[0]} minutes of work by hand",
                do="Write time that passes by itself under waiting, or longer hours under "
                "[lessons] between.",
            )


def _ranges(lessons: Lessons) -> Iterator[tuple[str, float, float, float, str]]:
    """Yield key, value, lowest, highest and what that is."""
    work = lessons.minutes
    yield "minutes", work, 1, _LONGEST_LESSON, "minutes from 1 to 1440"
    yield "put_out", lessons.put_out, 0, work, "minutes, from 0"
    yield "tidy", lessons.tidy, 0, work, "minutes, from 0"
    yield "apart", lessons.apart, work / 60, _MOST_HOURS, "hours, at least the length of a lesson"
    for key in ("count", "students", "hands"):
        value = getattr(lessons, key)
        if value is not None:
            yield key, value, 1, _MOST, f"a whole number from 1 to {_MOST}"


def _check_numbers(lessons: Lessons, places: Places) -> None:
    for key, value, low, high, allowed in _ranges(lessons):
        if not (math.isfinite(value) and low <= value <= high):
            raise places.error(
                ("lessons", key),
                f"'{key}' of the lessons can't be this.",
                code="bad_number",
                found=f"{value:.12g}",
                allowed=allowed,
                do="Write how it is in your class.",
            )
    if lessons.put_out + lessons.tidy >= lessons.minutes:
        raise places.error(
            ("lessons", "minutes"),
            "Putting out and tidying take the whole lesson.",
            code="bad_number",
            found=f"{lessons.put_out + lessons.tidy:.12g} of {lessons.minutes:.12g} minutes",
            allowed="less than the lesson",
            do="Lower put_out or tidy, or write the length of a whole lesson.",
        )


def _check_starts(lessons: Lessons, places: Places) -> None:
    before: datetime.datetime | None = None
    for at, text in enumerate(lessons.starts):
        start = start_of(text)
        path: Path = ("lessons", "starts", at)
        if start is None:
            raise places.error(
                path,
                "This is no time at which a lesson can start.",
                code="bad_start",
                found=shorten(text),
                allowed='day and time, such as "2030-05-14 10:15"',
                do="Write year, month, day, hour and minute this way.",
            )
        if before is not None and start < before + datetime.timedelta(minutes=lessons.minutes):
            raise places.error(
                path,
                "A lesson starts before the one above it is over.",
                code="bad_start",
                found=f"{shorten(text)} after {lessons.starts[at - 1]}",
                allowed="each lesson after the one before it",
                do="Put them in order, and look at 'minutes', the length of a lesson.",
            )
        before = start
    if lessons.starts and lessons.count not in (None, len(lessons.starts)):
        raise places.error(
            ("lessons", "count"),
            "There are not as many starts as lessons.",
            code="starts_count",
            found=f"{len(lessons.starts)} starts, count = {lessons.count}",
            allowed="one start for each lesson",
            do="Delete count, or write all starts.",
        )


def pieces_in_all(study: Study, one: Equipment) -> int:
    """Return how many pieces of some equipment all have together.

    Where each team has its own, so has whoever does a step with it for the teams.

    Examples
    --------
    >>> from trials.study.values import StudyGroup
    >>> study = Study(title="t", question="q", factors=(), responses=(), groups=(
    ...     StudyGroup(name="team", count=6, role="maker"),))
    >>> tray = Equipment(name="tray", count=2, per="team")
    >>> pieces_in_all(study, tray), pieces_in_all(study, Equipment(name="oven", count=2))
    (12, 2)
    >>> soak = Step(name="soak", by="the adult", equipment=("tray",))
    >>> pieces_in_all(study.model_copy(update={"steps": (soak,)}), tray)
    14
    """
    maker = next((group.name for group in study.groups if group.role == "maker"), None)
    if maker is None or one.per != "team":
        return one.count
    others = {step.by for step in study.steps if step.by and one.name in used_at(step)}
    return one.count * (members_in_all(study, maker) + len(others))


def _check_equipment(study: Study, places: Places) -> None:
    used = {name for step in study.steps for name in used_at(step)}
    for one in study.equipment:
        if one.per == "team" and not any(group.role == "maker" for group in study.groups):
            raise places.error(
                ("equipment", one.name, "per"),
                f"The {shorten(one.name)} is counted for each team, but the study has no teams.",
                code="equipment_per_team",
                found='per = "team"',
                allowed='per = "class"; "team" where a group has role = "maker"',
                do="Delete the line and count what all have together, or write "
                'role = "maker" under the [groups.NAME] of those who make the items.',
            )
        for key, value in (("count", one.count), ("holds", one.holds)):
            if not 1 <= value <= _MOST:
                raise places.error(
                    ("equipment", one.name, key),
                    f"'{key}' of the {shorten(one.name)} can't be this.",
                    code="bad_number",
                    found=str(value),
                    allowed=f"a whole number from 1 to {_MOST}",
                    do="Write how many there are, and how many items one takes at a time.",
                )
        near = nearest(one.name, sorted(used - {other.name for other in study.equipment}))
        if one.name not in used and near:
            raise places.error(
                ("equipment", one.name),
                f"No step uses the {shorten(one.name)}.",
                code="unused_equipment",
                found=shorten(one.name),
                allowed=", ".join(sorted(used)),
                do=f"Did you mean '{near}'?",
            )


def unused_equipment(study: Study) -> tuple[str, ...]:
    """Return what people call the equipment that no step uses."""
    used = {name for step in study.steps for name in used_at(step)}
    return tuple(one.label or one.name for one in study.equipment if one.name not in used)


def _check_step(study: Study, step: Step, base: Path, places: Places) -> None:
    levels = tuple(level for factor in study.factors for level in factor.levels)
    what = f"The step '{shorten(step.name)}'"
    for level in step.equipment_for:
        if level not in levels:
            there = f"{what} needs equipment under a level that isn't there."
            raise _unknown(level, levels, (*base, "equipment_for", level), there, places)
    for at, name in enumerate(step.busy):
        if name not in used_at(step):
            there = f"{what} keeps something busy that it doesn't use."
            raise _unknown(name, used_at(step), (*base, "busy", at), there, places)
    if step.waiting_is is not None:
        names = tuple(factor.name for factor in study.factors)
        if step.waiting_is not in names:
            there = f"{what} waits as long as a factor that isn't there."
            raise _unknown(step.waiting_is, names, (*base, "waiting_is"), there, places)
        factor = study.factor(step.waiting_is)
        if factor.kind != "quantity" or not convertible(factor.unit, "min"):
            raise places.error(
                (*base, "waiting_is"),
                f"The levels of '{shorten(factor.name)}' are no times.",
                code="waiting_is",
                found=f"kind {factor.kind}, unit '{shorten(factor.unit)}'",
                allowed='a factor with kind = "quantity" and a unit of time, such as min',
                do="Give the factor its unit, or write waiting = and a number of minutes.",
            )
    waits = step.waiting or step.waiting_is is not None
    if step.ended_by_hand and (step.when == "between" or not waits):
        raise places.error(
            (*base, "ended_by_hand"),
            f"The step '{shorten(step.name)}' has no waiting that could end after a lesson.",
            code="ended_by_hand",
            found=f"when = {step.when}, {'some' if waits else 'no'} waiting",
            allowed="a step done in lessons, with waiting or waiting_is",
            do="Delete the line, or say how long it waits.",
        )
    if step.keeps is not None and not 0 <= step.keeps <= _MOST_HOURS * 60:
        raise places.error(
            (*base, "keeps"),
            f"After the step '{shorten(step.name)}' an item can't lie this long.",
            code="bad_number",
            found=f"{step.keeps:.12g}",
            allowed="minutes from 0; no line at all: as long as you like",
            do="Write the minutes until the next step has to begin at the latest.",
        )


def _unknown(
    name: str, allowed: Collection[str], path: Path, what: str, places: Places
) -> StudyError:
    return places.error(
        path,
        what,
        code="unknown_name",
        found=shorten(name),
        allowed=", ".join(shorten(one) for one in allowed) or "there is none",
        do=meant(name, tuple(allowed), "Use one of these names, written the same way."),
    )


def _check_materials(study: Study, step: Step, base: Path, places: Places) -> None:
    grouped = any(group.step == step.name for group in study.groups)
    for at, material in enumerate(step.materials):
        if material.per == "group" and not grouped:
            raise places.error(
                (*base, "materials", at, "per"),
                f"{shorten(material.name) or 'A material'} is counted for each group, but no group "
                f"belongs to the step '{shorten(step.name)}'.",
                code="material_per_group",
                found='per = "group"',
                allowed='"item", "team", "lesson"; "group" at a step that a group names',
                do="Say what it is used for each time, or write step = "
                f'"{shorten(step.name)}" under the [groups.NAME] of what goes together here.',
            )
        if not material.name.strip():
            raise places.error(
                (*base, "materials", at, "name"),
                "A material has no name.",
                code="empty_name",
                found=f'"{material.name}"',
                allowed="a few words",
                do="Say what is used up.",
            )
        levels = tuple(level for factor in study.factors for level in factor.levels)
        if material.level and material.level not in levels:
            there = f"{shorten(material.name)} is used under a level that isn't there."
            raise _unknown(material.level, levels, (*base, "materials", at, "level"), there, places)
        if not (math.isfinite(material.amount) and 0 < material.amount <= 1e9):
            raise places.error(
                (*base, "materials", at, "amount"),
                f"There can't be this much {shorten(material.name)}.",
                code="bad_number",
                found=f"{material.amount:.12g}",
                allowed="a number above 0",
                do="Write how much is used each time.",
            )
