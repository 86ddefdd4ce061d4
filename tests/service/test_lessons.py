"""``trials plan`` in a class with lessons, and ``trials lessons`` when the day goes otherwise."""

from __future__ import annotations

import csv
import io
import json
import math
import shutil
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.classroom.bench import STEPS, class_study, kept_plan
from tests.command_line import CommandLine
from tests.remembered import words_of_pages
from trials.design.judging import cost_of
from trials.errors import PlanError, RecordError
from trials.record import Store
from trials.service.absent import record_absent
from trials.service.check import check_study
from trials.service.collect import collect_files
from trials.service.lessons import Replaced, place_again
from trials.service.lost import record_lost
from trials.service.made import record_made
from trials.service.new import new
from trials.service.opening import held_plan
from trials.service.plan import draw_plan
from trials.service.sheets import make_sheets
from trials.study import Equipment, Lessons, write_study
from trials.words.class_times import STALE
from trials.words.lessons import CHEAPEST_FIRST, FOLLOWS, NO_WAY
from trials.words.lessons_left import EACH_TRIED, SPARES
from trials.words.numbers import listing


def test_the_timetable_is_kept_with_the_plan(folder: Path) -> None:
    told = kept_plan(folder)["timetable"]
    assert (told["lessons"], told["minutes"], told["proved"]) == (2, 50, True)
    assert {work["step"] for work in told["works"] if work["between"]} == {"heat"}


def test_a_lost_item_is_left_out_and_the_plan_stays_the_plan(folder: Path) -> None:
    before = kept_plan(folder)
    item = before["rows"][0]["item"]
    record_lost(folder, (item,), why="cracked", by="T1")
    found = place_again(folder, since=2)
    after = kept_plan(folder)
    assert found.gone == (item,)
    assert after["digest"] == before["digest"]
    left = {one for work in after["timetable"]["works"] for one in work["items"]}
    assert left == {row["item"] for row in before["rows"]} - {item}
    assert (
        json.loads((folder / "history" / "timetable-1.json").read_text())["timetable"]
        == (before["timetable"])
    )
    assert "without 1 that are lost or not made" in found.text()[0]


def test_the_sheets_show_the_timetable_of_the_rest(folder: Path) -> None:
    rows = kept_plan(folder)["rows"]
    mine = [row["item"] for row in rows if row["groups"]["team"] == rows[0]["groups"]["team"]]
    make_sheets(folder)
    record_lost(folder, tuple(mine), why="the team went home", by="T1")
    place_again(folder, since=2)
    make_sheets(folder)
    for name, title in (
        ("timetable.pdf", "Lesson 1"),
        ("lesson.pdf", "Lesson 1"),
        ("making-sheets.pdf", "Making sheet: "),
    ):
        text = " ".join(words_of_pages((folder / "sheets" / name).read_bytes()))
        assert title in text
        said = [f"Begun, then lost: {listing(codes)}." for codes in (mine, sorted(mine))]
        # they were coated in lesson 1; no other team's making sheet is concerned
        assert any(one in text for one in said) == (name != "making-sheets.pdf")
        assert "No longer made" not in text
        assert STALE not in text
    shown = " ".join(words_of_pages((folder / "sheets" / "timetable.pdf").read_bytes()))
    for work in kept_plan(folder)["timetable"]["works"]:
        assert all(item in shown for item in work["items"])


