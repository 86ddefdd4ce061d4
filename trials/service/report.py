"""``trials report``: how it is told, as a page, on paper and as plain text."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from trials import __version__
from trials.files import write_all
from trials.progress import progress
from trials.render.paper import document_pdf
from trials.render.plain import plain_lines
from trials.render.typeset import Paper
from trials.report import (
    judge_document,
    report_document,
    report_files,
    story_of,
    teacher_document,
)
from trials.service.analyse import Analysed, analyse_folder

_PAGES = MappingProxyType(
    {
        "judge.pdf": "what a judge may ask, with this study's answers and room for yours.",
        "teacher.pdf": "how repeatable each team was, and what to talk about with them.",
    }
)


@dataclass(frozen=True)
class Reported:
    """The report's files, and what they were made from."""

    analysed: Analysed
    files: tuple[str, ...]  # below the report folder

    @property
    def page(self) -> Path:
        """The report as a web page."""
        return self.analysed.opened.here.report / "report.html"

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "folder": str(self.analysed.opened.here.report),
            "files": list(self.files),
        }

    def text(self) -> list[str]:
        """Return where the report is."""
        return [
            *(line for line in self.analysed.text()[:-2]),
            "",
            f"The report: {self.page}",
            "Beside it: report.pdf to print, report.txt, every figure, and the tables behind it.",
            *(
                f"{self.analysed.opened.here.report / name}: {what}"
                for name, what in _PAGES.items()
                if name in self.files
            ),
        ]


def write_report(
    folder: Path, *, paper: Paper = "a4", today: datetime.date | None = None
) -> Reported:
    """Analyse what was measured, and write the report.

    Parameters
    ----------
    paper : size of the paper.
    today : the date on the report; None takes the machine's.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or no plan.
    AnalysisError : nothing was measured yet.
    """
    analysed = analyse_folder(folder)
    opened = analysed.opened
    day = today or datetime.datetime.now().astimezone().date()
    with opened.here.held(), progress("writing the report"):
        story = story_of(
            opened.study,
            opened.plan,
            analysed.measured,
            analysed.findings,
            today=day,
            version=__version__,
            folder=opened.here.folder.resolve().name,
        )
        document = report_document(story)
        files = report_files(document, paper)
        if not opened.study.practice:
            files["judge.pdf"] = document_pdf(judge_document(story), paper)
            teacher = teacher_document(story)
            if teacher is not None:
                files["teacher.pdf"] = document_pdf(teacher, paper)
        files["report.txt"] = ("\n".join(plain_lines(document)) + "\n").encode()
        write_all(opened.here.report, files, stale="figures")
    return Reported(analysed, tuple(files))
