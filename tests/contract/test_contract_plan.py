"""The words and files of check, plan, power and sheets that outside checks rely on."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.command_line import CommandLine

PLAN_KEYS = {
    "format_version", "factors", "groups", "study_digest", "seed", "seeds_tried", "family",
    "criteria", "skeleton", "audit", "power", "verdict_chances", "shuffle", "locked",
}  # fmt: skip


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> CommandLine:
    line = CommandLine(tmp_path_factory.mktemp("planned"))
    line.run("new", "tea", "--example", "tea")
    line.run("plan", "tea", "--seed", "7")
    return line


@pytest.fixture
def tea(line: CommandLine, planned: CommandLine) -> CommandLine:
    """Give the command line beside a copy of the planned folder."""
    shutil.copytree(planned.folder / "tea", line.folder / "tea")
    return line


def _plan(line: CommandLine, name: str = "tea") -> Any:
    return json.loads((line.folder / name / "plan.json").read_bytes())


def test_check_has_the_keys_of_the_plan_and_writes_nothing(line: CommandLine) -> None:
    line.run("new", "tea", "--example", "tea")
    before = sorted(line.folder.rglob("*"))
    checked = line.json("check", "tea")
    assert set(checked) >= PLAN_KEYS | {"digest"}
    assert checked["digest"] is None  # nothing was drawn
    assert sorted(line.folder.rglob("*")) == before


def test_plan_prints_plan_json(planned: CommandLine) -> None:
    printed = planned.json("plan", "tea", "--seed", "7")
    assert printed == _plan(planned)
    assert set(printed) >= PLAN_KEYS | {"digest"}


def test_names_inside_the_plan(planned: CommandLine) -> None:
    plan = _plan(planned)
    assert set(plan["factors"][0]) >= {"name", "levels", "unit", "applied_to"}
    assert set(plan["groups"][0]) >= {"name", "within", "step", "role"}
    assert set(plan["skeleton"][0]) >= {"source", "stratum", "df", "tested_by"}
    assert set(plan["audit"][0]) >= {"code", "severity", "message", "remedy"}
    assert set(plan["shuffle"]) >= {"kind", "size", "smallest_p"}
    assert set(plan["shuffle"]["smallest_p"]) >= {"temperature", "steep", "temperature:steep"}
    assert all(0 <= value <= 1 for value in plan["criteria"].values())
    assert {finding["severity"] for finding in plan["audit"]} <= {"stop", "warn", "note"}


def test_plan_csv_is_one_row_an_item(planned: CommandLine) -> None:
    with (planned.folder / "tea" / "plan.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["run", "measure", "item", "lesson", "pot", "temperature", "steep"]
    n = len(_plan(planned)["rows"])
    assert len(rows) == n
    assert [int(row["run"]) for row in rows] == list(range(1, n + 1))
    assert sorted(int(row["measure"]) for row in rows) == list(range(1, n + 1))
    assert len({row["item"] for row in rows}) == n


def test_the_same_seed_gives_the_same_plan_and_another_seed_another(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    plans = []
    for seed in ("7", "8", "7"):
        line.run("plan", "planes", "--seed", seed)
        plans.append((line.folder / "planes" / "plan.csv").read_bytes())
    assert plans[0] == plans[2] != plans[1]
    assert _plan(line, "planes")["seeds_tried"] == [8, 7]


def test_items_sets_how_many_are_made(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    plan = line.json("plan", "planes", "--items", "6")
    assert len(plan["rows"]) == 6


def test_sheets_are_written_and_lock_the_plan(tea: CommandLine) -> None:
    told = tea.json("sheets", "tea")
    folder = tea.folder / "tea" / "sheets"
    assert {one["file"] for one in told["files"]} == {path.name for path in folder.iterdir()}
    kinds = {path.suffix for path in folder.iterdir()}
    assert {".pdf", ".xlsx"} <= kinds
    assert _plan(tea)["locked"] == told["locked"] is not None


def test_a_printed_plan_may_be_drawn_again_before_measuring_and_the_old_one_is_kept(
    tea: CommandLine,
) -> None:
    tea.run("sheets", "tea")
    told = tea.run("plan", "tea", "--seed", "9")
    assert told.startswith("The sheets of the old plan are void: throw them away.\n")
    assert _plan(tea)["locked"] is None
    kept = json.loads((tea.folder / "tea" / "history" / "plan-1.json").read_bytes())
    assert kept["seed"] == 7


def test_changing_the_study_after_planning_asks_for_a_new_plan(tea: CommandLine) -> None:
    study = tea.folder / "tea" / "study.toml"
    text = study.read_text(encoding="utf-8")
    study.write_text(text.replace("levels = [2, 8]", "levels = [2, 10]")
                         .replace("8 = \"Take", "10 = \"Take"), encoding="utf-8")  # fmt: skip
    told = tea.run("sheets", "tea", code=1)
    assert "trials plan tea" in told
    assert "levels was 2, 8 and is now 2, 10" in told


# Cohen (1988), Statistical Power Analysis, 2nd ed., section 8.4, Table 8.4.4 (k = 4, alpha = 0.05):
# n for f = 0.25 and power 0.80 is 45. From memory; R's power.anova.test gives 44.6, so 45 as well.
def test_power_leaves_out_the_one_wanted(line: CommandLine) -> None:
    found = line.json("power", "--groups", "4", "--f", "0.25", "--power", "0.8")
    assert set(found) == {"power", "per_group", "difference", "f", "method"}
    assert found["per_group"] == 45
    again = line.json("power", "--groups", "4", "--f", "0.25", "--per-group", "45")
    assert again["power"] == pytest.approx(found["power"])
    size = line.json("power", "--groups", "4", "--per-group", "45", "--power", str(again["power"]))
    assert size["f"] == pytest.approx(0.25, abs=1e-9)


def test_power_takes_a_difference_with_its_spread(line: CommandLine) -> None:
    # largest gap D, other means midway: f = D / sd / sqrt(2 k)
    told = ("--groups", "2", "--difference", "10", "--sd", "10", "--power", "0.8")
    found = line.json("power", *told)
    assert found["f"] == pytest.approx(0.5)
    assert found["difference"] == 10
    assert found["per_group"] == 17  # Cohen (1988), Table 2.4.1: d = 1.00, two-sided 0.05: 17


@pytest.mark.parametrize(
    "arguments",
    [
        ("power", "--groups", "4"),
        ("power", "--groups", "4", "--per-group", "5", "--f", "0.3", "--power", "0.8"),
        ("power", "--groups", "1", "--f", "0.25", "--power", "0.8"),
        ("power", "--groups", "3", "--difference", "1", "--power", "0.8"),
        ("power", "--groups", "3", "--f", "0.25", "--power", "1.5"),
        ("power", "--f", "0.25", "--power", "0.8"),
        ("power", "tea", "--groups", "3"),
        ("power", "--per-group", "2.5"),
    ],
)
def test_power_refuses_what_makes_no_sense(line: CommandLine, arguments: tuple[str, ...]) -> None:
    error = line.json(*arguments, code=2)["error"]
    assert error["do"]


def test_power_of_a_study(planned: CommandLine) -> None:
    told = planned.json("power", "tea")
    assert set(told) >= {"power", "verdict_chances", "detectable", "how_many", "simulation"}
    assert {row["term"] for row in told["power"]} >= {"temperature", "steep"}


@pytest.mark.parametrize("verb", ["check", "plan", "sheets", "power", "analyse", "report"])
def test_a_folder_without_a_study(line: CommandLine, verb: str) -> None:
    Path(line.folder / "empty").mkdir()
    error = line.json(verb, "empty", code=1)["error"]
    assert set(error) >= {"code", "where", "found", "allowed", "do"}
    assert error["code"] == "workspace.no_study"
