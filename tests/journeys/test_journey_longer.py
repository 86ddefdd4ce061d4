"""Too few to tell: a class adds items to a study that has measurements, once and twice."""

from __future__ import annotations

import random

from tests.command_line import CommandLine
from tests.journeys.bench import Row, fill_in, plan_rows


def _throws(row: Row, reading: int, heading: str) -> float | None:
    if not heading.startswith("distance"):
        return None
    chance = random.Random(f"{row['item']} {reading}")  # noqa: S311 - a bench, not a secret
    plane = random.Random(row["item"])  # noqa: S311
    far = 6.4 if row["shape"] == "dart" else 5.0
    return round(far + plane.gauss(0, 1.2) + chance.gauss(0, 0.4), 1)


def _measure(line: CommandLine, name: str) -> None:
    line.run("sheets", "planes")
    fill_in(line.folder / "planes", line.folder / name, _throws)
    line.run("collect", "planes", name)


def test_a_second_look_that_was_declared(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    study = line.folder / "planes" / "study.toml"
    study.write_text(study.read_text(encoding="utf-8") + "\n[plan]\nlooks = 2\n", encoding="utf-8")
    line.run("plan", "planes", "--seed", "3")
    told = line.run("plan", "planes", "--extend", code=1)
    assert "nothing was measured" in told
    _measure(line, "first.xlsx")
    before = plan_rows(line.folder / "planes")
    line.run("analyse", "planes")
    told = line.run("plan", "planes", "--extend", "--items", "6", "--seed", "4")
    assert "6 planes more, numbers 9 to 14" in told
    assert "declared in the plan" in told
    after = plan_rows(line.folder / "planes")
    for item, row in before.items():
        assert row.items() <= after[item].items()
    # not printed yet: it may be drawn again, with the seed it has
    line.run("plan", "planes", "--extend", "--items", "8")
    assert len(plan_rows(line.folder / "planes")) == 16
    refused = line.run("plan", "planes", "--extend", "--seed", "5", code=1)
    assert "keeps the seed" in refused
    again = line.json("plan", "planes", "--extend", "--items", "6")
    assert plan_rows(line.folder / "planes") == after
    assert len(again["parts"]) == 2
    _measure(line, "second.xlsx")
    line.run("collect", "planes", "first.xlsx")  # of the first part: taken once, harmless twice
    (found,) = line.json("analyse", "planes")["responses"]
    assert found["n_items"] == 14
    assert {component["group"] for component in found["variance_components"]} == {"residual"}
    (effect,) = found["effects"]
    assert effect["p_randomisation"] is not None
    text = line.run("report", "planes")
    assert "report" in text


def test_a_second_look_that_was_not_declared_is_told(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    line.run("plan", "planes", "--seed", "3")
    _measure(line, "first.xlsx")
    line.run("analyse", "planes")
    told = line.run("plan", "planes", "--extend", "--seed", "4")
    assert "no second look had been declared" in told
    _measure(line, "second.xlsx")
    told = line.run("analyse", "planes")
    assert "after looking" in told