def test_what_is_gone_has_no_label_and_no_line_to_measure(folder: Path) -> None:
    rows = kept_plan(folder)["rows"]
    team = rows[0]["groups"]["team"]
    mine = [row["item"] for row in rows if row["groups"]["team"] == team]
    broke = next(row["item"] for row in rows if row["groups"]["team"] != team)
    first = make_sheets(folder)
    assert not any("timetable.pdf still has" in note for note in first.notes)
    record_lost(folder, (broke,), why="cracked", by="T1")
    record_absent(folder, team, session=None, why="ill", by="K1")
    said = {"why": "ill", "by": "K1"}
    record_made(folder, (mine[0],), factors=(), groups=(f"team={_another(rows, team)}",), **said)
    printed = make_sheets(folder)
    gone = [broke, *mine[1:]]
    order = [row["item"] for row in rows if row["item"] in gone]
    assert any(f"timetable.pdf still has {listing(order)}." in note for note in printed.notes)
    for name, title in (("labels.pdf", "No label for"), ("measuring-sheets.pdf", "Left out of")):
        text = " ".join(words_of_pages((folder / "sheets" / name).read_bytes()))
        assert title in text
        assert f"Lost: {broke}. Not made, as the team was absent: " in text
        assert "cracked" not in text
        assert all(text.count(item) == (item in gone) for item in gone)  # only in that sentence
        assert all(row["item"] in text for row in rows if row["item"] not in gone)
    made = " ".join(words_of_pages((folder / "sheets" / "making-sheets.pdf").read_bytes()))
    assert f"No longer made: {broke} (lost)." in made
    place_again(folder, since=1)
    assert not any("timetable.pdf still has" in note for note in make_sheets(folder).notes)


def test_what_is_got_out_is_for_the_lessons_that_come_and_no_reading_is_touched(
    folder: Path,
) -> None:
    """One cell is read in lesson 1, one is lost: of 18 there are 16 left, and coating is over."""
    path = folder / "study.toml"
    text = path.read_text(encoding="utf-8")
    for step, amount in (("coat", "2"), ("close", "3")):
        name = f'name = "{step}"'
        assert text.count(name) == 1
        used = f'materials = [{{ name = "thing to {step}", amount = {amount} }}]'
        text = text.replace(name, f"{name}\n{used}")
    path.write_text(text, encoding="utf-8")
    make_sheets(folder)
    first, second = (row["item"] for row in kept_plan(folder)["rows"][:2])
    readings = folder / "readings.csv"
    readings.write_text(f"code,power (mW)\n{first},2.5\n", encoding="utf-8")
    collect_files(folder, (readings,))
    with Store.open(folder / "record.sqlite") as store:
        before = store.rows()
    assert [row.item for row in before] == [first]
    record_lost(folder, (second,), why="cracked", by="T1")
    make_sheets(folder)
    told = _got_out(folder)
    assert told["thing to coat"]["the class"] == "32"
    assert told["thing to close"]["the class"] == "48"
    place_again(folder, since=2)
    make_sheets(folder)
    told = _got_out(folder)
    assert "thing to coat" not in told
    assert told["thing to close"]["the class"] == "48"
    words = " ".join(words_of_pages((folder / "sheets" / "materials.pdf").read_bytes()))
    assert "From now on, for the 16 cells still to be finished" in words
    assert "1 is lost, 1 is measured." in words
    with Store.open(folder / "record.sqlite") as store:
        assert store.rows() == before


def _got_out(folder: Path) -> dict[str, dict[str, str]]:
    text = (folder / "sheets" / "materials.csv").read_text(encoding="utf-8-sig")
    return {row["thing"]: row for row in csv.DictReader(io.StringIO(text))}


def _another(rows: list[dict[str, Any]], team: str) -> str:
    return next(str(row["groups"]["team"]) for row in rows if row["groups"]["team"] != team)


def test_pages_of_a_timetable_that_no_longer_holds_go(folder: Path) -> None:
    make_sheets(folder)
    assert (folder / "sheets" / "lesson.pdf").exists()
    path = folder / "study.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count("minutes = 8") == 1
    path.write_text(text.replace("minutes = 8", "minutes = 9"), encoding="utf-8")
    make_sheets(folder)
    assert not (folder / "sheets" / "lesson.pdf").exists()
    shown = " ".join(words_of_pages((folder / "sheets" / "timetable.pdf").read_bytes()))
    assert STALE in shown
    assert "draw" not in STALE
    place_again(folder, since=1)  # what the page says, instead of a new draw
    make_sheets(folder)
    assert (folder / "sheets" / "lesson.pdf").exists()


def test_fewer_meters_take_more_lessons(folder: Path) -> None:
    found = place_again(folder, since=2, without=("meter pair",) * 3)
    assert "It takes 2 lessons more than before." in found.text()
    assert kept_plan(folder)["timetable"]["lessons"] == 4


