"""The dialog on a terminal: going back, asking again, breaking off."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import typer

from trials.cli.asking import ask_on_terminal
from trials.errors import RequestError
from trials.service.new import new


class Keyboard(io.StringIO):
    """What a person types, at a terminal."""

    def isatty(self) -> bool:
        return True


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str, terminal: bool = True) -> None:
    text = "".join(f"{line}\n" for line in lines)
    monkeypatch.setattr("sys.stdin", Keyboard(text) if terminal else io.StringIO(text))


def test_enter_nine_times(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, *[""] * 9)
    made = new(tmp_path, ask=ask_on_terminal)
    assert made.study.factor("shape").levels == ("dart", "glider")
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "9 of 9  How big a difference would you care about?" in shown.err
    assert "Enter alone means: 30 %" in shown.err


def test_back_keeps_what_was_answered_as_the_new_default(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed(monkeypatch, "back", "Does salt matter?", "pepper", "back", "salt", *[""] * 7)
    study = new(tmp_path, ask=ask_on_terminal).study
    assert study.question == "Does salt matter?"
    assert [factor.name for factor in study.factors] == ["salt"]


def test_a_wrong_answer_is_told_and_asked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "", "", "", "", "few", "12", "", "", "", "")
    assert new(tmp_path, ask=ask_on_terminal).study.limits.items == 12
    shown = capsys.readouterr().err
    assert "This is not a number of things that can be made." in shown
    assert shown.count("5 of 9") == 2


def test_breaking_off_keeps_the_answers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "Does salt matter?", "salt")
    with pytest.raises(typer.Abort):
        new(tmp_path, ask=ask_on_terminal)
    typed(monkeypatch, *[""] * 9)
    study = new(tmp_path, ask=ask_on_terminal).study
    assert study.question == "Does salt matter?"
    assert "Your answers from last time are still here" in capsys.readouterr().err


def test_too_few_answers_through_a_pipe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, "Does salt matter?", terminal=False)
    with pytest.raises(RequestError) as caught:
        new(tmp_path, ask=ask_on_terminal)
    assert caught.value.what == "The answers ended before the last question."
    assert not (tmp_path / "study.toml").exists()
