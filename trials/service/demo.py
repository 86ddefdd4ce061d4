"""``trials demo``: the whole job on an invented study that comes with the program."""

from __future__ import annotations

import datetime
import shutil
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.errors import FileError
from trials.files import read_bytes, write_bytes
from trials.record import Question, Store
from trials.service.analyse import Analysed
from trials.service.answer import settle
from trials.service.collect import collect_files
from trials.service.examples import example_folder
from trials.service.lost import record_lost
from trials.service.plan import draw_plan
from trials.service.report import Reported, write_report
from trials.service.sheets import make_sheets
from trials.words.numbers import count, plural
from trials.workspace import Workspace

EXAMPLE = "cells"


@dataclass(frozen=True)
class Demonstrated:
    """What the demo made, of which example, and what it found."""

    example: str
    here: Workspace
    settled: tuple[Question, ...]
    reported: Reported

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "folder": str(self.here.folder),
            "settled": [question.id for question in self.settled],
            "report": self.reported.to_dict(),
        }

    def text(self) -> list[str]:
        """Return what was done, what was found and where to look."""
        analysed: Analysed = self.reported.analysed
        study, plan = analysed.opened.study, analysed.opened.plan
        lines = [
            f"{study.title} ({study.note})",
            "",
            f"Planned {len(plan.rows)} {plural(study.item_name)}, printed the sheets, "
            f"took in what the class measured, settled {count(len(self.settled), 'question')}, "
            "and worked out:",
            "",
        ]
        primary = next(found for found in analysed.findings.responses if found.primary)
        lines += [f"  {verdict.sentence}" for verdict in primary.verdicts]
        return [
            *lines,
            "",
            f"The report: {self.reported.page}",
            f"What the class was handed: {self.here.sheets}. The plan: {self.here.plan_table}",
            "",
            "Next, a study of your own:",
            f"  trials new my-study --example {self.example}",
            "  change a factor in my-study/study.toml",
            "  trials check my-study",
            "  trials plan my-study",
        ]


def run_demo(folder: Path, example: str = EXAMPLE) -> Demonstrated:
    """Plan, print, take in, settle, analyse and report an example that was measured.

    Raises
    ------
    FileError : the folder holds something else than an untouched demo of the same example, or
        there are no measurements of such an example.
    """
    source = example_folder(example, measured=True)
    course = tomllib.loads(read_bytes(source / "course.toml").decode("utf-8"))
    files = tuple(sorted((source / "measured").iterdir()))
    here = Workspace(folder)
    _clear(here, source, files)
    write_bytes(here.study, read_bytes(source / "study.toml"))
    printed, told = _date(course["printed"]), _date(course["told"])
    draw_plan(folder, seed=course["seed"], today=printed)
    make_sheets(folder, today=printed)
    collect_files(folder, files)
    for loss in course["lost"]:
        record_lost(folder, tuple(loss["items"]), why=loss["why"], by=loss["by"])
    settled = tuple(_settled(here, course["answers"]))
    return Demonstrated(example, here, settled, write_report(folder, today=told))


def _settled(here: Workspace, answers: list[dict[str, str]]) -> Iterator[Question]:
    """Yield each question that the class settled, found by what it is about."""
    with Store.open(here.record) as store:
        questions = store.questions(only_open=True)
    for said in answers:
        for question in questions:
            if (question.code, question.item) == (said["about"], said["item"]):
                told = (said["answer"], said.get("value", ""), said["why"], said["by"])
                yield settle(here.folder, question.id, told).question


def _date(value: object) -> datetime.date:
    if not isinstance(value, datetime.date):
        raise TypeError(f"course.toml: {value!r} is no date")
    return value


def _clear(here: Workspace, source: Path, files: tuple[Path, ...]) -> None:
    """Take away an earlier, untouched demo; refuse anything else.

    study.toml, by which a demo is known, stays: a program stopped half-way leaves a demo still.
    """
    if not here.folder.exists() or all(p.name.startswith(".") for p in here.folder.iterdir()):
        return  # nothing in it, or nothing but what a stopped program leaves
    if not here.study.is_file() or not _untouched(here, source, files):
        raise FileError(
            "The folder holds something that is not the demo as it was made.",
            code="demo.folder",
            where=str(here.folder),
            do=f"Name another folder: trials demo {here.folder}-2",
        )
    journal = here.record.with_name(f"{here.record.name}-journal")
    for path in (here.plan, here.plan_table, here.record, journal, here.findings):
        path.unlink(missing_ok=True)
    for tree in (here.sheets, here.report, here.history):
        shutil.rmtree(tree, ignore_errors=True)


def _untouched(here: Workspace, source: Path, files: tuple[Path, ...]) -> bool:
    if read_bytes(here.study) != read_bytes(source / "study.toml"):
        return False
    if not here.record.exists():
        return True
    known = {read_bytes(file) for file in files}
    with Store.open(here.record) as store:
        return all(store.content(kept.name, kept.revision) in known for kept in store.files())
