"""A class with lessons that is planned once for all tests of a module."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.classroom.bench import class_study
from trials.service.plan import draw_plan
from trials.study import write_study


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("class") / "soaking"
    folder.mkdir()
    (folder / "study.toml").write_text(write_study(class_study()), encoding="utf-8")
    text = "\n".join(draw_plan(folder, seed=3).text())
    assert "Time: 2 lessons of 50 minutes" in text
    assert "No other timetable is over sooner." in text
    return folder


@pytest.fixture
def folder(planned: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(planned, tmp_path / "soaking"))
