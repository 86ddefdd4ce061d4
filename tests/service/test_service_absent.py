"""`trials absent`: what it takes, what it costs, what it offers; also where there is no session."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import Row, plan_rows
from tests.service.paper_planes import TWO, planned_study

WHY = ("--why", "ill", "--by", "T1")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Give studies with two sessions, with one, with none; each planned once."""
    base = tmp_path_factory.mktemp("absent")
    for name, session in (("two", TWO), ("one", TWO.replace("2", "1")), ("none", "")):
        planned_study(base / name, session=session)
    return {name: base / name for name in ("two", "one", "none")}


@pytest.fixture
def air(line: CommandLine, planned: dict[str, Path]) -> CommandLine:
    shutil.copytree(planned["two"], line.folder, dirs_exist_ok=True)
    return line


def _mine(line: CommandLine, **groups: str) -> list[str]:
    rows = plan_rows(line.folder / "air")
    return [item for item, row in rows.items() if all(row[g] == m for g, m in groups.items())]


def _collect(line: CommandLine, rows: dict[str, Row], name: str = "a.csv") -> Any:
    far = {"dart": 9.0, "glider": 4.0}
    lines = ["item,distance (m)"]
    lines += [
        f"{item},{far[row['shape']] + int(row['run']) / 17:.2f}" for item, row in rows.items()
    ]
    path = line.folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return line.json("collect", "air", path)


def test_it_names_what_is_missing_and_what_that_costs(air: CommandLine) -> None:
    told = air.json("absent", "air", "birch", "--session", "2", *WHY)
    hit = _mine(air, team="birch", session="S2")
    assert told["absent"] == {"team": "birch", "session": "S2", "items": hit, "why": "ill",
                              "by": "T1"}  # fmt: skip
    assert (told["not_made"], told["measured"]) == (hit, [])
    (cost,) = told["cost"]
    assert cost["factor"] == "shape"
    assert cost["before"] < cost["after"]
    assert told["items"]["not_made"] == hit
    assert told["absent_in_all"] == [told["absent"]]
    text = air.run("absent", "air", "birch", "--session", "S1", *WHY)
    assert "Recorded: team birch was absent in session S1." in text
    assert "Shape then shows from" in text
    assert "(before: " in text


def test_what_it_costs_is_what_a_plan_of_the_rest_would_tell(air: CommandLine) -> None:
    """The same figure comes out of the judging of a loss, which looks for the worst team."""
    plan = json.loads((air.folder / "air" / "plan.json").read_bytes())
    (worst,) = [loss for loss in plan["worst_loss"] if loss["group"] == "team"]
    first = air.json("absent", "air", worst["member"], "--session", "1", *WHY)["cost"][0]
    second = air.json("absent", "air", worst["member"], "--session", "2", *WHY)["cost"][0]
    assert first["before"] == pytest.approx(worst["before"], rel=1e-9)
    assert second["before"] == pytest.approx(first["after"], rel=1e-9)
    assert second["after"] == pytest.approx(worst["after"], rel=1e-9)


def test_the_others_can_make_them_by_what_it_prints(air: CommandLine) -> None:
    told = air.json("absent", "air", "birch", "--session", "2", *WHY)
    (offer,) = told["offers"]
    assert offer["kind"] == "others"
    assert offer["cost"][0]["after"] < told["cost"][0]["after"]
    assert len(offer["commands"]) == 2  # shared by the two teams that were there
    for command in offer["commands"]:
        verb = shlex.split(command.replace("CODE", "T2"))
        assert verb[0] == "trials"
        air.run(*verb[1:])
    rows = plan_rows(air.folder / "air")
    late = {item: rows[item] for item in told["not_made"]}
    first = _collect(air, {item: row for item, row in rows.items() if item not in late})
    assert first["summary"]["not_made"] == told["not_made"]
    assert first["summary"]["missing"] == []
    found = air.json("analyse", "air")["responses"][0]
    assert (found["n_lost"], found["n_never_made"]) == (len(late), len(late))
    assert f"{len(late)} were never made" in air.run("analyse", "air")
    second = _collect(air, late, "b.csv")
    assert second["summary"]["in"] == 24
    assert second["summary"]["not_made"] == []
    found = air.json("analyse", "air")["responses"][0]
    assert (found["n_lost"], found["n_never_made"]) == (0, 0)


def test_readings_that_come_all_the_same_count_and_are_asked_for_their_maker(
    air: CommandLine,
) -> None:
    air.run("absent", "air", "birch", "--session", "2", *WHY)
    rows = plan_rows(air.folder / "air")
    _collect(air, rows)
    item = _mine(air, team="birch", session="S2")[0]
    (air.folder / "c.csv").write_text(f"item,distance (m)\n{item},5\n", encoding="utf-8")
    text = air.run("collect", "air", "a.csv")
    assert "have readings although team birch was absent in session S2: they count." in text
    assert "--group team=WHICH" in text
    assert air.json("analyse", "air")["responses"][0]["n_items"] == 24


