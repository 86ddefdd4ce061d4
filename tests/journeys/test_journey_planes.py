"""Eight paper planes: one factor, no groups; then one factor more, with no other help."""

from __future__ import annotations

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import fill_in, thrown


def test_two_pupils_and_eight_planes(afresh: CommandLine) -> None:
    line = afresh  # each verb as a person runs it: a process that knows only what was saved
    line.run("new", "planes", "--example", "planes")
    line.run("plan", "planes", "--seed", "3")
    line.run("sheets", "planes")
    fill_in(line.folder / "planes", line.folder / "filled.xlsx", thrown)
    line.run("collect", "planes", "filled.xlsx")
    told = line.run("analyse", "planes")
    assert "Shape mattered for distance flown: dart gave" in told
    (found,) = CommandLine(line.folder).json("analyse", "planes")["responses"]
    assert found["n_items"] == 8  # three throws of a plane are one plane
    assert found["n_readings"] == 24
    (effect,) = found["effects"]
    # 70 ways of giving 4 of 8 planes each shape; the two clearest of them are equally clear
    assert effect["p_randomisation"] == pytest.approx(2 / 70, abs=0.005)
    assert effect["exact"] is True


def test_changing_one_factor_and_planning_again(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    line.run("plan", "planes")
    study = line.folder / "planes" / "study.toml"
    text = study.read_text(encoding="utf-8")
    text = text.replace('levels = ["dart", "glider"]', 'levels = ["dart", "glider", "tube"]')
    study.write_text(text, encoding="utf-8")
    told = line.run("plan", "planes", code=1)
    assert "What to do" in told  # the limits no longer fit: the message says which
    text = text.replace("items = 8", "items = 12")
    study.write_text(text, encoding="utf-8")
    plan = line.json("plan", "planes")
    assert [factor["levels"] for factor in plan["factors"]] == [["dart", "glider", "tube"]]
    assert len(plan["rows"]) == 12
