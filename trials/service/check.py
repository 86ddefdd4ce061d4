"""``trials check``: what a plan for this study could tell, before anything is made."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.draw import preview
from trials.design.judging import judged, judgement_of
from trials.design.saved import plan_to_dict
from trials.design.values import Plan
from trials.files import as_typed
from trials.progress import progress
from trials.service.impossible import with_nearest
from trials.service.judging_text import lines as judging_lines
from trials.service.opening import open_study
from trials.service.plan_text import fairness_lines, outlook_lines, size_lines
from trials.service.taken_text import taken_lines
from trials.study import Study


@dataclass(frozen=True)
class Checked:
    """A specimen of the plans this study leads to; it is shown and thrown away."""

    folder: Path
    study: Study
    plan: Plan

    def to_dict(self) -> dict[str, Any]:
        """Return what plan.json would hold, but no items: those are drawn by ``trials plan``.

        Nor has it a check code, which would be that of the specimen: null.
        """
        document = plan_to_dict(self.plan) | {"digest": None}
        return {key: value for key, value in document.items() if key != "rows"}

    def text(self) -> list[str]:
        """Return whether the test is fair and what it can tell."""
        stop = any(finding.severity == "stop" for finding in self.plan.audit)
        after = (
            "Mend what stops it in study.toml, then check again."
            if stop
            else f"Next: trials plan {as_typed(self.folder)}"
        )
        return [
            self.study.title,
            *size_lines(self.study, self.plan),
            "",
            *fairness_lines(self.plan),
            *outlook_lines(self.study, self.plan),
            *taken_lines(self.study, self.plan, self.folder),
            "",
            *judging_lines(self.study, self.plan, judgement_of(self.plan)),
            "",
            after,
        ]


def check_study(folder: Path) -> Checked:
    """Read a study and say what a plan for it could tell. Changes nothing.

    Raises
    ------
    FileError, StudyError : there is no study, or it says something impossible.
    PlanError : no plan can be made of it.
    """
    with with_nearest(folder):
        _, study = open_study(folder)
        with progress("checking"):
            plan = preview(study)
    with progress("checking"):
        return Checked(folder, study, judged(study, plan))
