"""A study as a package: others can read it, and the study can be made again from it exactly."""

from __future__ import annotations

import csv
import importlib
import io
import json
import shutil
import warnings
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import plan_rows
from trials.record import Store
from trials.record.history import What
from trials.words.package import CHANGES

ODD = '=1+1 "odd", naïve µ Ω'  # a formula, quotation marks, a comma, letters of other coding


@pytest.fixture(scope="module")
def busy_planes(tmp_path_factory: pytest.TempPathFactory, printed_planes: Path) -> Path:
    """Give the planes with something of everything in their record, made once."""
    planes = CommandLine(tmp_path_factory.mktemp("busy"))
    shutil.copytree(printed_planes, planes.folder / "planes")
    items = list(plan_rows(planes.folder / "planes"))
    lines = ["item,reading,distance flown (m),note"]
    lines += [f"{code},{n},{4 + k + n / 10}," for k, code in enumerate(items) for n in (1, 2, 3)]
    lines[1] = lines[1].replace(",4.1,", ',4100,"=1+1 ""odd"", naïve µ Ω"')
    _take(planes, "throws.csv", lines)
    lines[1] = lines[1].replace("4100", "410 cm")
    lines[8] = lines[8].rsplit(",", 2)[0] + ",5.99,seen again"
    lines.append("ZZ9,1,7.5,")
    _take(planes, "throws.csv", lines)
    asked = {q["code"]: q["id"] for q in _questions(planes)}
    _say(planes, "answer", asked["unknown_item"], "set-aside")
    for question in _questions(planes):
        if question["id"] != asked["unknown_item"]:
            _say(planes, "answer", question["id"], "keep", "--sure")
    _say(planes, "swapped", items[0], items[1])
    _say(planes, "made", items[2], "--factor", "shape=other")
    _say(planes, "made", items[3], "--factor", "shape=other")
    planned = plan_rows(planes.folder / "planes")[items[3]]["shape"]
    _say(planes, "made", items[3], "--factor", f"shape={planned}")
    _say(planes, "lost", items[7])
    return planes.folder


@pytest.fixture
def busy(line: CommandLine, busy_planes: Path) -> CommandLine:
    """Give the command line beside a copy of that folder and of the last file handed in."""
    shutil.copytree(busy_planes, line.folder, dirs_exist_ok=True)
    return line


def _take(line: CommandLine, name: str, lines: list[str]) -> None:
    path = line.folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    line.run("collect", "planes", path)


def _questions(line: CommandLine) -> list[dict[str, Any]]:
    with Store.open(line.folder / "planes" / "record.sqlite") as store:
        return [{"code": q.code, "id": q.id} for q in store.questions(only_open=True)]


def _say(line: CommandLine, verb: str, *what: str) -> None:
    line.run(verb, "planes", *what, "--why", ODD, "--by", "T1")


@pytest.fixture
def frictionless() -> Iterator[Any]:
    """Give the reference library; it lifts a limit of the whole process, which is put back."""
    limit = csv.field_size_limit()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it and what it loads warn of their own future
        yield importlib.import_module("frictionless")
    csv.field_size_limit(limit)


def _rows(folder: Path, name: str) -> list[dict[str, str]]:
    text = (folder / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_frictionless_finds_nothing_wrong(busy: CommandLine, frictionless: Any) -> None:
    """The reference library of Data Package and Table Schema reads it: types, keys, check codes."""
    busy.run("export", "planes", "package")
    folder = busy.folder / "package"
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert (report.stats["errors"], report.stats["warnings"]) == (0, 0), report.to_summary()
    package = frictionless.Package(str(folder / "datapackage.json"))
    names = {resource.name for resource in package.resources}
    assert names == {path.stem for path in folder.glob("*.csv")}
    readings = package.get_resource("readings").read_rows()
    field = package.get_resource("readings").schema.get_field("distance flown").to_descriptor()
    assert (field["type"], field["unit"]) == ("number", "m")
    assert field["description"].endswith("In meter.")
    assert len(readings) == 25
    assert isinstance(readings[1]["distance flown"], Decimal)


def test_the_words_that_a_column_chooses_from_are_told_with_what_they_mean(
    busy: CommandLine, frictionless: Any
) -> None:
    """Table Schema: the constraint 'enum'. A word that is not in the list is found."""
    busy.run("export", "planes", "package")
    folder = busy.folder / "package"
    package = frictionless.Package(str(folder / "datapackage.json"))
    meaning = {(row["table"], row["column"], row["code"]): row["meaning"]
               for row in _rows(folder, "codes")}  # fmt: skip
    for table, column in (("history", "what"), ("questions", "code")):
        field = package.get_resource(table).schema.get_field(column).to_descriptor()
        words = field["constraints"]["enum"]
        assert {row[column] for row in _rows(folder, table)} <= set(words)
        assert all(len(meaning[table, column, word]) > 5 for word in words)
        assert "codes" in field["description"]
    assert set(get_args(What)) <= set(CHANGES)
    path = folder / "history.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",newer file,", ",newest file,", 1),
                    encoding="utf-8")  # fmt: skip
    assert not frictionless.validate(str(folder / "datapackage.json")).valid


