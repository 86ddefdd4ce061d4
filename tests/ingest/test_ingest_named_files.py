"""A file that is named after its item, such as the sweep of one cell."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.ingest.bench import CODES, ISC, VOC, cells, plan_of
from trials.errors import IngestError
from trials.ingest import read_file
from trials.record import Intake

STUDY = cells()
PLAN = plan_of(STUDY)


def read(content: str, name: str) -> Intake:
    return read_file(content.encode(), name, STUDY, PLAN)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_all_lines_belong_to_the_item_of_the_name(mark: str) -> None:
    text = f"our best\n{VOC} (mV){mark}{ISC} (mA)\n410{mark}1.2\n\n400{mark}1.1\n"
    intake = read(text, f"{CODES[2].lower()}.csv")
    assert [row.item for row in intake.rows] == [CODES[2]] * 2
    assert [row.reading for row in intake.rows] == [1, 2]
    cell = intake.rows[0].cell(VOC)
    assert cell is not None
    assert cell.value == Decimal("0.410")
    assert any("as its name says" in note for note in intake.notes)
    assert [row.place.row for row in intake.rows] == [3, 5]


def test_a_column_of_items_goes_before_the_name() -> None:
    text = f"item,{VOC} (V)\n{CODES[0]},0.41\n"
    assert [row.item for row in read(text, f"{CODES[2]}.csv").rows] == [CODES[0]]


def test_another_name_gives_no_item() -> None:
    with pytest.raises(IngestError) as problem:
        read(f"{VOC} (V),{ISC} (mA)\n0.41,1.2\n", "our best cell.csv")
    assert problem.value.code == "ingest.no_headings"
