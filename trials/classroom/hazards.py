"""What a study's own texts tell of flames and of what catches fire, beside what it declares.

A teacher writes "pour ethanol on it" and forgets ``flammable = true``. What the texts name is asked
about and, until study.toml says yes or no, taken as true: for the timetable, which keeps a flame
and what catches fire in different lessons, and for the sheets, which print the usual caution.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from trials.classroom.arrange import loose_factors, step_factors
from trials.design.values import Plan, PlannedWork
from trials.study.positions import Path
from trials.study.values import Caution, Equipment, Step, Study
from trials.words.hazards import KEPT, KINDS, Kind, cautioned, named, usual


@dataclass(frozen=True)
class Hazard:
    """One question to settle: something burns openly or catches fire, and too little is said of it.

    ``step``: where; None for the text of a factor that no step
    sets, and for what is kept the same. ``word``: what the text says,
    and ``path`` where that stands; both empty where the study declares it and only lacks a caution.
    ``levels``: under which levels only; empty: always. ``said``: the study declares it, and
    ``cautioned``: the step has a caution about it. ``equipment``: the piece in [equipment] that
    it could be declared at.
    """

    kind: Kind
    step: Step | None
    word: str
    path: Path
    levels: tuple[str, ...] = ()
    said: bool = False
    cautioned: bool = False
    equipment: str = ""


@dataclass(frozen=True)
class _Sign:
    """One place in the texts of a step that names it; ``level``: only under this one."""

    word: str
    path: Path
    level: str = ""
    equipment: str = ""


def hazards(study: Study) -> tuple[Hazard, ...]:
    """Return what is to be settled before anyone starts, step by step.

    A step that has its caution is asked about only where both kinds occur in the study, for then
    the timetable has something to keep apart.
    """
    there, loose = _all(study)
    both = _both((*there, *loose))
    asked = [one for one in there if not one.cautioned or (both and not one.said)]
    return (*asked, *loose)


def must_be_apart(study: Study) -> bool:
    """Return whether a study has a flame and something that catches fire, declared or named."""
    there, loose = _all(study)
    return _both((*there, *loose))


def _all(study: Study) -> tuple[list[Hazard], list[Hazard]]:
    """Return what steps have, settled or not, and what belongs to no step."""
    found = [_at(study, place, kind) for place in range(len(study.steps)) for kind in KINDS]
    return [one for one in found if one is not None], list(_loose(study))


def _both(found: Iterable[Hazard]) -> bool:
    return {one.kind for one in found} == set(KINDS)


def safer(study: Study) -> Study:
    """Return the study as it is carried out until its questions of safety are settled.

    Whatever is named counts as declared, and a step without its caution has the usual one. A study
    with nothing to settle comes back as it is.
    """
    changed = {}
    for place, step in enumerate(study.steps):
        update: dict[str, object] = {}
        cautions = step.cautions
        for kind in KINDS:
            one = _at(study, place, kind)
            if one is None:
                continue
            if not one.said:
                update[kind] = one.levels or True
            if not one.cautioned:
                text = usual(kind, study.language)
                cautions += (Caution(text=text.text, ghs=text.ghs, iso7010=text.iso7010),)
        if update or cautions != step.cautions:
            changed[place] = step.model_copy(update={**update, "cautions": cautions})
    if not changed:
        return study
    steps = tuple(changed.get(place, step) for place, step in enumerate(study.steps))
    return study.model_copy(update={"steps": steps})


def burning(study: Study, step: Step, levels: Collection[str]) -> frozenset[Kind]:
    """Return what a study declares of a step done to an item, or a group, that has these levels.

    Given what :func:`safer` returns, that is what the study's texts name, too.
    """
    used = {*step.equipment, *(name for one in levels for name in step.equipment_for.get(one, ()))}
    found: set[Kind] = (
        {"flame"} if any(e.flame and e.name in used for e in study.equipment) else set()
    )
    said: tuple[tuple[Kind, bool | tuple[str, ...] | None], ...] = (
        ("flame", step.flame), ("flammable", step.flammable),
    )  # fmt: skip
    for kind, when in said:
        if any(one in when for one in levels) if isinstance(when, tuple) else when:
            found.add(kind)
    return frozenset(found)


def in_one_lesson(study: Study, plan: Plan) -> tuple[int, ...]:
    """Return the lessons of a plan's timetable that have a flame and what catches fire in them.

    There are none in a timetable of the study as it is; it may have been made before the study, or
    the program, knew of one of the two.
    """
    there: dict[int, set[Kind]] = {}
    for work, kinds in _to_come(study, plan):
        if not work.between:
            there.setdefault(work.lesson, set()).update(kinds)
    return tuple(sorted(lesson for lesson, kinds in there.items() if kinds == set(KINDS)))


def at_one_time(study: Study, plan: Plan) -> tuple[tuple[int, str], ...]:
    """Return before which lessons a timetable has a flame while what catches fire is out.

    Each with the step, of those that meet there, that comes first in the study; as
    :func:`in_one_lesson`, there are none in a timetable of the study as it is.
    """
    found: dict[int, str] = {}
    works = [(work, kinds) for work, kinds in _to_come(study, plan) if work.between]
    for flame in (work for work, kinds in works if "flame" in kinds):
        for liquid in (work for work, kinds in works if "flammable" in kinds):
            apart = _over(flame) <= liquid.start or _over(liquid) <= flame.start
            if flame.lesson == liquid.lesson and (flame == liquid or not apart):
                meeting = {flame.step, liquid.step, found.get(flame.lesson)}
                first = next(step.name for step in study.steps if step.name in meeting)
                found[flame.lesson] = first
    return tuple(sorted(found.items()))


def _over(work: PlannedWork) -> int:
    return work.start + max(1, work.minutes + work.waiting)


def _to_come(study: Study, plan: Plan) -> Iterator[tuple[PlannedWork, frozenset[Kind]]]:
    """Yield the works of a timetable that aren't over, with what burns or catches fire at each."""
    table = plan.timetable
    if table is None:
        return
    study = safer(study)
    steps = {step.name: step for step in study.steps}
    levels = {row.item: row.factors.values() for row in plan.rows}
    over = {table.works[at] for at in table.over}
    for work in table.works:
        if work.step in steps and work not in over:
            mine = {level for item in work.items for level in levels.get(item, ())}
            yield work, burning(study, steps[work.step], mine)


