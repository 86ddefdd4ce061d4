"""The timetable of a plan as lines to read on a terminal."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

from trials.classroom.hazards import must_be_apart
from trials.classroom.lessons import Cure, Schedule
from trials.classroom.loads import Load, Rush
from trials.design.values import Missing, Timetable, missing_in
from trials.files import as_typed
from trials.study import Study
from trials.study.check_groups import members_in_all
from trials.study.check_lessons import pieces_in_all
from trials.study.writing import toml_key, toml_value
from trials.words import lessons as words
from trials.words import lessons_left as helping
from trials.words.durations import duration
from trials.words.hazards import APART
from trials.words.numbers import count, plural

_TIGHT = 0.8  # share of what there is from which on it is told


def fits_words(table: Timetable) -> str:
    """Return in how many lessons a plan with a timetable is done."""
    return words.fits(
        table.lessons, table.minutes, table.ends, proved=table.proved, bound=table.bound
    )


def lesson_lines(study: Study, found: Schedule | None) -> list[str]:
    """Return in how many lessons it can be done, or why not, and what would help."""
    if found is None:
        return [words.NO_LESSONS] if study.steps else []
    placement, room = found.placement, found.room
    if placement.placed:
        lines = [
            words.fits(
                placement.lessons,
                room.minutes,
                placement.ends,
                proved=placement.status == "proved",
                bound=placement.bound,
            )
        ]
        lines += [] if found.whole else [f"  {words.SPLIT}"]
    else:
        sure = placement.status == "impossible"
        lines = [words.does_not_fit(len(room.starts), room.minutes, sure=sure)]
        lines += [f"  {APART}"] if must_be_apart(study) else []
        labels = {step.name: step.label or step.name for step in study.steps}
        for chain in found.chains:
            steps = [labels[step] for step in chain.steps]
            lines.append(f"  {words.in_one_go(steps, chain.minutes, room.working)}")
        tight = [one for one in found.loads if one.share > _TIGHT]
        if not tight and not found.chains and found.loads:
            tight = [found.loads[0]]
            lines.append(f"  {words.FOLLOWS}")
        lines += [f"  {line}" for line in _tight_lines(study, tight)]
    items = plural(study.item_name)
    told = [
        words.helps(
            cure.kind, _of_those(study, cure.name, cure.crews), cure.amount, cure.lessons, items,
            saves=placement.placed,
        )
        for cure in found.cures
    ]  # fmt: skip
    return [*lines, *(f"  {line}" for line in _priced(study, found.cures, told))]


def _tight_lines(study: Study, tight: Sequence[Load]) -> list[str]:
    """Return what is wanted for how long; in one line, if of several crews each wants as much."""
    crews: dict[Load, list[str]] = {}
    for one in tight:
        crews.setdefault(replace(one, crew=""), []).append(one.crew)
    return [
        words.tight(
            one.kind, _of_those(study, one.name, whose), one.wanted, one.offered, one.session
        )
        for one, whose in crews.items()
    ]


def _of_those(study: Study, name: str, crews: Sequence[str]) -> str:
    """Return what is called what some crews have for themselves; the name alone if none does."""
    whose = [crew for crew in crews if crew]
    if not whose:
        return name
    others = [crew for crew in whose if crew in {step.by for step in study.steps}]
    maker = next((group for group in study.groups if group.role == "maker"), None)
    every = maker is not None and len(whose) - len(others) == members_in_all(study, maker.name)
    if maker is None or not every:
        return words.owned(name, "", whose)
    return words.owned(name, maker.label or maker.name, others)


def _priced(study: Study, cures: Sequence[Cure], told: Sequence[str]) -> list[str]:
    """Return what is said of cures with what each costs, where there is a choice."""
    if len(cures) < 2:
        return list(told)
    least = cures[0].price
    prices = [
        words.price(one.kind, one.amount, study.item_name, cheapest=one == least)
        for one in (cure.price for cure in cures)
        if one is not None
    ]
    return [words.CHEAPEST_FIRST, *map(" ".join, zip(told, prices, strict=True))]


def reasons(study: Study, found: Schedule) -> list[str]:
    """Return why what is left to do can't be done in any number of lessons."""
    labels = {step.name: step.label or step.name for step in study.steps}
    keeps = {step.name: duration(step.keeps or 0) for step in study.steps}
    named = {one.name: one.label or one.name for one in study.equipment}
    lines = []
    for one in found.stuck:
        waiting = count(len(one.items), study.item_name)
        lines.append(f"  {words.stuck(labels[one.step], named[one.equipment], waiting)}")
    rushes: dict[Rush, list[str]] = {}
    for it in found.rushes:
        rushes.setdefault(replace(it, crew="", items=()), []).append(it.crew)
    for it, whose in rushes.items():
        name = named.get(it.name, f"hands of {it.name}") if it.name else ""
        name = _of_those(study, name, whose)
        after = [(labels[step], keeps[step]) for step in it.after]
        steps = [labels[step] for step in it.steps]
        told = words.rush(it.lesson, name, steps, after, wanted=it.wanted, there=it.offered)
        lines.append(f"  {told}")
    return lines


