"""Files of points that belong to one item."""

from __future__ import annotations

from decimal import Decimal

import pytest

from trials.errors import IngestError
from trials.ingest.points import PointTable, read_points
from trials.reduction import Column

COLUMNS = (
    Column("voltage", "V", aliases=("U",)),
    Column("current", "mA"),
    Column("load", "ohm", endless=True),
)


def read(text: str, **more: str) -> PointTable:
    return read_points(text.encode(), "K3.csv", COLUMNS, **more)


def test_units_of_the_headings_and_decimal_commas() -> None:
    table = read("U (mV);current (µA)\n410,5;1200\n;900\n\n")
    assert table.rows == (
        {"voltage": Decimal("0.4105"), "current": Decimal("1.2")},
        {"current": Decimal("0.9")},
    )
    assert table.lines == (2, 3)
    assert "comma" in table.notes[0]


def test_lines_above_the_headings_and_columns_that_mean_nothing_are_passed_over() -> None:
    table = read("Sweep of our best cell\nlamp off\nnr,voltage,current\n1,0.41,1.2\n")
    assert table.rows == ({"voltage": Decimal("0.41"), "current": Decimal("1.2")},)


def test_an_open_circuit_is_a_load_without_end() -> None:
    (row,) = read("load (kohm),voltage\nopen,0.45\n").rows
    assert row["load"] == Decimal("Infinity")


def test_one_item_of_several() -> None:
    text = "item,voltage,current\nK3,0.41,1.2\nK4,0.40,1.1\n"
    with pytest.raises(IngestError) as problem:
        read(text)
    assert problem.value.found == "K3, K4"
    found = read(text, item="K4")
    assert (found.item, found.lines) == ("K4", (3,))
    assert read(text, item="k4") == found  # codes are as well written in small letters


@pytest.mark.parametrize("lines", ["K3,0.41,1.2\nK4,0.40,1.1\n", "K3,0.41,1.2\n"])
def test_an_item_that_the_file_does_not_hold_is_named(lines: str) -> None:
    with pytest.raises(IngestError) as problem:
        read(f"item,voltage,current\n{lines}", item="K9")
    assert (problem.value.code, problem.value.found) == ("ingest.no_such_item", "K9")
    assert "K3" in problem.value.allowed


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "ingest.empty"),
        ("1,2\n3,4\n", "ingest.no_headings"),
        ("voltage,current\n0.4,about one\n", "ingest.number"),
        ("%PDF-1.7", "ingest.kind"),
    ],
)
def test_what_cannot_be_read_says_where_and_what_to_do(text: str, code: str) -> None:
    with pytest.raises(IngestError) as problem:
        read(text)
    assert problem.value.code == code
    assert "K3.csv" in problem.value.where
    assert problem.value.do
