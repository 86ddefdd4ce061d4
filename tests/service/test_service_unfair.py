"""``trials demo --unfair``: a page to show, with our numbers or with one's own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.pages import axe_violations, nu_messages
from tests.papers import faults
from trials.cli.start import run
from trials.design import unfair as design
from trials.errors import FileError, StudyError
from trials.render.blocks import texts
from trials.report.unfair_page import unfair_document
from trials.service import unfair
from trials.service.examples import example_folder
from trials.words.forbidden import find_forbidden


@pytest.fixture(autouse=True)
def few_classes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unfair, "MANY", 200)
    monkeypatch.setattr(unfair, "FEW", 20)


def test_an_empty_folder_gets_our_class_and_its_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "show"
    assert run(["demo", str(folder), "--unfair", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["studies"] == 200
    made = sorted(path.name for path in (folder / "unfair").iterdir())
    assert made == ["two-classes.png", "two-classes.svg", "unfair.html", "unfair.pdf"]
    assert faults(folder / "unfair" / "unfair.pdf") == []
    page = (folder / "unfair" / "unfair.html").read_text(encoding="utf-8")
    assert "invented" in page.lower()
    assert "A dye for each team" in page


@pytest.mark.needs("vnu-jar", "chromium", "axe-core")
def test_outside_judges_find_no_fault_in_the_page(tmp_path: Path) -> None:
    page = unfair.run_unfair(tmp_path / "ours").page
    assert nu_messages(page) == []
    assert axe_violations(page.read_text(encoding="utf-8")) == {}


def test_changed_numbers_are_played(tmp_path: Path) -> None:
    ours = unfair.run_unfair(tmp_path / "ours").found
    mine = tmp_path / "mine"
    mine.mkdir()
    text = (example_folder("classes") / "study.toml").read_text(encoding="utf-8")
    changed = text.replace("team = 0.15", "team = 0.6")
    assert changed != text
    (mine / "study.toml").write_text(changed, encoding="utf-8")
    own = unfair.run_unfair(mine)
    alone = [
        next(one for one in found.single if one.faults == design.Faults(shared_out=True))
        for found in (ours, own.found)
    ]
    assert alone[1].crowned[0].wrong.simulated > alone[0].crowned[0].wrong.simulated + 0.1
    assert str(mine / "study.toml") in " ".join(own.text())


def test_another_example_without_teams_is_told_what_is_missing(tmp_path: Path) -> None:
    study = (example_folder("planes") / "study.toml").read_bytes()
    (tmp_path / "study.toml").write_bytes(study)
    with pytest.raises(StudyError, match="too little"):
        unfair.run_unfair(tmp_path)


def test_a_folder_with_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "homework.txt").touch()
    with pytest.raises(FileError, match=r"no study\.toml"):
        unfair.run_unfair(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["homework.txt"]


def test_the_page_uses_words_that_a_student_knows(tmp_path: Path) -> None:
    compared = unfair.run_unfair(tmp_path / "show")
    document = unfair_document(compared.study, compared.found)
    assert not [
        found for text in texts(document.parts[0].sections) for found in find_forbidden(text)
    ]
