"""Asking the questions of a new study on a terminal."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import typer

from trials.cli.drawing import show_error
from trials.errors import RequestError, StudyError

if TYPE_CHECKING:
    from trials.service.new import Dialog

_GOES_BACK = ("back", "b", "<")


def ask_on_terminal(dialog: Dialog) -> dict[str, str]:
    """Ask every question of ``dialog`` until each has an answer that can be used.

    Questions go to standard error, so that ``--json`` keeps standard output for itself. Answers are
    saved after each question; 'back' returns to the one before.

    Raises
    ------
    RequestError : the input ended before the last question, and nobody is at a terminal.
    typer.Abort : the person broke off.
    """
    answers: dict[str, str] = {}
    if dialog.earlier:
        _say("Your answers from last time are still here: press Enter to keep each.\n")
    place = 0
    while place < len(dialog.questions):
        question = dialog.questions[place]
        before = {q.key: answers[q.key] for q in dialog.questions[:place]}
        default = answers.get(question.key) or dialog.default(question.key, before)
        _say(f"{place + 1} of {len(dialog.questions)}  ", bold=question.wording)
        _say(f"  {question.gloss}")
        _say(f"  For instance: {question.example}")
        _say(f"  Enter alone means: {default}" + ("   (or type: back)" if place else ""))
        typed = _line()
        if typed.casefold() in _GOES_BACK:
            place = max(0, place - 1)
            continue
        try:
            dialog.check(question.key, typed or default, before)
        except StudyError as problem:
            show_error(problem, as_json=False)
            _say("")
            continue
        answers[question.key] = typed or default
        dialog.keep(answers)
        place += 1
    return answers


def _say(text: str, bold: str = "") -> None:
    typer.echo(text + (typer.style(bold, bold=True) if bold else ""), err=True)


def _line() -> str:
    """Return one line from the keyboard, asked for on standard error only."""
    typer.echo("> ", nl=False, err=True)
    typed = sys.stdin.readline()
    if not typed:
        if sys.stdin.isatty():
            raise typer.Abort
        raise RequestError(
            "The answers ended before the last question.",
            code="new.nobody",
            allowed="an answer to each question; or --answers FILE; or --example NAME",
            do="Run it on a terminal, or give the answers in a file.",
        )
    typer.echo("", err=True)
    return typed.strip()
