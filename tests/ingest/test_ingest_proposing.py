"""Headings that nobody knows: declared in study.toml, or asked about and never guessed."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    ISC,
    LIGHT,
    LOAD,
    VOC,
    cell_rows,
    cells,
    ods,
    plan_of,
    table,
)
from trials.errors import IngestError, RecordError
from trials.ingest import asked_of_all, collect, read_file
from trials.record import Decision, Intake, Question, Store, Taken, measured
from trials.record.answers import applied
from trials.study.values import Study

STUDY = cells()
PLAN = plan_of(STUDY)
ITEMS = [row.item for row in PLAN.rows]
CLEAN = {
    (row[0], int(row[1])): dict(zip((VOC, ISC, LOAD, LIGHT), map(Decimal, row[2:]), strict=True))
    for row in cell_rows()
}
MILLI = [[*row[:2], f"{Decimal(row[2]) * 1000:f}", *row[3:]] for row in cell_rows()]


def _declared(**columns: str) -> Study:
    return STUDY.model_copy(update={"columns": columns})


def _read(text: str, study: Study = STUDY) -> Intake:
    return read_file(text.encode(), "a.csv", study, PLAN)


def _numbers(intake: Intake) -> dict[tuple[str, int | None], dict[str, Decimal | None]]:
    return {
        (row.item, row.reading): {cell.column: cell.value for cell in row.cells}
        for row in intake.rows
    }


def _heads(first: str) -> list[str]:
    return ["item", "reading", first, *CELL_HEADINGS[1:]]


# ---- declared --------------------------------------------------------------------------------


def test_columns_declared_in_the_study_are_read_so() -> None:
    study = _declared(
        **{"P-Nr": "item", "Durchgang": "reading", "U0": "Voc (mV)", "I0 [mA]": ISC, "U330": LOAD,
           "Sonne": "light", "raus": "not needed", "wann": "time", "ok?": "did it work?",
           "sonst": "note", "Gruppe": "team"}
    )  # fmt: skip
    heads = ["p nr", "Durchgang", "U0", "I0 [mA]", "U330 (V)", "Sonne (W/m²)", "raus", "wann",
             "ok?", "sonst", "Gruppe"]  # fmt: skip
    rows = [[*row, "7", "14:05", "yes", "fine", "alder"] for row in MILLI]
    intake = _read(table(rows, heads, ";"), study)
    assert _numbers(intake) == CLEAN
    assert {q.code for q in intake.questions} <= {"other_group"}
    first = intake.rows[0]
    assert (first.time, first.worked, first.note, first.groups) == (
        "14:05", True, "fine", (("team", "alder"),)
    )  # fmt: skip
    assert not any("Not needed" in note for note in intake.notes)
    assert "'U0' was turned from mV into V." in intake.notes


def test_what_is_declared_goes_before_what_is_usual() -> None:
    study = _declared(note="item", item="note")
    rows = [[row[0], "code", *row[2:]] for row in cell_rows(readings=1)]
    intake = _read(table(rows, ["note", "item", *CELL_HEADINGS]), study)
    assert [row.item for row in intake.rows] == list(CODES)
    assert {row.note for row in intake.rows} == {"code"}


def test_a_declared_heading_may_have_numbers_of_readings() -> None:
    study = _declared(Ul="open-circuit voltage (mV)")
    intake = _read("item,Ul 1,Ul 2\nBD27,410,412\n", study)
    assert _numbers(intake) == {
        ("BD27", 1): {VOC: Decimal("0.410")},
        ("BD27", 2): {VOC: Decimal("0.412")},
    }


# ---- asked -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "proposal"),
    [
        ("open circuit voltge (mV)", f"{VOC} (mV)"),
        ("opencircuit-volts/mV", ""),  # two voltages: the other one has a column
        ("Leerlauf [mV]", f"{VOC} (mV)"),  # by its unit: the only voltage without a column
        ("open voltage", f"{VOC} (V)"),
        ("U1/mV", f"{VOC} (mV)"),
    ],
)
def test_an_unknown_heading_is_asked_and_counts_for_nothing(heading: str, proposal: str) -> None:
    intake = _read(table(MILLI, _heads(heading)))
    (question,) = intake.questions
    assert (question.code, question.row, question.item, question.column, question.must) == (
        "heading", 1, None, heading, True
    )  # fmt: skip
    assert question.proposal == (proposal or f"{VOC} (mV)")
    assert question.choices == (f"{VOC} (V)",)
    assert len(question.places) == 24
    assert "24 numbers such as 403.000" in question.why
    assert f'"{heading}" = "{question.proposal}"' in question.do
    cell = intake.rows[0].cell(heading)
    assert cell is not None
    assert (cell.text, cell.number, cell.value) == ("403.000", Decimal("403.000"), None)
    assert intake.rows[0].cell(VOC) is None


def test_a_heading_that_may_be_two_quantities_proposes_none() -> None:
    text = table([[r[0], r[1], r[2], r[3], r[5]] for r in cell_rows()],
                 ["item", "reading", "U (V)", CELL_HEADINGS[1], CELL_HEADINGS[3]])  # fmt: skip
    questions = _read(text).questions
    (question,) = [q for q in questions if q.code == "heading"]
    assert question.proposal == ""
    assert question.choices == (CELL_HEADINGS[0], CELL_HEADINGS[2])
    assert question.do.startswith(
        f'correct "{CELL_HEADINGS[0]}", or correct "{CELL_HEADINGS[2]}", if that is what was '
        "measured"
    )
    assert {q.code for q in questions} == {"heading"}


@pytest.mark.parametrize("heading", ["temperature (°C)", "colour", "height (mm)", "U (V)"])
def test_a_heading_that_can_not_be_what_is_missing_is_told_and_not_asked(heading: str) -> None:
    rows = [[*row, "21"] for row in cell_rows()]
    intake = _read(table(rows, ["item", "reading", *CELL_HEADINGS, heading]))
    assert intake.questions == ()
    assert f"Not needed here, and kept only in the file itself: '{heading}'." in intake.notes


def test_words_under_a_heading_are_no_quantity() -> None:
    rows = [[*row[:2], "rather high", *row[3:]] for row in cell_rows()]
    questions = _read(table(rows, _heads("U (mV)"))).questions
    assert {q.code for q in questions} == {"missing_column"}


def _collected(store: Store, text: str, study: Study = STUDY) -> Taken:
    return collect(store, text.encode(), "a.csv", study, PLAN)


def _answer(store: Store, verb: str, value: str = "", *, sure: bool = False) -> Question:
    done = store.answer("Q1", Decision(verb, value, "we asked the team", "T3", sure), ITEMS)
    store.ask_again(lambda rows: asked_of_all(rows, STUDY, PLAN))
    return done


@pytest.mark.parametrize(
    ("value", "kept"),
    [
        (f"{VOC} (mV)", f"{VOC} (mV)"),
        (VOC, f"{VOC} (mV)"),  # the heading gives the unit
        ("Open-Circuit voltage [µV]", f"{VOC} (µV)"),  # against the heading: only for sure
    ],
)
def test_an_answer_makes_the_cells_those_of_the_quantity(
    tmp_path: Path, value: str, kept: str
) -> None:
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, table(MILLI, _heads("U [mV]")))
        before = measured(store, STUDY, PLAN)
        assert {one.status for one in before.of("voltage")} == {"unmeasured"}
        assert {one.reason for one in before.of("voltage")} == {"waits for an answer to Q1"}
        assert {one.status for one in before.of("power")} == {"measured"}
        assert _answer(store, "correct", value, sure="µV" in kept).answer_value == kept
        after = measured(store, STUDY, PLAN)
        scale = 1000 if "µV" in kept else 1
        assert [one.value for one in after.of("voltage")][:2] == pytest.approx(
            [0.4035 / scale, 0.4065 / scale]
        )
        assert after.corrections == (
            f"'U [mV]' in a.csv: read as {kept}, because: we asked the team (T3)",
        )
        assert store.rows()[0].cell("U [mV]") is not None  # the record keeps what was written


@pytest.mark.parametrize("verb", ["keep", "set-aside"])
def test_a_heading_that_is_not_needed_leaves_the_quantity_missing(
    tmp_path: Path, verb: str
) -> None:
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, table(MILLI, _heads("U [mV]")))
        assert [q.code for q in store.questions(only_open=True)] == ["heading"]
        _answer(store, verb)
        (still,) = store.questions(only_open=True)
        assert (still.code, still.column) == ("missing_column", VOC)
        found = measured(store, STUDY, PLAN)
        assert {one.status for one in found.of("voltage")} == {"unmeasured"}
        assert found.corrections == (
            "'U [mV]' in a.csv: left out, because: we asked the team (T3)",
        )


def test_numbers_that_an_answer_brought_are_checked_and_can_be_mended(tmp_path: Path) -> None:
    rows = [[*row[:2], "4030" if row[:2] == ["BD27", "1"] else row[2], *row[3:]] for row in MILLI]
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, table(rows, _heads("U [mV]")))
        assert [q.code for q in store.questions(only_open=True)] == ["heading"]
        _answer(store, "correct", VOC)
        (slip,) = store.questions(only_open=True)
        assert (slip.code, slip.item, slip.column) == ("slip", "BD27", VOC)
        store.answer(slip.id, Decision("correct", "x0.1", "point slipped", "T3"), ITEMS)
        assert measured(store, STUDY, PLAN).of("voltage")[0].value == pytest.approx(0.4035)


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("", "answer.quantity"),
        ("light", "answer.quantity"),
        (f"{VOC} (mA)", "answer.unit"),
        (f"{VOC} (V)", "answer.heading_unit"),  # 403 mV would be 403 V
    ],
)
def test_an_answer_that_can_not_be(tmp_path: Path, value: str, code: str) -> None:
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, table(MILLI, _heads("U [mV]")))
        with pytest.raises(RecordError) as problem:
            _answer(store, "correct", value)
        assert problem.value.code == code
        assert problem.value.allowed


def test_a_file_collected_again_is_read_by_what_the_study_says_now(tmp_path: Path) -> None:
    text = table(MILLI, _heads("U [mV]"))
    with Store.open(tmp_path / "r.db") as store:
        assert _collected(store, text).status == "new"
        assert _collected(store, text).status == "same"
        study = _declared(**{"U [mV]": VOC})
        again = _collected(store, text, study)
        assert (again.status, again.questions) == ("revision", ())
        assert store.questions(only_open=True) == ()
        assert {one.status for one in measured(store, study, PLAN).of("voltage")} == {"measured"}
        assert _collected(store, text, study).status == "same"


def test_of_two_quantities_each_is_proposed_in_the_unit_of_the_heading(tmp_path: Path) -> None:
    """The study's own unit was printed: who followed it made 403 V of 403 mV."""
    rows = [[*row[:2], f"{Decimal(row[2]) * 1000:f}", row[3], row[5]] for row in cell_rows()]
    text = table(rows, ["item", "reading", "U [mV]", CELL_HEADINGS[1], CELL_HEADINGS[3]])
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, text)
        (question,) = [q for q in store.questions(only_open=True) if q.code == "heading"]
        first, second = f"{VOC} (mV)", f"{LOAD} (mV)"
        assert question.do.startswith(f'correct "{first}", or correct "{second}", if that is')
        assert f"{VOC} (mV) or {LOAD} (mV), which has no column" in question.why
        assert question.do.endswith(f'"U [mV]" = "{first}"   or: "U [mV]" = "{second}"')
        assert "the one of these lines that is right" in question.do
        _answer(store, "correct", second)
        asked = asked_of_all(store.rows(), STUDY, PLAN)
        assert not any(q.code == "slip" for q in asked)
    for line in (first, second):
        read = _read(text, _declared(**{"U [mV]": line}))
        name = line.removesuffix(" (mV)")
        assert read.rows[0].cell(name).value == Decimal("0.403000")  # type: ignore[union-attr]  # it has one


