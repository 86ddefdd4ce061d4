"""Every verb explains itself, and README names every verb and option."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from trials.cli import start
from trials.cli.verbs import app
from trials.study import Options
from trials.words.options import CHOICES

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
COMMANDS: dict[str, Any] = dict(vars(get_command(app))["commands"])
OPTIONS = sorted(
    {
        flag
        for command in COMMANDS.values()
        for parameter in command.params
        for flag in parameter.opts
        if flag.startswith("--")
    }
)


@pytest.mark.parametrize("verb", COMMANDS)
def test_every_verb_has_help_with_an_example_and_json(
    verb: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert start.run([verb, "--help"]) == 0
    told = capsys.readouterr().out
    assert f"\n    trials {verb}" in told
    assert "--json" in told


@pytest.mark.parametrize("verb", COMMANDS)
def test_readme_names_every_verb(verb: str) -> None:
    assert f"| `trials {verb}" in README


@pytest.mark.parametrize("flag", OPTIONS)
def test_readme_names_every_option(flag: str) -> None:
    assert flag in README


def test_the_options_of_an_analysis_are_one_list() -> None:
    assert [option.name for option in CHOICES] == list(Options.model_fields)
    told = {option.name: option.usual for option in CHOICES if option.usual}
    usual = Options()
    assert told == {name: str(getattr(usual, name)) for name in told}


def test_every_option_with_a_number_or_a_choice_tells_what_is_usual() -> None:
    silent = {option.name for option in CHOICES if not option.usual}
    assert silent == {
        "response", "item", "covariates", "bounded", "random", "control", "worthwhile", "better",
    }  # fmt: skip
