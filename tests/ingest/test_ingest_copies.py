"""Rows copied and filled down, and conditions around the items; honest readings raise nothing.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import CODES, cell_row, cell_rows, cells, changed, plan_of, plants, table
from tests.ingest.raised import ALL
from trials.ingest import read_file
from trials.record import Question

STUDY, PLAN = cells(), plan_of(cells())


def _asked(rows: list[list[str]], headings: tuple[str, ...] = ALL) -> tuple[Question, ...]:
    return read_file(table(rows, headings).encode(), "a.csv", STUDY, PLAN).questions


def test_a_run_copied_from_the_other_item_says_where_it_began() -> None:
    rows = [row for row in cell_rows(readings=3) if row[0] != "PR38"]
    copy = [["PR38", str(n + 1), *cell_row("BD27", n)[2:5], "801"] for n in (1, 2)]
    (asked,) = _asked([*rows, cell_row("PR38", 1), *copy])
    assert (asked.code, asked.item, len(asked.places)) == ("copied_run", "PR38", 2)
    assert asked.found == (
        "readings 2, 3 have the same numbers as BD27 from a.csv, row 2 on"
    )  # light differs, for it is no reading of the item


def test_one_row_alone_may_agree_by_chance() -> None:
    rows = [row for row in cell_rows(readings=3) if row[:2] != ["PR38", "2"]]
    assert _asked([*rows, ["PR38", "2", *cell_row("BD27", 2)[2:]]]) == ()


@pytest.mark.parametrize(("rows_filled", "asked"), [(5, 0), (6, 1), (24, 1)])
def test_a_number_filled_down(rows_filled: int, asked: int) -> None:
    rows = [[*r[:2], "0.431" if k < rows_filled else r[2], *r[3:]]
            for k, r in enumerate(cell_rows())]  # fmt: skip
    found = [q for q in _asked(rows) if q.code == "filled_down"]
    assert [(len(q.places), q.column) for q in found] == (
        [(rows_filled, "open-circuit voltage")] if asked else []
    )


def test_counts_that_agree_are_not_filled_down() -> None:
    rows = [[code, str(100 + 3 * k), "12"] for k, code in enumerate(CODES)]
    text = table(rows, ["pot", "height (mm)", "leaves"])
    assert read_file(text.encode(), "a.csv", plants(), plan_of(plants())).questions == ()


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 3))
def test_honest_cells_raise_no_question(seed: int, readings: int) -> None:
    """Cells that differ by 10 %, read with 1 %, in light that fades by 7 %; three figures each."""
    rng = np.random.default_rng(seed)
    rows = []
    for k, code in enumerate(CODES):
        load = 0.3 * np.exp(rng.normal(0, 0.1))
        for n in range(1, readings + 1):
            here = load * (1 + rng.normal(0, 0.01))
            off = 1 + rng.normal(0, 0.01, 2)
            rows.append([code, str(n), f"{load * 1.45 * off[0]:.3f}",
                         f"{1000 * load / 330 * 1.3 * off[1]:.2f}",
                         f"{here:.3f}", f"{830 - 60 * k / 11 + rng.normal(0, 3):.0f}"])  # fmt: skip
    assert [q.code for q in _asked(rows) if q.code not in ("missing", "unusual")] == []


@pytest.mark.parametrize(
    ("light", "asked"), [("650", 0), ("640", 0), ("632", 1), ("400", 1), ("996", 0), ("998", 1)]
)
def test_light_that_changes_by_a_fifth_between_readings(light: str, asked: int) -> None:
    """The other reading of this cell has 798 W/m²; a fifth less is 638.4, and it is a
    fifth less than 997.5."""
    rows = changed(cell_rows(), "DG41", 2, 5, light)
    found = [q.code for q in _asked(rows)]
    assert found == ["condition_jump"] * asked


@pytest.mark.parametrize(("light", "asked"), [("814", 1), ("800", 1), ("80", 0)])
def test_light_that_is_the_same_everywhere(light: str, asked: int) -> None:
    found = [q.code for q in _asked([[*row[:5], light] for row in cell_rows()])]
    assert found.count("condition_constant") == asked


def test_light_of_a_few_items_may_agree() -> None:
    rows = [[*row[:5], "814" if row[0] in CODES[:4] else row[5]] for row in cell_rows()]
    assert _asked(rows) == ()
