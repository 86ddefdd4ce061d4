"""Digits exchanged, typed twice or left out, found beside the other readings of the item.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import CODES, cell_rows, cells, changed, plan_of, plants, table
from tests.ingest.raised import ALL
from trials.ingest import read_file
from trials.record import Question

STUDY, PLAN = cells(), plan_of(cells())


def _asked(rows: list[list[str]]) -> tuple[Question, ...]:
    return read_file(table(rows, ALL).encode(), "a.csv", STUDY, PLAN).questions


@pytest.mark.parametrize(
    ("typed", "proposal", "how"),
    [
        ("0.242", "0.422", "two of its digits exchanged"),  # JL79 reads 0.421, 0.422, 0.423
        ("0.4022", "0.422", "one digit taken out"),
        ("0.42", "", ""),  # a last zero or figure left out still fits
    ],
)
def test_it_is_asked_only_where_the_mended_number_fits(typed: str, proposal: str, how: str) -> None:
    questions = _asked(changed(cell_rows(readings=3), "JL79", 2, 2, typed))
    assert [(q.code, q.proposal) for q in questions] == ([("digits", proposal)] if how else [])
    assert all(how in q.why for q in questions)


def test_a_digit_left_out_is_told_without_guessing_which() -> None:
    """0.42 V and 1.31 mA: with the 9 of 1.39 lost there are several numbers that would fit."""
    rows = changed(cell_rows(readings=3), "JL79", 2, 5, "809.4")
    assert [q.code for q in _asked(rows)] == []  # light is a condition, not a reading of the item
    study = plants()
    heights = [[code, str(n), str(1100 + 40 * k + n)] for k, code in enumerate(CODES)
               for n in (1, 2, 3)]  # fmt: skip
    wide = study.responses[0].model_copy(update={"high": None})
    study = study.model_copy(update={"responses": (wide,)})
    heights[4][2] = "142"  # 1142: a 1 lost
    text = table(heights, ["pot", "reading", "height (mm)"])
    questions = read_file(text.encode(), "a.csv", study, plan_of(study)).questions
    assert [(q.code, q.found, "one more digit" in q.why) for q in questions] == [
        ("digits", "142", True)
    ]


def test_a_number_of_very_many_places_beside_others() -> None:
    """Zeros were put behind a number by a decimal of 28 figures, which can't hold so many."""
    long = "0.422" + "0" * 40
    questions = _asked(changed(cell_rows(readings=3), "JL79", 1, 2, long))
    assert questions == ()
    rows = changed(changed(cell_rows(readings=3), "JL79", 1, 2, long), "JL79", 2, 2, "0.242")
    assert [(q.code, Decimal(q.proposal)) for q in _asked(rows)] == [("digits", Decimal("0.422"))]


@pytest.mark.parametrize("typed", ["0", "-12.5", "-1", "12.5"])
def test_a_number_below_zero_in_the_unit_it_was_typed_in(typed: str) -> None:
    """Its kelvins are above zero; its digits can't be exchanged with the sign."""
    study = plants()
    kelvin = study.responses[0].model_copy(update={"unit": "K", "low": None, "high": None})
    study = study.model_copy(update={"responses": (kelvin,)})
    rows = [[code, str(n), f"2{k % 10}.{n}"] for k, code in enumerate(CODES) for n in (1, 2, 3)]
    rows[4][2] = typed
    text = table(rows, ["pot", "reading", "height (degC)"])
    intake = read_file(text.encode(), "a.csv", study, plan_of(study))
    assert len(intake.rows) == len(rows)
    assert all(q.code != "digits" for q in intake.questions if typed.startswith(("0", "-")))


def test_a_slip_of_the_decimal_mark_stays_a_slip() -> None:
    for typed in ("4.22", "422", "0.00422"):
        questions = _asked(changed(cell_rows(readings=3), "JL79", 2, 2, typed))
        assert [q.code for q in questions] == ["slip"]


def test_two_readings_don_t_say_which_of_them_is_wrong() -> None:
    assert "digits" not in [q.code for q in _asked(changed(cell_rows(), "JL79", 2, 2, "0.242"))]


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(0, 11), st.integers(1, 3), st.integers(0, 10_000))
def test_two_exchanged_digits_are_found_and_put_right(item: int, reading: int, seed: int) -> None:
    """Wherever the first two of three unlike digits are exchanged."""
    rng = np.random.default_rng(seed)
    rows = cell_rows(readings=3)
    base = rng.choice([431, 527, 386, 294, 618])
    for n in (1, 2, 3):
        rows = changed(rows, CODES[item], n, 2, f"0.{base + rng.integers(-1, 2)}")
    (mine,) = [row for row in rows if row[:2] == [CODES[item], str(reading)]]
    right = mine[2]
    typed = f"0.{right[3]}{right[2]}{right[4]}"
    questions = _asked(changed(rows, CODES[item], reading, 2, typed))
    found = [q for q in questions if q.code == "digits"]
    assert [(q.item, q.reading, Decimal(q.proposal)) for q in found] == [
        (CODES[item], reading, Decimal(right))
    ]


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_honest_readings_raise_no_question(seed: int) -> None:
    """Readings of one item that vary by 1 % (standard deviation)."""
    rng = np.random.default_rng(seed)
    study = plants()
    rows = []
    for code in CODES:
        height = rng.uniform(60, 180)
        rows += [[code, str(n), f"{rng.normal(height, 0.01 * height):.1f}", "5"] for n in (1, 2, 3)]
    text = table(rows, ["pot", "reading", "height (mm)", "leaves"])
    assert read_file(text.encode(), "a.csv", study, plan_of(study)).questions == ()