def test_what_cannot_be_done_changes_nothing(folder: Path) -> None:
    before = kept_plan(folder)
    found = place_again(folder, since=2, without=("oven",))
    assert found.to_dict()["timetable"] is None
    text = "\n".join(found.text())
    assert "this can't be done, however many lessons there are" in text
    assert "'heat' needs the oven, and there is none left. 18 cells wait for it." in text
    codes = [row["item"] for row in before["rows"]]
    told = next(line for line in found.text() if "trials lost" in line)
    assert all(code in told.split() for code in codes)
    assert "more lessons" not in text
    assert kept_plan(folder) == before
    first, asked, *_ = place_again(folder, since=2, without=("oven",), lessons=4).text()
    assert first == (
        "If 'heat' was done before the oven went out of order, leave out --without oven."
    )
    assert "in 4 lessons, and more of them are no help" in asked
    fresh = place_again(folder, since=2, without=("oven",), not_yet=("heat",)).text()
    assert not any(" was done before " in line for line in fresh)


def test_what_cannot_be_done_leaves_with_an_error(folder: Path) -> None:
    trials = CommandLine(folder.parent)
    less = ("--without", "oven")
    told = trials.run("lessons", folder.name, "--since", "2", *less, code=1)
    assert "there is none left" in told
    assert NO_WAY in told
    document = trials.json("lessons", folder.name, "--since", "2", *less, code=1)
    problem = document["error"]
    assert (problem["code"], problem["where"]) == ("lessons.no_way", "--since 2")
    assert "'heat' needs the oven, and there is none left." in problem["found"]
    assert problem["do"].startswith(f"{EACH_TRIED} {CHEAPEST_FIRST} - Wait: what is made by then")
    assert " - One more oven: done in 2 lessons." in problem["do"]
    assert document["stuck"][0]["equipment"] == "oven"
    few = trials.json("lessons", folder.name, "--since", "2", *("--without", "meter pair") * 3,
                      "--count", "2", code=1)["error"]  # fmt: skip
    assert "in 2 lessons of 50 minutes" in few["found"]
    assert "- 2 more lessons: done in 4 lessons. Say --count 4." in few["do"]
    done = trials.json("lessons", folder.name, "--since", "2")
    assert "error" not in done


def test_what_keeps_can_wait_until_the_oven_is_mended(folder: Path) -> None:
    found = place_again(folder, since=2, without=("oven",))
    cures = [cure["kind"] for cure in found.to_dict()["cures"]]
    assert cures == ["mended", "equipment"]  # the cheapest first
    (told,) = [line for line in found.text() if line.startswith("- Wait: ")]
    assert "leave out one '--without oven' and add --not-yet heat." in told
    again = place_again(folder, since=2, not_yet=("heat",))  # as it is told
    assert _lessons(again) == found.schedule.cures[0].lessons
    late = "'heat' is placed on the last days before lesson 2 on which it can be done"
    assert sum(line.startswith(late) for line in again.text()) == 1
    assert not any("last days" in line for line in place_again(folder, since=3).text())
    heat = [at for at, work in enumerate(again.schedule.job.works) if work.step == "heat"]
    assert not {*heat} & {*again.schedule.over}


def test_what_keeps_for_some_hours_only_is_not_told_to_wait(tmp_path: Path) -> None:
    steps = tuple(
        step.model_copy(update={"keeps": 2000}) if step.name == "coat" else step for step in STEPS
    )
    (tmp_path / "study.toml").write_text(write_study(class_study(steps=steps)), encoding="utf-8")
    draw_plan(tmp_path, seed=3)
    found = place_again(tmp_path, since=2, without=("oven",))
    assert [cure.kind for cure in found.schedule.cures] == ["equipment"]


def test_so_few_lessons_are_counted_and_what_is_tight_is_named(folder: Path) -> None:
    found = place_again(folder, since=2, without=("meter pair",) * 3, lessons=3)
    text = "\n".join(found.text())
    assert "can't be done in 3 lessons of 50 minutes" in text or "in 3 lessons" in text
    # 18 cells of 4 minutes at one pair of meters; lessons 2 and 3 leave 40 minutes each
    assert "meter pair: wanted for 72 minutes, there are 80." in text


