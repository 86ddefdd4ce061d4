"""`trials lost`: what it costs that items are gone, and the plan for others that it offers.

All readings here are made up for the purpose.
"""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import Row, plan_rows
from tests.service.paper_planes import TWO, planned_study

WHY = ("--why", "the box was dropped", "--by", "T1")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the folder of a planned and printed study."""
    line = planned_study(tmp_path_factory.mktemp("lost"), session=TWO)
    line.run("sheets", "air")
    return line.folder / "air"


@pytest.fixture
def air(line: CommandLine, planned: Path) -> CommandLine:
    """Give the command line beside a copy of that folder."""
    shutil.copytree(planned, line.folder / "air")
    return line


def _of_birch(line: CommandLine) -> list[str]:
    rows = plan_rows(line.folder / "air")
    return [i for i, row in rows.items() if (row["team"], row["session"]) == ("birch", "S2")]


def _collect(line: CommandLine, rows: dict[str, Row]) -> dict[str, Any]:
    far = {"dart": 6.0, "glider": 7.5}
    lines = [f"{i},{far[row['shape']] + int(row['run']) / 17:.2f}" for i, row in rows.items()]
    path = line.folder / "a.csv"
    path.write_text("\n".join(["item,distance (m)", *lines]) + "\n", encoding="utf-8")
    taken: dict[str, Any] = line.json("collect", "air", path)
    return taken


def test_items_lost_cost_what_the_same_items_of_an_absent_team_cost(
    air: CommandLine, tmp_path: Path
) -> None:
    shutil.copytree(air.folder / "air", tmp_path / "other" / "air")
    absent = CommandLine(tmp_path / "other").json(
        "absent", "air", "birch", "--session", "2", "--why", "ill", "--by", "T1"
    )
    told = air.json("lost", "air", *_of_birch(air), *WHY)
    assert told["cost"] == absent["cost"]
    assert told["cost"][0]["before"] < told["cost"][0]["after"]


def test_the_plan_it_offers_is_drawn_by_what_it_prints(air: CommandLine) -> None:
    gone = _of_birch(air)
    rows = plan_rows(air.folder / "air")
    _collect(air, {item: row for item, row in rows.items() if item not in gone})
    told = air.json("lost", "air", *gone, *WHY)
    (offer,) = told["offers"]
    assert offer == {"kind": "extend", "cost": [],
                     "commands": [f"trials plan air --extend --items {len(gone)}"]}  # fmt: skip
    text = air.run("lost", "air", gone[0], *WHY)
    assert "Shape then shows from" in text
    assert "- Make other planes later, dealt so that they make up for those missing:" in text
    assert "Plan them before you run trials analyse" in text
    assert "- Or go on without them: trials analyse air" in text
    longer = air.json(*shlex.split(offer["commands"][0])[1:-1], "12")  # whole sessions
    assert longer["parts"][-1]["without"] == gone


def test_before_the_first_reading_it_says_when_others_can_be_planned(air: CommandLine) -> None:
    gone = _of_birch(air)[:1]
    told = air.json("lost", "air", *gone, *WHY)
    assert told["cost"]
    assert told["offers"] == []
    text = air.run("lost", "air", *gone, *WHY)
    assert "When the first readings are in, other planes that make up for those missing" in text
    assert "trials plan air --extend --items 1" in text
    assert "Plan them before you run trials analyse: while no result is known" in text
    assert "without them" not in text


def test_an_item_whose_readings_count_costs_nothing_yet(air: CommandLine) -> None:
    _collect(air, plan_rows(air.folder / "air"))
    told = air.json("lost", "air", _of_birch(air)[0], *WHY)
    assert (told["cost"], told["offers"]) == ([], [])
    assert [one["code"] for one in told["questions"]] == ["lost_with_readings"]
