"""The letters and lines of text tables: what readings and analysis have in common."""

from __future__ import annotations

import csv

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.tables import LongCellError, TornTableError, kind_of, letters, lines_of

TEXT = "item;Größe (µm)\nK7;0,41\n"


@pytest.mark.parametrize(
    "coding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]
)
def test_one_text_in_many_codings(coding: str) -> None:
    assert letters(TEXT.encode(coding)) == (TEXT, coding.removesuffix("-sig"))


def test_what_is_no_text() -> None:
    with pytest.raises(UnicodeDecodeError):
        letters(b"\xff\xfea")  # half a letter behind the mark of UTF-16
    with pytest.raises(UnicodeError):
        letters(bytes(range(256)))
    assert [kind_of(start + b"...") for start in (b"PK\x03\x04", b"%PDF", b"\x89PNG")] == [
        "a workbook or another packed file", "a PDF document", "a picture",
    ]  # fmt: skip
    assert kind_of(TEXT.encode()) == ""


@settings(derandomize=True, max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_text_or_told(content: bytes) -> None:
    try:
        text, coding = letters(content)
    except UnicodeError:
        return
    assert isinstance(text, str)
    assert coding


def test_a_cell_without_end_names_the_line_and_how_long_a_cell_may_be() -> None:
    """Python's csv module reads cells of up to 131072 letters (its documentation)."""
    with pytest.raises(LongCellError, match="more than 131072 letters") as problem:
        list(lines_of(f"a,b\n1,2\n{'x' * 300_000},4\n", ",", strict=False))
    assert (problem.value.line, problem.value.most) == (3, csv.field_size_limit())


def test_quotation_marks_that_do_not_match_name_the_line() -> None:
    with pytest.raises(TornTableError) as problem:
        list(lines_of('a,b\n"1\n2",3\n"4', ",", strict=True))
    assert problem.value.line == 4
    assert [line for line, _ in lines_of('a,b\n"1\n2",3\n"4', ",", strict=False)] == [1, 2, 4]