# ---- what stands under no known heading, while a quantity is missing --------------------------


def test_numbers_under_any_heading_are_asked_about_while_a_quantity_is_missing(
    tmp_path: Path,
) -> None:
    """The lamp's column was left out, and one number was asked for to stand for all of it."""
    heads = ["item", "#", *CELL_HEADINGS[:3], "lamp", "when"]
    text = table([[*row, "10:05"] for row in cell_rows()], heads)
    with Store.open(tmp_path / "r.db") as store:
        taken = _collected(store, text)
        (asked,) = store.questions(only_open=True)
        assert (asked.code, asked.column, asked.proposal, asked.must) == (
            "heading", "lamp", "", False
        )  # fmt: skip
        assert asked.why.startswith(
            f"It may mean {LIGHT} (W/m²), which has no column here. No other column is known to be"
        )
        assert asked.do.startswith(f'correct "{LIGHT} (W/m^2)", if that is what was measured')
        assert f'"lamp" = "{LIGHT} (W/m^2)"' in asked.do
        assert "'#' was read as the number of the reading." in taken.notes
        assert "'when' was read as the time." in taken.notes
        _answer(store, "correct", LIGHT)
        assert store.questions(only_open=True) == ()
        rows = applied(store.rows(), store.questions()).rows
    assert {(r.item, r.reading): r.cell(LIGHT).value for r in rows} == {  # type: ignore[union-attr]  # it has one
        key: numbers[LIGHT] for key, numbers in CLEAN.items()
    }
    assert {row.time for row in rows} == {"10:05"}


