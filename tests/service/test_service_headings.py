"""A heading that nobody knows, from the file to the answer, as the verbs do it."""

from __future__ import annotations

from pathlib import Path

import pytest

from trials.errors import IngestError, RecordError
from trials.record import Store, measured
from trials.service.answer import settle
from trials.service.collect import collect_files
from trials.service.history import history_of_study
from trials.service.new import new
from trials.service.opening import open_planned
from trials.service.plan import draw_plan


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new(tmp_path / "planes", example="planes")
    draw_plan(tmp_path / "planes", seed=3)
    return tmp_path / "planes"


def _file(folder: Path, head: str, distance: str = "{n}.5") -> Path:
    items = [row.item for row in open_planned(folder).plan.rows]
    lines = [head, *(f"{item};{distance.format(n=5 + n % 3)}" for n, item in enumerate(items))]
    path = folder.parent / "flights.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_an_unknown_heading_is_asked_and_settled(folder: Path) -> None:
    taken = collect_files(folder, (_file(folder, "item;how far [cm]", "{n}50"),))
    (question,) = taken.questions
    assert question.code == "heading"
    text = "\n".join(taken.text())
    assert f'ANSWER is: correct "{question.proposal}", if that is what was measured' in text
    assert f'"how far [cm]" = "{question.proposal}"' in text
    done = settle(folder, question.id, ("correct", question.proposal, "so they said", "T1"))
    assert done.still_open == ()


def test_what_is_not_needed_leaves_nothing_measured(folder: Path) -> None:
    collect_files(folder, (_file(folder, "item;how far [cm]", "{n}50"),))
    done = settle(folder, "Q1", ("set-aside", "", "another day", "T1"))
    assert done.still_open == ()
    opened = open_planned(folder)
    with Store.open(opened.here.record) as store:
        found = measured(store, opened.study, opened.plan)
    assert {value.status for value in found.values} == {"unmeasured"}
    assert found.corrections == ("'how far [cm]' in flights.csv: left out, because: another day "
                                 "(T1)",)  # fmt: skip


def test_a_line_in_the_study_settles_it_for_all_files(folder: Path) -> None:
    path = _file(folder, "plane;how far [cm]", "{n}50")
    with pytest.raises(IngestError, match="which column holds the items") as problem:
        collect_files(folder, (_file(folder, "which;distance (m)"),))
    assert '"which" = "item"' in problem.value.do
    study = folder / "study.toml"
    text = study.read_text(encoding="utf-8")
    lines = '[columns]\n"which" = "item"\n"how far" = "distance"\n'
    study.write_text(f"{text}\n{lines}", encoding="utf-8")
    path = _file(folder, "which;how far [cm]", "{n}50")
    taken = collect_files(folder, (path,))
    assert taken.questions == ()
    assert any("turned from cm into m" in note for note in taken.notes)


def test_the_same_file_read_by_a_new_line_of_the_study_is_told_once_a_number(folder: Path) -> None:
    """Each number was listed twice: as gone under its heading, and as new in its column."""
    path = _file(folder, "item;how far [cm]", "{n}50")
    collect_files(folder, (path,))
    study = folder / "study.toml"
    lines = '[columns]\n"how far" = "distance"\n'
    study.write_text(f"{study.read_text(encoding='utf-8')}\n{lines}", encoding="utf-8")
    collect_files(folder, (path,))
    changes = [change for change in history_of_study(folder).changes if change.item]
    items = [row.item for row in open_planned(folder).plan.rows]
    assert [change.item for change in changes] == items
    first = changes[0]
    assert (first.what, first.column) == ("read anew", "distance flown")
    assert (first.before, first.after) == ("550 cm under 'how far [cm]'", "550 cm")
    told = history_of_study(folder, items[0]).text()
    assert (
        f"read anew: {items[0]}, distance flown: 550 cm under 'how far [cm]' -> 550 cm" in told[-2]
    )


def test_the_history_of_an_item_has_the_questions_that_were_asked_of_it(folder: Path) -> None:
    """What was asked of several at once was left out, though its answer was not."""
    collect_files(folder, (_file(folder, "item;how far [cm]", "{n}50"),))
    item, other = [row.item for row in open_planned(folder).plan.rows][:2]
    told = [change.what for change in history_of_study(folder, item).changes]
    assert told == ["question"]
    settle(folder, "Q1", ("correct", "distance flown", "so they said", "T1"))
    changes = history_of_study(folder, item).changes
    assert [(change.what, change.question) for change in changes] == [
        ("question", "Q1"), ("corrected", "Q1"), ("corrected", "Q1")
    ]  # fmt: skip
    assert changes[0].items[:2] == (item, other)
    assert "Q1 asked: how far [cm]: a heading" in "\n".join(history_of_study(folder, item).text())


def test_a_second_heading_is_not_the_same_quantity_in_silence(folder: Path) -> None:
    """The first of two headings that were answered alike counted, and nobody was told."""
    items = [row.item for row in open_planned(folder).plan.rows]
    path = folder.parent / "flights.csv"
    lines = ["item;my distance (m);your distance (m)", *(f"{item};5.5;6.5" for item in items)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    collect_files(folder, (path,))
    said = ("correct", "distance flown", "so they said", "T1")
    settle(folder, "Q1", said)
    settle(folder, "Q1", said)  # the same answer again is no second one
    with pytest.raises(RecordError) as problem:
        settle(folder, "Q2", said)
    assert problem.value.code == "answer.quantity_twice"
    assert "'distance flown 1' and 'distance flown 2'" in problem.value.do
    settle(folder, "Q1", ("set-aside", "", "not that one", "T1"))
    settle(folder, "Q2", said)
    opened = open_planned(folder)
    with Store.open(opened.here.record) as store:
        values = measured(store, opened.study, opened.plan).values
    assert {value.value for value in values} == {6.5}


def test_a_copy_of_a_file_under_another_name_is_settled_by_one_answer(folder: Path) -> None:
    path = _file(folder, "item;distance (m)")
    collect_files(folder, (path,))
    again = path.with_name("flights put right.csv")
    again.write_text(path.read_text(encoding="utf-8").replace(";6.5", ";6.4", 1), encoding="utf-8")
    taken = collect_files(folder, (again,))
    assert taken.text()[0] == (
        "flights put right.csv: kept, and nothing of it counts until Q1 is settled"
    )
    assert [question.code for question in taken.questions] == ["newer_copy"]
    assert settle(folder, "Q1", ("correct", "flights.csv", "mended", "T1")).still_open == ()
    with Store.open(open_planned(folder).here.record) as store:
        assert {row.place.file for row in store.rows()} == {"flights.csv"}
        assert [(f.name, f.revision) for f in store.files() if f.readings] == [
            ("flights.csv", 1), ("flights.csv", 2)
        ]  # fmt: skip
