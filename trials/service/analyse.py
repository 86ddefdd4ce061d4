"""``trials analyse FOLDER``: which choice mattered, and how sure that is."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trials.analysis import Findings, analyse_study
from trials.errors import TrialsError
from trials.files import as_typed, write_text
from trials.progress import progress
from trials.record import Measured, State, Store, measured_state
from trials.service.decisions import with_moved_verdicts
from trials.service.findings_text import findings_lines
from trials.service.opening import Opened, held_plan
from trials.service.promises import with_other_verdicts
from trials.words.numbers import count


@dataclass(frozen=True)
class Analysed:
    """A study with its plan, what was measured, and what that means."""

    opened: Opened
    measured: Measured
    findings: Findings
    state: State  # of the record, which ``measured`` was worked out from

    def to_dict(self) -> dict[str, Any]:
        """Return findings.json."""
        return self.findings.to_dict()

    def text(self) -> list[str]:
        """Return what was found."""
        lines = [f"Note: {note}" for note in (*self.opened.notes, *self.opened.promises.told)]
        still = self.measured.open_questions
        if still:
            names = ", ".join(question.id for question in still)
            lines.append(
                f"{count(len(still), 'question')} still open ({names}): settle them first, the "
                "answer may change."
            )
        return [
            *lines,
            *findings_lines(self.findings, self.opened.here.folder.resolve().name),
            "",
            f"Written: {self.opened.here.findings}. Next: trials report "
            f"{as_typed(self.opened.here.folder)}",
        ]


def analyse_folder(folder: Path) -> Analysed:
    """Analyse what was measured and write findings.json.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    RecordError : the record was damaged, or a file kept in it was changed.
    AnalysisError : nothing was measured yet.
    """
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        store.recheck()
        state = store.state()
    values = told_measured(opened, state)
    with progress("working out"):
        findings = analyse_study(opened.study, opened.plan, values)
        findings = with_moved_verdicts(findings, opened.study, opened.plan, state)
        if any(change.touches_verdicts for change in opened.promises.changes):
            findings = _with_others(findings, opened, state)
    text = json.dumps(findings.to_dict(), indent=1, ensure_ascii=False, allow_nan=False)
    write_text(opened.here.findings, text + "\n")
    return Analysed(opened, values, findings, state)


def told_measured(opened: Opened, state: State) -> Measured:
    """Return what was measured, with all that departed from the plan, in the language in use."""
    values = measured_state(state, opened.study, opened.plan)
    return replace(values, departures=opened.departures + values.departures)


def _with_others(findings: Findings, opened: Opened, state: State) -> Findings:
    """Add the verdicts that what study.toml says now would turn, if it can be analysed so."""
    study, plan = opened.promises.otherwise, opened.plan
    try:
        other = analyse_study(study, plan, measured_state(state, study, plan))
    except TrialsError:  # what was promised is judged all the same
        return findings
    return with_other_verdicts(findings, other, opened.promises)