def test_the_tools_that_stay_may_lie_dead_when_their_step_is_over(folder: Path) -> None:
    assert place_again(folder, since=3, without=("oven",)).timetable is not None


def test_what_does_not_keep_names_the_step_and_what_is_short(tmp_path: Path) -> None:
    keeps = {"heat": 600, "rinse": 30}
    steps = tuple(
        step.model_copy(update={"keeps": keeps.get(step.name, step.keeps)}) for step in STEPS
    )
    study = class_study(steps=steps)
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    draw_plan(tmp_path, seed=3)
    found = place_again(tmp_path, since=2, without=("meter pair",) * 3)
    assert found.timetable is None
    # by hand: fired cells keep for 10 hours and the next lesson is a day later, so all 18 must be
    # measured in lesson 2: 18 x 4 minutes at one pair of meters, and 50 - 5 - 5 minutes, of which
    # 15 go by before the first one is closed; 25 minutes are enough for 6 times 4
    text = " ".join(found.text())
    assert "In lesson 2 the meter pair: wanted for 72 minutes, and 25 are left between" in text
    assert "what is through 'heat' keeps for 10\xa0h at the most." in text
    assert "6 of these 18 cells can be done, in 2 lessons in all; no timetable has room" in text
    told = next(line for line in found.text() if "trials lost" in line)
    out = found.to_dict()["can_be_done"]["left_out"]
    assert [word for word in told.split() if word in out] == out
    assert not (tmp_path / "record.sqlite").exists() or not _lost(tmp_path)
    # of the three kinds and two soaks about equally many are left, and it works as it is told
    rows = {row["item"]: row for row in kept_plan(tmp_path)["rows"]}
    kept = [row for item, row in rows.items() if item not in out]
    assert Counter(row["factors"]["kind"] for row in kept) == {"a": 2, "b": 2, "c": 2}
    assert Counter(row["factors"]["soak"] for row in kept) == {"5": 3, "10": 3}
    record_lost(tmp_path, tuple(out), why="no time", by="T1")
    again = place_again(tmp_path, since=2, without=("meter pair",) * 3)
    assert again.timetable is not None
    assert again.timetable.lessons == 2


def _lost(folder: Path) -> list[str]:
    with Store.open(folder / "record.sqlite") as store:
        return [loss.item for loss in store.losses()]


@pytest.fixture(scope="module")
def soaked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The ready example of a class, planned: what lies in its dye can't wait for a third lesson."""
    folder = tmp_path_factory.mktemp("soaked") / "cells"
    new(folder, example="lessons")
    draw_plan(folder, seed=1)
    return folder


def test_each_thing_that_is_said_to_help_is_enough(soaked: Path, tmp_path: Path) -> None:
    """24 cells at two of four pairs of meters: by hand 34 minutes are left of 40 after closing.

    Two pairs, 4 minutes each: 8 cells a pair. Each cure is then carried out as it is told.
    """
    less = ("meter pair", "meter pair")
    found = place_again(_copy(soaked, tmp_path / "told"), since=2, without=less, lessons=3)
    document = found.to_dict()
    assert len(document["can_be_done"]["items"]) == document["can_be_done"]["at_most"] == 16
    assert "in 3 lessons, and more of them are no help" in found.text()[0]
    assert "'Lay the slides in their dye' keeps for 24\xa0h at the most" in found.text()[1]
    text = "\n".join(found.text())
    cures = {cure["kind"]: cure for cure in document["cures"]}
    assert [*cures] == ["waiting", "minutes", "equipment", "shorter"]  # the cheapest first
    prices = [(cure["price"]["kind"], cure["price"]["amount"]) for cure in cures.values()]
    extra = cures["minutes"]["amount"] * (cures["minutes"]["lessons"] - 1)  # lesson 1 is over
    assert prices == [("agreement", 0), ("minutes", extra), ("equipment", 1), ("readings", 2)]
    lines = found.text()
    told = lines[lines.index(CHEAPEST_FIRST) + 1 :]
    assert told[0].endswith("Add --not-yet soak. Cheapest: only an agreement.")

    assert "Leave out one '--without \"meter pair\"' then." in text
    back = place_again(_copy(soaked, tmp_path / "back"), since=2, without=less[:1])
    assert _lessons(back) == cures["equipment"]["lessons"]

    longer = _copy(soaked, tmp_path / "longer")
    minutes = 50 + cures["minutes"]["amount"]
    assert f"Write minutes = {minutes} under [lessons]" in text
    _write(longer, "minutes = 50", f"minutes = {minutes}")
    assert _lessons(place_again(longer, since=2, without=less)) == cures["minutes"]["lessons"]

    assert f"Write minutes = {cures['shorter']['minutes']} under that step" in text

    assert "Add --not-yet soak." in text
    later = _copy(soaked, tmp_path / "later")
    assert (
        _lessons(place_again(later, since=2, without=less, not_yet=("soak",)))
        == cures["waiting"]["lessons"]
    )