def _at(study: Study, place: int, kind: Kind) -> Hazard | None:
    """Return what a step has of one kind, declared or named; None where there is nothing of it."""
    step = study.steps[place]
    said = step.flame if kind == "flame" else step.flammable
    if said is False:
        return None
    safe = any(cautioned(kind, c.text, (*c.ghs, *c.iso7010)) for c in step.cautions)
    if kind == "flame" and said is None:
        known = [one for one in study.equipment if one.name in _equipment_of(step)]
        if any(one.flame for one in known):
            return Hazard(kind, step, "", (), said=True, cautioned=safe)
    if said:
        levels = said if isinstance(said, tuple) else ()
        return Hazard(kind, step, "", (), levels, said=True, cautioned=safe)
    tame = _tame(study, step) if kind == "flame" else set()
    signs = [sign for sign in _signs(study, place, kind) if _bare(sign.word) not in tame]
    if not signs:
        return None
    always = [sign for sign in signs if not sign.level]
    first = (always or signs)[0]
    levels = () if always else tuple(dict.fromkeys(sign.level for sign in signs))
    return Hazard(
        kind, step, first.word, first.path, levels, cautioned=safe, equipment=first.equipment
    )


def _tame(study: Study, step: Step) -> set[str]:
    """Return what a step's equipment is called that is declared not to burn."""
    calm = [
        one for one in study.equipment if one.flame is False and one.name in _equipment_of(step)
    ]
    words = (named(text).get("flame", "") for one in calm for text in (one.name, one.label))
    return {_bare(word) for word in words if word}


def _bare(word: str) -> str:
    return word.casefold().removesuffix("s")


def _equipment_of(step: Step) -> tuple[str, ...]:
    return (*step.equipment, *(name for some in step.equipment_for.values() for name in some))


def _signs(study: Study, place: int, kind: Kind) -> Iterator[_Sign]:
    """Yield where the texts of a step name it, but for equipment that declares it."""
    step = study.steps[place]
    here: Path = ("steps", place)
    for key in ("text", "label", "name"):
        yield from _in_text(getattr(step, key), kind, (*here, key))
    declared = {one.name: one for one in study.equipment}
    for name in step.equipment:
        yield from _in_equipment(name, declared.get(name), kind, (*here, "equipment"))
    for level, some in step.equipment_for.items():
        for name in some:
            path: Path = (*here, "equipment_for", level)
            yield from _in_equipment(name, declared.get(name), kind, path, level)
    for at, material in enumerate(step.materials):
        yield from _in_text(material.name, kind, (*here, "materials", at, "name"))
    if step.stage == "make":
        for name in step_factors(study, step):
            yield from _in_factor(study, name, kind)


def _in_text(text: str, kind: Kind, path: Path, level: str = "") -> Iterator[_Sign]:
    word = named(text).get(kind)
    if word is not None:
        yield _Sign(word, path, level)


def _in_equipment(
    name: str, one: Equipment | None, kind: Kind, path: Path, level: str = ""
) -> Iterator[_Sign]:
    if one is not None and kind == "flame" and one.flame is not None:
        return
    words: Iterable[str] = (name,) if one is None else (name, one.label)
    word = next((found[kind] for text in words if kind in (found := named(text))), None)
    if word is not None:
        path = ("equipment", name) if one is not None else path
        yield _Sign(word, path, level, "" if one is None else name)


def _in_factor(study: Study, name: str, kind: Kind) -> Iterator[_Sign]:
    factor = study.factor(name)
    for level in factor.levels:
        how: Path = ("factors", name, "how", level)
        told = list(_in_text(factor.how.get(level, ""), kind, how, level))
        yield from told or _in_text(level, kind, ("factors", name, "levels"), level)


def _loose(study: Study) -> Iterator[Hazard]:
    """Yield what the texts name that belong to no step.

    Those are the factors that no step sets, and what is kept the same; the latter only where no
    step tells of this kind.
    """
    for name in loose_factors(study):
        for kind in KINDS:
            for sign in _in_factor(study, name, kind):
                yield Hazard(kind, None, sign.word, sign.path, (sign.level,))
    for kind in KINDS:
        if any(getattr(step, kind) is not None for step in study.steps):
            continue
        if any(_at(study, place, kind) for place in range(len(study.steps))):
            continue
        signs = [s for at, text in enumerate(study.same) for s in _in_text(text, kind, (KEPT, at))]
        if signs:
            yield Hazard(kind, None, signs[0].word, signs[0].path)
