"""What was mistyped is told in plain words, with what is allowed and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command_line import CommandLine
from trials.words.options import limit_text


@pytest.mark.parametrize(
    ("typed", "found", "allowed", "do"),
    [
        (["power", "--groups", "4", "--f", "0,25"], "0,25", "a number, such as 0.25", "--f 0.25"),
        (["power", "--groups", "4.5"], "4.5", "a whole number", "power --help"),
        (["power", "--groups=x"], "x", "a whole number", "power --help"),
        (["plan", "here", "--items", "1"], "1", "2 or more", "plan --help"),
        (["sheets", "here", "--paper", "a3"], "a3", "one of 'a4', 'us-letter'", "sheets --help"),
    ],
)
def test_a_value_that_an_option_does_not_take(
    line: CommandLine, typed: list[str], found: str, allowed: str, do: str
) -> None:
    error = line.json(*typed, code=2)["error"]
    assert error["code"] == "usage"
    assert (error["found"], error["allowed"]) == (found, allowed)
    assert do in error["do"]
    assert "Input should" not in error["what"] + error["allowed"]


def test_an_option_without_a_value(line: CommandLine) -> None:
    assert line.run("power", "--groups", code=2).startswith("--groups needs a value after it.")


def test_a_share_given_in_per_cent(line: CommandLine) -> None:
    error = line.json("power", "--groups", "4", "--f", "0.25", "--power", "80", code=2)["error"]
    assert "--power 0.8" in error["do"]
    assert "share" in error["allowed"]
    table = Path(__file__).parents[1] / "reference" / "r" / "01_plantgrowth.csv"
    given = ("analyse", table, "--response", "weight", "--factor", "group", "--confidence", "95")
    error = line.json(*given, code=2)["error"]
    assert error["allowed"] == "below 1"
    assert "--confidence 0.95" in error["do"]


def test_limits_in_plain_words() -> None:
    assert limit_text("greater than or equal to 0") == "0 or more"
    assert limit_text("less than or equal to 9") == "9 or less"
    assert limit_text("greater than 0") == "above 0"


def test_the_page_of_two_classes_takes_no_example(line: CommandLine) -> None:
    error = line.json("demo", "--unfair", "--example", "planes", code=2)["error"]
    assert (error["code"], error["found"]) == ("options.example", "--example planes")
    assert "trials new FOLDER --example planes" in error["do"]


def test_what_is_missing_is_told_with_what_it_is_for_and_an_example(line: CommandLine) -> None:
    told = line.run("lessons", "c", code=2)
    assert told.splitlines()[0] == "--since is missing: the first lesson that isn't over yet."
    assert told.endswith("trials lessons --help. For instance: trials lessons my-study --since 2\n")
    error = line.json("lost", "c", code=2)["error"]
    assert error["what"] == "ITEM is missing: codes of the items, such as K7."
    assert "For instance: trials lost my-study K7" in error["do"]
