"""``trials plan``: draw the plan and keep it in the study folder."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.classroom.lessons import Schedule, schedule, timetable_of
from trials.design.audit import with_timed_findings
from trials.design.draw import draw
from trials.design.judging import judged, judgement_of
from trials.design.saved import plan_to_dict
from trials.design.values import Plan
from trials.errors import PlanError
from trials.files import as_typed
from trials.progress import progress
from trials.randomness import new_seed
from trials.record import Store
from trials.service.impossible import with_nearest
from trials.service.judging_text import told_apart_lines
from trials.service.lessons_text import lesson_lines
from trials.service.opening import has_readings, open_study
from trials.service.plan_files import PAGE, write_plan_page
from trials.service.plan_text import counted_lines, fairness_lines, short_lines, size_lines
from trials.service.safety_text import safety_lines
from trials.service.standing import tried_before
from trials.study import Study
from trials.workspace import (
    Workspace,
    has_plan,
    load_plan,
    open_workspace,
    plan_as_seen,
    read_plan,
    refuse_if_drawn_meanwhile,
    refuse_if_measured,
    save_plan,
    save_timetable,
    set_damaged_plan_aside,
)


@dataclass(frozen=True)
class Planned:
    """The plan that was drawn.

    ``replaced`` tells of an older one whose sheets had been printed; ``same`` that the very plan
    that is there came out again, so that nothing was changed.
    """

    here: Workspace
    study: Study
    plan: Plan
    replaced: bool
    same: bool = False
    pictured: bool = False  # there is a page with pictures
    aside: str = ""  # where a plan.json that couldn't be read is kept
    schedule: Schedule | None = None  # None: the study says nothing of lessons

    def to_dict(self) -> dict[str, Any]:
        """Return plan.json."""
        return plan_to_dict(self.plan)

    def text(self) -> list[str]:
        """Return where the plan is and whether it is fair.

        What it can tell, and what it takes, was told by the check, which tells it of this plan now.
        """
        pictures = f"; with pictures: {self.here.folder / PAGE}" if self.pictured else ""
        lines = [
            *self._void_lines(),
            f"Plan drawn with seed {self.plan.seed}: {self.here.plan_table}",
            *size_lines(self.study, self.plan),
            *short_lines(self.study, self.plan),
            *lesson_lines(self.study, self.schedule),
            *counted_lines(self.study, self.plan),
            "",
            *fairness_lines(self.plan),
            *safety_lines(self.study, self.plan, self.here.folder),
            *told_apart_lines(self.study, self.plan, judgement_of(self.plan)),
            "",
            f"What it can tell: trials check {as_typed(self.here.folder)}{pictures}",
        ]
        if self.same:
            lines.append("This is the plan that was there already; nothing was changed.")
        return [*lines, f"Next: trials sheets {as_typed(self.here.folder)}"]

    def _void_lines(self) -> list[str]:
        """Return which sheets are void now: told first, for somebody may hold them already."""
        if self.aside:
            return [
                f"The plan.json that was there was damaged; it is kept as {self.aside}, and the "
                "plan was drawn again. Sheets printed from it are void. The report will tell.",
                "",
            ]
        if self.replaced:
            return [
                "The sheets of the old plan are void: throw them away.",
                "What was made by them doesn't fit this plan. The old plan is kept in history/, "
                "and the report will tell.",
                "",
            ]
        return []


def draw_plan(
    folder: Path,
    *,
    seed: int | None = None,
    items: int | None = None,
    today: datetime.date | None = None,
) -> Planned:
    """Draw a plan and keep it.

    A study has one seed: the first plan draws it, and it stays whatever is changed in study.toml,
    so that drawing again is no second try. Another one has to be asked for, and the plan's
    ``seeds_tried`` keeps every seed that was ever tried, the one in use last.

    Parameters
    ----------
    seed : what chance starts from; None takes the study's own.
    items : how many items to make, instead of what study.toml says.
    today : date to write down where a printed plan is replaced; None takes the machine's.

    Raises
    ------
    FileError, StudyError, PlanError : no study, an impossible one, a plan with measurements, or
        someone else drew another one since this one was asked for.
    """
    seen = plan_as_seen(open_workspace(folder))
    with with_nearest(folder, items):
        here, study = open_study(folder)
    with here.held(), with_nearest(folder, items):
        measured = has_readings(here)
        _refuse_if_damaged(here, measured=measured)
        refuse_if_measured(here, measured)
        old, tried, aside = _before(here)
        chosen = seed if seed is not None else tried[-1] if tried else new_seed()
        before = tuple(number for number in tried if number != chosen)
        with progress("drawing the plan"):
            plan = judged(study, draw(study, seed=chosen, seeds_tried=before, items=items))
        plan, found = _timed(study, plan)
        if old is not None and old.digest() == plan.digest():
            if old.timetable is None and plan.timetable is not None:  # none was found before
                timed = {"timetable": plan.timetable, "audit": plan.audit}
                old = old.model_copy(update=timed)
                save_timetable(here, old)
            pictured = bool(write_plan_page(here, study, old))
            return Planned(here, study, old, False, same=True, pictured=pictured, schedule=found)
        if not aside:
            refuse_if_drawn_meanwhile(here, seen, f"trials plan {_as_asked(here, seed, items)}")
        replaced = save_plan(
            here, plan, measured=False, today=today or datetime.datetime.now().astimezone().date()
        )
        if here.record.exists():
            with Store.open(here.record) as store:
                store.be_drawn_anew()
        pictured = bool(write_plan_page(here, study, plan))
    return Planned(here, study, plan, replaced, pictured=pictured, aside=aside, schedule=found)


def _timed(study: Study, plan: Plan) -> tuple[Plan, Schedule | None]:
    """Return the plan with its timetable, and how that was found; None without lessons."""
    if study.lessons is None:
        return plan, None
    with progress("placing the work in the lessons"):
        found = schedule(study, plan)
    timed = plan.model_copy(update={"timetable": timetable_of(study, found)})
    return with_timed_findings(study, timed), found


def _as_asked(here: Workspace, seed: int | None, items: int | None) -> str:
    """Return what was typed after the verb."""
    options = (("--seed", seed), ("--items", items))
    told = [f"{name} {number}" for name, number in options if number is not None]
    return " ".join([as_typed(here.folder), *told])


def _before(here: Workspace) -> tuple[Plan | None, tuple[int, ...], str]:
    """Return the plan that is there, all seeds tried, and where a damaged plan.json went."""
    if not has_plan(here):
        return None, (), ""
    try:
        old = load_plan(here)[0]
    except PlanError as problem:
        if problem.code != "plan.changed":  # of another version, and not damaged
            raise
        kept, tried = set_damaged_plan_aside(here)
        return None, tried, kept.relative_to(here.folder).as_posix()
    return old, (*tried_before(old), old.seed), ""


def _refuse_if_damaged(here: Workspace, *, measured: bool) -> None:
    """Refuse to draw anew where measurements belong to a plan that can't be read.

    Raises
    ------
    PlanError : they do; how the plan is put back is told.
    """
    if not measured or not has_plan(here):
        return
    try:
        read_plan(here)
    except PlanError as problem:
        raise PlanError(
            "The plan can't be read, and it can't be drawn again: there are measurements made with "
            "it.",
            code="plan.damaged_measured",
            where=str(here.plan),
            found=problem.found or "",
            do="Put plan.json back from a copy of the folder, or take the newest plan from "
            f"{here.history}. Nothing is lost: the measurements are in {here.record.name}, and "
            f"{here.plan_table.name} shows which item was to be what.",
        ) from None
