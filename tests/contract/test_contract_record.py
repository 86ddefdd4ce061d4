"""Collect, answer, lost and report: the words and files that outside checks rely on."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import Row, fill_in, plan_rows


def _throws(row: Row, reading: int, heading: str) -> float | None:
    if not heading.startswith("distance"):
        return None
    far = {"dart": 9.0, "glider": 4.0}[row["shape"]]
    return round(far + int(row["run"]) / 10 + reading / 20, 2)


@pytest.fixture
def filled(planes: CommandLine) -> Path:
    path = planes.folder / "filled.xlsx"
    fill_in(planes.folder / "planes", path, _throws)
    return path


def _table(line: CommandLine, **typed: str) -> Path:
    """Write a table of one throw a plane; ``typed`` overrides the throws of a plane by its run."""
    rows = plan_rows(line.folder / "planes")
    lines = ["item,distance flown (m)"]
    lines += [
        f"{c},{typed.get('run' + r['run'], _throws(r, 1, 'distance'))}" for c, r in rows.items()
    ]
    path = line.folder / "own.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _findings(line: CommandLine) -> Any:
    return json.loads((line.folder / "planes" / "findings.json").read_bytes())


def test_collect_says_what_was_taken_in(planes: CommandLine, filled: Path) -> None:
    told = planes.json("collect", "planes", filled)
    assert set(told) >= {"taken", "questions"}
    assert told["questions"] == []
    assert told["taken"][0]["status"] == "new"


def test_the_same_file_again_changes_nothing_and_a_changed_one_is_newer(
    planes: CommandLine, filled: Path
) -> None:
    planes.run("collect", "planes", filled)
    first = planes.json("analyse", "planes")
    assert planes.json("collect", "planes", filled)["taken"][0]["status"] == "same"
    assert planes.json("analyse", "planes") == first
    fill_in(planes.folder / "planes", filled, lambda r, n, h: (_throws(r, n, h) or 0) + 1
            if h.startswith("distance") else None)  # fmt: skip
    again = planes.json("collect", "planes", filled)["taken"][0]
    assert (again["status"], again["revision"]) == ("revision", 2)
    means = [[m["mean"] for m in f["responses"][0]["means"]]
             for f in (first, planes.json("analyse", "planes"))]  # fmt: skip
    assert means[1] == pytest.approx([mean + 1 for mean in means[0]])


def test_a_question_has_its_place_and_what_to_do_and_can_be_settled(planes: CommandLine) -> None:
    told = planes.json("collect", "planes", _table(planes, run2="-3"))
    (question,) = told["questions"]
    assert set(question) >= {"id", "file", "row", "item", "column", "found", "why", "do"}
    assert (question["file"], question["row"], question["found"]) == ("own.csv", 3, "-3")
    settled = planes.json(
        "answer", "planes", question["id"], "correct", "8.5", "--why", "slip of the pen", "--by",
        "AB",
    )  # fmt: skip
    assert settled["answer"] == "correct"
    assert settled["open"] == []
    planes.run("analyse", "planes")
    code = next(c for c, r in plan_rows(planes.folder / "planes").items() if r["run"] == "2")
    assert {p["item"]: p["value"] for p in _findings(planes)["responses"][0]["points"]}[code] == 8.5


def test_an_unusual_correction_is_taken_only_with_sure(planes: CommandLine) -> None:
    (question,) = planes.json("collect", "planes", _table(planes, run2="x"))["questions"]
    assert question["answers"] == ["correct", "set-aside"]
    said = ("answer", "planes", question["id"], "correct", "700", "--why", "x", "--by", "AB")
    assert planes.json(*said, code=1)["error"]["code"] == "answer.unusual"
    assert planes.json(*said, "--sure")["value"] == "700"


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("Q9", "keep", "--why", "x", "--by", "AB"), "record.unknown_question"),
        (("Q1", "keep", "--by", "AB"), "answer.why"),
        (("Q1", "keep", "--why", "x"), "answer.by"),
        (("Q1", "guess", "--why", "x", "--by", "AB"), "answer.verb"),
        (("Q1", "correct", "far", "--why", "x", "--by", "AB"), "answer.number"),
        (("Q1", "keep", "3", "--why", "x", "--by", "AB"), "answer.value"),
    ],
)
def test_an_answer_that_cannot_be_is_refused(
    planes: CommandLine, arguments: tuple[str, ...], code: str
) -> None:
    planes.run("collect", "planes", _table(planes, run2="-3"))
    assert planes.json("answer", "planes", *arguments, code=1)["error"]["code"] == code


def test_lost_planes_are_told(planes: CommandLine, filled: Path) -> None:
    planes.run("collect", "planes", filled)
    code = min(plan_rows(planes.folder / "planes"))
    assert planes.json("lost", "planes", "ZZ9", "--why", "x", code=1)["error"]["code"] == (
        "record.unknown_item"
    )
    assert planes.json("lost", "planes", code, code=1)["error"]["code"] == "record.loss"
    told = planes.json("lost", "planes", code.lower(), "--why", "flew out of the window")
    (asked,) = told.pop("questions")
    assert (told.pop("cost"), told.pop("offers")) == ([], [])  # as long as its readings count
    assert told == {"lost": [code], "lost_in_all": [code], "left": 7}
    assert (asked["code"], asked["item"]) == ("lost_with_readings", code)  # it was measured
    assert planes.json("analyse", "planes")["responses"][0]["n_lost"] == 0
    planes.run("answer", "planes", asked["id"], "set-aside", "--why", "wet wings", "--by", "T1")
    assert planes.json("analyse", "planes")["responses"][0]["n_lost"] == 1


def test_a_workbook_of_another_plan_is_refused_and_the_others_are_taken_in(
    planes: CommandLine, filled: Path
) -> None:
    planes.run("new", "other", "--example", "planes")
    planes.run("plan", "other", "--seed", "4")
    planes.run("sheets", "other")
    alien = planes.folder / "alien.xlsx"
    alien.write_bytes((planes.folder / "other" / "sheets" / "entry-workbook.xlsx").read_bytes())
    error = planes.json("collect", "planes", alien, filled, code=1)["error"]
    assert error["code"] == "ingest.other_plan"
    assert "Taken in all the same: filled.xlsx" in error["do"]
    assert planes.json("collect", "planes", filled)["taken"][0]["status"] == "same"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.csv", b""),
        ("picture.csv", b"\x89PNG\r\n\x1a\n\x00"),
        ("noise.csv", bytes(range(256))),
    ],
)
def test_a_file_that_is_no_table_is_refused(planes: CommandLine, name: str, content: bytes) -> None:
    (planes.folder / name).write_bytes(content)
    error = planes.json("collect", "planes", name, code=1)["error"]
    assert error["code"].startswith("ingest.")
    assert name in error["where"]


def test_a_file_that_is_not_there(planes: CommandLine) -> None:
    error = planes.json("collect", "planes", "gone.xlsx", code=1)["error"]
    assert error["code"] == "file.missing"


def test_nothing_measured_yet(planes: CommandLine) -> None:
    error = planes.json("analyse", "planes", code=1)["error"]
    assert error["code"] == "analysis.nothing_measured"
    assert "collect" in error["do"]


def test_the_report_is_self_contained(planes: CommandLine, filled: Path) -> None:
    planes.run("collect", "planes", filled)
    told = planes.json("report", "planes")
    folder = planes.folder / "planes" / "report"
    assert {"report.html", "report.pdf"} <= set(told["files"])
    assert all((folder / name).is_file() for name in told["files"])
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert 'src="data:image/svg+xml;base64,' in page
    assert "<script" not in page
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert (planes.folder / "planes" / "findings.json").is_file()


def test_a_promise_changed_after_printing_changes_no_verdict_and_is_told(
    planes: CommandLine, filled: Path
) -> None:
    planes.run("collect", "planes", filled)
    study = planes.folder / "planes" / "study.toml"
    text = study.read_text(encoding="utf-8")
    before = planes.json("analyse", "planes")["responses"][0]["verdicts"]
    text = text.replace("worthwhile = 1\n", "worthwhile = 40\n")
    study.write_text(text.replace("expected = 4\n", "expected = 80\n"), encoding="utf-8")
    (found,) = planes.json("analyse", "planes")["responses"]
    assert found["verdicts"] == before
    (other,) = found["other_verdicts"]
    assert other["verdict"] == "made no practical difference" != before[0]["verdict"]
    planes.run("report", "planes")
    page = planes.folder / "planes" / "report" / "report.txt"
    told = " ".join(page.read_text(encoding="utf-8").split())
    assert "study.toml now says worthwhile = 40; the plan said 1" in told
    assert other["sentence"] in told
    assert "worth caring about was set to 1 m beforehand" in told


@pytest.mark.parametrize("verb", ["analyse", "report"])
def test_a_file_changed_inside_the_record_is_found(
    planes: CommandLine, filled: Path, verb: str
) -> None:
    planes.run("collect", "planes", filled)
    with contextlib.closing(sqlite3.connect(planes.folder / "planes" / "record.sqlite")) as record:
        record.execute("DROP TRIGGER files_no_update")
        record.execute("UPDATE files SET content = ?", (filled.read_bytes()[:-1] + b"x",))
        record.commit()
    error = planes.json(verb, "planes", code=1)["error"]
    assert error["code"] == "record.file_changed"
    assert filled.name in error["where"]
