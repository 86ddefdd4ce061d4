"""An impossible request on the command line: what is nearest, and the command that draws it."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from tests.command_line import CommandLine

STUDY = """\
title = "Cells"
question = "Which is stronger?"
item_name = "slide"
[factors.coat]
levels = ["red", "blue", "none"]
[factors.soak]
levels = ["short", "long"]
[groups.firing]
count = 2
capacity = 6
[responses.power]
unit = "mW"
[limits]
items = 14
"""


@pytest.fixture
def line(tmp_path: Path) -> CommandLine:
    (tmp_path / "my slides").mkdir()
    (tmp_path / "my slides" / "study.toml").write_text(STUDY, encoding="utf-8")
    return CommandLine(tmp_path)


def test_the_command_that_is_told_draws_the_nearest_plan(line: CommandLine) -> None:
    checked = line.json("check", "my slides", code=1)["error"]
    planned = line.json("plan", "my slides", code=1)["error"]
    assert planned == checked
    assert set(planned) == {
        "code", "what", "where", "found", "allowed", "do", "conflict", "nearest"
    }  # fmt: skip
    first = planned["nearest"][0]
    assert (first["change"], first["items"]) == ("2 slides fewer (12 instead of 14)", 12)
    trials, *arguments = shlex.split(first["command"])
    assert trials == "trials"
    assert len(line.json(*arguments)["rows"]) == 12


def test_it_is_drawn_in_words(line: CommandLine) -> None:
    told = line.run("plan", "my slides", code=1)
    assert "Why: These 3 lines cannot all hold, and no fewer lines are to blame:\n  " in told
    assert "groups.firing.capacity: capacity = 6\n" in told
    assert "Nearest: 1 more firing (3 instead of 2): in [groups.firing] write count = 3\n" in told
