"""A flame and something that catches fire in one study that no timetable keeps apart."""

from __future__ import annotations

from trials.classroom.arrange import step_factors
from trials.study.values import Step, Study
from trials.words.fire import burning, catching


def not_kept_apart(study: Study) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """Return what burns and what catches fire, as the study names them; None: no danger is seen.

    The timetable keeps apart what is marked: equipment with ``flame``, steps that are
    ``flammable``. This finds what is named in plain words and isn't marked, or has no timetable.
    Cautions aren't looked through: they name what must not be there.
    """
    marked = {one.name for one in study.equipment if one.flame}
    burns: list[str] = []
    catches: list[str] = []
    all_marked = True
    for step in study.steps:
        texts, used = _texts(study, step), _used(step)
        lit = [name for name in used if name in marked]
        flames = burning(texts) or tuple(lit)
        liquids = catching(texts) or ((step.label or step.name,) if step.flammable else ())
        burns += flames
        catches += liquids
        all_marked = all_marked and bool(lit or not flames) and (step.flammable or not liquids)
    if not burns or not catches or (all_marked and study.lessons is not None):
        return None
    return tuple(dict.fromkeys(burns)), tuple(dict.fromkeys(catches))


def _used(step: Step) -> list[str]:
    return [*step.equipment, *(one for used in step.equipment_for.values() for one in used)]


def _texts(study: Study, step: Step) -> list[str]:
    """Return what a step is said to be done with: no cautions, which name what is forbidden."""
    factors = [study.factor(name) for name in step_factors(study, step)]
    hows = [text for one in factors for text in (*one.levels, *one.how.values())]
    things = [*_used(step), *(material.name for material in step.materials)]
    return [step.name, step.label, step.text, *things, *hows]
