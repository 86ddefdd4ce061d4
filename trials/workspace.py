"""The study folder: which file is where, and what may still be changed.

    study.toml      what is asked; written by people
    plan.json       the plan, the authority
    plan.csv        the same rows as a table, for people; a copy
    plan.html       the plan to look at, with plan-layout and plan-ties (SVG and PNG) beside it
    sheets/         what is handed out
    record.sqlite   what was measured, decided and lost; only ever added to
    findings.json   what the analysis found
    report/         how it is told
    board.md        the words of the display board, for people to change; abstract.md likewise
    history/        earlier plans, and study.toml as it was when the plan was drawn
    practice-run.json  what was taken from a practice run, in a study made again from a package

The plan may be drawn again freely until its sheets are printed. Of two people who do so at the same
time the first is served; the other is told, and nothing of theirs is kept. After the printing and
before the first reading a new plan is a departure: the old one is kept, and the report says so.
After the first reading the plan stays as it is.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from trials.design.saved import csv_matches, plan_from_json, plan_to_csv, plan_to_json
from trials.design.values import Plan
from trials.errors import FileError, PlanError
from trials.files import as_typed, lock, read_bytes, take_place, write_bytes, write_text
from trials.words.language import say

_MARK = ".trials.lock"
_WAITING = "study-for-plan-"
_REPLACED = "replaced.json"
_DAMAGED = "plan-damaged"


@dataclass(frozen=True)
class Workspace:
    """Where the files of one study are."""

    folder: Path

    @property
    def study(self) -> Path:
        """What is asked."""
        return self.folder / "study.toml"

    @property
    def plan(self) -> Path:
        """The plan, the authority."""
        return self.folder / "plan.json"

    @property
    def plan_table(self) -> Path:
        """The plan as a table, a copy."""
        return self.folder / "plan.csv"

    @property
    def sheets(self) -> Path:
        """The folder of what is handed out."""
        return self.folder / "sheets"

    @property
    def record(self) -> Path:
        """The record of measurements."""
        return self.folder / "record.sqlite"

    @property
    def findings(self) -> Path:
        """What the analysis found."""
        return self.folder / "findings.json"

    @property
    def practice(self) -> Path:
        """What was taken from a practice run that is not here."""
        return self.folder / "practice-run.json"

    @property
    def report(self) -> Path:
        """The folder of the report."""
        return self.folder / "report"

    @property
    def board(self) -> Path:
        """The words of the display board; people change them."""
        return self.folder / "board.md"

    @property
    def abstract(self) -> Path:
        """The abstracts; people change them."""
        return self.folder / "abstract.md"

    @property
    def history(self) -> Path:
        """The folder of what was replaced."""
        return self.folder / "history"

    @property
    def study_as_planned(self) -> Path:
        """study.toml as it was when the plan was drawn."""
        return self.history / "study-as-planned.toml"

    @contextlib.contextmanager
    def held(self, seconds: float = 10.0) -> Iterator[None]:
        """Keep others from changing this study while the block runs; wait ``seconds`` for them.

        Raises
        ------
        FileError : someone else is changing it just now.
        """
        with lock(self.folder / _MARK, seconds):
            yield


def open_workspace(folder: Path) -> Workspace:
    """Return the study folder at ``folder`` (or the one around a study.toml).

    Raises
    ------
    FileError : there is no study.toml.
    """
    if folder.name == "study.toml" and folder.is_file():
        folder = folder.parent
    here = Workspace(folder)
    if not here.study.is_file():
        raise FileError(
            "This is not a study folder: there is no study.toml in it.",
            code="workspace.no_study",
            where=str(folder),
            do=f"Start a study with: trials new {folder}, or name another folder.",
        )
    return here


def load_plan(here: Workspace) -> tuple[Plan, tuple[str, ...]]:
    """Return the plan, and a note for each thing that had to be put right.

    plan.csv is compared with plan.json. Where it differs, the changed table is kept in history/ and
    the copy is written anew.

    Raises
    ------
    PlanError : there is no plan yet, or plan.json is not as the program wrote it.
    """
    if not here.plan.is_file():
        raise PlanError(
            "There is no plan yet.",
            code="plan.missing",
            where=str(here.plan),
            do=f"Draw one with: trials plan {as_typed(here.folder)}",
        )
    plan = read_plan(here)
    waiting = _waiting(here, plan)
    if waiting.is_file():  # the program was stopped while it was saving this plan
        take_place(waiting, here.study_as_planned)
    notes: tuple[str, ...] = ()
    if here.plan_table.is_file():
        if csv_matches(plan, _text(here.plan_table)):
            return plan, notes
        kept = _free_name(here.history, "plan-changed", ".csv")
        write_bytes(kept, read_bytes(here.plan_table))
        notes = (
            "plan.csv did not say what the plan itself says, which is in plan.json. So it was "
            f"written anew; the table that was there is kept as {kept.relative_to(here.folder)}.",
        )
    write_text(here.plan_table, plan_to_csv(plan))
    return plan, notes


def read_plan(here: Workspace) -> Plan:
    """Return the plan in plan.json and change nothing.

    Raises
    ------
    FileError, PlanError : there is none, or it is not as the program wrote it.
    """
    return plan_from_json(_text(here.plan), str(here.plan))


def restore_study_as_planned(here: Workspace) -> str:
    """Write the copy of study.toml anew and return a note; what was there is kept.

    Only for a study.toml that is just as the plan was drawn for it.
    """
    note = f"{here.study_as_planned.relative_to(here.folder)} was not as the program wrote it."
    if here.study_as_planned.is_file():
        kept = _free_name(here.history, "study-as-planned-changed", ".toml")
        write_bytes(kept, read_bytes(here.study_as_planned))
        note += f" What was there is kept as {kept.relative_to(here.folder)}."
    write_bytes(here.study_as_planned, read_bytes(here.study))
    return f"{note} It was written anew, for study.toml is unchanged."


def has_plan(here: Workspace) -> bool:
    """Tell whether a plan was drawn."""
    return here.plan.is_file()


def set_damaged_plan_aside(here: Workspace) -> tuple[Path, tuple[int, ...]]:
    """Move a plan.json that can't be read, and the table beside it, to history/.

    Returns
    -------
    Where plan.json is kept now, and the seeds that can still be read in it, the one in use last.
    """
    text = _text(here.plan)
    kept = _free_name(here.history, _DAMAGED, ".json")
    write_bytes(kept, read_bytes(here.plan))
    if here.plan_table.is_file():
        write_bytes(kept.with_suffix(".csv"), read_bytes(here.plan_table))
    here.plan.unlink()
    found = re.search(r'"seed": *(\d+)', text)
    tried = re.search(r'"seeds_tried": *\[([\d,\s]*)\]', text)
    numbers = [int(n) for n in re.findall(r"\d+", tried.group(1))] if tried else []
    last = [int(found.group(1))] if found else numbers[-1:]
    return kept, (*(n for n in numbers if n not in last), *last)


def save_plan(here: Workspace, plan: Plan, *, measured: bool, today: datetime.date) -> bool:
    """Make ``plan`` the plan of this study; tell whether a printed plan was replaced.

    A program that is stopped half-way leaves either the old plan or the new one, each with the
    study.toml it was drawn for: the copy waits under a name of its own until plan.json is written.

    Raises
    ------
    PlanError : something was measured with the plan that is there.
    """
    replaced = False
    if has_plan(here):
        refuse_if_measured(here, measured)
        old, _ = load_plan(here)
        if old.locked is not None:
            _keep_replaced(here, old, plan, today)
            replaced = True
    waiting = _waiting(here, plan)
    for left in here.history.glob(f"{_WAITING}*.toml"):  # of a plan that was never finished
        left.unlink()
    write_bytes(waiting, read_bytes(here.study))
    _write_plan(here, plan)
    take_place(waiting, here.study_as_planned)
    return replaced


def plan_as_seen(here: Workspace) -> bytes:
    """Return what plan.json holds just now; nothing where there is none."""
    return read_bytes(here.plan) if here.plan.is_file() else b""


def refuse_if_drawn_meanwhile(here: Workspace, seen: bytes, again: str) -> None:
    """Refuse to put a plan in the place of one that nobody had seen when it was asked for.

    Parameters
    ----------
    seen : what plan.json held then.
    again : what to type to go on all the same.

    Raises
    ------
    PlanError : someone else drew or extended the plan in between.
    """
    if plan_as_seen(here) != seen:
        raise PlanError(
            "Someone else drew a plan for this study at the same time, and was first.",
            code="plan.drawn_meanwhile",
            where=str(here.plan),
            found="a plan that was not there when yours was asked for",
            allowed="one plan, which all of you know",
            do=f"Nothing of yours was kept, and the other plan stands. Look at {here.plan_table} "
            f"and agree which one to use. To put yours in its place: {again}",
        )


def refuse_if_measured(here: Workspace, measured: bool) -> None:
    """Refuse to go on with a new plan if there are readings.

    Raises
    ------
    PlanError : something was measured with the plan that is there.
    """
    if measured:
        raise PlanError(
            "The plan can't be drawn again: there are measurements made with it.",
            code="plan.measured",
            where=str(here.plan),
            do="Go on with this plan. To try something else start a new study folder with "
            "trials new; a piece that got lost is told with: trials lost",
        )


def save_extension(here: Workspace, longer: Plan) -> None:
    """Make the extended plan the plan of this study; the shorter one is kept in history/."""
    write_bytes(_free_name(here.history, "plan", ".json"), read_bytes(here.plan))
    _write_plan(here, longer)


def save_timetable(here: Workspace, plan: Plan) -> None:
    """Write the plan with another timetable; the one before is kept in history/."""
    write_bytes(_free_name(here.history, "timetable", ".json"), read_bytes(here.plan))
    _write_plan(here, plan)


def shorter_plan(here: Workspace, longer: Plan) -> Plan:
    """Return the plan that was there before its last part was added.

    Raises
    ------
    PlanError : it is not kept in history/ any more.
    """
    made = len(longer.rows) - longer.parts[-1].items
    codes = [row.item for row in longer.rows[:made]]
    for path in sorted(here.history.glob("plan-*.json"), reverse=True):
        plan = plan_from_json(_text(path), str(path))
        if [row.item for row in plan.rows] == codes:
            return plan
    raise PlanError(
        "The plan as it was before the last extension can't be found.",
        code="plan.shorter_missing",
        where=str(here.history),
        found="no plan with the items made before",
        do="Put the files of history/ back, or go on with the extension that is there.",
    )


def lock_plan(here: Workspace, plan: Plan, today: datetime.date) -> Plan:
    """Lock the plan, or its last part, for its sheets are printed; the first date stays."""
    if plan.locked is None:
        locked = plan.model_copy(update={"locked": today.isoformat()})
    elif plan.parts and plan.parts[-1].locked is None:
        last = plan.parts[-1].model_copy(update={"locked": today.isoformat()})
        locked = plan.model_copy(update={"parts": (*plan.parts[:-1], last)})
    else:
        return plan
    _write_plan(here, locked)
    return locked


def departures(here: Workspace, plan: Plan) -> tuple[str, ...]:
    """Return one sentence for every way in which the plan was come by that a reader should know."""
    found = []
    if len(plan.seeds_tried) > 1:
        found.append(
            say(
                "The plan was drawn {n} times with different seeds before it was used (seeds "
                "{seeds}).",
                n=len(plan.seeds_tried),
                seeds=", ".join(str(seed) for seed in plan.seeds_tried),
            )
        )
    found += [
        say(
            "On {on} a new plan took the place of one whose sheets had been printed on {printed}; "
            "nothing had been measured. The old plan is kept in history/.",
            on=entry["on"],
            printed=entry["locked"],
        )
        for entry in _replaced(here, plan)
    ]
    found += [
        say(
            "A plan file that was damaged before anything was measured is kept as history/{name}; "
            "the plan was drawn again.",
            name=path.name,
        )
        for path in sorted(here.history.glob(f"{_DAMAGED}-*.json"))
    ]
    found += [
        say(
            "On {asked} the plan was extended by {items}, when results were known."
            if part.looked
            else "On {asked} the plan was extended by {items}, before any result was known.",
            asked=part.asked,
            items=part.items,
        )
        for part in plan.parts[1:]
    ]
    return tuple(found)


def _write_plan(here: Workspace, plan: Plan) -> None:
    write_text(here.plan, plan_to_json(plan))
    write_text(here.plan_table, plan_to_csv(plan))


def _text(path: Path) -> str:
    return read_bytes(path).decode("utf-8", errors="replace")


def _keep_replaced(here: Workspace, old: Plan, new: Plan, today: datetime.date) -> None:
    kept = _free_name(here.history, "plan", ".json")
    write_bytes(kept, read_bytes(here.plan))
    entries = _replaced(here, old)
    entries.append(
        {
            "on": today.isoformat(),
            "locked": old.locked,
            "kept": kept.name,
            "old": old.digest(),
            "new": new.digest(),
        }
    )
    write_text(here.history / _REPLACED, json.dumps(entries, indent=1) + "\n")


def _replaced(here: Workspace, plan: Plan) -> list[dict[str, str | None]]:
    """Return which printed plans were replaced; ``plan`` is the one that is there now.

    The last entry is written before the plan is: where ``plan`` is still the old one of it, the
    program was stopped in between and nothing was replaced.
    """
    log = here.history / _REPLACED
    entries: list[dict[str, str | None]] = json.loads(read_bytes(log)) if log.is_file() else []
    if entries and entries[-1]["old"] == plan.digest() != entries[-1]["new"]:
        entries.pop()
    return entries


def _waiting(here: Workspace, plan: Plan) -> Path:
    """Return where study.toml as it was for ``plan`` waits until the plan is saved."""
    return here.history / f"{_WAITING}{plan.digest()[:16]}.toml"


def _free_name(folder: Path, stem: str, ending: str) -> Path:
    number = 1
    while (path := folder / f"{stem}-{number}{ending}").exists():
        number += 1
    return path