def test_a_heading_that_is_not_the_missing_quantity_leaves_it_asked_for(tmp_path: Path) -> None:
    heads = ["item", "reading", *CELL_HEADINGS[:3], "shoe size"]
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, table(cell_rows(), heads))
        assert [q.code for q in store.questions(only_open=True)] == ["heading"]
        _answer(store, "set-aside")
        (asked,) = store.questions(only_open=True)
        assert (asked.code, asked.column) == ("missing_column", LIGHT)


def test_of_many_unknown_headings_a_line_of_the_study_is_told() -> None:
    more = [f"n{letter}" for letter in "abcdef"]
    rows = [[*row[:5], row[5], *"12345"] for row in cell_rows()]
    read = _read(table(rows, ["item", "reading", *CELL_HEADINGS[:3], *more]))
    assert [q.code for q in read.questions] == ["missing_column"]
    (told,) = [note for note in read.notes if "No column is known to be" in note]
    assert f"'{LIGHT} (W/m^2)'" in told
    assert f'"na" = "{LIGHT} (W/m^2)"' in told


@pytest.mark.parametrize(
    ("heading", "kind"),
    [("#", "reading"), ("Nr.", "reading"), ("No.", "reading"), ("n°", "reading"),
     ("Lectura", "reading"), ("relevé", "reading"), ("trial", "reading"), ("hora", "time"),
     ("Zeitpunkt", "time"), ("When", "time"), ("horaire", "time")],
)  # fmt: skip
def test_other_words_for_reading_number_and_time_are_read_and_told(heading: str, kind: str) -> None:
    rows = [
        [row[0], row[1] if kind == "reading" else f"9:{10 + k}", *row[2:]]
        for k, row in enumerate(cell_rows())
    ]
    read = _read(table(rows, ["item", heading, *CELL_HEADINGS]))
    assert _numbers(read) == CLEAN
    what = "the number of the reading" if kind == "reading" else "the time"
    assert f"'{heading}' was read as {what}." in read.notes
    assert all(row.time for row in read.rows) == (kind == "time")