def _copy(folder: Path, to: Path) -> Path:
    return Path(shutil.copytree(folder, to))


def _lessons(found: Replaced) -> int:
    assert found.timetable is not None
    return found.timetable.lessons


def _write(folder: Path, old: str, new: str) -> None:
    path = folder / "study.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_fewer_lessons_than_are_over_is_refused(folder: Path) -> None:
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=2, lessons=1)
    assert problem.value.code == "lessons.count"


@pytest.mark.parametrize(
    ("since", "without", "code"),
    [(4, (), "lessons.since"), (1, ("ovn",), "lessons.equipment"),
     (1, ("oven", "oven"), "lessons.equipment")],
)  # fmt: skip
def test_what_is_not_there_is_refused(
    folder: Path, since: int, without: tuple[str, ...], code: str
) -> None:
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=since, without=without)
    assert problem.value.code == code
    if "ovn" in without:
        assert problem.value.do == "Did you mean 'oven'?"


def test_only_a_step_right_before_the_lesson_may_be_still_to_do(folder: Path) -> None:
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=2, not_yet=("coat",))
    assert (problem.value.code, problem.value.allowed) == ("lessons.not_yet", "heat")
    found = place_again(folder, since=2, not_yet=("Heat",))
    heated = [at for at, work in enumerate(found.schedule.job.works) if work.step == "heat"]
    assert heated
    assert not set(heated) & set(found.schedule.over)


def test_a_plan_without_lessons_has_no_timetable(tmp_path: Path) -> None:
    study = class_study(lessons=None)
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    assert any("[lessons]" in line for line in draw_plan(tmp_path, seed=3).text())
    with pytest.raises(PlanError) as problem:
        place_again(tmp_path, since=1)
    assert problem.value.code == "lessons.none"


def test_too_little_time_is_told_with_what_helps(tmp_path: Path) -> None:
    study = class_study(lessons=Lessons(minutes=50, count=1))
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    lines = draw_plan(tmp_path, seed=3).text()
    assert "Time: this can't be done in 1 lesson of 50 minutes." in lines
    assert "  1 more lesson: then it can be done in 2 lessons." in lines
    assert kept_plan(tmp_path)["timetable"] is None
    checked = check_study(tmp_path).text()
    assert "Time: this can't be done in 1 lesson of 50 minutes." in checked
    assert "  1 more lesson: then it can be done in 2 lessons." in checked
    printed = make_sheets(tmp_path)
    first = printed.text()[0]
    assert first.startswith("Note: This plan has no timetable: no way was found")
    assert f"trials check {tmp_path}" in first
    assert printed.to_dict()["notes"][0] == first.removeprefix("Note: ")
    assert not (tmp_path / "sheets" / "lesson.pdf").exists()


def test_where_no_single_thing_is_too_little_that_is_the_reason(tmp_path: Path) -> None:
    """18 cells at 2 pairs: 36 minutes of 80, but all in the last 25 of lesson 2: 12 by hand."""
    few = (Equipment(name="oven", holds=6, together=True), Equipment(name="meter pair", count=2))
    study = class_study(lessons=Lessons(minutes=50, count=2), equipment=few)
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    lines = draw_plan(tmp_path, seed=3).text()
    at = next(n for n, line in enumerate(lines) if line.endswith("in 2 lessons of 50 minutes."))
    assert lines[at + 1 : at + 2] == [f"  {FOLLOWS}"]
    assert "wanted for " in lines[at + 2]
    assert any("then it can be done in" in line for line in lines[at + 3 :])