def kept_lines(folder: str, study: Study, told: Sequence[Missing], since: int) -> list[str]:
    """Return which equipment is kept as out of order in a lesson, and how to take that back."""
    named = {one.name: one for one in study.equipment}
    last = {one.equipment: one.since for one in told if one.since <= since}
    lines = []
    for name, pieces in missing_in(told, since).items():
        if name not in named:
            continue
        label, there = named[name].label or name, pieces_in_all(study, named[name])
        back = f"trials lessons {folder} --since {since} --back {as_typed(Path(name))}"
        lines.append(words.kept_missing((label, pieces, there), last[name], back))
        if named[name].per == "team" and pieces < there:
            team = next((g.label or g.name for g in study.groups if g.role == "maker"), "")
            lines.append(words.shared_now(label, team, there - pieces))
    return lines


def cure_lines(
    study: Study, found: Schedule, said: Collection[str], kept: Collection[str]
) -> list[str]:
    """Return what would make all that is left possible.

    Parameters
    ----------
    said : equipment that was said to be missing.
    kept : equipment of which only the timetable remembers that.
    """
    told = [
        f"- {_mended_line(study, found, cure, said)}"
        if cure.kind == "mended"
        else f"- {_cure_line(study, cure, said, kept)}"
        for cure in found.cures
    ]
    return (
        [helping.EACH_TRIED, *_priced(study, found.cures, told)]
        if told
        else [helping.NOTHING_ALONE]
    )


def _mended_line(study: Study, found: Schedule, cure: Cure, said: Collection[str]) -> str:
    """Return that the next lesson can be put off until a piece of equipment is mended."""
    named = {one.name: one.label or one.name for one in study.equipment}
    (dead,) = (one.equipment for one in found.stuck if one.step == cure.name)
    return helping.wait_until_mended(
        named[dead],
        as_typed(Path(dead)),
        as_typed(Path(cure.name)),
        lessons=cure.lessons,
        said=dead in said,
        dated=study.lessons is not None and bool(study.lessons.starts),
    )


def sparing_lines(study: Study, found: Schedule, kept: Collection[str]) -> list[str]:
    """Return what would spare the lessons that the rest takes more than before.

    Parameters
    ----------
    kept : equipment that the timetable remembers as out of order.
    """
    told = [_cure_line(study, cure, (), kept) for cure in found.cures]
    if not told:
        return [f"  {helping.NOTHING_SPARES}"]
    lines = [f"- {line}" for line in told]
    return [helping.SPARES, *(f"  {line}" for line in _priced(study, found.cures, lines))]


def _cure_line(study: Study, cure: Cure, said: Collection[str], kept: Collection[str]) -> str:
    labels = {step.name: step.label or step.name for step in study.steps}
    named = {one.name: one.label or one.name for one in study.equipment}
    key, lessons = as_typed(Path(cure.name)), cure.lessons
    if cure.kind == "equipment":
        how: helping.Told = "each" if cure.crews else "more"
        if cure.name in said or cure.name in kept:
            how = "said" if cure.name in said else "kept"
        called = _of_those(study, named[cure.name], cure.crews)
        return helping.put_back(called, key, lessons, how)
    if cure.kind == "minutes":
        there = study.lessons.minutes if study.lessons is not None else 0
        return helping.longer_lessons(cure.amount, there + cure.amount, lessons)
    if cure.kind == "shorter":
        more = [one.name for one in study.responses if one.readings > cure.amount]
        sections = [f"[responses.{toml_key(name)}]" for name in more]
        step = (labels[cure.name], toml_value(cure.name))
        return helping.fewer_readings(
            cure.amount, study.item_name, step,
            minutes=cure.minutes, lessons=lessons, sections=sections,
        )  # fmt: skip
    if cure.kind == "waiting":
        return helping.not_yet(labels[cure.name], key, lessons)
    if cure.kind == "hands":
        return helping.more_hands(lessons)
    return helping.more_lessons(cure.amount, lessons)
