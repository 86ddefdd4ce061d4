"""``trials sheets``: what the class needs on paper, and the workbook to type readings into."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from trials import sheets
from trials.classroom.hazards import at_one_time, in_one_lesson
from trials.classroom.stock import stocks
from trials.design.planned import printed_plans, stops, study_as_written
from trials.design.values import Plan
from trials.errors import PlanError
from trials.files import as_typed, write_bytes
from trials.progress import progress
from trials.record import Store
from trials.render.typeset import Paper, mark_of
from trials.service.opening import Opened, held_plan
from trials.service.safety_text import caution_notes
from trials.service.tally import made_by_others, tally
from trials.sheets.label_sheets import PLAIN
from trials.sheets.stock import stock_sentence
from trials.study import Study
from trials.words.gone import FROM_PAGE_2, LABELS_STAY, known_by, print_again, still_timed
from trials.words.lessons import no_timetable
from trials.words.materials import stock_remedy
from trials.words.numbers import listing
from trials.workspace import Workspace, lock_plan

WORKBOOK = "entry-workbook.xlsx"
LESSON_PAGES = "lesson.pdf"
LABELS = "labels.pdf"
HURTS = ("cautions.pdf", "risk-form.pdf")  # they tell of the cautions that page one tells of


@dataclass(frozen=True)
class Printed:
    """The files to print or to fill in."""

    here: Workspace
    plan: Plan
    listing: tuple[tuple[str, str], ...]  # file name, what it is for
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "folder": str(self.here.sheets),
            "files": [{"file": name, "purpose": purpose} for name, purpose in self.listing],
            "locked": self.plan.locked,
            "notes": list(self.notes),
        }

    def text(self) -> list[str]:
        """Return what was printed and what to do with it."""
        width = max(len(name) for name, _ in self.listing)
        return [
            *(f"Note: {note}" for note in self.notes),
            f"Written to {self.here.sheets}:",
            *(f"  {name:<{width}}  {purpose}" for name, purpose in self.listing),
            "",
            f"The plan is locked since {self.plan.locked}, so nobody can change it after seeing "
            "results.",
            "The rules of your school and the risk assessment of a qualified person come first.",
            f"Next, when the workbook is filled in: trials collect {as_typed(self.here.folder)} "
            f"{as_typed(self.here.sheets / WORKBOOK)}",
        ]


def make_sheets(
    folder: Path,
    *,
    paper: Paper = "a4",
    label_size: str = PLAIN,
    anyway: bool = False,
    today: datetime.date | None = None,
) -> Printed:
    """Print the sheets of the plan and lock it.

    Parameters
    ----------
    paper : size of the paper.
    label_size : "plain", "large" or the size of one label, such as "70 x 37 mm".
    anyway : print although the fair-test check says stop.
    today : date of the lock; None takes the machine's.

    Raises
    ------
    FileError, StudyError, PlanError : no study, no plan, or one that should not be carried out.
    RequestError : no such labels, or too small ones.
    """
    with held_plan(folder) as opened, progress("setting the pages"):
        if not anyway:
            _refuse_stopped(opened)
        study = study_as_written(opened.study, opened.plan)
        plan = printed_plans(opened.plan)[-1]
        if not anyway:
            _refuse_fire(opened, study, plan)
            _refuse_too_little(opened, study, plan)
        lost, unmade, measured = _so_far(opened, plan)
        handouts = sheets.make_sheets(
            study,
            plan,
            paper=paper,
            label_size=label_size,
            lost=lost,
            unmade=unmade,
            measured=measured,
        )
        timed = _still_timed(opened, plan, {*lost, *unmade})
        labels = partial(sheets.labels_without, study, plan, paper=paper, label_size=label_size)
        # those of the last print come first: few are drawn again until they are found
        stuck = ((lost[:n], some) for some in (unmade, ()) for n in reversed(range(len(lost) + 1)))
        earlier = (labels(lost=so_far, unmade=some) for so_far, some in stuck)
        renewed = _renewed(opened, study, handouts, earlier, gone=bool(lost or unmade))
        kept = _keep_filled(opened, handouts)
        for handout in handouts.handouts:
            write_bytes(opened.here.sheets / handout.name, handout.content)
        if LESSON_PAGES not in handouts.files:  # those of an earlier timetable look current
            (opened.here.sheets / LESSON_PAGES).unlink(missing_ok=True)
        day = today or datetime.datetime.now().astimezone().date()
        locked = lock_plan(opened.here, opened.plan, day)
        untimed = _untimed(opened, plan)
    notes = (*untimed, *opened.notes, *caution_notes(study), *kept, *timed, *renewed)
    return Printed(opened.here, locked, handouts.listing, notes)


def _so_far(opened: Opened, plan: Plan) -> tuple[tuple[str, ...], ...]:
    """Return which items of a plan are lost, which nobody made, and which have a reading.

    What is lost is in the order in which it was recorded.
    """
    if not opened.here.record.exists():
        return (), (), ()
    with Store.open(opened.here.record) as store:
        state = store.state()
        found = tally({row.item for row in store.rows()}, state, opened.plan)
    here = {row.item for row in plan.rows}
    others = made_by_others(found, state)
    return (
        tuple(loss.item for loss in state.losses if loss.item in here & {*found.lost}),
        tuple(item for item in found.unmade if item in here and item not in others),
        tuple(item for item in found.read if item in here),
    )


def _untimed(opened: Opened, plan: Plan) -> tuple[str, ...]:
    """Return a reminder that a plan doesn't fit into the lessons, and what follows from that."""
    if opened.study.lessons is None or plan.timetable is not None:
        return ()
    return (no_timetable(as_typed(opened.here.folder)),)