def test_sheets_of_a_plan_that_fits_need_no_reminder(folder: Path) -> None:
    assert not any("no timetable" in note for note in make_sheets(folder).notes)


def test_a_loss_taken_back_is_placed_again_as_far_as_the_others_are(folder: Path) -> None:
    before = kept_plan(folder)["timetable"]
    item = kept_plan(folder)["rows"][0]["item"]
    record_lost(folder, (item,), why="cracked", by="T1")
    place_again(folder, since=2)
    make_sheets(folder)
    told = record_lost(folder, (item,), why="the wrong code", by="T1", undo=True)
    assert (told.all, told.undone) == ((), True)
    assert any("trials lessons" in line and "--since N" in line for line in told.text())
    assert any(line.startswith("New labels and sheets") for line in told.text())
    found = place_again(folder, since=2)
    assert found.gone == ()
    place_again(folder, since=2)  # the same once more: nothing new to tell
    with Store.open(folder / "record.sqlite") as store:
        state = store.state()
    (placed,) = state.placed
    assert (placed.lesson, placed.left_out, placed.measured, placed.times) == (2, (), False, 2)
    (back,) = state.taken_back
    assert (back.loss.item, back.loss.why, back.why) == (item, "cracked", "the wrong code")
    after = kept_plan(folder)["timetable"]
    steps = {work["step"] for work in before["works"]}
    assert {work["step"] for work in after["works"] if item in work["items"]} == steps
    (coated,) = [w for w in after["works"] if w["step"] == "coat" and item in w["items"]]
    assert coated["lesson"] == 1  # it was coated, and isn't coated once more
    assert coated in before["works"]  # when it was is known
    assert after["past"] == []
    assert after["lessons"] == before["lessons"]
    make_sheets(folder)
    text = " ".join(words_of_pages((folder / "sheets" / "labels.pdf").read_bytes()))
    assert item in text
    assert "No label for" not in text
    readings = folder / "readings.csv"
    readings.write_text(f"code,power (mW)\n{item},2.5\n", encoding="utf-8")
    collect_files(folder, (readings,))
    with Store.open(folder / "record.sqlite") as store:
        assert store.questions() == ()
        assert [row.item for row in store.rows()] == [item]


def test_what_counts_as_done_right_before_a_lesson_is_said(folder: Path) -> None:
    told = place_again(folder, since=2)
    assert told.to_dict()["counted_as_done"] == ["heat"]
    line = "'heat' counts as done before lesson 2. If it isn't done yet, place again and add "
    assert f"{line}--not-yet heat" in told.text()
    for since, not_yet in ((1, ()), (2, ("heat",)), (3, ())):
        quiet = place_again(folder, since=since, not_yet=not_yet)
        assert quiet.counted == ()
        assert not any("done before lesson" in line for line in quiet.text())


def test_where_it_cannot_be_done_that_is_said_too(soaked: Path, tmp_path: Path) -> None:
    found = place_again(_copy(soaked, tmp_path / "less"), since=2, without=("meter pair",) * 2)
    assert found.timetable is None
    assert any("--not-yet heat or --not-yet soak" in line for line in found.text())


def test_what_is_lost_says_how_to_place_the_rest(folder: Path) -> None:
    item = kept_plan(folder)["rows"][0]["item"]
    told = "\n".join(record_lost(folder, (item,), why="cracked", by="T1").text())
    assert "--since N. Work right before lesson N counts as done" in told
    assert "add --not-yet heat" in told
    with pytest.raises(RecordError) as refused:
        record_lost(folder, (item,), why="", by="T1", undo=True)
    assert refused.value.what == "Taking back a loss needs the item and the reason."


def test_a_team_that_is_away_already_is_said_to_be(folder: Path) -> None:
    place_again(folder, since=2, away=("T3",))
    told = place_again(folder, since=2, away=("T3",)).text()
    assert "It was known already that T3 is away from lesson 2 on." in told


