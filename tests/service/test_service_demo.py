"""The demo's folder: cleared if it is a demo, refused if not, and never left in between."""

from __future__ import annotations

import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest

from trials.errors import FileError
from trials.service import demo
from trials.service.examples import example_folder


class BegunError(Exception):
    """The demo got as far as drawing its plan."""


@pytest.fixture(autouse=True)
def only_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    def begin(*_: object, **__: object) -> None:
        raise BegunError

    monkeypatch.setattr(demo, "draw_plan", begin)


def an_earlier_demo(folder: Path) -> None:
    for name in ("sheets", "report", "history"):
        (folder / name).mkdir(parents=True)
    (folder / "plan.json").write_text("{}", encoding="utf-8")
    shutil.copy(example_folder(demo.EXAMPLE) / "study.toml", folder / "study.toml")


@pytest.mark.parametrize("survivors", [0, 1, 2])
def test_a_demo_stopped_while_it_clears_its_folder_can_be_started_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, survivors: int
) -> None:
    an_earlier_demo(tmp_path)
    cleared = 0

    def stop(tree: Path, *, ignore_errors: bool) -> None:
        nonlocal cleared
        if cleared == survivors:
            raise KeyboardInterrupt
        cleared += 1
        shutil.rmtree(tree, ignore_errors=ignore_errors)

    with monkeypatch.context() as patch:
        patch.setattr("trials.service.demo.shutil", SimpleNamespace(rmtree=stop))
        with pytest.raises(KeyboardInterrupt):
            demo.run_demo(tmp_path)
    with pytest.raises(BegunError):
        demo.run_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["study.toml"]


def test_a_demo_stopped_before_its_first_file_can_be_started_again(tmp_path: Path) -> None:
    (tmp_path / ".trials.lock").touch()
    (tmp_path / ".study.toml.x1y2").touch()
    with pytest.raises(BegunError):
        demo.run_demo(tmp_path)


def test_a_folder_with_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "homework.txt").touch()
    with pytest.raises(FileError, match="not the demo"):
        demo.run_demo(tmp_path)
    an_earlier_demo(tmp_path / "mine")
    study = tmp_path / "mine" / "study.toml"
    study.write_bytes(study.read_bytes() + b"# my own line\n")
    with pytest.raises(FileError, match="not the demo"):
        demo.run_demo(tmp_path / "mine")
    assert (tmp_path / "mine" / "plan.json").exists()


def test_an_example_that_nobody_measured_is_refused_and_those_that_were_are_named(
    tmp_path: Path,
) -> None:
    with pytest.raises(FileError, match="with measurements") as caught:
        demo.run_demo(tmp_path / "tea", "tea")
    assert caught.value.allowed == "aviones, cells, planes"
    assert not (tmp_path / "tea").exists()


def test_another_example_does_not_replace_a_demo(tmp_path: Path) -> None:
    an_earlier_demo(tmp_path)
    with pytest.raises(FileError, match="not the demo"):
        demo.run_demo(tmp_path, "planes")
    assert (tmp_path / "plan.json").exists()
