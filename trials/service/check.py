"""``trials check``: what a plan for this study could tell, before anything is made."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.classroom.agenda import counted_on, counted_on_by_team
from trials.classroom.lessons import Schedule, schedule, timetable_of
from trials.classroom.stock import stocks
from trials.design.judging import judgement_of
from trials.design.saved import plan_to_dict
from trials.design.values import Plan
from trials.files import as_typed
from trials.progress import progress
from trials.service.impossible import with_nearest
from trials.service.judging_text import lines as judging_lines
from trials.service.lessons_text import fits_words, lesson_lines
from trials.service.own import Place, still_lines, still_there
from trials.service.plan_text import (
    counted_lines,
    fairness_lines,
    hands_lines,
    material_lines,
    outlook_lines,
    size_lines,
    stock_document,
    unused_lines,
)
from trials.service.safety_text import safety_document, safety_lines
from trials.service.standing import Standing, standing
from trials.service.taken_text import spares_document, taken_lines
from trials.study import Study


@dataclass(frozen=True)
class Checked:
    """A study, and the plan in its folder or one drawn to see, shown and thrown away."""

    folder: Path
    of: Standing
    schedule: Schedule | None = None  # of a plan that has no timetable yet
    still: tuple[Place, ...] = ()  # what the study still has of an example

    @property
    def study(self) -> Study:
        """The study."""
        return self.of.study

    @property
    def plan(self) -> Plan:
        """The plan whose numbers are shown."""
        return self.of.plan

    def to_dict(self) -> dict[str, Any]:
        """Return what plan.json would hold, but no items: those are drawn by ``trials plan``.

        ``numbers_of``: "plan", "next plan" or "trial draw". Only the plan in the folder has a check
        code; else it is null. ``spares``: what a practice run says of failures, or null.
        ``stock``: whether what there is of the materials is enough; ``counted_on``: how many are in
        use at once of each tool of which study.toml gives no number, and ``counted_on_by_team`` in
        the one team that uses most; ``safety``: what is to be settled about flames and what catches
        fire; ``still_the_examples``: the lines of what was never made one's own.
        """
        document = plan_to_dict(self.plan)
        if self.of.which != "plan":
            document["digest"] = None
        document |= {"numbers_of": self.of.which, "spares": spares_document(self.study, self.plan)}
        document["stock"] = stock_document(self.study, self.plan)
        document["counted_on"] = counted_on(self.study, self._timed())
        document["counted_on_by_team"] = counted_on_by_team(self.study, self._timed())
        document["safety"] = safety_document(self.study)
        document["still_the_examples"] = {one.name: one.first for one in self.still}
        return {key: value for key, value in document.items() if key != "rows"}

    def text(self) -> list[str]:
        """Return whether the test is fair and what it can tell."""
        stop = any(finding.severity == "stop" for finding in self.plan.audit)
        short = any(not one.enough for one in stocks(self.study, self.plan))
        stop = stop or (short and not self._begun)
        after = "Mend what stops it in study.toml, then check again." if stop else self._next()
        trial = self.of.which == "trial draw"
        return [
            self.study.title,
            *still_lines(self.still),
            *size_lines(self.study, self.plan)[: 1 if trial else None],
            *([] if self._begun else material_lines(self.study, self.plan)),
            *self._time(),
            *hands_lines(self.study, self.plan),
            *counted_lines(self.study, self._timed()),
            *unused_lines(self.study),
            self.of.told(),
            "",
            *fairness_lines(self.plan),
            *safety_lines(self.study, self.plan, self.folder),
            *outlook_lines(self.study, self.plan),
            *taken_lines(self.study, self.plan, self.folder),
            "",
            *judging_lines(self.study, self.plan, judgement_of(self.plan), trial=trial),
            "",
            after,
        ]

    @property
    def _begun(self) -> bool:
        """Whether some of the work is over, so that materials.pdf alone knows what is needed."""
        return self.plan.timetable is not None and bool(self.plan.timetable.over)

    def _time(self) -> list[str]:
        """Return in how many lessons it can be done; nothing where the study names no lessons."""
        if self.plan.timetable is not None:
            return [fits_words(self.plan.timetable)]
        return [] if self.schedule is None else lesson_lines(self.study, self.schedule)

    def _timed(self) -> Plan:
        """Return the plan with the timetable that it has or would have."""
        if self.schedule is None:
            return self.plan
        table = timetable_of(self.study, self.schedule)
        return self.plan.model_copy(update={"timetable": table})

    def _next(self) -> str:
        folder = as_typed(self.folder)
        if self.of.which != "plan":
            return f"Next: trials plan {folder}"
        if self.plan.locked is None:
            return f"Next: trials sheets {folder}"
        return f"Next: trials collect {folder} FILE"


def check_study(folder: Path) -> Checked:
    """Read a study and say what a plan for it could tell. Changes nothing.

    Raises
    ------
    FileError, StudyError : there is no study, or it says something impossible.
    PlanError : no plan can be made of it.
    """
    with with_nearest(folder), progress("checking"):
        of = standing(folder)
        still = still_there(of.here, of.study, of.plan.seed if of.which == "plan" else None)
        if of.study.lessons is None or of.plan.timetable is not None:
            return Checked(folder, of, still=still)
        return Checked(folder, of, schedule(of.study, of.plan, advise=None), still)
