"""A greenhouse: light for whole shelves, food for each pot, two things measured, an own table.

The class keeps its own table, in its own order, with semicolons and decimal commas, one of
which is forgotten; one pot is knocked over and one seedling never comes up.
"""

from __future__ import annotations

import random

from tests.command_line import CommandLine
from tests.journeys.bench import plan_rows

FOOD = {"none": 0.0, "half": 25.0, "full": 60.0}


def test_a_greenhouse_with_a_table_of_its_own(line: CommandLine) -> None:
    line.run("new", "green", "--example", "greenhouse")
    line.run("plan", "green", "--seed", "21")
    line.run("sheets", "green")
    rows = plan_rows(line.folder / "green")
    chance = random.Random(8)  # noqa: S311 - a bench, not a secret
    codes = sorted(rows)
    chance.shuffle(codes)
    gone, dead, hasty = codes[:3]
    shelf = {row["shelf"]: chance.gauss(0, 4) for row in rows.values()}
    table = ["item;reading;height after three weeks (mm);number of leaves"]
    for code in codes[1:]:
        row = rows[code]
        tall = 80 + FOOD[row["feed"]] + (10 if row["light"] == "16" else 0) + shelf[row["shelf"]]
        tall += chance.gauss(0, 8)
        for reading in (1, 2):
            height = 0.0 if code == dead else tall + chance.gauss(0, 1)
            leaves = 0 if code == dead else round(height / 12)
            typed = f"{height:.1f}".replace(".", ",")
            if code == hasty and reading == 2:
                typed = typed.replace(",", "")  # the comma was forgotten
            table.append(f"{code.lower()};{reading};{typed};{leaves if reading == 1 else ''}")
    own = line.folder / "our table.csv"
    own.write_text("\n".join(table), encoding="cp1252")

    collected = line.json("collect", "green", own)
    assert collected["taken"][0]["readings"] == 2 * (len(rows) - 1)
    slips = [q for q in collected["questions"] if q["item"] == hasty]
    assert slips, collected["questions"]
    for question in collected["questions"]:
        decision = ("set-aside",) if question["item"] == hasty else ("keep",)
        line.run("answer", "green", question["id"], *decision, "--why", "looked again", "--by", "K")
    assert line.json("collect", "green", own)["taken"][0]["status"] == "same"
    line.run("lost", "green", gone, "--why", "knocked over in the second week")

    found = {r["name"]: r for r in line.json("analyse", "green")["responses"]}
    height = found["height"]
    assert height["n_lost"] == 1
    assert height["n_failed"] == 1
    assert height["method"]["estimator"] == "reml"  # a lost pot: no longer balanced
    food = [one for one in height["comparisons"] if one["term"] == "feed"]
    assert {one["adjustment"] for one in food} == {"dunnett"}  # against no food, as declared
    verdicts = {verdict["factor"]: verdict["verdict"] for verdict in height["verdicts"]}
    assert verdicts["feed"] == "mattered"
    assert verdicts["light"] != "mattered"
    assert found["leaf count"]["n_readings"] == len(rows) - 2  # the lost and the dead one
    line.run("report", "green", "--paper", "us-letter")
    assert (line.folder / "green" / "report" / "report.pdf").read_bytes().startswith(b"%PDF")
