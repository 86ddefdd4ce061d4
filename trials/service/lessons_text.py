"""The timetable of a plan as lines to read on a terminal."""

from __future__ import annotations

from trials.classroom.hazards import must_be_apart
from trials.classroom.lessons import Schedule
from trials.design.values import Timetable
from trials.study import Study
from trials.words import lessons as words
from trials.words.hazards import APART
from trials.words.numbers import plural

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
        lines += [
            f"  {words.tight(one.kind, one.name, one.wanted, one.offered, one.session)}"
            for one in found.loads
            if one.share > _TIGHT
        ]
    items = plural(study.item_name)
    for cure in found.cures:
        told = words.helps(
            cure.kind, cure.name, cure.amount, cure.lessons, items, saves=placement.placed
        )
        lines.append(f"  {told}")
    return lines
