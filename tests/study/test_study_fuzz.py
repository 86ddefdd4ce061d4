"""Whatever stands in the file, a person gets words and never a traceback."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.errors import StudyError
from trials.study import parse_study
from trials.study.toml import decode

DEMO = Path(__file__).resolve().parents[2] / "study_demo"
RIGHT = (DEMO / "cells" / "study.toml").read_text(encoding="utf-8")
LINES = RIGHT.split("\n")

KEYS = st.sampled_from(
    [
        "title",
        "factors",
        "groups",
        "responses",
        "steps",
        "limits",
        "analysis",
        "same",
        "format_version",
        "practice",
        "name",
        "levels",
        "kind",
        "count",
        "within",
        "capacity",
        "members",
        "spread",
        "items",
        "settings",
        "failed",
        "cautions",
        "ghs",
        "random",
        "how",
        "",
        "a b",
    ]
)
VALUES = st.sampled_from(
    [
        "1",
        "-1",
        "0",
        "1.5",
        "nan",
        "-inf",
        "true",
        '"x"',
        '""',
        "''",
        "[]",
        "[1]",
        "[[1], [2]]",
        '["a", "a"]',
        "{}",
        "{ a = 1 }",
        "{ items = 1 }",
        "1979-05-27",
        "07:32:00",
        "1e400",
        "9" * 30,
        '"quantity"',
        '"""a\nb"""',
        '"\\u0000"',
        '"log"',
        "]",
        "",
    ]
)
HEADINGS = st.sampled_from(
    [
        "[factors.dye]",
        "[factors.x]",
        "[factors]",
        "[[factors]]",
        "[groups.team]",
        "[groups.g]",
        "[responses.power]",
        "[responses.r]",
        "[responses.r.spread]",
        "[responses.power.failed]",
        "[[steps]]",
        "[[steps.cautions]]",
        "[steps]",
        "[limits]",
        "[analysis]",
        '["a b"]',
        "[",
        "[[]]",
    ]
)


def told_in_words(text: str) -> None:
    """Parse; any error has to be a StudyError that says what to do."""
    told: StudyError | None = None
    try:
        parse_study(text)
    except StudyError as error:
        told = error
    if told is not None:
        assert told.code.startswith("study.")
        assert told.where.startswith("study.toml")
        assert told.do


@given(st.text(max_size=300))
@settings(derandomize=True, max_examples=150, deadline=None)
def test_any_text(text: str) -> None:
    told_in_words(text)


@given(st.binary(max_size=300))
@settings(derandomize=True, max_examples=100, deadline=None)
def test_any_bytes(content: bytes) -> None:
    try:
        text = decode(content, "study.toml")
    except StudyError:
        return
    told_in_words(text)


@given(
    st.lists(
        st.one_of(HEADINGS, st.builds("{} = {}".format, KEYS, VALUES)), min_size=1, max_size=12
    )
)
@settings(derandomize=True, max_examples=300, deadline=None)
def test_lines_that_look_like_a_study(lines: list[str]) -> None:
    told_in_words("\n".join(lines))
    told_in_words('title = "t"\nquestion = "q"\n' + "\n".join(lines))


@pytest.mark.long
@given(
    st.integers(0, len(RIGHT) - 1),
    st.integers(0, 30),
    st.sampled_from(
        ["", "[", "]", '"', "=", "\n", "#", ",", "0", "-", "{", "x = 1\n", "é", "\x00"]
    ),
)
@settings(derandomize=True, max_examples=examples(100, 300), deadline=None)
def test_a_right_study_with_a_slip_of_the_hand(place: int, cut: int, put: str) -> None:
    told_in_words(RIGHT[:place] + put + RIGHT[place + cut :])


@pytest.mark.long
@given(st.integers(0, len(LINES) - 1), st.sampled_from(["drop", "double", "value"]), VALUES)
@settings(derandomize=True, max_examples=examples(100, 300), deadline=None)
def test_a_right_study_with_a_line_changed(place: int, how: str, value: str) -> None:
    lines = list(LINES)
    if how == "drop":
        del lines[place]
    elif how == "double":
        lines.insert(place, lines[place])
    else:
        lines[place] = f"{lines[place].partition('=')[0]}= {value}"
    told_in_words("\n".join(lines))


@pytest.mark.parametrize("deep", [10, 60, 2000])
def test_brackets_inside_one_another(deep: int) -> None:
    told_in_words(f"a = {'[' * deep}{']' * deep}")
    told_in_words(f"a = {'{a = ' * deep}1{'}' * deep}")
    told_in_words(f"[{'a.' * deep}a]\nb = 1\n")
