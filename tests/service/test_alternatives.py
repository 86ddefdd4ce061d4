"""``trials plan --options``: what a person reads and what a program reads are the same plans."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command_line import CommandLine
from trials.service.alternatives import compare_plans


def test_options_change_nothing_and_can_be_taken(line: CommandLine) -> None:
    line.run("new", "tea", "--example", "tea")
    before = sorted(path.name for path in (line.folder / "tea").iterdir())
    told = line.run("plan", "tea", "--options")
    found = line.json("plan", "tea", "--options")
    assert sorted(path.name for path in (line.folder / "tea").iterdir()) == before
    assert "as study.toml asks" in told.lower()
    assert "Gives up" in told
    assert "In textbooks" in told
    larger = max(found["options"], key=lambda one: one["items"])
    study = line.folder / "tea" / "study.toml"
    text = study.read_text(encoding="utf-8")
    for write in larger["write"]:
        assert write["line"] in told
    text = text.replace("count = 6 # in each lesson", "count = 7").replace(
        "items = 48", "items = 56"
    )
    assert {write["line"] for write in larger["write"]} == {"count = 7", "items = 56"}
    study.write_text(text, encoding="utf-8")
    assert len(line.json("plan", "tea")["rows"]) == larger["items"]


@pytest.mark.parametrize("lessons", [True, False])
def test_it_is_said_that_lessons_are_not_looked_at(tmp_path: Path, lessons: bool) -> None:
    here = tmp_path / "study.toml"
    here.write_text(
        'title = "Tea"\nquestion = "Which is darker?"\nitem_name = "cup"\n'
        '[factors.leaf]\nlevels = ["green", "black"]\n[responses.colour]\nunit = "points"\n'
        "[limits]\nitems = 6\n"
        + ("[lessons]\nminutes = 45\n" if lessons else "")
        + '[[steps]]\nname = "brew"\nminutes = 5\n',
        encoding="utf-8",
    )
    told = "\n".join(compare_plans(tmp_path).text())
    assert ("trials check says how many lessons it takes" in told) == lessons


def test_a_plan_that_cannot_fit_into_the_lessons_says_so(tmp_path: Path) -> None:
    here = tmp_path / "study.toml"
    here.write_text(
        'title = "Tea"\nquestion = "Which is darker?"\nitem_name = "cup"\n'
        '[factors.leaf]\nlevels = ["green", "black"]\n[responses.colour]\nunit = "points"\n'
        "[limits]\nitems = 12\n[lessons]\nminutes = 45\ncount = 1\nhands = 2\n"
        '[[steps]]\nname = "brew"\nminutes = 6\n',
        encoding="utf-8",
    )
    found = compare_plans(tmp_path)
    told = found.to_dict()["options"]
    # by hand: two pairs of hands, 6 minutes a cup, and 45 - 5 - 5 minutes of each lesson
    by_hand = [-(-one["items"] * 6 // (2 * 35)) for one in told]
    assert [one["lessons_at_least"] for one in told] == by_hand
    assert set(by_hand) == {1, 2}  # twelve cups take 72 minutes of 70, fewer fit
    said = "   Doesn't fit into 1 lesson: it takes at least 2."
    assert found.text().count(said) == by_hand.count(2)


def test_one_more_is_told(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    told = line.run("plan", "planes", "--options")
    assert "One more plane: shape then shows from" in told


def test_plans_of_other_sizes_can_be_taken_as_told(line: CommandLine) -> None:
    line.run("new", "class", "--example", "classes")
    study = line.folder / "class" / "study.toml"
    text = study.read_text(encoding="utf-8")
    for old, new in (
        ('members = ["alder", "hazel", "linden", "maple", "rowan", "willow"]', "SIZES"),
        ("count = 6 # three in the oven, three at a burner", "count = 8"),
        ("items = 36\ncopies = 6", "items = 48"),
    ):
        assert old in text
        text = text.replace(old, new)
    asked = "sizes = [8, 8, 8, 7, 7, 7]"
    study.write_text(text.replace("SIZES", asked), encoding="utf-8")
    told = line.run("plan", "class", "--options")
    found = line.json("plan", "class", "--options")
    assert "One team fewer." in told
    assert "One more firing (50 cells): heat then shows from" in told
    whole = next(one for one in found["options"] if one["code"] == "whole")
    assert whole["write"] == [{"under": "[groups.team]", "line": "sizes = [8, 8, 8, 8, 8, 8]"}]
    assert whole["delete"] == []
    assert whole["write"][0]["line"] in told
    study.write_text(text.replace("SIZES", whole["write"][0]["line"]), encoding="utf-8")
    assert len(line.json("plan", "class")["rows"]) == whole["items"] == 48