def test_frictionless_finds_a_broken_key(busy: CommandLine, frictionless: Any) -> None:
    """The check above can fail."""
    busy.run("export", "planes", "package")
    path = busy.folder / "package" / "values.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("measured", "wrong", 1),
                    encoding="utf-8")  # fmt: skip
    assert not frictionless.validate(str(busy.folder / "package" / "datapackage.json")).valid


def test_the_tables_say_what_was_typed_what_counts_and_who_said_so(busy: CommandLine) -> None:
    busy.run("export", "planes", "package")
    folder = busy.folder / "package"
    first, second, third, *_ = list(plan_rows(busy.folder / "planes"))
    typed = _rows(folder, "cells")[0]
    assert (typed["text"], typed["unit"]) == ("410 cm", "cm")
    assert (typed["number"], Decimal(typed["number_in_unit_of_column"])) == ("410", Decimal("4.1"))
    reading = _rows(folder, "readings")[0]
    assert (reading["item"], reading["item_written"]) == (second, first)  # labels exchanged
    assert Decimal(reading["distance flown"]) == Decimal("4.1")
    assert reading["note"] == f"'{ODD}"  # no spreadsheet takes it for a formula
    stranger = next(row for row in _rows(folder, "readings") if row["item_written"] == "ZZ9")
    assert (stranger["item"], stranger["distance flown"]) == ("", "")  # set aside
    question = next(row for row in _rows(folder, "questions") if row["code"] == "unknown_item")
    assert (question["answer"], question["by"], question["why"]) == ("set-aside", "T1", f"'{ODD}")
    item = next(row for row in _rows(folder, "items") if row["item"] == third)
    assert item["shape"]
    assert item["shape as made"] == ""
    assert [row["as_planned"] for row in _rows(folder, "otherwise")] == ["false", "false", "true"]
    changes = _rows(folder, "history")
    changed = [row for row in changes if row["what"] == "changed"]
    assert ("4100 m", "410 cm") in {(row["before"], row["after"]) for row in changed}
    kept = [(row["file"], row["revision"], row["counts"]) for row in _rows(folder, "files")]
    assert kept == [("throws.csv", "1", "false"), ("throws.csv", "2", "true")]
    handed_in = (busy.folder / "throws.csv").read_bytes()
    assert (folder / _rows(folder, "files")[1]["path"]).read_bytes() == handed_in
    readme = (folder / "README.md").read_text(encoding="utf-8")
    assert all(f"`{path.name}`" in readme for path in folder.glob("*.csv"))


def _said(path: Path) -> tuple[object, ...]:
    with Store.open(path) as store:
        return store.state(), store.digest(), store.history(), store.files()


def test_made_again_it_is_the_same_and_finds_the_same(busy: CommandLine) -> None:
    busy.run("analyse", "planes")
    told = busy.json("export", "planes", "package")
    again = busy.json("restore", "package", "again")
    assert again["record_digest"] == told["record_digest"]
    old, new = busy.folder / "planes", busy.folder / "again"
    assert _said(new / "record.sqlite") == _said(old / "record.sqlite")
    for name in ("study.toml", "plan.json", "plan.csv", "findings.json"):
        assert (new / name).read_bytes() == (old / name).read_bytes()
    assert busy.json("analyse", "again") == json.loads((old / "findings.json").read_bytes())
    busy.run("export", "again", "package2")  # and a package of it is the same package
    one, two = (
        {p.relative_to(busy.folder / name): p.read_bytes()
         for p in (busy.folder / name).rglob("*") if p.is_file()}
        for name in ("package", "package2")
    )  # fmt: skip
    assert one == two


def test_readings_side_by_side_go_through_as_they_stood(busy: CommandLine) -> None:
    items = list(plan_rows(busy.folder / "planes"))
    heads = ["item", *(f"distance flown {n} (m)" for n in (1, 2, 3))]
    lines = [";".join(heads)]
    lines += [f"{code};{4 + k}.15;{4 + k}.25;{4 + k}.35" for k, code in enumerate(items)]
    _take(busy, "beside.csv", lines)
    busy.run("export", "planes", "package")
    busy.run("restore", "package", "again")
    old, new = (busy.folder / name / "record.sqlite" for name in ("planes", "again"))
    assert _said(new) == _said(old)
    with Store.open(new) as store:
        places = [row.place for row in store.rows() if row.place.file == "beside.csv"]
    assert [(one.row, one.part) for one in places] == [
        (k, part) for k in range(2, 2 + len(items)) for part in range(3)
    ]
    packed = [
        (int(row["row"]), int(row["part"])) for row in _rows(busy.folder / "package", "readings")
    ]
    assert packed[-len(places) :] == [(one.row, one.part) for one in places]