def test_summary_of_collect_tells_who_was_absent(air: CommandLine) -> None:
    hit = _mine(air, team="birch", session="S2")
    air.run("absent", "air", "birch", "--session", "2", *WHY)
    rows = plan_rows(air.folder / "air")
    left = [item for item in rows if item not in hit]
    air.run("lost", "air", left[1], "--why", "fell")
    _collect(air, {item: rows[item] for item in left[2:]})
    text = air.run("collect", "air", "a.csv")
    listed = f"{', '.join(hit[:-1])} and {hit[-1]}"
    assert f"Not made, for team birch was absent in session S2: {listed}." in text
    told = air.json("collect", "air", "a.csv")["summary"]
    assert (told["in"], told["lost"], told["missing"]) == (len(left) - 2, left[1:2], left[:1])
    birch = next(place for place in told["places"] if place["member"] == "birch")
    assert birch["planned"] <= 8 - len(hit)


def test_a_longer_plan_makes_up_for_them(air: CommandLine) -> None:
    hit = _mine(air, team="birch", session="S2")
    rows = plan_rows(air.folder / "air")
    air.run("sheets", "air")
    _collect(air, {item: row for item, row in rows.items() if item not in hit})
    told = air.json("absent", "air", "birch", "--session", "2", *WHY)
    assert [offer["kind"] for offer in told["offers"]] == ["others", "extend"]
    assert told["offers"][1]["commands"] == [f"trials plan air --extend --items {len(hit)}"]
    longer = air.json("plan", "air", "--extend", "--items", "12")
    assert longer["parts"][-1]["without"] == hit


def test_taken_back_it_stays_in_the_history(air: CommandLine) -> None:
    air.run("absent", "air", "birch", "--session", "2", *WHY)
    told = air.run("absent", "air", "birch", "--session", "2", "--undo", *WHY)
    assert told.startswith("Taken back: that team birch was absent in session S2.")
    whats = {change["what"] for change in air.json("history", "air")["changes"]}
    assert whats == {"absent", "not absent"}
    error = air.json("absent", "air", "birch", "--session", "2", "--undo", *WHY, code=1)["error"]
    assert error["code"] == "absent.unknown"


@pytest.mark.parametrize(
    ("what", "code", "allowed"),
    [
        (("brich", "--session", "2"), "absent.unknown_team", "alder, birch or cedar"),
        (("birch", "--session", "3"), "absent.unknown_session", "S1 or S2"),
        (("birch", "--session", "0"), "absent.unknown_session", "S1 or S2"),
        (("birch",), "absent.which_session", "S1 or S2"),
    ],
)
def test_refused_with_what_is_allowed(
    air: CommandLine, what: tuple[str, ...], code: str, allowed: str
) -> None:
    error = air.json("absent", "air", *what, *WHY, code=1)["error"]
    assert (error["code"], error["allowed"]) == (code, allowed)
    assert error["do"]
    assert air.json("history", "air")["changes"] == []


def test_a_reason_and_a_code_are_needed(air: CommandLine) -> None:
    for typed, code in ((("--by", "T1"), "absent.why"), (("--why", "ill"), "absent.by")):
        error = air.json("absent", "air", "birch", "--session", "2", *typed, code=1)["error"]
        assert error["code"] == code


@pytest.mark.parametrize("name", ["one", "none"])
def test_where_there_is_one_session_or_none(
    line: CommandLine, planned: dict[str, Path], name: str
) -> None:
    shutil.copytree(planned[name], line.folder, dirs_exist_ok=True)
    told = line.json("absent", "air", "cedar", *WHY)
    assert told["not_made"] == _mine(line, team="cedar")
    assert told["absent"]["session"] == (None if name == "none" else "S1")
    error = line.json("absent", "air", "alder", "--session", "2", *WHY, code=1)["error"]
    assert error["code"] == ("absent.no_sessions" if name == "none" else "absent.unknown_session")
    assert line.json("absent", "air", "alder", "--session", "1", *WHY)["cost"]
    (last,) = [team for team in ("alder", "birch", "cedar") if team not in ("alder", "cedar")]
    gone = line.json("absent", "air", last, *WHY)  # nobody is left
    assert gone["offers"] == []
    assert gone["cost"][0]["after"] is None


def test_without_teams_it_says_what_to_type(planes: CommandLine) -> None:
    error = planes.json("absent", "planes", "rowan", "--session", "2", *WHY, code=1)["error"]
    assert error["code"] == "absent.no_teams"
    assert "trials lost planes CODE" in error["do"]


def test_where_a_team_has_a_version_of_its_own_others_can_not_stand_in(tmp_path: Path) -> None:
    line = planned_study(tmp_path, applied='applied_to = "team"\n', session=TWO,
                  groups="groups = { team = 0.2 }")  # fmt: skip
    told = line.json("absent", "air", "birch", "--session", "2", *WHY)
    assert told["not_made"]
    assert told["offers"] == []
