"""``trials lessons`` remembers which equipment is out of order, until it is back."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.classroom.bench import STEPS, class_study
from tests.remembered import words_of_pages
from trials.errors import PlanError
from trials.record import Store
from trials.service import lessons as service
from trials.service.analyse import told_measured
from trials.service.collect import collect_files
from trials.service.extend import extend_plan
from trials.service.history import history_of_study
from trials.service.lessons import place_again
from trials.service.opening import held_plan
from trials.service.plan import draw_plan
from trials.service.sheets import make_sheets
from trials.study import Equipment, StudyGroup, write_study

TWO_OVENS = (
    Equipment(name="oven", count=2, holds=6, together=True),
    Equipment(name="meter pair", count=4),
)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("equipment") / "soaking"
    folder.mkdir()
    study = class_study(equipment=TWO_OVENS)
    (folder / "study.toml").write_text(write_study(study), encoding="utf-8")
    draw_plan(folder, seed=3)
    return folder


@pytest.fixture
def folder(planned: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(planned, tmp_path / "soaking"))


def _missing(folder: Path) -> list[tuple[str, int, int]]:
    """Return what the timetable keeps, having seen that the record says the same."""
    plan: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    kept = [(m["equipment"], m["pieces"], m["since"]) for m in plan["timetable"]["missing"]]
    with Store.open(folder / "record.sqlite") as store:
        told = [(m.equipment, m.pieces, m.since) for m in store.state().missing]
    assert told == kept
    return kept


def _step(folder: Path, name: str) -> list[dict[str, Any]]:
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return [work for work in plan["timetable"]["works"] if work["step"] == name]


def _most_at_once(works: list[dict[str, Any]]) -> int:
    """Count minute by minute how many works go on."""
    busy: dict[tuple[int, int], int] = {}
    for work in works:
        for minute in range(work["start"], work["start"] + work["minutes"]):
            busy[work["lesson"], minute] = busy.get((work["lesson"], minute), 0) + 1
    return max(busy.values())


def test_a_dead_piece_is_reckoned_with_from_then_on(folder: Path) -> None:
    assert _most_at_once(_step(folder, "measure")) > 2
    first = place_again(folder, since=2, without=("meter pair", "meter pair"))
    assert first.timetable is not None
    assert _missing(folder) == [("meter pair", 2, 2)]
    told = (
        "Kept with the timetable: meter pair, 2 of 4 out of order from lesson 2 on. If one is "
        f"back: trials lessons {folder} --since 2 --back 'meter pair'"
    )
    assert told.replace("'", '"') in [line.replace("'", '"') for line in first.text()]
    again = place_again(folder, since=2)  # nothing is said of it any more
    assert again.timetable is not None
    assert again.timetable.works == first.timetable.works
    assert _most_at_once(_step(folder, "measure")) == 2
    assert any(line.startswith("Kept with the timetable: meter pair, 2") for line in again.text())
    assert again.to_dict()["missing"] == [{"equipment": "meter pair", "pieces": 2, "since": 2}]
    place_again(folder, since=2, back=("Meter Pair",) * 2)
    assert _missing(folder) == []
    assert _most_at_once(_step(folder, "measure")) > 2
    with Store.open(folder / "record.sqlite") as store:
        changes = [one for one in store.history() if one.what == "equipment"]
    assert [(one.before, one.after) for one in changes] == [
        ("0 out of order", "2 out of order"),
        ("2 out of order", "0 out of order"),
    ]
    shown = history_of_study(folder, None).text()
    assert any("equipment out of order, or in order again" in line for line in shown)


def test_said_once_more_it_is_one_more_as_long_as_there_is_one(folder: Path) -> None:
    place_again(folder, since=3, without=("oven",))
    place_again(folder, since=3, without=("oven",))
    assert _missing(folder) == [("oven", 2, 3)]
    told = place_again(folder, since=3, without=("oven",)).text()
    assert "It was known already that every oven is out of order: there is none more to" in str(
        told
    )
    assert _missing(folder) == [("oven", 2, 3)]
    place_again(folder, since=3, back=("oven",))
    assert _missing(folder) == [("oven", 1, 3)]


def test_from_a_later_lesson_on_and_back_in_a_later_one(folder: Path) -> None:
    place_again(folder, since=2, without=("meter pair",) * 3)
    place_again(folder, since=3, back=("meter pair",) * 2)
    assert _missing(folder) == [("meter pair", 3, 2), ("meter pair", 1, 3)]
    lessons = [work["lesson"] for work in _step(folder, "measure")]
    assert _most_at_once([w for w in _step(folder, "measure") if w["lesson"] == 2]) == 1
    assert max(lessons) == 3
    early = place_again(folder, since=1)
    assert _missing(folder) == []
    assert any(
        "that the meter pair is out of order from lesson 2 on. From lesson 1 on it counts" in line
        for line in early.text()
    )
    assert not any("Out of order" in one for one in _departures(folder))


def _departures(folder: Path) -> tuple[str, ...]:
    """Return what the report lists as departures from the plan."""
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        return told_measured(opened, store.state()).departures


def test_the_reader_of_the_report_is_told(folder: Path) -> None:
    make_sheets(folder)
    place_again(folder, since=2, without=("oven", "meter pair"))
    told = _departures(folder)
    assert "Out of order: oven, 1 from lesson 2 on" in told
    assert "Out of order: meter pair, 1 from lesson 2 on" in told


def test_what_is_taken_back_is_told_with_its_dates(folder: Path) -> None:
    """Also that readings were in by then: who did the work, and with what, stays to be read."""
    team = json.loads((folder / "plan.json").read_text(encoding="utf-8"))["groups"][0]["members"][0]
    for more in (2, 1):  # one comes back each time
        away = place_again(folder, since=2, away=(team,), without=("meter pair",) * more)
        place_again(folder, since=2, back=(team, "meter pair"))
    (share, *_) = away.handed.items()
    (person, thing) = (one for one in _departures(folder) if "that was taken back" in one)
    assert f"that team {team} is away from lesson 2 on. By the timetable of then others" in person
    assert f"{share[0]} (team {share[1]})" in person
    assert person.endswith("before readings were in, that was taken back")
    assert "out of order from lesson 2 on: meter pair, 2 in all." in thing
    assert thing.endswith("that was taken back, but for 1")
    readings = folder / "readings.csv"
    readings.write_text(f"code,power (mW)\n{share[0]},2.5\n", encoding="utf-8")
    collect_files(folder, (readings,))
    place_again(folder, since=2, back=("meter pair",))
    thing = _departures(folder)[-1]
    assert thing.endswith("when first readings were in, that was taken back")
    place_again(folder, since=2, away=(team,))  # it was away, after all
    assert not any("is away from" in one for one in _departures(folder))


def test_what_was_fired_with_the_oven_that_is_left_is_over(folder: Path) -> None:
    """The works right before a lesson are open when an oven has just died, not one lesson later."""
    lost = place_again(folder, since=2, without=("oven",))
    fired = [at for at, work in enumerate(lost.schedule.job.works) if work.step == "heat"]
    assert not set(fired) & set(lost.schedule.over)
    assert lost.timetable is not None
    later = place_again(folder, since=3)
    assert set(fired) <= set(later.schedule.over)


def test_the_cure_says_how_the_piece_comes_back(folder: Path) -> None:
    """By hand: in the last 25 minutes of lesson 2 each pair measures 6; four do all 18."""
    dead = ("meter pair",)
    said = place_again(folder, since=2, without=dead, lessons=2)
    assert said.timetable is None
    one_more = "- One more meter pair: done in 2 lessons."
    assert any(line.startswith(f"{one_more} Leave out one '--without") for line in said.text())
    place_again(folder, since=2, without=dead)
    kept = place_again(folder, since=2, lessons=2)
    assert kept.timetable is None
    add = f'{one_more} Add --back "meter pair" then.'
    assert any(line.startswith(add) for line in kept.text())
    assert any(line.startswith("Kept with the timetable: meter pair, 1") for line in kept.text())
    assert _missing(folder) == [("meter pair", 1, 2)]
    done = place_again(folder, since=2, lessons=2, back=dead)
    assert done.timetable is not None
    assert done.timetable.lessons == 2


def test_a_record_that_was_not_written_to_is_mended_by_the_next_call(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Power fails after the timetable is saved: the record gets the rest a lesson later."""
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    team = plan["groups"][0]["members"][2]
    whole = Path(shutil.copytree(folder, folder.parent / "whole"))

    def fail(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(service, "_remember", fail)
        with pytest.raises(KeyboardInterrupt):
            place_again(folder, since=2, away=(team,), without=("meter pair",) * 3)
    with Store.open(folder / "record.sqlite") as store:
        assert (store.state().away, store.state().missing) == ((), ())
    place_again(whole, since=2, away=(team,), without=("meter pair",) * 3)
    for one in (folder, whole):
        place_again(one, since=3)
        assert _missing(one) == [("meter pair", 3, 2)]
    with Store.open(folder / "record.sqlite") as late, Store.open(whole / "record.sqlite") as store:
        assert late.state().away == store.state().away
        (away,) = late.state().away
        assert (away.team, away.lesson, len(away.items)) == (team, 2, 3)


def test_a_name_that_is_both_has_to_be_told_apart(tmp_path: Path) -> None:
    both = (*TWO_OVENS[:1], Equipment(name="rowan", count=4))
    steps = tuple(
        step.model_copy(update={"equipment": ("rowan",)}) if step.stage == "measure" else step
        for step in class_study().steps
    )
    teams = StudyGroup(name="team", members=("rowan", "elm", "oak", "ash", "yew", "fir"), count=6,
                       role="maker")  # fmt: skip
    study = class_study(equipment=both, steps=steps, groups=(teams,))
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    draw_plan(tmp_path, seed=3)
    place_again(tmp_path, since=2, away=("rowan",), without=("rowan",))
    with pytest.raises(PlanError) as problem:
        place_again(tmp_path, since=2, back=("rowan",))
    assert problem.value.code == "lessons.back"
    assert problem.value.allowed == "team=rowan or equipment=rowan"
    found = place_again(tmp_path, since=2, back=("equipment=rowan",))
    assert ([one.team for one in found.away], _missing(tmp_path)) == (["rowan"], [])
    found = place_again(tmp_path, since=2, back=("rowan",))  # now it can be the team alone
    assert found.away == ()


@pytest.mark.parametrize(
    ("back", "what"),
    [
        (("ovn",), "No such team or equipment is missing."),
        (("oven",) * 2, "Not so many are out of order."),
        (("meter pair",), "It isn't out of order."),
        (("team=oven",), "It isn't out of order."),
    ],
)
def test_only_what_is_missing_can_be_back(folder: Path, back: tuple[str, ...], what: str) -> None:
    place_again(folder, since=3, without=("oven",))
    with pytest.raises(PlanError) as problem:
        place_again(folder, since=3, back=back)
    assert (problem.value.what, problem.value.where) == (what, "--back")
    assert problem.value.do
    assert _missing(folder) == [("oven", 1, 3)]


def test_nothing_dead_is_laid_out_or_measured_with(folder: Path) -> None:
    place_again(folder, since=2, without=("meter pair",) * 2)
    make_sheets(folder)
    pages = words_of_pages((folder / "sheets" / "lesson.pdf").read_bytes())
    laid = "Meter pair: 2 (2 are out of order; number those that are left 1 to 2)"
    assert laid in " ".join(" ".join(pages).split())
    sheet = " ".join(words_of_pages((folder / "sheets" / "measuring-sheets.pdf").read_bytes()))
    assert "meter pair 2" in sheet
    assert "meter pair 3" not in sheet
    place_again(folder, since=2, without=("meter pair",))
    make_sheets(folder)
    pages = words_of_pages((folder / "sheets" / "lesson.pdf").read_bytes())
    assert "Meter pair: 1 (3 are out of order)" in " ".join(" ".join(pages).split())
    sheet = " ".join(words_of_pages((folder / "sheets" / "measuring-sheets.pdf").read_bytes()))
    assert "meter pair 1" not in sheet  # there is but one, so it needs no number


def test_what_was_fired_since_it_broke_stays_done_when_the_same_lesson_is_asked_again(
    folder: Path,
) -> None:
    """One oven of two died before lesson 2; the slides were fired in the other, then one broke."""
    place_again(folder, since=2, without=["oven"])
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    fired = {i for w in plan["timetable"]["works"] if w["step"] == "heat" and w["lesson"] == 2
             for i in w["items"]}  # fmt: skip
    assert fired
    with Store.open(folder / "record.sqlite") as store:
        store.lose([min(fired)], "cracked in the oven", "KW")
    place_again(folder, since=2)
    table = json.loads((folder / "plan.json").read_text(encoding="utf-8"))["timetable"]
    over = [table["works"][at] for at in table["over"]]
    assert {i for w in over if w["step"] == "heat" for i in w["items"]} == fired - {min(fired)}


def test_what_was_said_of_the_lessons_of_an_old_plan_is_not_told_of_a_new_one(folder: Path) -> None:
    place_again(folder, since=2, without=["Oven"])
    draw_plan(folder, seed=4)
    with held_plan(folder) as opened, Store.open(opened.here.record) as store:
        state = store.state()
        assert (state.missing, state.away, state.placed) == ((), (), ())
        assert (state.missing_back, state.away_back) == ((), ())
    assert "drawn anew" in [change.what for change in history_of_study(folder).changes]
    draw_plan(folder, seed=5)  # said once
    assert [c.what for c in history_of_study(folder).changes].count("drawn anew") == 1


def test_a_team_that_was_back_later_was_never_away_where_an_earlier_lesson_is_asked_again(
    folder: Path,
) -> None:
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    team = plan["rows"][0]["groups"]["team"]
    place_again(folder, since=2, away=[team])
    place_again(folder, since=3, back=[team])
    with Store.open(folder / "record.sqlite") as store:
        assert [(one.team, one.until) for one in store.state().away] == [(team, 3)]
    place_again(folder, since=2)
    with Store.open(folder / "record.sqlite") as store:
        assert store.state().away == ()


def test_what_a_plan_was_extended_by_has_no_times_and_is_nowhere_in_the_way(folder: Path) -> None:
    make_sheets(folder)
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    codes = [row["item"] for row in plan["rows"]]
    table = folder / "readings.csv"
    rows = "".join(f"{code},{20 + number % 5}.{number}\n" for number, code in enumerate(codes))
    table.write_text("item,power (mW)\n" + rows, encoding="utf-8")
    collect_files(folder, (table,))
    extend_plan(folder, items=6)
    found = place_again(folder, since=3)
    added = [row.item for row in found.opened.plan.rows[len(codes) :]]
    assert len(added) == 6
    assert found.timetable is not None
    assert not set(added) & {item for work in found.timetable.works for item in work.items}
    assert f"no times here: {', '.join(added[:-1])} and {added[-1]}." in "\n".join(found.text())


def test_of_what_each_team_has_one_less_is_shared_by_all(tmp_path: Path) -> None:
    """Six teams with a rod each: two are lost, so four are left for all, and then one is back."""
    rod = Equipment(name="rod", per="team")
    first = STEPS[0].model_copy(update={"equipment": ("rod",)})
    study = class_study(steps=(first, *STEPS[1:]), equipment=(*TWO_OVENS, rod))
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    draw_plan(tmp_path, seed=3)
    told = place_again(tmp_path, since=1, without=("rod", "rod"))
    assert _missing(tmp_path) == [("rod", 2, 1)]
    lines = told.text()
    assert any(
        line.startswith("Kept with the timetable: rod, 2 of 6 out of order") for line in lines
    )
    shared = "Each team had its own rod. What is left, {} in all, is shared by the class."
    assert shared.format(4) in lines
    assert _most_at_once(_step(tmp_path, "coat")) <= 4
    assert shared.format(5) in place_again(tmp_path, since=1, back=("rod",)).text()
    whole = place_again(tmp_path, since=1, back=("rod",))
    assert not any("shared by the class" in line for line in whole.text())
    assert _most_at_once(_step(tmp_path, "coat")) == 6  # of each team one
    with pytest.raises(PlanError, match="There are not so many") as caught:
        place_again(tmp_path, since=1, without=("rod",) * 7)
    assert caught.value.allowed.endswith("rod (6)")
