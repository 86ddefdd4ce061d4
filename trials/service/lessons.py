"""``trials lessons``: place what is left to do again when the day went otherwise."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.classroom.lessons import Schedule, schedule_rest, timetable_of
from trials.design.values import Timetable
from trials.errors import PlanError
from trials.files import as_typed
from trials.progress import progress
from trials.record import Store
from trials.service.codes import nearest
from trials.service.lessons_text import lesson_lines
from trials.service.opening import Opened, held_plan
from trials.service.tally import tally
from trials.words import lessons as words
from trials.workspace import save_timetable


@dataclass(frozen=True)
class Replaced:
    """What is left to do, placed again; ``timetable`` None: it can't be done so."""

    opened: Opened
    since: int
    gone: tuple[str, ...]
    before: Timetable
    timetable: Timetable | None
    schedule: Schedule

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        after = self.timetable
        return {
            "since": self.since,
            "left_out": list(self.gone),
            "lessons_before": self.before.lessons,
            "timetable": None if after is None else after.model_dump(mode="json"),
        }

    def text(self) -> list[str]:
        """Return how many lessons it takes now, and what that costs."""
        folder = as_typed(self.opened.here.folder)
        if self.timetable is None:
            told = lesson_lines(self.opened.study, self.schedule)
            return [*told, "", words.NO_WAY]
        return [
            words.left_over(len(self.gone), self.since),
            words.longer(self.before.lessons, self.timetable.lessons),
            *lesson_lines(self.opened.study, self.schedule),
            words.KEPT_BEFORE,
            "",
            f"Next: trials sheets {folder}",
        ]


def place_again(
    folder: Path, *, since: int, without: Sequence[str] = (), lessons: int | None = None
) -> Replaced:
    """Place what is left to do again, from a lesson on.

    Items that are lost, or that an absent team did not make, are left out. Nothing changes its
    version, team or order.

    Parameters
    ----------
    since : the first lesson that isn't over yet, from 1.
    without : equipment that there is one piece less of, as often as it is named.
    lessons : lessons to be had in all; None: as many as it takes.

    Raises
    ------
    FileError, StudyError : no study.
    PlanError : no plan, or none with a timetable; no such lesson or equipment.
    """
    with held_plan(folder) as opened:
        told = _told(opened, since)
        _refuse_unknown(opened, without)
        with Store.open(opened.here.record) as store:
            rows = {row.item for row in store.rows()}
            found = tally(rows, store.state(), opened.plan)
        gone = (*found.lost, *found.unmade)
        with progress("placing the work in the lessons"):
            rest = schedule_rest(
                opened.study,
                opened.plan,
                since=since,
                gone=gone,
                fewer=Counter(without),
                most=lessons,
            )
        after = timetable_of(opened.study, rest)
        if after is not None:
            save_timetable(opened.here, opened.plan.model_copy(update={"timetable": after}))
    return Replaced(opened, since, gone, told, after, rest)


def _told(opened: Opened, since: int) -> Timetable:
    told = opened.plan.timetable
    if told is None:
        raise PlanError(
            "This plan has no timetable.",
            code="lessons.none",
            where=str(opened.here.plan),
            allowed="a plan drawn for a study that says something under [lessons]",
            do="Write [lessons] into study.toml, and draw the plan again if nothing is made yet.",
        )
    if not 1 <= since <= told.lessons + 1:
        raise PlanError(
            "There is no such lesson.",
            code="lessons.since",
            where="--since",
            found=str(since),
            allowed=f"1 to {told.lessons + 1}",
            do="Say which lesson is the first that isn't over yet.",
        )
    return told


def _refuse_unknown(opened: Opened, without: Sequence[str]) -> None:
    there = {one.name: one.count for one in opened.study.equipment}
    for name, times in Counter(without).items():
        if name not in there or times > there[name]:
            near = nearest(name, list(there)) if name not in there else ""
            raise PlanError(
                "There is no such equipment." if name not in there else "There are not so many.",
                code="lessons.equipment",
                where="--without",
                found=name if times == 1 else f"{name}, {times} times",
                allowed=", ".join(f"{one} ({count})" for one, count in there.items())
                or "study.toml names no equipment under [equipment.NAME]",
                do=f"Did you mean '{near}'?" if near else "Name what is out of order.",
            )
