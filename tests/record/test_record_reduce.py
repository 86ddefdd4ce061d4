"""From readings and answers to one value an item: status, corrections, what waits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    VOC,
    cell_row,
    cell_rows,
    cells,
    changed,
    csv_bytes,
    plan_of,
    plants,
    table,
)
from trials.ingest import collect
from trials.record import Decision, ItemValue, Measured, Store, measured, measured_state
from trials.reduction import REDUCERS
from trials.study.values import FailedRule, Study

STUDY = cells()
PLAN = plan_of(STUDY)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record.db") as opened:
        yield opened


def _take(store: Store, rows: list[list[str]], name: str = "a.csv") -> Measured:
    collect(store, csv_bytes(rows), name, STUDY, PLAN)
    return measured(store, STUDY, PLAN)


def _settle(store: Store, verb: str, value: str = "", number: int = 1) -> Measured:
    store.answer(f"Q{number}", Decision(verb, value, "looked", "T1"), CODES)
    return measured(store, STUDY, PLAN)


def _of(result: Measured, item: str, response: str = "voltage") -> ItemValue:
    return next(value for value in result.of(response) if value.item == item)


def test_clean_readings_give_each_item_one_value(store: Store) -> None:
    result = _take(store, cell_rows())
    assert [value.item for value in result.of("power")] == list(CODES)
    assert {value.status for value in result.values} == {"measured"}
    assert result.n_readings == {"power": 24, "voltage": 24}
    assert (result.open_questions, result.corrections, result.departures) == ((), (), ())
    assert result.digest == store.digest()
    voltage = _of(result, "BD27")
    assert voltage.exact == Decimal("0.4035")  # of 0.403 and 0.404
    power = _of(result, "BD27", "power")
    response = STUDY.response("power")
    readings = [
        {"load voltage": Decimal(row[4]), "light": Decimal(row[5])}
        for row in (cell_row("BD27", 1), cell_row("BD27", 2))
    ]
    assert power.value == REDUCERS["iv_point"].reduce(response, readings).value


def test_what_lay_around_an_item_goes_with_each_of_its_values(store: Store) -> None:
    """Light belongs to the power only, but the voltage was read under the same lamp."""
    times = ["9:10", "09:20"] * len(CODES)
    rows = [[*row, time] for row, time in zip(cell_rows(), times, strict=True)]
    content = table(rows, ("item", "reading", *CELL_HEADINGS, "time"))
    collect(store, content.encode(), "a.csv", STUDY, PLAN)
    result = measured(store, STUDY, PLAN)
    light = sum(float(cell_row("BD27", n)[5]) for n in (1, 2)) / 2
    for response in ("power", "voltage"):
        value = _of(result, "BD27", response)
        assert value.surroundings == {"light": pytest.approx(light)}
        assert value.clock == 9 * 60 + 15
    assert _of(_take(store, cell_rows(["CF34"]), "b.csv"), "BD27").clock == 9 * 60 + 15


def test_readings_follow_a_unit_that_was_changed_after_they_were_taken_in(store: Store) -> None:
    """0.4035 V are 403.5 mV; a unit of another kind was mended, and the number stays."""
    _take(store, cell_rows())
    raw = STUDY.response("voltage")
    for unit, value in (("mV", "403.5"), ("V", "0.4035"), ("s", "0.4035")):
        mended = raw.model_copy(update={"unit": unit, "failed": None})
        study = STUDY.model_copy(update={"responses": (STUDY.response("power"), mended)})
        assert _of(measured(store, study, PLAN), "BD27").exact == Decimal(value)


def test_unmeasured_lost_and_lost_after_measuring(store: Store) -> None:
    store.lose(["CF34"], "fell down")
    store.lose(["DG41"], "cracked later")
    result = _take(store, cell_rows(c for c in CODES if c not in ("BD27", "CF34")))
    assert _of(result, "BD27").status == "unmeasured"
    assert (_of(result, "CF34").status, _of(result, "CF34").reason) == ("lost", "fell down")
    assert _of(result, "DG41").status == "measured"
    assert _of(result, "DG41").reason == "lost after it was measured: cracked later"
    assert result.departures == ("CF34 was lost: fell down", "DG41 was lost: cracked later")


@pytest.mark.parametrize("again", ["cracked", "stolen"])
def test_what_is_lost_again_is_asked_about_again(store: Store, again: str) -> None:
    """The answer was about a loss that was taken back."""
    _take(store, cell_rows())
    store.lose(["DG41"], "cracked")
    assert _of(_settle(store, "set-aside"), "DG41").status == "lost"
    first = {q.id for q in store.questions() if q.answer}
    store.lose(["DG41"], "it was another one", "T1", undo=True)
    assert _of(measured(store, STUDY, PLAN), "DG41").status == "measured"
    store.lose(["DG41"], again)
    result = measured(store, STUDY, PLAN)
    (question,) = result.open_questions
    assert question.id not in first
    assert again in question.why
    assert _of(result, "DG41").status == "measured"
    number = int(question.id[1:])
    assert _of(_settle(store, "set-aside", number=number), "DG41").status == "lost"
    store.lose(["DG41"], "told twice")  # the loss that stands is the same one
    assert measured(store, STUDY, PLAN).open_questions == ()


@pytest.mark.parametrize("first", ["lost", "read"])
def test_readings_of_a_lost_item_count_until_they_are_set_aside(store: Store, first: str) -> None:
    if first == "lost":
        store.lose(["DG41"], "cracked")
    result = _take(store, cell_rows())
    if first == "read":
        store.lose(["DG41"], "cracked")
        result = measured(store, STUDY, PLAN)
    (question,) = result.open_questions
    assert (question.code, question.item) == ("lost_with_readings", "DG41")
    assert "cracked" in question.why
    assert "2 readings" in question.why
    assert _of(result, "DG41").status == "measured"
    aside = _settle(store, "set-aside")
    assert (_of(aside, "DG41").status, _of(aside, "DG41").reason) == ("lost", "cracked")
    assert aside.n_readings["voltage"] == 22
    newer = _take(store, changed(cell_rows(), "BD27", 1, 4, "0.123"))  # the file comes once more
    assert _of(newer, "DG41").status == "lost"
    kept = _settle(store, "keep")
    assert _of(kept, "DG41").reason == "lost after it was measured: cracked"


def test_readings_of_another_item_under_the_code_of_a_lost_one(store: Store) -> None:
    rows = [row for row in cell_rows() if row[0] != "CF34"]
    store.lose(["DG41"], "cracked")
    _take(store, rows)
    result = _settle(store, "correct", "CF34")
    assert (_of(result, "DG41").status, _of(result, "CF34").status) == ("lost", "measured")


def test_a_lost_item_is_no_longer_asked_about_when_its_readings_are_gone(store: Store) -> None:
    _take(store, cell_rows())
    store.lose(["DG41"], "cracked")
    result = _take(store, [row for row in cell_rows() if row[0] != "DG41"])
    assert [question.code for question in result.open_questions] == ["readings_gone"]
    assert _of(result, "DG41").status == "lost"


@pytest.mark.parametrize("worked", ["no", "did not work"])
def test_said_not_to_work(store: Store, worked: str) -> None:
    rows = [[*row, "yes", ""] for row in cell_rows(CODES[1:])]
    rows.append(["BD27", "1", "", "", "", "", worked, "no light at all"])
    headings = table([]).strip().split(",")
    text = table(rows, [*headings, "did it work?", "note"])
    collect(store, text.encode(), "a.csv", STUDY, PLAN)
    value = _of(measured(store, STUDY, PLAN), "BD27")
    assert (value.status, value.value, value.readings) == ("failed", None, 0)
    assert value.reason == "it did not work (no light at all)"


def test_below_the_failed_rule(store: Store) -> None:
    rows = changed(changed(cell_rows(), "BD27", 1, 4, "0.002"), "BD27", 2, 4, "0.003")
    for reading in (1, 2):
        rows = changed(changed(rows, "BD27", reading, 2, "0.002"), "BD27", reading, 3, "0.01")
    result = _take(store, rows)
    power = _of(result, "BD27", "power")
    assert (power.status, power.reason) == ("failed", "Under 3 mV across the load.")
    assert power.value is not None
    assert power.value < 0.007
    assert _of(result, "BD27").status == "failed"
    assert _of(result, "BD27").reason == "0.002 V is below 0.003 V"


def test_too_weak_to_measure_on_the_ratio_scale(store: Store) -> None:
    raw = STUDY.response("power").model_copy(update={"failed": None})
    study = STUDY.model_copy(update={"responses": (raw, STUDY.responses[1])})
    rows = cell_rows()
    for reading, load in ((1, "0.001"), (2, "0.002")):
        for column, text in ((4, load), (2, "0.050"), (3, "0.02")):
            rows = changed(rows, "BD27", reading, column, text)
    collect(store, csv_bytes(rows), "a.csv", study, PLAN)
    result = measured(store, study, PLAN)
    power = _of(result, "BD27", "power")
    assert result.open_questions == ()
    assert power.status == "failed"
    assert power.reason.startswith("too weak to measure")
    nothing = changed(changed(rows, "BD27", 1, 4, "0"), "BD27", 2, 4, "0.000")
    collect(store, csv_bytes(nothing), "a.csv", study, PLAN)
    power = _of(measured(store, study, PLAN), "BD27", "power")
    assert (power.status, power.reason) == ("failed", "0 µW/cm²: nothing to measure")


@pytest.mark.parametrize(("below", "status"), [(0.003, "failed"), (None, "measured")])
def test_too_weak_to_measure_on_the_difference_scale(
    store: Store, below: float | None, status: str
) -> None:
    """Only where the study says that a working item has something to show."""
    rule = None if below is None else FailedRule(below=below)
    voltage = STUDY.response("voltage").model_copy(update={"failed": rule})
    study = STUDY.model_copy(update={"responses": (STUDY.responses[0], voltage)})
    rows = changed(changed(cell_rows(), "BD27", 1, 2, "0.001"), "BD27", 2, 2, "0.009")
    collect(store, csv_bytes(rows), "a.csv", study, PLAN)
    known = store.state()
    settled = replace(known, questions=())
    value = _of(measured_state(settled, study, PLAN), "BD27")
    assert value.status == status
    assert value.reason.startswith("too weak to measure") == (status == "failed")


def test_an_impossible_number_waits_and_a_correction_counts(store: Store) -> None:
    rows = changed(cell_rows(), "DG41", 2, 2, "410")  # mV in a column of V
    result = _take(store, rows)
    (question,) = result.open_questions
    assert (question.code, question.must, question.proposal) == ("slip", True, "0.410")
    waiting = _of(result, "DG41")
    assert (waiting.status, waiting.readings, waiting.exact) == ("measured", 1, Decimal("0.409"))
    for value, told in (("0.410", "0.410 V"), *((s, s) for s in ("mV", "x0.001", "410 mV"))):
        result = _settle(store, "correct", value)
        assert _of(result, "DG41").exact == Decimal("0.4095")
        assert result.corrections == (
            f"DG41, reading 2, {VOC}: '410 V' corrected to '{told}', because: looked (T1)",
        )
        assert _of(result, "DG41").reason == result.corrections[0]
        assert result.corrected == ("DG41",)
    assert result.open_questions == ()
    result = _settle(store, "set-aside")
    assert _of(result, "DG41").readings == 1
    assert result.corrections[0].startswith(f"DG41, reading 2, {VOC}: set aside (1 of its rows)")
    assert result.corrected == ("DG41",)
    result = _settle(store, "keep")
    assert result.corrected == ()
    assert _of(result, "DG41").readings == 2
    assert _of(result, "DG41").value == pytest.approx(205.2045)


def test_an_item_whose_only_numbers_wait_says_for_what(store: Store) -> None:
    rows = changed(cell_rows(readings=1), "DG41", 1, 2, "O.4!")
    value = _of(_take(store, rows), "DG41")
    assert (value.status, value.reason) == ("unmeasured", "waits for an answer to Q1")
    value = _of(_settle(store, "set-aside"), "DG41")
    assert (value.status, value.reason) == ("set aside", "looked")


def test_a_wrong_code_waits_and_can_be_corrected(store: Store) -> None:
    rows = [["DG4I" if cell == "DG41" else cell for cell in row] for row in cell_rows()]
    result = _take(store, rows)
    assert [q.code for q in result.open_questions] == ["unknown_item"]
    assert _of(result, "DG41").status == "unmeasured"
    result = _settle(store, "correct", "dg41")
    assert _of(result, "DG41").readings == 2
    assert result.corrections == ("DG4I: read as DG41, because: looked (T1)",)


def test_rows_entered_twice_count_once_until_settled(store: Store) -> None:
    rows = [*cell_rows(), *cell_rows(["DG41"])]
    result = _take(store, rows)
    assert [q.code for q in result.open_questions] == ["entered_twice"]
    assert _of(result, "DG41").readings == 2
    assert _of(_settle(store, "keep"), "DG41").readings == 4
    assert _of(_settle(store, "set-aside"), "DG41").readings == 2


def test_exchanged_labels_are_exchanged_back(store: Store) -> None:
    rows = [[*row, "1" if row[0] in CODES[:6] else "2"] for row in cell_rows()]
    for row in rows:
        if row[0] in ("BD27", "JL79"):
            row[-1] = "2" if row[0] == "BD27" else "1"
    text = table(rows, [*table([]).strip().split(","), "session"])
    collect(store, text.encode(), "a.csv", STUDY, PLAN)
    before = measured(store, STUDY, PLAN)
    (question,) = before.open_questions
    assert (question.code, question.item, question.partner) == ("swapped", "BD27", "JL79")
    assert len(before.departures) == 1
    after = _settle(store, "correct", "JL79")
    for response in ("power", "voltage"):
        assert _of(after, "BD27", response).value == _of(before, "JL79", response).value
        assert _of(after, "JL79", response).value == _of(before, "BD27", response).value
    assert after.corrections == ("BD27 and JL79 exchanged, because: looked (T1)",)
    assert sorted(after.corrected) == ["BD27", "JL79"]  # one decision, two items
    assert after.departures == ()
    kept = _settle(store, "keep")
    assert kept.departures == (
        "BD27 and JL79: BD27 was planned for session 1 and read in session 2; JL79 the other "
        "way round",
    )


def test_a_note_against_the_numbers_is_asked(store: Store) -> None:
    rows = [[*row, "did not work" if row[:2] == ["DG41", "2"] else ""] for row in cell_rows()]
    text = table(rows, [*table([]).strip().split(","), "note"])
    collect(store, text.encode(), "a.csv", STUDY, PLAN)
    assert _of(measured(store, STUDY, PLAN), "DG41").status == "measured"
    assert _of(_settle(store, "correct", "no"), "DG41").status == "failed"
    assert _of(_settle(store, "correct", "yes"), "DG41").status == "measured"


def test_a_missing_light_can_be_filled_in(store: Store) -> None:
    rows = changed(cell_rows(), "DG41", 2, 5, "")
    result = _take(store, rows)
    (question,) = result.open_questions
    assert (question.code, question.column, question.do[:16]) == (
        "missing", "light", "correct and the "
    )  # fmt: skip
    assert _of(result, "DG41", "power").readings == 1
    assert _of(result, "DG41", "power").notes == ("1 of 2 readings lack: light",)
    assert _of(result, "DG41", "voltage").readings == 2
    assert _of(_settle(store, "correct", "798"), "DG41", "power").readings == 2


def test_a_plain_study_with_a_value_and_a_mean(store: Store) -> None:
    study: Study = plants()
    plan = plan_of(study)
    rows = [["BD27", "1", "112", "6"], ["BD27", "2", "113", ""], ["CF34", "1", "3", "0"]]
    text = table(rows, ["pot", "reading", "height_mm", "leaves"])
    collect(store, text.encode(), "a.csv", study, plan)
    result = measured(store, study, plan)
    assert result.open_questions == ()
    assert (_of(result, "BD27", "height").exact, _of(result, "BD27", "leaves").value) == (
        Decimal("112.5"), 6.0
    )  # fmt: skip
    assert _of(result, "CF34", "height").status == "failed"
    assert result.n_readings == {"height": 3, "leaves": 2}


def test_measured_area_counts_for_all_readings(store: Store) -> None:
    power = STUDY.response("power").model_copy(
        update={"settings": {"quantity": "power_per_area", "load_ohm": 330.0,
                             "area_cm2": "measured"}}
    )  # fmt: skip
    study = STUDY.model_copy(update={"responses": (power,)})
    headings = ["item", "reading", "load voltage (V)", "active area (cm2)"]
    rows = [["BD27", "1", "0.3", "2"], ["BD27", "2", "0.3", ""]]
    collect(store, table(rows, headings).encode(), "a.csv", study, PLAN)
    result = measured(store, study, PLAN)
    value = _of(result, "BD27", "power")
    assert value.value == pytest.approx(1e6 * 0.3**2 / 330 / 2)
    assert value.readings == 2
    assert result.open_questions == ()