@pytest.mark.parametrize(
    "what",
    ["readings.csv", "record/cells.jsonl", "record/files.jsonl", "study/plan.json", "README.md",
     "files/0001-throws.csv", "datapackage.json"],
)  # fmt: skip
def test_a_changed_package_is_refused(busy: CommandLine, what: str) -> None:
    busy.run("export", "planes", "package")
    path = busy.folder / "package" / what
    content = path.read_bytes()
    assert b"e" in content
    path.write_bytes(content.replace(b"e", b"3", 1))
    error = busy.json("restore", "package", "again", code=1)["error"]
    assert error["code"] in ("restore.changed", "restore.no_package")
    assert not (busy.folder / "again").exists()
    path.unlink()
    assert busy.json("restore", "package", "again", code=1)["error"]["do"]


def test_a_path_that_leads_out_of_the_package_is_refused(busy: CommandLine) -> None:
    from trials.digest import digest

    busy.run("export", "planes", "package")
    path = busy.folder / "package" / "datapackage.json"
    described = json.loads(path.read_bytes())
    described["trials"]["files"][0]["path"] = "study/../../planes/plan.json"
    del described["trials"]["digest"]
    described["trials"]["digest"] = digest(described)
    path.write_text(json.dumps(described), encoding="utf-8")
    error = busy.json("restore", "package", "again", code=1)["error"]
    assert error["code"] == "restore.changed"


def test_a_folder_with_a_record_is_refused(busy: CommandLine) -> None:
    busy.run("export", "planes", "package")
    before = (busy.folder / "planes" / "record.sqlite").read_bytes()
    error = busy.json("restore", "package", "planes", code=1)["error"]
    assert error["code"] == "restore.record_there"
    assert (busy.folder / "planes" / "record.sqlite").read_bytes() == before
    (busy.folder / "empty").mkdir()
    busy.run("restore", "package/datapackage.json", "empty")
    assert busy.json("restore", "nowhere", "x", code=1)["error"]["code"] == "restore.no_package"


def test_an_older_package_is_replaced_and_nothing_else_is(busy: CommandLine) -> None:
    busy.run("export", "planes")
    package = busy.folder / "planes" / "export"
    first = (package / "datapackage.json").read_bytes()
    (package / "readings.csv").unlink()
    busy.run("export", "planes")
    assert (package / "datapackage.json").read_bytes() == first
    assert (package / "readings.csv").exists()
    (busy.folder / "mine").mkdir()
    (busy.folder / "mine" / "letter.txt").write_text("dear", encoding="utf-8")
    assert busy.json("export", "planes", "mine", code=1)["error"]["code"] == "export.taken"
    assert [p.name for p in (busy.folder / "mine").iterdir()] == ["letter.txt"]
    assert not list(busy.folder.glob(".*package*"))


def test_where_the_disk_is_full_nothing_is_half_written(
    busy: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    busy.run("export", "planes", "package")
    old = (busy.folder / "package" / "datapackage.json").read_bytes()
    busy.run("lost", "planes", next(iter(plan_rows(busy.folder / "planes"))), "--why", "fell")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("trials.service.export._Hashed.write_bytes", full)
        error = busy.json("export", "planes", "package", code=1)["error"]
        assert (error["code"], error["found"]) == ("file.unwritable", "No space left on device")
    assert (busy.folder / "package" / "datapackage.json").read_bytes() == old
    assert sorted(p.name for p in busy.folder.iterdir()) == ["package", "planes", "throws.csv"]


def test_a_study_without_readings_goes_through_too(planes: CommandLine) -> None:
    planes.run("export", "planes", "package")
    planes.run("restore", "package", "again")
    shutil.rmtree(planes.folder / "planes")
    planes.run("export", "again", "package2")


def test_history_as_a_person_sees_it(busy: CommandLine) -> None:
    told = busy.run("history", "planes").splitlines()
    assert told[0].endswith("the first first (times in UTC):")
    assert any("changed in the newer file" in line and "4100 m -> 410 cm" in line for line in told)
    assert any(" lost: " in line and line.endswith("(T1)") for line in told)
    first = next(iter(plan_rows(busy.folder / "planes")))
    own = busy.json("history", "planes", first.lower())
    assert own["item"] == first
    assert {c["what"] for c in own["changes"]} >= {"changed", "exchanged"}
    assert all(first in (c["item"], c["before"], c["after"]) for c in own["changes"])
    assert busy.json("history", "planes", "nothing", code=1)["error"]["code"]
