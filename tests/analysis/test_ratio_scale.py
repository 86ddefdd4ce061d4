"""The ratio scale: light first, then the average of the readings, then the log; nothing added."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import cell_row, cell_rows, cells, changed, csv_bytes, plan_of
from trials.analysis.failures import failure_tables
from trials.analysis.studies import study_data
from trials.analysis.tables import analyse_table
from trials.errors import AnalysisError
from trials.ingest import collect
from trials.model import Structure
from trials.record import ItemValue, Measured, Store, measured
from trials.study import Options

STUDY = cells()
PLAN = plan_of(STUDY)
POWER = STUDY.response("power")


def record(tmp_path: Path, rows: list[list[str]]) -> Measured:
    with Store.open(tmp_path / "record.db") as store:
        collect(store, csv_bytes(rows), "a.csv", STUDY, PLAN)
        return measured(store, STUDY, PLAN)


def of(result: Measured, item: str) -> ItemValue:
    return next(value for value in result.of("power") if value.item == item)


def test_light_then_average_then_log(tmp_path: Path) -> None:
    """By hand: U^2 / R / A, times 800 W/m^2 over the light of that reading; then the mean; then ln.

    The power of a small cell goes in proportion to the light; the two readings are in light that
    differs, so that another order would give another number.
    """
    rows = changed(cell_rows(), "DG41", 2, 5, "720")
    rows = changed(rows, "DG41", 2, 4, "0.250")
    result = record(tmp_path, rows)
    data = study_data(STUDY, PLAN, result, POWER)
    first, second = cell_row("DG41", 1), ["DG41", "2", "", "", "0.250", "720"]
    each = [1e6 * float(r[4]) ** 2 / 330 / 4 * 800 / float(r[5]) for r in (first, second)]
    wanted = math.log(sum(each) / 2)
    assert float(data.y[data.items.index("DG41")]) == pytest.approx(wanted, rel=1e-12)
    mean_of_logs = sum(math.log(one) for one in each) / 2
    volts = (float(first[4]) + 0.250) / 2
    light_last = math.log(1e6 * volts**2 / 330 / 4 * 800 / ((float(first[5]) + 720) / 2))
    assert abs(wanted - mean_of_logs) > 1e-3
    assert abs(wanted - light_last) > 1e-3


def test_nothing_to_measure_is_a_failure_with_its_reason(tmp_path: Path) -> None:
    rows = changed(changed(cell_rows(), "DG41", 1, 4, "0"), "DG41", 2, 4, "0")
    free = STUDY.model_copy(
        update={"responses": tuple(r.model_copy(update={"failed": None}) for r in STUDY.responses)}
    )
    with Store.open(tmp_path / "record.db") as store:
        collect(store, csv_bytes(rows), "a.csv", free, PLAN)
        result = measured(store, free, PLAN)
    value = of(result, "DG41")
    assert (value.status, value.reason.replace("\N{NO-BREAK SPACE}", " ")) == (
        "failed", "0 µW/cm²: nothing to measure",
    )  # fmt: skip
    data = study_data(free, PLAN, result, free.responses[0])
    assert "DG41" not in data.items
    assert [(one.item, one.reason.partition(":")[0]) for one in data.set_aside] == [
        ("DG41", "failed")
    ]
    values = {one.item: one for one in result.of("power")}
    assert sum(failure_tables(PLAN, values)[0].failed.values()) == 1


def test_nothing_is_added_to_the_others(tmp_path: Path) -> None:
    """With one item at zero the rest is analysed as if that item had never been made."""
    whole = record(tmp_path, cell_rows())
    gone = tuple(
        replace(v, status="failed", value=0.0, exact=Decimal(0)) if v.item == "DG41" else v
        for v in whole.values
    )
    some = study_data(STUDY, PLAN, replace(whole, values=gone), POWER)
    every = study_data(STUDY, PLAN, whole, POWER)
    kept = [place for place, item in enumerate(every.items) if item != "DG41"]
    assert some.y.tolist() == every.y[kept].tolist()


@settings(derandomize=True, max_examples=25, deadline=None)
@given(low=st.integers(-500, 0).map(lambda hundredths: hundredths / 100), place=st.integers(0, 7))
def test_a_table_with_a_value_at_or_below_zero_is_refused_in_words(low: float, place: int) -> None:
    y: list[Any] = np.linspace(1, 2, 8).tolist()
    y[place] = low
    frame = pd.DataFrame({"heat": list("aabbaabb"), "y": y})
    with pytest.raises(AnalysisError) as problem:
        analyse_table(frame, Structure(["heat"]), Options(response="y", compare="ratio"))
    assert problem.value.code == "table.not_positive"
    assert f"line {place + 2}" in problem.value.where
    assert problem.value.do
