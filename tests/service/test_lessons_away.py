"""``trials lessons`` where a team is away, and who finishes what it made."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.classroom.bench import STEPS, class_study, kept_plan
from tests.remembered import words_of_pages
from trials.errors import PlanError, RecordError
from trials.record import Store
from trials.service.absent import record_absent
from trials.service.history import history_of_study
from trials.service.lessons import place_again
from trials.service.lost import record_lost
from trials.service.made import record_made
from trials.service.plan import draw_plan
from trials.service.sheets import make_sheets
from trials.study import Limits, StudyGroup, write_study
from trials.words.class_times import STALE


def test_others_finish_what_a_team_made_that_is_away_later(folder: Path) -> None:
    before = kept_plan(folder)
    team = before["groups"][0]["members"][2]
    mine = {row["item"] for row in before["rows"] if row["groups"]["team"] == team}
    found = place_again(folder, since=2, away=(team,))
    works = kept_plan(folder)["timetable"]["works"]
    assert {item for work in works for item in work["items"]} == {
        row["item"] for row in before["rows"]
    }
    for work in works:
        if mine & {*work["items"]} and work["step"] != "heat":
            assert (work["crew"] == team) == (work["lesson"] == 1)
    coated = [w for w in before["timetable"]["works"] if w["step"] == "coat"]
    assert sorted(map(str, coated)) == sorted(str(w) for w in works if w["step"] == "coat")
    # three items for five other teams: three teams take one each
    assert sorted(found.to_dict()["finished_by"]) == sorted(mine)
    assert len(set(found.handed.values())) == 3
    assert f"What {team} made before lesson 2 stays. From then on others finish it:" in found.text()
    assert not any("rint again" in note for note in make_sheets(folder).notes)  # never before
    shown = " ".join(words_of_pages((folder / "sheets" / "timetable.pdf").read_bytes()))
    assert STALE not in shown
    told = f"{team} is away from lesson 2 on. Others finish: "
    for name in ("timetable.pdf", "lesson.pdf"):
        page = " ".join(words_of_pages((folder / "sheets" / name).read_bytes()))
        assert page.count(told) == 1, name  # it was there in lesson 1
        assert page.index("Lesson 2") < page.index(told)
    page = " ".join(words_of_pages((folder / "sheets" / "making-sheets.pdf").read_bytes()))
    assert page.count(f"{team} is away from lesson 2 on. Also finish 1 cell") == 3
    (told_again,) = [note for note in make_sheets(folder).notes if "rint again" in note]
    assert told_again == "Nothing to print again: the pages are as they were."
    again = place_again(folder, since=2)  # the timetable keeps who is away, and who does the rest
    assert again.handed == found.handed
    assert kept_plan(folder)["timetable"]["away"] == [{"team": team, "since": 2}]
    assert any(f"{team} is away from lesson 2 on. If it comes" in line for line in again.text())
    first = place_again(folder, since=1)
    assert (first.handed, first.away) == ({}, ())
    assert any(f"it isn't, say so: --away {team}" in line for line in first.text())
    place_again(folder, since=2, away=(team,))
    place_again(folder, since=2, back=(team,))  # it came after all
    assert kept_plan(folder)["timetable"]["away"] == []
    again = kept_plan(folder)["timetable"]["works"]
    own = [w for w in again if mine & {*w["items"]} and w["step"] != "heat"]
    assert all((w["crew"] == team) == (w["step"] != "measure") for w in own)


def draw_lying(folder: Path) -> None:
    """Draw the class whose cells may lie for any time before they are measured."""
    lying = (one.model_copy(update={"keeps": None} if one.name == "close" else {}) for one in STEPS)
    (folder / "study.toml").write_text(write_study(class_study(steps=tuple(lying))))
    draw_plan(folder, seed=3)


def measure_a_lesson_later(folder: Path) -> None:
    kept = kept_plan(folder)
    for work in kept["timetable"]["works"]:
        work["lesson"] += work["step"] == "measure"
    kept["timetable"]["lessons"] = 3
    (folder / "plan.json").write_text(json.dumps(kept), encoding="utf-8")


def test_who_only_reads_finishes_nothing(tmp_path: Path) -> None:
    """All is closed in lesson 2 and measured in lesson 3: nothing of who goes then is left to make.

    Nor does the team finish anything that reads for one that was away in lesson 2.
    """
    folder = tmp_path
    draw_lying(folder)
    plan = kept_plan(folder)
    first, second = plan["groups"][0]["members"][2:4]
    team_of = {row["item"]: row["groups"]["team"] for row in plan["rows"]}
    found = place_again(folder, since=2, away=(first,))
    works = kept_plan(folder)["timetable"]["works"]
    mine = [item for item, team in team_of.items() if team == first]
    closed = {w["items"][0]: w["crew"] for w in works if w["step"] == "close"}
    read = {w["items"][0]: w["crew"] for w in works if w["step"] == "measure"}
    assert found.handed == {item: closed[item] for item in mine}
    assert not any(read[item] in (closed[item], first) for item in team_of)
    measure_a_lesson_later(folder)
    later = place_again(folder, since=3, away=(second,))
    assert later.handed == {}
    assert f"Nothing of {second} is left to make." in later.text()
    works = kept_plan(folder)["timetable"]["works"]
    assert {w["items"][0]: w["crew"] for w in works if w["step"] == "close"} == closed
    read = {w["items"][0]: w["crew"] for w in works if w["step"] == "measure"}
    assert not {first, second} & {*read.values()}
    assert not any(read[item] == closed[item] for item in team_of)
    with Store.open(folder / "record.sqlite") as store:
        told = {one.team: dict(one.items) for one in store.state().away}
    assert told == {first: {item: closed[item] for item in mine}, second: {}}


def test_who_made_all_of_it_for_an_absent_team_does_not_read_it(tmp_path: Path) -> None:
    """All is made before anybody says so, and nothing of it is left to make."""
    folder = tmp_path
    draw_lying(folder)
    measure_a_lesson_later(folder)
    kept = kept_plan(folder)
    team = kept["groups"][0]["members"][2]
    mine = [row["item"] for row in kept["rows"] if row["groups"]["team"] == team]

    def readers() -> set[str]:
        works = kept_plan(folder)["timetable"]["works"]
        return {w["crew"] for w in works if w["step"] == "measure" and w["items"][0] in mine}

    (behind,) = readers()
    said: Any = {"why": "the others made them", "by": "T1"}
    record_absent(folder, team, session=None, **said)
    record_made(folder, mine, factors=(), groups=(f"team={behind}",), **said)
    place_again(folder, since=3)
    assert readers()
    assert not {team, behind} & readers()


def test_a_team_reads_nothing_in_a_session_that_it_misses(tmp_path: Path) -> None:
    """In the other session it reads as before; what it was to make in that one isn't made."""
    groups = StudyGroup(name="team", count=3, role="maker"), StudyGroup(name="session", count=2)
    study = class_study(groups=groups, limits=Limits(items=12, copies=2))
    (tmp_path / "study.toml").write_text(write_study(study))
    draw_plan(tmp_path, seed=3)
    plan = kept_plan(tmp_path)
    team, last = plan["groups"][0]["members"][2], plan["groups"][1]["members"][-1]
    later = {row["item"] for row in plan["rows"] if row["groups"]["session"] == last}
    mine = {row["item"] for row in plan["rows"] if row["groups"]["team"] == team}

    def read() -> set[str]:
        works = kept_plan(tmp_path)["timetable"]["works"]
        return {w["items"][0] for w in works if w["step"] == "measure" and w["crew"] == team}

    before = read()
    assert before & later
    assert before - later
    record_absent(tmp_path, team, session="2", why="ill", by="KW")
    place_again(tmp_path, since=2)
    assert read() == before - later - mine
    record_absent(tmp_path, team, session="2", why="came", by="KW", undo=True)
    place_again(tmp_path, since=2)
    assert read() == before


