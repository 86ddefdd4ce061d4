"""The summary after collecting: what is in, what is missing where, and the one next command."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.command_line import CommandLine
from tests.journeys.bench import plan_rows


def _table(line: CommandLine, rows: dict[str, dict[str, str]], **special: str) -> Path:
    """Write a table with one throw of each of these planes: run number -> text, else 5.4 m."""
    lines = ["item,reading,distance (m),did it work?"]
    for code, row in rows.items():
        text = special.get(f"run{row['run']}", f"5.{int(row['run']) % 10}")
        number, worked = ("", "no") if text == "failed" else (text, "")
        if text:
            lines += [f"{code},{n},{number},{worked}" for n in ((1,) if worked else (1, 2, 3))]
    path = line.folder / "own.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _summary(line: CommandLine, file: Path) -> dict[str, Any]:
    told: dict[str, Any] = line.json("collect", "planes", file)["summary"]
    return told


def test_missing_lost_and_failed_are_counted_apart(planes: CommandLine) -> None:
    rows = plan_rows(planes.folder / "planes")
    codes = {row["run"]: code for code, row in rows.items()}
    planes.run("lost", "planes", codes["3"], "--why", "stepped on")
    told = _summary(planes, _table(planes, rows, run2="", run3="", run4="failed"))
    assert (told["planned"], told["in"], told["failed"], told["lost"], told["missing"]) == (
        len(rows), len(rows) - 2, [codes["4"]], [codes["3"]], [codes["2"]],
    )  # fmt: skip
    assert (told["open"], told["must"], told["next"]) == (0, [], "trials collect planes FILE")
    assert [p["planned"] - p["in"] for p in told["places"] if p["in"] < p["planned"]] == [1] * len(
        {p["group"] for p in told["places"]}
    )
    text = planes.run("collect", "planes", planes.folder / "own.csv")
    assert f"{len(rows) - 2} of {len(rows)} planes are in: {len(rows) - 3} measured, 1 that did " \
        "not work. 1 more is lost." in text  # fmt: skip
    assert "Missing: 1 plane. What never will be measured: trials lost planes ITEM" in text
    assert text.count("Next: ") == 1


def test_what_holds_back_an_answer_comes_first(planes: CommandLine) -> None:
    rows = plan_rows(planes.folder / "planes")
    file = _table(planes, rows, run2="48", run5="about 5")
    told = planes.json("collect", "planes", file)
    asked = told["questions"]
    assert [q["must"] for q in asked] == sorted((q["must"] for q in asked), reverse=True)
    assert asked[0]["code"] == "not_a_number"
    assert "slip" in [q["code"] for q in asked]
    assert told["summary"]["must"] == [q["id"] for q in asked if q["must"]]
    assert told["summary"]["next"].startswith(
        f"trials answer planes {asked[0]['id']} correct|set-aside --why"
    )
    text = planes.run("collect", "planes", file)
    assert "must be settled: until then" in text
    assert "texts where a number is needed (" in text


def test_with_everything_in_the_answer_comes_next(planes: CommandLine) -> None:
    rows = plan_rows(planes.folder / "planes")
    file = _table(planes, rows)
    assert _summary(planes, file)["next"] == "trials analyse planes"
    text = planes.run("collect", "planes", file)
    assert f"All {len(rows)} planes are in." in text
    assert "No question is open." in text


def test_the_next_command_can_be_typed(planes: CommandLine) -> None:
    """Following 'next' until nothing is open, with a reason, a code, and an answer it offers."""
    rows = plan_rows(planes.folder / "planes")
    file = _table(planes, rows, run2="48", run5="about 5")
    for _ in range(9):
        told = _summary(planes, file)
        if not told["open"]:
            break
        command = told["next"].replace("...", "checked", 1).replace("...", "AB").split()
        planes.run(*(part.split("|")[-1] for part in command[1:]))
    assert told["next"] == "trials analyse planes"


def test_items_with_fewer_readings_than_planned_are_named(planes: CommandLine) -> None:
    """One of three throws was missing, and nothing said so."""
    rows = plan_rows(planes.folder / "planes")
    codes = {row["run"]: code for code, row in rows.items()}
    file = _table(planes, rows, run4="failed")
    lines = file.read_text(encoding="utf-8").splitlines()
    gone = [f"{codes['1']},2", f"{codes['1']},3", f"{codes['5']},1"]
    kept = [line for line in lines if not line.startswith(tuple(gone[:2]))]
    file.write_text("\n".join(kept) + "\n", encoding="utf-8")
    told = _summary(planes, file)
    assert told["fewer_readings"] == [{"item": codes["1"], "readings": 1, "planned": 3}]
    text = planes.run("collect", "planes", file)
    assert f"{codes['1']} has 1 of 3 readings." in text
    kept = [line for line in kept if not line.startswith(gone[2])]
    file.write_text("\n".join(kept) + "\n", encoding="utf-8")
    text = planes.run("collect", "planes", file)
    assert "Fewer readings than planned: " in text
    assert f"{codes['5']} " in text
    assert _summary(planes, _table(planes, rows))["fewer_readings"] == []