@pytest.mark.parametrize(
    "numbers",
    [
        [str(k + 1) for k in range(24)],  # of the line
        [str(1 + k // 8) for k in range(24)],  # of a team
        ["ok"] * 24,
    ],
)
def test_numbers_that_do_not_begin_anew_with_each_item_count_no_readings(
    numbers: list[str],
) -> None:
    rows = [[row[0], number, *row[2:]] for row, number in zip(cell_rows(), numbers, strict=True)]
    read = _read(table(rows, ["item", "#", *CELL_HEADINGS]))
    assert _numbers(read) == CLEAN  # numbered by their order
    assert "Not needed here, and kept only in the file itself: '#'." in read.notes


def test_a_duration_under_a_word_for_time_is_no_time_of_day() -> None:
    rows = [[*row, "12.5 h"] for row in cell_rows()]
    read = _read(table(rows, ["item", "reading", *CELL_HEADINGS, "Zeit"]))
    assert {row.time for row in read.rows} == {""}
    assert any("Not needed here" in note for note in read.notes)


# ---- numbers that an answer brings -----------------------------------------------------------

DOUBTS = [
    [row[0], row[1], f"{Decimal(row[2]) * 1000:.0f}", f"1,{120 + k}", row[5]]
    for k, row in enumerate(cell_rows())
]
DOUBT_HEADS = ["item", "reading", f"{VOC} (mV)", "corriente corta (µA)", CELL_HEADINGS[3]]


def _open(store: Store, code: str) -> list[Question]:
    return [q for q in store.questions(only_open=True) if q.code == code]


def test_numbers_that_can_be_read_in_two_ways_are_asked_about_after_the_answer_too(
    tmp_path: Path,
) -> None:
    """They were asked about where study.toml says what the heading is, and only there."""
    text = table(DOUBTS, DOUBT_HEADS, ";")
    (declared,) = [
        q for q in _read(text, _declared(**{"corriente corta": ISC})).questions
        if q.code == "decimal_mark"
    ]  # fmt: skip
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, text)
        assert _open(store, "decimal_mark") == []
        _answer(store, "correct", f"{ISC} (µA)")
        (asked,) = _open(store, "decimal_mark")
        assert (asked.column, asked.found, asked.why, asked.proposal) == (
            ISC, declared.found, declared.why, declared.proposal
        )  # fmt: skip
        assert "1,120 can be read as 1.120 or as 1120" in asked.why
        store.answer(asked.id, Decision("correct", asked.proposal, "thousands", "T3"), ITEMS)
        rows = applied(store.rows(), store.questions()).rows
        assert rows[0].cell(ISC).value == Decimal("1.120")  # type: ignore[union-attr]  # mA
        # the same file again, with a line more: the answers stand, and what is new is asked
        more = [*DOUBTS, [ITEMS[0], "3", "403", "1,500", "800"]]
        _collected(store, table(more, DOUBT_HEADS, ";"))
        assert len(_open(store, "decimal_mark")) == 1
        # it is no longer that quantity: nothing is left to ask
        _answer(store, "set-aside")
        assert _open(store, "decimal_mark") == []


def test_texts_among_the_numbers_are_asked_about_after_the_answer_too(tmp_path: Path) -> None:
    rows = [[*row[:2], "high" if k == 3 else row[2], *row[3:]] for k, row in enumerate(MILLI)]
    with Store.open(tmp_path / "r.db") as store:
        _collected(store, table(rows, _heads("U [mV]")))
        assert _open(store, "not_a_number") == []
        _answer(store, "correct", VOC)
        (asked,) = _open(store, "not_a_number")
        assert (asked.item, asked.reading, asked.found) == (rows[3][0], int(rows[3][1]), "high")
        store.answer(asked.id, Decision("correct", "0.4", "on the sheet", "T3"), ITEMS)
        counting = applied(store.rows(), store.questions()).rows
        assert counting[3].cell(VOC).value == Decimal("0.4")  # type: ignore[union-attr]  # it has one


def test_one_number_that_can_be_read_in_two_ways_is_proposed_in_the_unit_of_the_study() -> None:
    """1,134 µA was proposed as 'correct 1134', which an answer takes as 1134 mA."""
    text = table(DOUBTS[:1], [*DOUBT_HEADS[:3], f"{ISC} (µA)", DOUBT_HEADS[4]], ";")
    (asked,) = [q for q in _read(text).questions if q.code == "decimal_mark"]
    assert (asked.found, asked.proposal) == ("1,120", "x1000")


def test_a_line_of_the_study_against_the_unit_of_the_heading_is_refused() -> None:
    text = table(MILLI, _heads("U [mV]"))
    with pytest.raises(IngestError) as problem:
        _read(text, _declared(U=f"{VOC} (V)"))
    assert problem.value.code == "ingest.two_units"
    assert "V and mV, for 'U [mV]'" in str(problem.value)
    assert f"correct it to '{VOC} (mV)'" in problem.value.do
    assert _numbers(_read(text, _declared(U=f"{VOC} (mV)"))) == CLEAN


def test_units_in_a_row_below_against_those_of_the_headings_are_refused() -> None:
    rows = [["", "", "mV", "A", "V", ""], *cell_rows()]
    heads = ["item", "reading", f"{VOC} (V)", ISC, *CELL_HEADINGS[2:]]
    with pytest.raises(IngestError) as problem:
        _read(table(rows, heads))
    assert problem.value.code == "ingest.two_units"
    assert "V and mV" in str(problem.value)


# ---- the column of the items -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "found", "do"),
    [
        (
            "Probe;Voc (V)\nBD27;0.41\nCF34;0.42\n",
            "'Probe' in row 1, with codes such as BD27, CF34 below it",
            '"Probe" = "item"',
        ),
        (
            'lesson 3\n\nVoc (V);Which "one"\n0.41;BD27\n0.42;CF34\n0.42;mean\n',
            "'Which \"one\"' in row 3, with codes such as BD27, CF34 below it",
            '"Which \\"one\\"" = "item"',
        ),
        (
            ";Voc (V)\nBD27;0.41\nCF34;0.42\n",
            "codes such as BD27, CF34 in column 1, with no heading in row 1",
            "Write 'item' above the codes, in row 1",
        ),
    ],
)
def test_the_likely_column_of_the_items_is_named(text: str, found: str, do: str) -> None:
    with pytest.raises(IngestError) as problem:
        _read(text)
    assert (problem.value.code, problem.value.found) == ("ingest.no_item_column", found)
    assert do in problem.value.do


def test_the_line_that_is_told_makes_the_file_readable() -> None:
    rows = [["Probe", "Nr.", *CELL_HEADINGS], *cell_rows()]
    book = ods({"S": rows})
    with pytest.raises(IngestError) as problem:
        read_file(book, "a.ods", STUDY, PLAN)
    assert '"Probe" = "item"' in problem.value.do
    intake = read_file(book, "a.ods", _declared(Probe="item"), PLAN)
    assert _numbers(intake) == CLEAN