def test_what_would_spare_an_added_lesson_is_tried_and_told(folder: Path, tmp_path: Path) -> None:
    """18 cells of 4 minutes at three of four pairs of meters take a third lesson.

    In the order drawn, the first cells are those of two teams, which also read for each other: one
    more pair of hands in every team doesn't save the lesson.
    """
    found = place_again(folder, since=2, without=("meter pair",))
    assert _lessons(found) == 3
    cures = {cure["kind"]: cure for cure in found.to_dict()["cures"]}
    assert [*cures] == ["minutes", "equipment"]  # the cheapest first
    assert all(cure["lessons"] == 2 for cure in cures.values())
    text = "\n".join(found.text())
    assert SPARES in text
    assert text.index("minutes longer") < text.index("Add --back ")
    more = Path(shutil.copytree(folder, tmp_path / "more"))
    assert _lessons(place_again(more, since=2, back=("meter pair",))) == 2  # as it is told
    longer = Path(shutil.copytree(folder, tmp_path / "longer"))
    minutes = 50 + cures["minutes"]["amount"]
    _write(longer, "minutes = 50", f"minutes = {minutes}")
    assert _lessons(place_again(longer, since=2)) == 2
    assert place_again(folder, since=2, lessons=3).schedule.cures == ()  # so many are to be had


def test_a_lesson_that_nobody_gave_a_date_has_none(folder: Path) -> None:
    """Two starts stand in study.toml, and the rest takes three lessons."""
    starts = 'starts = ["2030-05-14 10:15", "2030-05-16 10:15"]\ncount = 2'
    _write(folder, "minutes = 50", f"minutes = 50\n{starts}")
    dated = place_again(folder, since=2, not_yet=("heat",))
    assert not any("no date" in line for line in dated.text())
    assert any("from Wednesday 15 May 2030 on, as" in line for line in dated.text())
    found = place_again(folder, since=2, without=("meter pair",), not_yet=("heat",))
    assert _lessons(found) == 3
    (told,) = [line for line in found.text() if "no date" in line]
    assert told.startswith("Lesson 3 has no date yet, so its times are minutes of the lesson.")
    assert "and count = 3" in told
    make_sheets(folder)
    page = " ".join(words_of_pages((folder / "sheets" / "timetable.pdf").read_bytes()))
    assert "Lesson 2, Thursday 16 May 2030, 10:15" in page
    assert "Lesson 3 (no date given yet)" in page
    assert "Friday" not in page
    more = starts.replace("]", ', "2030-05-21 10:15"]').replace("count = 2", "count = 3")
    _write(folder, starts, more)
    assert not any("no date" in line for line in place_again(folder, since=3).text())
    make_sheets(folder)
    page = " ".join(words_of_pages((folder / "sheets" / "timetable.pdf").read_bytes()))
    assert "Lesson 3, Tuesday 21 May 2030, 10:15" in page


def test_what_is_left_out_costs_less_than_most_choices(soaked: Path, tmp_path: Path) -> None:
    """The yardstick is what as many cells cost that are drawn by chance, be there time or not."""
    folder = _copy(soaked, tmp_path / "chosen")
    found = place_again(folder, since=2, without=("meter pair",) * 2, lessons=2)
    assert found.schedule.fitting is not None
    with held_plan(folder) as opened:
        study, plan = opened.study, opened.plan
    items = {row.item for row in plan.rows}
    number = len(found.schedule.fitting.left_out)

    def worst(left_out: Sequence[str]) -> float:
        after = [loss.after for loss in cost_of(study, plan, items, items - {*left_out}, plan)]
        return max(math.inf if one is None else one for one in after)

    luck = Random(7)  # noqa: S311  # a yardstick, no secret
    by_chance = [worst(luck.sample(sorted(items), number)) for _ in range(100)]
    assert worst(found.schedule.fitting.left_out) < min(by_chance)


def test_a_plan_without_a_timetable_gets_one_that_is_found_later(folder: Path) -> None:
    """As where the same plan is drawn again by a program that searches further."""
    plan = kept_plan(folder)
    (folder / "plan.json").write_text(json.dumps(plan | {"timetable": None}), encoding="utf-8")
    drawn = draw_plan(folder)
    assert drawn.same
    assert kept_plan(folder)["timetable"] == plan["timetable"]
    assert kept_plan(folder)["rows"] == plan["rows"]