def test_a_team_that_is_away_must_be_there_before(folder: Path) -> None:
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=2, away=("T33",))
    assert problem.value.code == "lessons.team"
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=2, back=("T3",))
    assert problem.value.what == "No such team is away."
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=2, away=tuple(kept_plan(folder)["groups"][0]["members"]))
    assert problem.value.what == "No team is left."
    with pytest.raises(RecordError) as refused:
        record_absent(folder, "T3", session="2", why="ill", by="K1")
    assert "--since 2 --away T3" in refused.value.do
    told = record_absent(folder, "T3", session=None, why="ill", by="K1").text()
    assert any("--since N --away T3" in line for line in told)
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=2, away=("T3",))
    assert problem.value.code == "lessons.absent"


def test_what_others_made_for_an_absent_team_is_placed(folder: Path) -> None:
    mine = [row["item"] for row in kept_plan(folder)["rows"] if row["groups"]["team"] == "T3"]
    record_absent(folder, "T3", session=None, why="ill", by="K1")
    said = {"why": "T3 was absent", "by": "K1"}
    record_made(folder, (mine[0],), factors=(), groups=("team=T1",), **said)
    found = place_again(folder, since=2)
    assert set(found.gone) == {*mine[1:]}
    assert found.handed == {mine[0]: "T1"}


