"""A lifetime from end to end: study, headings of the workbook, filled in, record, value."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from tests.ingest.bench import CODES, cells, plan_of
from trials.ingest import collect
from trials.ingest import workbook_layout as layout
from trials.record import Store, measured
from trials.sheets.parts import Job
from trials.sheets.workbook import entry_workbook
from trials.study.values import Response
from trials.words import workbook as words

AGES = (0, 5, 10, 20, 40, 80, 160, 320)  # min
LASTS = Response(
    name="lasts",
    label="half-life",
    unit="h",
    reducer="half_life",
    settings={"column": "power", "column_unit": "µW", "age_unit": "min"},
    compare="ratio",
    primary=True,
    readings=len(AGES),
)


def test_ages_and_values_typed_into_the_workbook_become_half_lives(tmp_path: Path) -> None:
    study = cells().model_copy(update={"responses": (LASTS,)})
    plan = plan_of(study)
    assert layout.headings_of(study)[2:4] == ("age (min)", "power (µW)")
    halves = {code: 60.0 + 10 * i for i, code in enumerate(CODES)}  # min
    halves["PR38"] = 900.0
    wild = dict(zip(AGES, (1.9, 0.4, 1.6, 0.5, 1.9, 0.4, 1.8, 0.6), strict=True))  # of NQ23
    book: Any = load_workbook(io.BytesIO(entry_workbook(Job(study, plan, "a4"))))
    for sheet in layout.measuring_sheets(study, plan):
        page = book[sheet.title]
        head = next(row for row in range(1, 9) if page.cell(row, 1).value == words.ITEM)
        for row in range(head + 1, head + 1 + len(sheet.items) * len(AGES)):
            age = AGES[(row - head - 1) % len(AGES)]
            page.cell(row, 3).value = age
            code = page.cell(row, 1).value
            times = wild[age] if code == "NQ23" else 1
            page.cell(row, 4).value = 200 * 0.5 ** (age / halves[code]) * times
    typed = io.BytesIO()
    book.save(typed)
    with Store.open(tmp_path / "record.db") as store:
        collect(store, typed.getvalue(), "filled.xlsx", study, plan)
        result = measured(store, study, plan)
    assert result.open_questions == ()  # ages far apart and values far below are no slips
    found = {one.item: one for one in result.of("lasts")}
    assert set(found) == set(CODES)
    for code in CODES[:-2]:
        assert found[code].value == pytest.approx(halves[code] / 60, rel=1e-6)
        assert (found[code].status, found[code].readings) == ("measured", len(AGES))
    rough = found["NQ23"]  # badly known, which is no failure of the cell
    assert rough.value is not None
    assert rough.uncertainty is not None
    assert 3 * rough.uncertainty > rough.value
    assert rough.status == "measured"
    last = found["PR38"]
    assert (last.status, last.value, last.readings) == ("at least", None, len(AGES))
    assert last.at_least == pytest.approx(320 / 60)
    assert last.notes == ("still above half after 320 min",)
