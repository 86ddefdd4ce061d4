"""What a study still has of the example that it began as: said where it is so, and only there."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.command_line import CommandLine
from trials.service.collect import collect_files
from trials.service.examples import example_folder, example_names
from trials.service.new import new
from trials.service.own import still_lines, still_there
from trials.service.plan import draw_plan
from trials.study import read_study
from trials.workspace import Workspace, has_plan, read_plan

ROOT = Path(__file__).resolve().parents[2]


def told(folder: Path) -> str:
    here = Workspace(folder)
    seed = read_plan(here).seed if has_plan(here) else None
    return " ".join(still_lines(still_there(here, read_study(here.study), seed)))


def changed(folder: Path, *changes: tuple[str, str]) -> Path:
    file = folder / "study.toml"
    text = file.read_text(encoding="utf-8")
    for old, newer in changes:
        assert old in text
        text = text.replace(old, newer)
    file.write_text(text, encoding="utf-8")
    return folder


MAKERS = ("Two pupils of Quillmoor School (invented)", "Ana and Ben")
NOTE = ("Invented school, invented data: an example, not a real experiment.", "Our science fair.")


@pytest.fixture
def planes(tmp_path: Path) -> Path:
    new(tmp_path / "planes", example="planes")
    return tmp_path / "planes"


@pytest.mark.parametrize("name", example_names())
def test_a_fresh_example_is_told_with_its_lines(tmp_path: Path, name: str) -> None:
    new(tmp_path / "s", example=name)
    lines = (tmp_path / "s" / "study.toml").read_text(encoding="utf-8").splitlines()
    said = told(tmp_path / "s")
    assert said.startswith("Still the example's: makers (line ")
    for name_, key in (("makers", "makers"), ("note", "note"), ("dates", "starts")):
        where = [n for n, line in enumerate(lines, 1) if line.startswith(f"{key} = ")]
        assert all(f"{name_} (line {n})" in said for n in where)
        assert where or name_ == "dates"


def test_what_was_changed_is_not_told_any_more(planes: Path) -> None:
    assert told(changed(planes, MAKERS)) == (
        "Still the example's: note (line 9). Write yours, or delete it: it is printed."
    )
    assert told(changed(planes, NOTE)) == ""


def test_one_date_of_two_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "c"
    new(folder, example="lessons")
    text = (folder / "study.toml").read_text(encoding="utf-8").splitlines()
    starts = next(n for n, line in enumerate(text, 1) if line.startswith("starts = "))
    changed(folder, ('"2030-05-14 10:15"', '"2030-05-07 09:00"'))
    assert f"dates (line {starts})" in told(folder)
    changed(folder, ('"2030-05-16 10:15"', '"2030-05-09 09:00"'))
    assert "dates" not in told(folder)


def test_makers_who_were_invented_on_purpose_may_have_the_note(planes: Path) -> None:
    assert told(changed(planes, (MAKERS[0], "Two pupils of Elmsbrook School (invented)"))) == ""
    for folder in sorted((ROOT / "reports" / "unfair").iterdir()):
        assert told(folder) == ""


def test_a_study_that_was_measured_is_left_alone(planes: Path) -> None:
    draw_plan(planes, seed=1)
    assert told(planes) != ""
    file = planes.with_name("throws.csv")
    item = read_plan(Workspace(planes)).rows[0].item
    file.write_text(f"item,distance flown (m)\n{item},4.5\n", encoding="utf-8")
    collect_files(planes, (file,))
    assert told(planes) == ""


def test_check_says_it_and_is_done_all_the_same(planes: Path) -> None:
    line = CommandLine(planes.parent)
    said = line.run("check", "planes").splitlines()
    assert said[1] == told(planes)
    assert said[2] == "8 planes of 2 recipes."
    assert said[3] == "Numbers of a trial draw; the plan itself can differ a little."  # no search
    assert line.json("check", "planes")["still_the_examples"] == {"makers": 8, "note": 9}


def test_the_demo_is_left_alone(tmp_path: Path) -> None:
    for name in ("cells", "planes", "aviones"):  # as they are kept, without their readings
        folder = tmp_path / f"kept-{name}"
        folder.mkdir()
        for file in ("study.toml", "plan.json", "plan.csv"):
            shutil.copy(ROOT / "reports" / name / file, folder)
        assert told(folder) == ""
        changed(folder, ("prediction = ", "# prediction = "))
        assert "makers" in told(folder)


def test_what_is_told_is_what_the_shipped_examples_say(planes: Path) -> None:
    text = (example_folder("planes") / "study.toml").read_text(encoding="utf-8")
    assert MAKERS[0] in text
    assert NOTE[0] in text
    assert (planes / "study.toml").read_text(encoding="utf-8") == text
