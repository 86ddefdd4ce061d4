"""``trials report``: how it is told, as a page, on paper and as plain text."""

from __future__ import annotations

import codecs
import datetime
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from trials import __version__
from trials.analysis.findings import Findings
from trials.errors import TextError
from trials.files import read_bytes, write_all, write_text
from trials.progress import progress
from trials.record import Measured
from trials.render.beside import Draw, at_once, drawing_beside
from trials.render.blocks import Document, figures
from trials.render.paper import document_pdf
from trials.render.plain import plain_lines
from trials.render.typeset import Paper
from trials.report import (
    Story,
    Texts,
    board_files,
    edited_texts,
    judge_document,
    report_document,
    report_files,
    story_of,
    teacher_document,
)
from trials.service.analyse import Analysed, analyse_folder, told_measured
from trials.service.opening import open_planned
from trials.service.promises import with_changes_told
from trials.words.edited import DO_ENCODING, WHAT_ENCODING, changed_meanwhile
from trials.words.language import ENGLISH, language, say, speaking

_MARK = "\ufeff"  # some editors begin a file of UTF-8 with this byte order mark
_PAGES = MappingProxyType(
    {
        "judge.pdf": "what a judge may ask, with this study's answers and room for yours.",
        "teacher.pdf": "how repeatable each team was, and what to talk about with them.",
    }
)


@dataclass(frozen=True)
class Reported:
    """The report's files, and what they were made from.

    ``notes``: what there is to say of the words that a person edited.
    """

    analysed: Analysed
    files: tuple[str, ...]  # below the report folder
    notes: tuple[str, ...] = ()

    @property
    def page(self) -> Path:
        """The report as a web page."""
        return self.analysed.opened.here.report / "report.html"

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "folder": str(self.analysed.opened.here.report),
            "files": list(self.files),
            "notes": list(self.notes),
        }

    def text(self) -> list[str]:
        """Return where the report is."""
        here = self.analysed.opened.here
        board = (
            f"For a fair: board.pdf, tiles for a display board, and abstract.txt. Their words are "
            f"yours to change in {here.board.name} and {here.abstract.name} in {here.folder}; then "
            "make the report again."
        )
        return [
            *(line for line in self.analysed.text()[:-2]),
            "",
            f"The report: {self.page}",
            "Beside it: report.pdf to print, report.txt, every figure, and the tables behind it.",
            *(
                f"{here.report / name}: {what}"
                for name, what in _PAGES.items()
                if name in self.files
            ),
            *((board,) if "board.pdf" in self.files else ()),
            *(f"Note: {note}" for note in self.notes),
        ]


@dataclass(frozen=True)
class _Saved:
    """A person's file as it was when the report was begun.

    ``raw`` are its bytes, ``text`` what they say, line ends and all; both None where there is none.
    """

    path: Path
    raw: bytes | None = None
    text: str | None = None


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
    TextError : board.md or abstract.md says what the findings don't; no report is written.
    """
    with drawing_beside() as draw:
        analysed = analyse_folder(folder)
        with speaking(analysed.opened.study.language):
            return _written(analysed, paper, today, draw)


def _written(analysed: Analysed, paper: Paper, today: datetime.date | None, draw: Draw) -> Reported:
    opened = analysed.opened
    day = today or datetime.datetime.now().astimezone().date()
    with opened.here.held(), progress("writing the report"):
        measured, findings = _told(analysed)
        story = story_of(
            opened.study,
            opened.plan,
            measured,
            findings,
            today=day,
            version=__version__,
            folder=opened.here.folder.resolve().name,
        )
        if opened.study.practice:
            files = _files(story, None, paper, draw)
            write_all(opened.here.report, files, stale="figures")
            return Reported(analysed, tuple(files))
        board, abstract = _saved(opened.here.board), _saved(opened.here.abstract)
        texts = edited_texts(story, board.text, abstract.text)
        files = _files(story, texts, paper, draw)
        write_all(opened.here.report, files, stale="figures")
        late = (*_keep(board, texts.board), *_keep(abstract, texts.abstract))
    return Reported(analysed, tuple(files), (*texts.notes, *late))


def _told(analysed: Analysed) -> tuple[Measured, Findings]:
    """Return what was measured and found, with its sentences in the language of the report."""
    if language() == ENGLISH:
        return analysed.measured, analysed.findings
    opened = open_planned(analysed.opened.here.folder)
    findings = with_changes_told(analysed.findings, opened.promises)
    return told_measured(opened, analysed.state), findings


def _files(story: Story, texts: Texts | None, paper: Paper, draw: Draw) -> dict[str, bytes]:
    """Return what lies in the report's folder; ``texts`` None: a practice run, told on one page."""
    document = report_document(story)
    draw(figures(document))
    told = [lambda: _report(document, paper)]
    if texts is not None:
        told += [lambda: _further_pages(story, paper), lambda: board_files(story, texts, paper)]
    return {name: file for files in at_once(*told) for name, file in files.items()}


def _report(document: Document, paper: Paper) -> dict[str, bytes]:
    text = "\n".join(plain_lines(document))
    return report_files(document, paper) | {"report.txt": f"{text}\n".encode()}


def _further_pages(story: Story, paper: Paper) -> dict[str, bytes]:
    files = {"judge.pdf": document_pdf(judge_document(story), paper)}
    teacher = teacher_document(story)
    return files | ({"teacher.pdf": document_pdf(teacher, paper)} if teacher is not None else {})


def _saved(path: Path) -> _Saved:
    raw = _raw(path)
    if raw is None:
        return _Saved(path)
    try:
        return _Saved(path, raw, raw.decode("utf-8").removeprefix(_MARK))
    except UnicodeDecodeError as problem:
        raise TextError(
            say(WHAT_ENCODING, name=path.name),
            code="report.encoding",
            where=str(path),
            found=f"byte {problem.start + 1}: {problem.object[problem.start]:#04x}",
            allowed="UTF-8",
            do=say(DO_ENCODING),
        ) from None


def _raw(path: Path) -> bytes | None:
    return read_bytes(path) if path.exists() else None


def _keep(saved: _Saved, text: str) -> tuple[str, ...]:
    """Write a person's text where today's results differ from those in it, or where it is new.

    What was changed since the report was begun stays: that is told instead.
    """
    if _raw(saved.path) != saved.raw:
        return (changed_meanwhile(saved.path.name),)
    if saved.text != text:
        marked = saved.raw is not None and saved.raw.startswith(codecs.BOM_UTF8)
        write_text(saved.path, f"{_MARK if marked else ''}{text}")
    return ()
