"""What stops a class before anything is printed: too little in stock, a flame beside alcohol.

The study is invented.
"""

from __future__ import annotations

import re
from pathlib import Path

from tests.classroom.bench import class_study
from tests.command_line import CommandLine
from tests.service.paper_planes import STUDY
from trials.study import Equipment, Lessons, Step, write_study

MORE = """
[lessons]
minutes = 60

[stock]
"sheet of paper" = {there}

[[steps]]
name = "fold"
label = "Fold it"
text = "Fold a sheet. {text}"
minutes = 3
factors = ["shape"]
materials = [{{ name = "sheet of paper", amount = 2 }}]

[[steps]]
name = "throw"
stage = "measure"
minutes = 2
"""


def _written(folder: Path, **parts: str) -> None:
    bare = STUDY.format(applied="", session="", groups="")
    text = MORE.format(**{"there": "60", "text": ""} | parts)
    folder.mkdir(exist_ok=True)
    (folder / "study.toml").write_text(bare + text, encoding="utf-8")


def _one_line(text: str) -> str:
    return " ".join(text.split())


def test_too_little_stops_before_anything_is_locked(line: CommandLine) -> None:
    """24 planes of 2 sheets are 48; 40 sheets do for 20 planes."""
    _written(line.folder / "air", there="40")
    told = _one_line(line.run("plan", "air", "--seed", "3"))
    assert (
        "Stop: Sheet of paper: you have 40, not enough for 24 planes (48): it does for 20" in told
    )
    assert "Make at most 20 planes" in told
    document = line.json("check", "air")
    assert [(one["there"], one["enough_for"]) for one in document["stock"]] == [(40, 20)]
    refused = line.json("sheets", "air", code=1)
    assert refused["error"]["code"] == "plan.stock"
    assert not (line.folder / "air" / "sheets").exists()
    options = _one_line(line.run("plan", "air", "--options"))
    assert "Takes more than there is in stock: sheet of paper, enough for 20 planes." in options
    line.run("sheets", "air", "--anyway")


def test_enough_is_told_with_what_is_spare(line: CommandLine) -> None:
    _written(line.folder / "air")
    told = _one_line(line.run("check", "air"))
    assert "Sheet of paper: you have 60, enough for 24 planes (48) and for 6 more" in told
    assert "Stop" not in told
    assert line.json("check", "air")["safety"] == []


def test_a_plan_made_before_fire_was_written_down_is_not_printed(line: CommandLine) -> None:
    _written(line.folder / "air")
    line.run("plan", "air", "--seed", "3")
    _written(line.folder / "air", text="Rinse it with alcohol. Hold it over a candle.")
    told = line.run("check", "air")
    assert "in lesson 1" in told
    assert re.search(r"'candle' stands in study.toml \(steps\[1\].text\)", told)
    assert line.json("sheets", "air", code=1)["error"]["code"] == "plan.flame_beside"
    _written(line.folder / "air", text="Rinse it with alcohol.")
    printed = line.run("sheets", "air")
    assert "The usual caution was added at the step 'Fold it', for 'alcohol'" in printed


def test_a_flame_beside_alcohol_between_lessons_is_placed_again_as_told(line: CommandLine) -> None:
    """Two adults, one with a burner and one with alcohol: both began at once until it was said."""
    steps = (
        Step(name="fire", minutes=10, when="between", by="the adult", equipment=("burner",)),
        Step(name="rinse", minutes=9, when="between", by="the helper", flammable=True),
        Step(name="weigh", minutes=4, stage="measure"),
    )
    path = line.folder / "cups" / "study.toml"
    path.parent.mkdir()
    for flame in (False, True):
        burner = (Equipment(name="burner", flame=flame),)
        study = class_study(steps=steps, equipment=burner, lessons=Lessons(minutes=50))
        path.write_text(write_study(study), encoding="utf-8")
        if not flame:
            line.run("plan", "cups", "--seed", "3")
    error = line.json("sheets", "cups", code=1)["error"]
    assert error["code"] == "plan.flame_beside"
    told = re.search(r"trials (lessons cups --since \d --not-yet fire)", error["do"])
    assert told is not None
    assert f"trials {told[1]}" in _one_line(line.run("check", "cups"))
    line.run(*told[1].split())
    line.run("sheets", "cups")
