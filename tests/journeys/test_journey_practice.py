"""A practice run of four planes built alike, its page, and the study that is planned with it."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.command_line import CommandLine
from tests.journeys.bench import Reads, Row, fill_in
from trials.words.numbers import NBSP

PRACTICE = 'measure = "distance in m, 3 readings"\n'
STUDY = """\
question = "Does a narrow plane fly further?"
change = "shape"
versions = "shape: dart, glider"
measure = "distance in m, 3 readings"
items = "12 planes"
makers = "2 pupils"
worthwhile = "30 %"
"""


def _throws(broken: str) -> Reads:
    def reads(row: Row, reading: int, heading: str) -> float | str | None:
        fails = row["run"] == broken
        if heading.startswith("distance"):
            plane = random.Random(f"plane {row['run']}")  # noqa: S311 - a bench, not a secret
            chance = random.Random(f"{row['run']} {reading}")  # noqa: S311
            return None if fails else round(6 + plane.gauss(0, 0.9) + chance.gauss(0, 0.2), 2)
        return "no" if fails and heading.startswith("did it work") else None

    return reads


def _practise(line: CommandLine) -> None:
    (line.folder / "practice.toml").write_text(PRACTICE, encoding="utf-8")
    line.run("new", "planes-practice", "--practice", "--answers", "practice.toml")
    told = line.run("check", "planes-practice")
    assert "Nothing is compared here" in told
    line.run("plan", "planes-practice", "--seed", "3")
    line.run("sheets", "planes-practice")
    reads = _throws("4")
    fill_in(line.folder / "planes-practice", line.folder / "filled.xlsx", reads)
    line.run("collect", "planes-practice", "filled.xlsx")


def _plain(path: Path) -> str:
    return " ".join(path.read_text(encoding="utf-8").replace("| ", "").replace(NBSP, " ").split())


def test_from_four_planes_built_alike_to_a_study_that_knows_its_spread(line: CommandLine) -> None:
    _practise(line)
    line.run("report", "planes-practice")
    report = line.folder / "planes-practice" / "report"
    assert (report / "report.pdf").read_bytes().startswith(b"%PDF")
    assert "How many you need" in (report / "report.html").read_text(encoding="utf-8")
    page = _plain(report / "report.txt")
    assert "3 of 4 items worked, 1 failed." in page
    assert "hardly any information" in page
    assert "How much of that is the meter" in page
    assert "of each version to see 1.5 times" in page
    assert 'spread_from = "../planes-practice"' in page

    (line.folder / "answers.toml").write_text(STUDY, encoding="utf-8")
    told = line.run("new", "planes", "--answers", "answers.toml")
    assert "spread_from" in told
    toml = line.folder / "planes" / "study.toml"
    text = toml.read_text(encoding="utf-8")
    offered = '# spread_from = "../planes-practice"'
    assert text.count(offered) == 1
    guessed = line.run("check", "planes")
    toml.write_text(text.replace(offered, offered[2:]), encoding="utf-8")  # all it takes
    told = line.run("check", "planes").replace(NBSP, " ")
    assert told != guessed
    assert "From the practice run in ../planes-practice:" in told
    assert "1 of 4 planes failed in it" in told
    assert "more in case some fail" in told
    assert "Spread between things made alike: measured in a practice run." in told
    line.run("plan", "planes", "--seed", "5")
    told = line.run("check", "planes").replace(NBSP, " ")
    assert "Of the plan in this folder (seed 5)." in told
    assert "1 of 4 planes failed in it" in told
    (found,) = line.json("analyse", "planes-practice")["practice"]
    assert (found["made"], found["worked"]) == (4, 3)
    assert found["needed"]["count"] >= 2


def test_a_practice_run_that_is_not_measured_yet_says_what_to_do(line: CommandLine) -> None:
    (line.folder / "answers.toml").write_text(STUDY, encoding="utf-8")
    line.run("new", "planes", "--answers", "answers.toml")
    toml = line.folder / "planes" / "study.toml"
    text = toml.read_text(encoding="utf-8").replace("# spread_from", "spread_from")
    toml.write_text(text, encoding="utf-8")
    told = line.run("check", "planes", code=1)
    assert "There is no study folder where the practice run should be." in told
    assert "trials new" in told
    (line.folder / "practice.toml").write_text(PRACTICE, encoding="utf-8")
    line.run("new", "planes-practice", "--practice", "--answers", "practice.toml")
    told = line.run("check", "planes", code=1)
    assert "Nothing has been measured in that practice run yet." in told
    assert "trials collect" in told


@pytest.mark.parametrize("verb", ["analyse", "report"])
def test_nothing_measured_says_so(line: CommandLine, verb: str) -> None:
    (line.folder / "practice.toml").write_text(PRACTICE, encoding="utf-8")
    line.run("new", "first", "--practice", "--answers", "practice.toml")
    line.run("plan", "first")
    assert "Nothing has been measured yet." in line.run(verb, "first", code=1)