def test_the_record_tells_who_finished_what_a_team_made_that_was_away(folder: Path) -> None:
    rows = kept_plan(folder)["rows"]
    mine = [row["item"] for row in rows if row["groups"]["team"] == "T3"]
    told = place_again(folder, since=2, away=("3",))  # by its number, as study.toml may have it
    with Store.open(folder / "record.sqlite") as store:
        (away,) = store.state().away
        assert (away.team, away.lesson, away.until) == ("T3", 2, None)
        assert dict(away.items) == told.handed
        assert sorted(told.handed) == sorted(mine)
        assert {change.what for change in store.history()} == {"away", "placed"}
    place_again(folder, since=2)  # said once, told once
    place_again(folder, since=3, back=("T3",))  # it was away in lesson 2 all the same
    with Store.open(folder / "record.sqlite") as store:
        (away,) = store.state().away
        assert (away.lesson, away.until, dict(away.items)) == (2, 3, told.handed)
    place_again(folder, since=2, away=("T4",))
    place_again(folder, since=2, back=("4",))
    with Store.open(folder / "record.sqlite") as store:
        # with lesson 2 still to come, the timetable has T3 there, and so has the record
        assert store.state().away == ()
        assert [one.away.team for one in store.state().away_back] == ["T3", "T4"]
        assert [one.what for one in store.history() if one.what != "placed"][-1] == "not away"
    shown = history_of_study(folder, mine[0]).text()
    assert any("finished by others, as a team is away" in line for line in shown)


def test_the_screen_says_which_pages_to_print_again(folder: Path) -> None:
    make_sheets(folder)
    place_again(folder, since=2, away=("T3",))
    (told,) = [note for note in make_sheets(folder).notes if "print again" in note]
    again, as_before = told.split(" As before: ")
    for name in ("timetable.pdf", "lesson.pdf", "making-sheets.pdf", "logbook.pdf"):
        assert name in again
    for name in ("cautions.pdf", "risk-form.pdf", "labels.pdf"):
        assert name in as_before
    known = (
        "In the foot the old ones say 'timetable 1', the new ones 'timetable 2, from lesson 2 on'."
    )
    assert again.endswith(known)


def test_old_pages_are_known_by_their_foot(folder: Path) -> None:
    def known() -> str:
        (note,) = [note for note in make_sheets(folder).notes if "rint again" in note]
        return note

    make_sheets(folder)
    record_lost(folder, (kept_plan(folder)["rows"][0]["item"],), why="cracked", by="T1")
    alike = "Old and new ones say 'timetable 1' in the foot: take the old ones away first."
    assert alike in known()
    place_again(folder, since=2)
    place_again(folder, since=2)  # gives no other one
    assert kept_plan(folder)["timetable"]["again"] == 1
    assert "old ones say 'timetable 1', the new ones 'timetable 2, from lesson 2 on'." in known()
    assert "foot" not in known()  # nothing to print again
    place_again(folder, since=2, away=("T3",))
    place_again(folder, since=3)
    assert "'timetable 2, from lesson 2 on', the new ones 'timetable 4, from lesson 3" in known()


def test_labels_are_printed_again_only_where_something_has_none(folder: Path) -> None:
    def told() -> tuple[str, str]:
        (note,) = [note for note in make_sheets(folder).notes if "rint again" in note]
        again, _, as_before = note.partition(" As before: ")
        return again, as_before

    make_sheets(folder)
    first, second, third = [row["item"] for row in kept_plan(folder)["rows"]][:3]
    for item in (first, second):  # of all that is left the label was printed before
        record_lost(folder, (item,), why="cracked", by="T1")
        again, as_before = told()
        assert "labels.pdf" not in again
        assert "labels.pdf" in as_before
    (folder / "sheets" / "labels.pdf").unlink()
    make_sheets(folder)  # on these labels two are missing, and one of them is found again
    record_lost(folder, (second,), why="it was in the cupboard", by="T1", undo=True)
    record_lost(folder, (third,), why="cracked", by="T1")
    assert "labels.pdf (only for what has no label yet)" in told()[0]


def test_what_to_do_is_told_at_length_once_where_several_are_lost_in_a_row(folder: Path) -> None:
    first, second, third = [row["item"] for row in kept_plan(folder)["rows"]][:3]
    told = [
        "\n".join(record_lost(folder, (item,), why="cracked", by="T1").text())
        for item in (first, second)
    ]
    assert "Say from which lesson on to place the rest again" in told[0]
    assert "When the first readings are in" in told[0]
    assert f"When all is told, place the rest again: trials lessons {folder} --since N" in told[1]
    assert "Say from which lesson on" not in told[1]
    assert "When the first readings are in" not in told[1]
    place_again(folder, since=2)
    after = "\n".join(record_lost(folder, (third,), why="cracked", by="T1").text())
    assert "Say from which lesson on to place the rest again" in after
