"""``trials collect``: take in files of measurements and list the questions to settle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.errors import TrialsError
from trials.ingest import collect_all
from trials.progress import progress
from trials.record import Question, Store, Taken
from trials.service.opening import held_plan
from trials.service.questions import question_lines, question_to_dict
from trials.service.summary import Summary, summary_of
from trials.steady import steadily
from trials.words.numbers import count

_STATUS = {
    "new": "taken in",
    "same": "unchanged, nothing to do",
    "revision": "taken in as a newer version; the older one is kept",
}


@dataclass(frozen=True)
class Collected:
    """What became of each file, and every question that is open."""

    folder: Path
    taken: tuple[Taken, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...]
    summary: Summary

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "taken": [
                {
                    "file": file.name,
                    "status": file.status,
                    "revision": file.revision,
                    "readings": file.readings,
                }
                for file in self.taken
            ],
            "questions": [question_to_dict(question) for question in self.questions],
            "notes": list(self.notes),
            "summary": self.summary.to_dict(),
        }

    def text(self) -> list[str]:
        """Return what was taken in, and what to settle."""
        lines = [f"{file.name}: {_became(file)}" for file in self.taken]
        lines += [f"Note: {note}" for note in self.notes]
        lines += ["", *self.summary.lines()]
        if self.questions:
            lines += ["", f"{count(len(self.questions), 'question')} to settle:"]
        for question in self.questions:
            lines += ["", *question_lines(question, self.folder)]
        return lines


def _became(file: Taken) -> str:
    """Return what became of a file."""
    held = next((question.id for question in file.questions if question.acts_on == "copy"), "")
    if held:
        return f"kept, and nothing of it counts until {held} is settled"
    return f"{_STATUS[file.status]} ({count(file.readings, 'reading')})"


def collect_files(folder: Path, files: tuple[Path, ...]) -> Collected:
    """Take in files of measurements; each is kept byte for byte.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    IngestError, FileError : a file can't be taken in. The others are, and the message says so.
    RecordError : the record can't be written; nothing of that file was taken in.
    """
    with (
        held_plan(folder) as opened,
        Store.open(opened.here.record) as store,
        progress("reading") as step,
        steadily(),
    ):

        def sources() -> Iterator[tuple[Path, str]]:
            for number, file in enumerate(files):
                step(number, len(files))
                yield file, file.name

        found = collect_all(store, sources(), opened.study, opened.plan)
        state = store.state()
        taken = [one for one in found if not isinstance(one, TrialsError)]
        refused = [one for one in found if isinstance(one, TrialsError)]
        if refused:
            raise _with_others(refused, taken)
        summary = summary_of(opened, state)
    notes = (*opened.notes, *(note for file in taken for note in file.notes))
    return Collected(folder, tuple(taken), summary.questions, notes, summary)


def _with_others(refused: list[TrialsError], taken: list[Taken]) -> TrialsError:
    """Return the first refusal; it tells of the other files too."""
    first = refused[0]
    told = [first.do]
    if taken:
        told.append(f"Taken in all the same: {', '.join(file.name for file in taken)}.")
    if len(refused) > 1:
        told.append("Refused too: " + "; ".join(f"{p.where}: {p.what}" for p in refused[1:]))
    return type(first)(
        first.what,
        code=first.code,
        where=first.where,
        found=first.found,
        allowed=first.allowed,
        do=" ".join(part for part in told if part),
    )