def _still_timed(opened: Opened, plan: Plan, gone: Collection[str]) -> tuple[str, ...]:
    """Return a note of what the timetable still has although it is no longer made."""
    works = plan.timetable.works if plan.timetable is not None else ()
    placed = {item for work in works for item in work.items}
    items = [row.item for row in plan.rows if row.item in placed and row.item in gone]
    return (still_timed(items, as_typed(opened.here.folder)),) if items else ()


def _renewed(
    opened: Opened, study: Study, handouts: sheets.Handouts, earlier: Iterable[bytes], *, gone: bool
) -> tuple[str, ...]:
    """Return a note of which sheets are others than those in the folder, and which aren't.

    ``earlier``: the labels as they were before some of what is gone was.
    Where those in the folder are among these, each item has its label.
    """
    folder = opened.here.sheets
    pages = {name: page for name, page in handouts.files.items() if name.endswith(".pdf")}
    there = {name: (folder / name).read_bytes() for name in pages if (folder / name).exists()}
    if not there:
        return ()
    changed = [name for name in pages if there.get(name) != pages[name]]
    if LABELS in changed and any(page == there.get(LABELS) for page in earlier):
        changed.remove(LABELS)
    signed = any(step.cautions for step in study.steps) and not {*HURTS} & {*changed}
    signed = signed and (LESSON_PAGES in there) == (LESSON_PAGES in pages)
    remarks = {"making-sheets.pdf": FROM_PAGE_2} if signed else {}
    remarks |= {LABELS: LABELS_STAY} if gone else {}
    same = [name for name in pages if name not in changed]
    return (print_again(changed, same, remarks, _known(there, pages, changed)),)


def _known(there: Mapping[str, bytes], pages: Mapping[str, bytes], changed: Collection[str]) -> str:
    """Return by which mark pages that were printed before are known from those that take over."""
    marks = [(mark_of(there[name]), mark_of(pages[name])) for name in changed if name in there]
    told = [pair for pair in dict.fromkeys(marks) if any(pair)]
    return known_by([old for old, _ in told], told[0][1]) if told else ""


def _keep_filled(opened: Opened, handouts: sheets.Handouts) -> tuple[str, ...]:
    """Move a workbook that somebody has typed into out of the way; return a note of where to."""
    path = opened.here.sheets / WORKBOOK
    new = handouts.files.get(WORKBOOK)
    if new is None or not path.exists() or path.read_bytes() == new:
        return ()
    stamp = datetime.datetime.now().astimezone().strftime("%Y-%m-%d-%H%M%S")
    kept = opened.here.folder / "history" / f"{stamp}-{WORKBOOK}"
    write_bytes(kept, path.read_bytes())
    return (f"The workbook that lay there was kept as {kept}, in case something is typed in it.",)


def _refuse_too_little(opened: Opened, study: Study, plan: Plan) -> None:
    """Refuse to lock a plan for which there is too little of a material."""
    short = [one for one in stocks(study, plan) if not one.enough]
    if short and opened.plan.locked is None:
        raise PlanError(
            "There is too little for this plan.",
            code="plan.stock",
            where=str(opened.here.study),
            found=" ".join(stock_sentence(one, study.item_name) for one in short),
            allowed="a plan for what there is",
            do=f"{stock_remedy(min(one.fits or 0 for one in short), study.item_name)} Then draw "
            "the plan again. To print it all the same add --anyway.",
        )


def _refuse_fire(opened: Opened, study: Study, plan: Plan) -> None:
    """Refuse a timetable with a flame where something that catches fire is out."""
    if both := in_one_lesson(study, plan):
        raise _fire(
            opened,
            "The timetable has a flame and something that catches fire in one lesson.",
            f"lesson {listing([str(lesson) for lesson in both])}",
            "lessons with one of the two",
            f"--since {min(both)}",
        )
    if meeting := at_one_time(study, plan):
        lesson, step = meeting[0]
        raise _fire(
            opened,
            "The timetable has a flame while something that catches fire is out.",
            f"right before lesson {lesson}",
            "one after the other",
            f"--since {lesson} --not-yet {as_typed(Path(step))}",
        )


def _fire(opened: Opened, what: str, found: str, allowed: str, options: str) -> PlanError:
    return PlanError(
        what,
        code="plan.flame_beside",
        where=str(opened.here.plan),
        found=found,
        allowed=f"{allowed}; 'trials check' says where study.toml names them",
        do="Draw the plan again with 'trials plan', or place the work again: trials lessons "
        f"{as_typed(opened.here.folder)} {options}",
    )


def _refuse_stopped(opened: Opened) -> None:
    found = stops(opened.plan)
    if found:
        raise PlanError(
            "The fair-test check says stop: this plan can't answer the question.",
            code="plan.stopped",
            where=str(opened.here.plan),
            found="; ".join(finding.message for finding in found),
            do=f"{found[0].remedy} Then draw the plan again. To print it all the same add "
            "--anyway; the report will tell.",
        )
