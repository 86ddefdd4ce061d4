"""Two lessons of tea: a factor on whole pots, a quantity on a log scale, no makers.

The class pours, steeps and measures; the truth it measures is that each doubling of time adds
80 µS/cm and hotter water adds 10, below the 50 that the class would care about.
"""

from __future__ import annotations

import json
import math
import random
import re

from tests.command_line import CommandLine
from tests.journeys.bench import Row, fill_in


def _truth(row: Row) -> float:
    return 300 + 80 * math.log2(float(row["steep"])) + (10 if row["temperature"] == "95" else 0)


def test_a_class_finds_out_what_makes_tea_strong(line: CommandLine) -> None:
    line.run("new", "tea", "--example", "tea")
    line.run("check", "tea")
    line.run("plan", "tea", "--seed", "12")
    line.run("sheets", "tea")
    chance = random.Random(5)  # noqa: S311 - a bench, not a secret
    luck: dict[str, float] = {}

    def reads(row: Row, _reading: int, heading: str) -> float | None:
        if not heading.startswith("conductivity"):
            return None
        pot = luck.setdefault(row["pot"], chance.gauss(0, 8))
        cup = luck.setdefault(row["item"], chance.gauss(0, 20))
        return round(_truth(row) + pot + cup + chance.gauss(0, 3))

    cups = fill_in(line.folder / "tea", line.folder / "filled.xlsx", reads)
    collected = line.json("collect", "tea", "filled.xlsx")
    assert collected["taken"][0]["readings"] == cups
    assert collected["questions"] == []
    (found,) = line.json("analyse", "tea")["responses"]
    assert found["name"] == "strength"
    effects = {effect["term"]: effect for effect in found["effects"]}
    assert effects["temperature"]["stratum"] == "lesson/pot"
    assert effects["steep"]["p"] < 0.001
    verdicts = {verdict["factor"]: verdict for verdict in found["verdicts"]}
    assert verdicts["steep"]["verdict"] == "mattered"
    low, high = sorted(abs(end) for end in verdicts["steep"]["interval"])
    assert low < 160 < high  # two doublings
    assert verdicts["temperature"]["verdict"] != "mattered"
    line.run("report", "tea")
    page = (line.folder / "tea" / "report" / "report.html").read_text(encoding="utf-8")
    assert "Steep time mattered" in page
    assert "invented data" in page
    assert json.loads((line.folder / "tea" / "findings.json").read_bytes())["responses"] == [found]
    assert not re.search(r"cell|dye|volt|solar", page, re.IGNORECASE)
