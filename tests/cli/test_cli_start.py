"""Whatever happens, a person reads words and a program reads an exit code."""

from __future__ import annotations

import contextlib
import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from typer.main import get_command

from trials import __version__
from trials.cli import start
from trials.cli.verbs import app
from trials.errors import RequestError, StudyError


@pytest.fixture
def troubled(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """Give back a way to let a verb end in any way; take the verb 'trouble' away afterwards."""
    commands = list(app.registered_commands)
    monkeypatch.setattr(app, "registered_commands", commands)
    monkeypatch.setattr(start, "_verbs", lambda: get_command(app))
    return monkeypatch


def _add_trouble(problem: BaseException) -> None:
    @app.command(name="trouble")
    def trouble(as_json: bool = typer.Option(False, "--json")) -> None:
        del as_json
        raise problem


STUDY_ERROR = StudyError(
    "A level stands twice.",
    code="study.level_twice",
    where="study.toml, line 7",
    found="oven",
    allowed="each level once",
    do="Take one of them out.",
)


@pytest.mark.usefixtures("troubled")
def test_a_mistake_of_the_person_is_drawn_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    _add_trouble(STUDY_ERROR)
    assert start.run(["trouble"]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == (
        "A level stands twice.\n"
        "Where: study.toml, line 7\n"
        "Found: oven\n"
        "Allowed: each level once\n"
        "What to do: Take one of them out.\n"
    )


@pytest.mark.usefixtures("troubled")
def test_a_mistake_of_the_person_is_one_json_document(capsys: pytest.CaptureFixture[str]) -> None:
    _add_trouble(STUDY_ERROR)
    assert start.run(["trouble", "--json"]) == 1
    told = capsys.readouterr()
    assert told.err == ""
    assert json.loads(told.out) == {"error": STUDY_ERROR.to_dict()}


@pytest.mark.usefixtures("troubled")
def test_options_that_contradict_each_other_are_a_usage_error() -> None:
    _add_trouble(RequestError("These two can't go together.", code="options.both"))
    assert start.run(["trouble"]) == 2


@pytest.mark.usefixtures("troubled")
def test_a_fault_of_ours_shows_no_traceback_and_keeps_the_details(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    _add_trouble(ZeroDivisionError("division by zero"))
    assert start.run(["trouble"]) == 3
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    assert "It is not your fault" in told.err
    (log,) = tmp_path.glob("trials-*.txt")
    assert str(log) in told.err
    assert "ZeroDivisionError: division by zero" in log.read_text(encoding="utf-8")


@pytest.mark.usefixtures("troubled")
def test_a_fault_of_ours_on_a_full_disk_is_still_told(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    _add_trouble(RuntimeError("odd"))
    assert start.run(["trouble", "--json"]) == 3
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["code"] == "internal"
    assert error["found"] == "RuntimeError: odd"
    assert error["where"] == ""


@pytest.mark.usefixtures("troubled")
@pytest.mark.parametrize("problem", [KeyboardInterrupt(), typer.Abort()])
def test_stopping_says_that_nothing_was_lost(
    capsys: pytest.CaptureFixture[str], problem: BaseException
) -> None:
    _add_trouble(problem)
    assert start.run(["trouble"]) == 130
    assert "Nothing was lost" in capsys.readouterr().err


def test_an_unknown_verb_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.run(["weigh", "--json"]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["code"] == "usage"
    assert "weigh" in error["what"]


@pytest.mark.parametrize(
    ("arguments", "command"),
    [
        (["weigh"], "trials --help"),
        (["check"], "trials check --help"),
        (["report", "tea", "--papr", "a4"], "trials report --help"),
        (["plan", "tea", "--seed", "x"], "trials plan --help"),
        (["analyse", "t.csv", "--facto", "a"], "trials analyse --help"),
    ],
)
def test_a_usage_error_points_to_the_help_of_its_verb(
    arguments: list[str], command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert start.run([*arguments, "--json"]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert f"See what may be typed with: {command}" in error["do"]


def test_no_verb_prints_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.run([]) == 0
    assert "Start with: trials demo" in capsys.readouterr().out


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.run(["--version"]) == 0
    assert capsys.readouterr().out == f"trials {__version__}\n"


def test_it_runs_as_a_module_and_leaves_with_its_exit_code() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "trials", "weigh"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert done.stderr.startswith("No such command 'weigh'.")


def test_a_stop_that_a_library_swallowed_is_still_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Swallowing:
        def main(self, **_: object) -> int:
            with contextlib.suppress(KeyboardInterrupt):
                signal.raise_signal(signal.SIGINT)
            return 0

    monkeypatch.setattr(start, "_verbs", Swallowing)
    before = signal.getsignal(signal.SIGINT)
    try:
        assert start.run(["check", "x"]) == 130
    finally:
        signal.signal(signal.SIGINT, before)
    assert "Stopped." in capsys.readouterr().err
