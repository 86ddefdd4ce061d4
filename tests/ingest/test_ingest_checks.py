"""What the readings bring up: slips, ranges, contradictions, copies, items read elsewhere."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    ISC,
    LIGHT,
    LOAD,
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
from trials.errors import IngestError
from trials.ingest import collect, read_file
from trials.ingest.slips import unit_of_slip
from trials.record import Decision, Question, Store, measured
from trials.record.answers import applied

STUDY = cells()
PLAN = plan_of(STUDY)
ALL = ("item", "reading", *CELL_HEADINGS)


def _asked(rows: list[list[str]], headings: tuple[str, ...] = ALL) -> tuple[Question, ...]:
    return read_file(table(rows, headings).encode(), "a.csv", STUDY, PLAN).questions


def _scaled(rows: list[list[str]], codes: tuple[str, ...], column: int,
            factor: str) -> list[list[str]]:  # fmt: skip
    return [
        [f"{Decimal(cell) * Decimal(factor):f}" if i == column and row[0] in codes else cell
         for i, cell in enumerate(row)]
        for row in rows
    ]  # fmt: skip


def test_clean_readings_raise_no_question() -> None:
    assert _asked(cell_rows()) == ()


@pytest.mark.parametrize(
    ("column", "factor", "proposal", "must"),
    [
        (3, "1000", "1.180", False),  # typed in µA
        (3, "0.001", "1.180", False),  # typed in A
        (3, "10", "1.18", False),  # the decimal mark slipped
        (2, "1000", "0.409", True),  # typed in mV
        (4, "1000", "0.295", True),
        (5, "10", "797", True),  # 7970 W/m² of light can't be
        (5, "0.1", "797", False),  # typed in mW/cm²
    ],
)
def test_one_slip_is_asked_with_the_number_it_should_be(
    column: int, factor: str, proposal: str, must: bool
) -> None:
    row = cell_row("DG41")
    text = f"{Decimal(row[column]) * Decimal(factor):f}"
    (question,) = _asked(changed(cell_rows(), "DG41", 1, column, text))
    assert (question.code, question.found, question.row, question.reading, question.must) == (
        "slip", text, 6, 1, must
    )  # fmt: skip
    assert Decimal(question.proposal) == Decimal(row[column]) == Decimal(proposal)


@pytest.mark.parametrize(("factor", "unit"), [("1000", "µA"), ("0.001", "A"), ("1000000", "nA")])
def test_a_slip_of_a_whole_item_proposes_the_unit(factor: str, unit: str) -> None:
    (question,) = _asked(_scaled(cell_rows(), ("DG41",), 3, factor))
    assert (question.code, question.proposal, len(question.places)) == ("slip", unit, 2)
    assert f"perhaps typed in {unit}" in question.why


def test_light_typed_in_the_other_usual_unit_is_named_and_can_be_answered(tmp_path: Path) -> None:
    """1 mW/cm² is 10 W/m² by the prefixes of the SI (BIPM, SI Brochure, 9th edition, table 7)."""
    with Store.open(tmp_path / "r.db") as store:
        collect(store, csv_bytes(_scaled(cell_rows(), ("DG41",), 5, "0.1")), "a", STUDY, PLAN)
        (question,) = store.questions()
        assert (question.code, question.proposal) == ("slip", "mW/cm²")
        store.answer(question.id, Decision("correct", "mW/cm²", "the meter's unit", "T1"), CODES)
        slipped = measured(store, STUDY, PLAN).of("power")[2]
        collect(store, csv_bytes(cell_rows()), "a", STUDY, PLAN)
        assert slipped.value == measured(store, STUDY, PLAN).of("power")[2].value


def test_a_unit_that_slipped_is_named_beside_the_unit_of_the_heading(tmp_path: Path) -> None:
    """Under a heading in µA a number a thousand times too small was typed in mA, whatever the study
    counts in (prefixes: BIPM, SI Brochure, 9th edition, table 7)."""
    headings = ("item", "reading", CELL_HEADINGS[0], f"{ISC} (µA)", *CELL_HEADINGS[2:])
    rows = _scaled(cell_rows(), CODES, 3, "1000")
    slipped = _scaled(rows, ("DG41",), 3, "0.001")
    with Store.open(tmp_path / "r.db") as store:
        collect(store, table(slipped, headings).encode(), "a", STUDY, PLAN)
        (question,) = store.questions()
        assert (question.code, question.proposal) == ("slip", "mA")
        store.answer(question.id, Decision("correct", "mA", "the meter's unit", "T1"), CODES)
        state = store.state()
    mended = [row.cell(ISC) for row in applied(state.rows, state.questions).rows]
    assert [cell.value for cell in mended if cell] == [Decimal(row[3]) for row in cell_rows()]


@pytest.mark.parametrize("codes", [("DG41",), CODES], ids=["one cell", "the whole file"])
def test_two_columns_in_each_others_place_are_asked_about_as_such(codes: tuple[str, ...]) -> None:
    """Mended by themselves they would be 0.8 V and 400 W/m²: usual, and nonsense."""
    rows = [
        [*row[:2], row[5], *row[3:5], row[2]] if row[0] in codes else row for row in cell_rows()
    ]
    found = [q for q in _asked(rows) if q.column in (VOC, LIGHT)]
    assert {q.column for q in found} == {VOC, LIGHT}
    for question in found:
        what = "columns" if codes == CODES else "numbers"
        assert question.why.startswith(f"Are the {what} '{question.column}' and '".replace(
            "numbers", "numbers of"
        ))  # fmt: skip
        assert question.do.startswith(
            "If the columns are exchanged, put their headings right"
            if codes == CODES  # in a few rows only, other headings would spoil all the others
            else "If they are exchanged, exchange the numbers of these rows in the file"
        )
        assert question.proposal == ""


def test_two_numbers_of_one_reading_in_each_others_place_are_put_right_by_two_answers(
    tmp_path: Path,
) -> None:
    """To put the headings right in the file, as was said, spoils all other rows."""
    right = cell_row("DG41", 2)
    rows = changed(changed(cell_rows(), "DG41", 2, 2, right[5]), "DG41", 2, 5, right[2])
    _exchanged_back(tmp_path, rows, (VOC, LIGHT))


def test_a_number_that_is_usual_in_anothers_place_is_asked_about_with_the_odd_one(
    tmp_path: Path,
) -> None:
    """Of 1.4 V and 0.467 mA only the voltage is odd, and the current was not asked about."""
    rows = changed(changed(cell_rows(readings=3), "DG41", 2, 2, "1.14"), "DG41", 2, 3, "0.409")
    asked = _exchanged_back(tmp_path, rows, (VOC, ISC))
    assert [question.code for question in asked] == ["unusual", "crossed"]


def _exchanged_back(
    tmp_path: Path, rows: list[list[str]], columns: tuple[str, str]
) -> list[Question]:
    with Store.open(tmp_path / "r.db") as store:
        collect(store, csv_bytes(rows), "a.csv", STUDY, PLAN)
        asked = list(store.questions())
        assert {question.column for question in asked} == set(columns)
        for question in asked:
            assert question.why.startswith(f"Are the numbers of '{question.column}' and '")
            assert question.do.startswith(f"correct {question.proposal}, if they are exchanged")
            assert "in this row too" in question.do
            said = Decision("correct", question.proposal, "exchanged", "T1")
            store.answer(question.id, said, CODES)
        state = store.state()
    (old,) = [r for r in state.rows if r.place == asked[0].places[0]]
    (new,) = [r for r in applied(state.rows, state.questions).rows if r.place == old.place]
    for one, other in (columns, columns[::-1]):
        assert new.cell(one).value == old.cell(other).number  # type: ignore[union-attr]  # it has one
    return asked


def test_an_odd_number_without_a_likely_place_elsewhere_is_asked_about_alone() -> None:
    (question,) = _asked(changed(cell_rows(readings=3), "DG41", 2, 2, "0.95"))
    assert (question.code, question.proposal) == ("unusual", "")
    assert "exchanged" not in question.why


def test_two_slips_in_one_row_that_an_exchange_would_not_mend_stay_slips() -> None:
    row = cell_row("DG41")
    rows = changed(cell_rows(), "DG41", 1, 2, f"{Decimal(row[2]) * 1000:f}")
    found = _asked(changed(rows, "DG41", 1, 3, f"{Decimal(row[3]) * 1000:f}"))
    assert [question.code for question in found] == ["slip", "slip"]
    assert all(question.proposal and "exchanged" not in question.why for question in found)


def test_the_number_that_was_meant_is_told_with_both_units(tmp_path: Path) -> None:
    headings = ("item", "reading", f"{VOC} (mV)", *CELL_HEADINGS[1:])
    rows = changed(_scaled(cell_rows(readings=3), CODES, 2, "1000"), "DG41", 1, 2, "0.409")
    with Store.open(tmp_path / "r.db") as store:
        collect(store, table(rows, headings).encode(), "a", STUDY, PLAN)
        (question,) = store.questions()
        assert question.why.endswith("perhaps 0.409 V, typed in V.")
        store.answer(question.id, Decision("correct", "0.409", "looked", "T1"), CODES)
        (told,) = measured(store, STUDY, PLAN).corrections
    assert "'0.409 mV' corrected to '0.409 V', because: looked (T1)" in told


@pytest.mark.parametrize(
    ("unit", "power", "typed"),
    [("m", 2, "cm"), ("m", 3, "mm"), ("m", 1, ""), ("cm", 1, "mm"), ("cm", -2, "m"),
     ("mm", -1, "cm"), ("m/s", 2, "cm/s"), ("cm^2", 2, "mm^2"), ("g", -3, "kg"), ("min", 3, ""),
     ("mW/cm^2", 1, "W/m^2"), ("W/m²", 2, "uW/cm^2"), ("points", 3, ""), ("", 3, "")],
)  # fmt: skip
def test_a_slip_is_named_only_by_a_unit_that_people_use(unit: str, power: int, typed: str) -> None:
    assert unit_of_slip(unit, power) == typed


@pytest.mark.parametrize("slipped", [CODES[:6], CODES])
def test_a_slip_of_half_or_all_of_a_file_is_one_question(slipped: tuple[str, ...]) -> None:
    (question,) = _asked(_scaled(cell_rows(), slipped, 3, "1000"))
    assert (question.code, question.proposal, question.item) == ("slip", "µA", None)
    assert len(question.places) == 2 * len(slipped)


def test_a_slip_of_a_team_is_found_beside_the_files_of_others(tmp_path: Path) -> None:
    study = plants()
    plan = plan_of(study)

    def file(codes: tuple[str, ...], factor: int) -> bytes:
        rows = [[c, str((100 + 7 * i) * factor / 100)] for i, c in enumerate(codes)]
        return table(rows, ["pot", "height (mm)"]).encode()

    with Store.open(tmp_path / "r.db") as store:
        first = collect(store, file(CODES[:6], 1), "alder.csv", study, plan)
        assert [q.code for q in first.questions] == ["missing_column"]
        second = collect(store, file(CODES[6:], 1000), "birch.csv", study, plan)
        slips = [q for q in second.questions if q.code == "slip"]
        assert [(q.file, q.proposal, len(q.places)) for q in slips] == [("birch.csv", "µm", 6)]


def test_weak_and_failed_items_are_no_slips() -> None:
    """A cell that gives next to nothing in every column is weak, not typed wrongly."""
    rows = cell_rows()
    for reading in (1, 2):
        for column, text in ((2, "0.020"), (3, "0.01"), (4, "0.003")):
            rows = changed(rows, "DG41", reading, column, text)
    assert _asked(rows) == ()
    study = plants()
    heights = [[code, str(110 + 3 * i)] for i, code in enumerate(CODES)]
    heights[3][1] = "1"  # below the failed rule of 5 mm
    text = table(heights, ["pot", "height (mm)"])
    questions = read_file(text.encode(), "b.csv", study, plan_of(study)).questions
    assert [q.code for q in questions] == ["missing_column"]


def test_items_that_did_not_work_are_not_asked_about() -> None:
    rows = [[*row, "no" if row[0] == "DG41" else "yes"]
            for row in changed(cell_rows(), "DG41", 1, 2, "412")]  # fmt: skip
    assert _asked(rows, (*ALL, "did it work?")) == ()


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.lists(st.floats(-0.35, 0.35), min_size=12, max_size=12))
def test_honest_spread_is_not_called_a_slip(noise: list[float]) -> None:
    """Items that differ by up to a factor of two either way raise no question of their own."""
    study = plants()
    rows = [[code, f"{90 * 10**x:.1f}", "5"] for code, x in zip(CODES, noise, strict=True)]
    text = table(rows, ["pot", "height (mm)", "leaves"])
    assert read_file(text.encode(), "b.csv", study, plan_of(study)).questions == ()


def test_a_number_far_above_all_others_without_a_slip() -> None:
    study = plants().model_copy(
        update={"responses": (plants().responses[0].model_copy(update={"high": None}),)}
    )
    rows = [[code, str(100 + i)] for i, code in enumerate(CODES)]
    rows[4][1] = "4000000"
    text = table(rows, ["pot", "height (mm)"])
    (question,) = read_file(text.encode(), "b.csv", study, plan_of(study)).questions
    assert (question.code, question.found, question.proposal) == ("implausible", "4000000", "")


def test_negative_impossible_and_unusual() -> None:
    (question,) = _asked(changed(cell_rows(), "DG41", 1, 2, "-0.409"))
    assert (question.code, question.proposal, question.must) == ("negative", "0.409", True)
    assert question.why == "This can only be 0 to 3 V. Is the sign right?"
    (question,) = _asked(changed(cell_rows(), "DG41", 1, 5, "0"))
    assert (question.code, question.must) == ("impossible", True)
    (question,) = _asked(changed(cell_rows(), "DG41", 1, 2, "0.95"))
    assert (question.code, question.why, question.must) == (
        "unusual",
        "Usual is 0 to 0.8 V (low and high of [responses.voltage] in study.toml).",
        False,
    )


def test_the_same_trouble_in_many_items_is_one_question() -> None:
    rows = [[*row[:2], f"-{row[2]}", *row[3:]] for row in cell_rows()]
    (question,) = _asked(rows)
    assert (question.code, question.proposal, len(question.places)) == ("negative", "x-1", 24)
    assert question.found.startswith("24 numbers (BD27, CF34, DG41, FH58, GJ65, HK72 ...), such as")


def test_an_answer_for_many_numbers_is_a_factor_or_a_unit(tmp_path: Path) -> None:
    from trials.errors import RecordError

    rows = [[*row[:2], f"-{row[2]}", *row[3:]] for row in cell_rows()]
    with Store.open(tmp_path / "r.db") as store:
        collect(store, csv_bytes(rows), "a.csv", STUDY, PLAN)
        with pytest.raises(RecordError) as problem:
            store.answer("Q1", Decision("correct", "0.4", "w", "T1"), CODES)
        assert problem.value.code == "answer.several"
        store.answer("Q1", Decision("correct", "x-1", "leads the wrong way", "T1"), CODES)
        value = measured(store, STUDY, PLAN).of("voltage")[0]
        assert value.exact == Decimal("0.4035")


def test_missing_numbers() -> None:
    (question,) = _asked(changed(cell_rows(), "DG41", 2, 5, ""))
    assert (question.code, question.column, question.row, question.found) == (
        "missing", LIGHT, 7, "nothing"
    )  # fmt: skip
    rows = [[*row[:5], "" if row[1] == "2" else row[5]] for row in cell_rows()]
    (question,) = _asked(rows)
    assert (question.code, len(question.places)) == ("missing", 12)
    (question,) = _asked([row[:5] for row in cell_rows()], ALL[:5])
    assert (question.code, question.column, len(question.places)) == (
        "missing_column", LIGHT, 24
    )  # fmt: skip


def test_a_missing_column_can_come_in_another_file(tmp_path: Path) -> None:
    study = plants()
    plan = plan_of(study)
    heights = table([[c, "100"] for c in CODES], ["pot", "height (mm)"]).encode()
    leaves = table([[c, "5"] for c in CODES], ["pot", "leaves"]).encode()
    with Store.open(tmp_path / "r.db") as store:
        taken = collect(store, heights, "heights.csv", study, plan)
        assert [(q.code, q.column) for q in taken.questions] == [("missing_column", "leaves")]
        taken = collect(store, leaves, "leaves.csv", study, plan)
        assert taken.questions == ()
        assert {v.status for v in measured(store, study, plan).values} == {"measured"}


def test_later_readings_need_only_what_is_read_so_often() -> None:
    """Leaves are counted once, heights are read twice: the second row needs no leaves."""
    study = plants()
    rows = [row for c in CODES for row in ([c, "1", "100", "5"], [c, "2", "101", ""])]
    text = table(rows, ["pot", "reading", "height (mm)", "leaves"])
    assert read_file(text.encode(), "b.csv", study, plan_of(study)).questions == ()


@pytest.mark.parametrize(
    ("column", "text", "code", "about"),
    [
        (4, "0.55", "load_above_open", LOAD),
        (3, "0.60", "current_above_short", ISC),
        (3, "0.90", "fill_factor_above_ideal", LOAD),
    ],
)
def test_contradictions_come_from_the_reducer(
    column: int, text: str, code: str, about: str
) -> None:
    rows = changed(cell_rows(), "DG41", 1, column, text)
    if code == "fill_factor_above_ideal":
        rows = changed(rows, "DG41", 1, 4, "0.300")
        rows = changed(rows, "DG41", 1, 2, "0.310")
    (question,) = _asked(rows)
    assert (question.code, question.column, question.row) == (code, about, 6)
    assert question.why


def test_a_wrong_load_in_the_study_is_one_question_not_one_a_reading() -> None:
    settings_ = {**STUDY.response("power").settings, "load_ohm": 100.0}
    power = STUDY.response("power").model_copy(update={"settings": settings_})
    study = STUDY.model_copy(update={"responses": (power, STUDY.responses[1])})
    questions = read_file(csv_bytes(), "a.csv", study, PLAN).questions
    assert [q.code for q in questions] == ["current_above_short"]
    assert len(questions[0].places) == 24


def test_several_values_where_one_is_wanted() -> None:
    study = plants()
    rows = [["BD27", "1", "100", "5"], ["BD27", "2", "101", "6"]]
    text = table(rows, ["pot", "reading", "height (mm)", "leaves"])
    (question,) = read_file(text.encode(), "b.csv", study, plan_of(study)).questions
    assert (question.code, question.column, question.found) == ("several_values", "leaves", "5, 6")


def test_results_outside_what_the_study_calls_usual() -> None:
    power = STUDY.response("power").model_copy(update={"high": 50.0})
    study = STUDY.model_copy(update={"responses": (power, STUDY.responses[1])})
    questions = read_file(csv_bytes(), "a.csv", study, PLAN).questions
    assert [q.code for q in questions] == ["unusual_result"]
    assert questions[0].why.endswith("outside what the study calls usual: 0 to 50 µW/cm².")


def test_readings_entered_twice_and_read_twice() -> None:
    (question,) = _asked([*cell_rows(), *cell_rows(["DG41"])])
    assert (question.code, question.found, question.must) == (
        "entered_twice", "readings 1, 2 again", True
    )  # fmt: skip
    assert question.why.startswith("The same numbers stand in a.csv, row 6")
    other = [["DG41", *row[1:]] for row in cell_rows(["FH58"])]
    (question,) = _asked([*(r for r in cell_rows() if r[0] != "FH58"), *other])
    assert (question.code, question.proposal, question.must) == ("read_twice", "FH58", False)


def test_the_same_reading_in_two_files(tmp_path: Path) -> None:
    with Store.open(tmp_path / "r.db") as store:
        collect(store, csv_bytes(), "a.csv", STUDY, PLAN)
        taken = collect(store, csv_bytes(cell_rows(["DG41"])), "b.csv", STUDY, PLAN)
        (question,) = taken.questions
        assert (question.code, question.file) == ("entered_twice", "b.csv")
        assert measured(store, STUDY, PLAN).n_readings["voltage"] == 24


def test_rows_copied_from_another_item() -> None:
    rows = [["PR38", *row[1:]] if row[0] == "PR38" else row for row in cell_rows()]
    copy = [["PR38", *row[1:]] for row in cell_rows(["BD27"])]
    (question,) = _asked([*(r for r in rows if r[0] != "PR38"), *copy])
    assert (question.code, question.item, question.found) == (
        "copied", "PR38", "the same 8 numbers as BD27"
    )  # fmt: skip


def _where(moved: dict[str, str]) -> list[list[str]]:
    """Return all rows with the session they were read in."""
    return [[*row, moved.get(row[0], "1" if row[0] in CODES[:6] else "2")] for row in cell_rows()]


def test_two_items_read_in_each_others_session_are_one_question() -> None:
    (question,) = _asked(_where({"BD27": "2", "JL79": "1"}), (*ALL, "session"))
    assert (question.code, question.item, question.partner, question.proposal) == (
        "swapped", "BD27", "JL79", "JL79"
    )  # fmt: skip
    assert len(question.places) == 4
    assert question.do.startswith("correct JL79, if the labels were exchanged;")


def test_one_item_read_elsewhere() -> None:
    (question,) = _asked(_where({"BD27": "2"}), (*ALL, "session"))
    assert (question.code, question.item, question.found) == (
        "other_group", "BD27", "planned for session 1, read in session 2"
    )  # fmt: skip


def test_exchanges_that_fit_several_items_are_not_guessed() -> None:
    moved = {"BD27": "2", "DG41": "2", "JL79": "1", "LN93": "1"}
    questions = _asked(_where(moved), (*ALL, "session"))
    assert [q.code for q in questions] == ["other_group"] * 4
    assert "exchanged with that of JL79 or LN93" in questions[0].why


def test_teams_tell_exchanges_apart() -> None:
    teams = {code: ("alder", "birch")[i % 2] for i, code in enumerate(CODES)}
    moved = {"BD27": "2", "CF34": "2", "JL79": "1", "KM86": "1"}  # alder, birch, alder, birch
    rows = [[*row, teams[row[0]]] for row in _where(moved)]
    questions = _asked(rows, (*ALL, "session", "team"))
    assert [(q.code, q.item, q.partner) for q in questions] == [
        ("swapped", "BD27", "JL79"),
        ("swapped", "CF34", "KM86"),
    ]


def test_question_numbers_are_short_and_stable() -> None:
    rows = changed(changed(cell_rows(), "DG41", 1, 2, "x1"), "PR38", 2, 5, "")
    first, again = (_asked(rows) for _ in range(2))
    assert [q.id for q in first] == ["Q1", "Q2"]
    assert first == again


def test_a_wider_question_takes_the_place_of_narrower_ones(tmp_path: Path) -> None:
    """Two slips are two questions; when more come to light, one question covers them all."""
    with Store.open(tmp_path / "r.db") as store:
        two = _scaled(cell_rows(), CODES[:2], 3, "1000")
        collect(store, csv_bytes(two), "a.csv", STUDY, PLAN)
        assert [q.id for q in store.questions()] == ["Q1", "Q2"]
        more = _scaled(cell_rows(), CODES[:4], 3, "1000")
        collect(store, csv_bytes(more), "a.csv", STUDY, PLAN)
        (question,) = store.questions()
        assert len(question.places) == 8
        store.answer(question.id, Decision("correct", "µA", "asked the team", "T1"), CODES)
        state = measured(store, STUDY, PLAN)
        assert state.open_questions == ()


@pytest.mark.parametrize("column", [VOC, ISC])
def test_two_answers_about_one_number_never_add_up(tmp_path: Path, column: str) -> None:
    from dataclasses import replace

    from trials.record.answers import applied

    rows = _scaled(cell_rows(), ("DG41",), 2 if column == VOC else 3, "1000")
    intake = read_file(csv_bytes(rows), "a.csv", STUDY, PLAN)
    (question,) = intake.questions
    unit = "mV" if column == VOC else "uA"
    answered = replace(question, answer="correct", answer_value=unit, answer_why="w")
    twice = applied(intake.rows, [answered, replace(answered, id="Q2")])
    once = applied(intake.rows, [answered])
    assert twice.rows == once.rows
    assert tmp_path.exists()


def test_a_cell_without_end_is_to_be_shortened() -> None:
    rows = [[*row, "x" * 300_000 if row[:2] == ["DG41", "2"] else ""] for row in cell_rows()]
    with pytest.raises(IngestError) as problem:
        read_file(table(rows, (*ALL, "note")).encode(), "a.csv", STUDY, PLAN)
    assert problem.value.code == "ingest.long_cell"
    at = [row[:2] for row in cell_rows()].index(["DG41", "2"]) + 2
    assert problem.value.where == f"a.csv, row {at}"
    assert problem.value.do.startswith("Shorten that cell")
    assert "Save the table" not in problem.value.do
