"""Every verb explains itself, and README names every verb and option."""

from __future__ import annotations

import csv
import re
import shlex
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from tests.command_line import CommandLine
from trials.cli import start
from trials.cli.verbs import app
from trials.study import Options
from trials.words.options import CHOICES

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
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


def examples(verb: str) -> list[list[str]]:
    """Return the examples that a verb's help gives, as they are typed; a remark is left out."""
    found = re.findall(rf"^ *trials ({verb} my-study .*)$", COMMANDS[verb].help, re.MULTILINE)
    return [shlex.split(re.sub(r"    \(.*\)$", "", one)) for one in found]


def typed(example: list[str], codes: list[str]) -> list[str]:
    """Return an example with codes of a plan in the place of invented ones."""
    names = dict(zip(("K7", "K9"), codes, strict=False))
    return [names.get(word, word) for word in example]


def test_the_examples_of_a_bad_day_work_on_the_ready_class(tmp_path: Path) -> None:
    """Each as help gives it, in this order; only with the codes of this class."""
    line = CommandLine(tmp_path)
    line.run("new", "my-study", "--example", "lessons")
    line.run("plan", "my-study", "--seed", "1")
    with (tmp_path / "my-study" / "plan.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    third = sorted({row["team"] for row in rows})[2]
    codes = [row["item"] for row in rows if row["team"] != third]
    for verb in ("lessons", "lost", "made"):
        for example in examples(verb):
            line.run(*typed(example, codes))
    for example in examples("swapped"):
        line.run(*typed(example, codes[1:]))
    first, with_session = examples("absent")
    assert f"team {third} was absent" in line.run(*first)
    told = line.run(*with_session, code=1)
    assert "This plan has no sessions" in told
    assert f"--since 2 --away {third}" in told


def test_the_example_of_an_absence_works_on_a_plan_with_sessions(tmp_path: Path) -> None:
    folder = tmp_path / "my-study"
    folder.mkdir()
    for name in ("study.toml", "plan.json", "plan.csv"):
        shutil.copy(ROOT / "reports" / "cells" / name, folder)
    told = CommandLine(tmp_path).run(*examples("absent")[1])
    assert "was absent in session S2" in told
