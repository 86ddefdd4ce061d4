"""A study takes the spread from a practice run: what it gets, and every way of getting nothing."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.journeys.bench import Row, fill_in
from tests.practice_run import DAY, Values, measured_run, reads
from trials.errors import FileError, StudyError
from trials.record import Store
from trials.service.analyse import analyse_folder
from trials.service.check import check_study
from trials.service.collect import collect_files
from trials.service.export import export_study
from trials.service.opening import open_planned, open_study
from trials.service.plan import draw_plan
from trials.service.power import power_of_study
from trials.service.restore import restore_study
from trials.service.sheets import make_sheets
from trials.study import read_study
from trials.study.values import TakenSpread
from trials.words.numbers import NBSP
from trials.workspace import lock_plan

STUDY = """
title = "Dyes"
question = "Does dye matter?"
item_name = "cell"
spread_from = "../first"

[factors.dye]
levels = ["plum", "beetroot"]
shared = false

[groups.team]
count = 2
role = "maker"

[responses.power]
unit = "mW"
reducer = "mean"
readings = 3
compare = "ratio"
worthwhile = 1.3
expected = 2

[limits]
items = 16
copies = 6
"""
VALUES: Values = {"M1": [1.0, 1.3], "M2": [2.5, 2.0]}


def folder(tmp_path: Path, text: str = STUDY) -> Path:
    real = tmp_path / "real"
    real.mkdir(exist_ok=True)
    (real / "study.toml").write_text(text, encoding="utf-8")
    return real


def taken(real: Path) -> TakenSpread:
    spread = open_study(real)[1].response("power").spread
    assert isinstance(spread, TakenSpread)
    return spread


def test_the_spread_comes_on_the_scale_and_by_the_names_of_the_study(tmp_path: Path) -> None:
    there = measured_run(tmp_path / "first", VALUES)
    assert there.compare == "difference"
    spread = taken(folder(tmp_path))
    # pairs of logarithms: differences ln 1.3 and ln 1.25, so the variance within is about 0.0297
    assert 0.15 < spread.items < 0.19
    assert spread.readings is not None
    assert 0.01 < spread.readings < 0.1
    assert spread.source == "practice run"
    assert (spread.made, spread.failed) == (4, 0)
    assert set(spread.groups) == {"team"}  # the makers there are called 'maker'


def test_numbers_are_turned_into_the_unit_of_the_study(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    text = STUDY.replace('compare = "ratio"\nworthwhile = 1.3\nexpected = 2\n', "")
    milli = taken(folder(tmp_path, text))
    micro = taken(folder(tmp_path, text.replace('unit = "mW"', 'unit = "uW"')))
    assert micro.items == pytest.approx(1000 * milli.items)
    assert micro.readings == pytest.approx(1000 * (milli.readings or 0.0))
    assert micro.groups["team"] == pytest.approx(1000 * milli.groups["team"])


def test_a_spread_of_its_own_stays_and_a_shipped_guess_gives_way(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    own = STUDY + '[responses.power.spread]\nitems = 0.4\nsource = "own guess"\n'
    study = open_study(folder(tmp_path, own))[1]
    assert (
        study.response("power").spread
        == read_study(tmp_path / "real/study.toml").response("power").spread
    )
    told = "\n".join(check_study(tmp_path / "real").text())
    assert "Nothing is taken from the practice run" in told
    guess = taken(folder(tmp_path, own.replace("own guess", "shipped guess")))
    assert guess.items < 0.2
    assert guess.written is not None
    assert "takes the place of the guess" in "\n".join(check_study(tmp_path / "real").text())


def test_another_lab_reads_the_same_from_a_package(tmp_path: Path) -> None:
    """The folder of the practice run is not in a package: what was read of it is."""
    measured_run(tmp_path / "first", {"M1": [1.0, 1.3], "M2": [2.5, None]})
    guess = '[responses.power.spread]\nitems = 0.4\nsource = "shipped guess"\n'
    real = folder(tmp_path, STUDY + guess)
    draw_plan(real, seed=1)
    here = taken(real)
    assert (here.made, here.failed) == (4, 1)
    package = export_study(real).package
    away = tmp_path / "another" / "lab"
    restore_study(package, away)
    assert taken(away) == here
    assert check_study(away).to_dict() == check_study(real).to_dict()
    kept = json.loads((away / "practice-run.json").read_text(encoding="utf-8"))
    with Store.open(tmp_path / "first" / "record.sqlite") as store:
        assert kept["record_digest"] == store.digest()
    assert kept["plan_digest"] == open_planned(tmp_path / "first").plan.digest()
    again = export_study(away).package / "study" / "practice-run.json"
    assert again.read_bytes() == (package / "study" / "practice-run.json").read_bytes()


def test_what_is_kept_of_a_practice_run_is_rechecked(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    real = folder(tmp_path)
    draw_plan(real, seed=1)
    restore_study(export_study(real).package, tmp_path / "another" / "lab")
    path = tmp_path / "another" / "lab" / "practice-run.json"
    whole = path.read_text(encoding="utf-8")
    for wrong in (whole.replace('"failed": 0', '"failed": 3'), "{}", "no JSON"):
        path.write_text(wrong, encoding="utf-8")
        for verb in (open_study, export_study):
            with pytest.raises(FileError) as problem:
                verb(path.parent)
            assert problem.value.code == "practice.changed"
        open_planned(path.parent)  # the plan goes on without
    path.write_text(whole, encoding="utf-8")
    study = path.parent / "study.toml"
    text = study.read_text(encoding="utf-8").replace('unit = "mW"', 'unit = "uW"')
    study.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError) as unlike:  # it is of another unit, and the folder is not here
        open_study(path.parent)
    assert unlike.value.code == "study.spread_from_missing"


VOLTAGE = '[responses.voltage]\nunit = "V"\nreducer = "mean"\nworthwhile = 1\nreadings = 3\n'
OWN = '[responses.voltage.spread]\nitems = 0.4\nsource = "own guess"\n'


def two_measured(first: Path) -> None:
    """Make a practice run that measures a power and a voltage."""
    measured_run(first, None, planned=False)
    study = first / "study.toml"
    study.write_text(study.read_text(encoding="utf-8") + "\n" + VOLTAGE, encoding="utf-8")
    draw_plan(first, seed=3)
    make_sheets(first, today=DAY)
    power = reads(first, VALUES)

    def read(row: Row, reading: int, heading: str) -> float | str | None:
        if heading.startswith("voltage"):
            return int(row["run"]) / 8 + reading / 100
        return power(row, reading, heading)

    fill_in(first, first.with_suffix(".xlsx"), read)
    collect_files(first, (first.with_suffix(".xlsx"),))


def spreads_of(real: Path) -> list[str | None]:
    responses = open_study(real)[1].responses
    return [None if one.spread is None else one.spread.source for one in responses]


def test_what_is_kept_does_not_stand_for_a_response_that_it_lacks(tmp_path: Path) -> None:
    """A response that left its spread to the practice run only later got none, without a word."""
    two_measured(tmp_path / "first")
    text = STUDY.replace("copies = 6\n", "copies = 6\n\n" + VOLTAGE + OWN)
    real = folder(tmp_path, text.replace("expected = 2\n", "expected = 2\nprimary = true\n"))
    draw_plan(real, seed=1)
    package = export_study(real).package
    beside, away = tmp_path / "beside", tmp_path / "another" / "lab"
    for place in (beside, away):
        restore_study(package, place)
        assert spreads_of(place) == ["practice run", "own guess"]
        text = (place / "study.toml").read_text(encoding="utf-8")
        (place / "study.toml").write_text(text.replace(OWN, ""), encoding="utf-8")
    assert spreads_of(beside) == ["practice run", "practice run"]
    assert spreads_of(away) == ["practice run", None]  # nothing there to read it from


def test_what_is_kept_of_a_response_that_was_changed_is_asked_of_the_folder(
    tmp_path: Path,
) -> None:
    two_measured(tmp_path / "first")
    text = STUDY.replace("copies = 6\n", "copies = 6\n\n" + VOLTAGE)
    real = folder(tmp_path, text.replace("expected = 2\n", "expected = 2\nprimary = true\n"))
    draw_plan(real, seed=1)
    package = export_study(real).package
    beside, away = tmp_path / "beside", tmp_path / "another" / "lab"
    for place in (beside, away):
        restore_study(package, place)
        text = (place / "study.toml").read_text(encoding="utf-8")
        (place / "study.toml").write_text(text.replace('"V"', '"mV"'), encoding="utf-8")
    volts, milli = (open_study(one)[1].response("voltage").spread for one in (real, beside))
    assert volts is not None
    assert milli is not None
    assert milli.items == pytest.approx(1000 * volts.items)
    with pytest.raises(StudyError) as gone:
        open_study(away)
    assert gone.value.code == "study.spread_from_missing"


@pytest.mark.parametrize(
    "guess", ["", '[responses.power.spread]\nitems = 0.4\nsource = "shipped guess"\n']
)
def test_nothing_that_was_planned_depends_on_the_practice_run(tmp_path: Path, guess: str) -> None:
    measured_run(tmp_path / "first", VALUES)
    real = folder(tmp_path, STUDY + guess)
    here, study = open_study(real)
    assert study.digest() == read_study(here.study).digest()
    drawn = draw_plan(real, seed=3)
    lock_plan(here, drawn.plan, DAY)
    shutil.rmtree(tmp_path / "first")
    opened = open_planned(real)
    assert (opened.notes, opened.departures) == ((), ())
    assert opened.plan.digest() == drawn.plan.digest()
    measured_run(tmp_path / "first", {"M1": [1.0, 9.0], "M2": [2.5, 2.0]})
    assert open_planned(real).departures == ()
    again = draw_plan(real)
    assert again.same


def test_naming_another_practice_run_later_is_no_departure(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    real = folder(tmp_path)
    lock_plan(open_study(real)[0], draw_plan(real, seed=3).plan, DAY)
    folder(tmp_path, STUDY.replace("../first", "../second"))
    assert open_planned(real).departures == ()


def test_check_shows_the_numbers_and_the_spare_ones(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", {"M1": [1.0, 1.3], "M2": [2.5, None]})
    told = "\n".join(check_study(folder(tmp_path)).text()).replace(NBSP, " ")
    assert "From the practice run in ../first:" in told
    assert "In power, cells built alike differ by about" in told
    assert "1 of 4 cells failed in it (the share that fails may be 0.6 % to 81 %)." in told
    # 12 must work and a quarter fails: 8 spare ones (negative binomial), in whole copies of two
    # recipes; 16 is all that can be made
    assert "Make 8 more in case some fail" in told
    assert "at most 16 can be made" in told
    assert "of 12 you can only count on 6" in told
    assert "with the largest" in told


def test_the_spare_ones_are_in_the_document_too(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", {"M1": [1.0, 1.3], "M2": [2.5, None]})
    spares = check_study(folder(tmp_path)).to_dict()["spares"]
    assert (spares["planned"], spares["made"], spares["failed"]) == (12, 4, 1)
    assert (spares["more"], spares["whole"], spares["limit"], spares["sure"]) == (8, 20, 16, 6)
    alone = STUDY.replace('spread_from = "../first"\n', "")
    assert check_study(folder(tmp_path, alone)).to_dict()["spares"] is None


def test_the_command_for_spare_ones_works(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", {"M1": [1.0, 1.3], "M2": [2.5, None]})
    real = folder(tmp_path, STUDY.replace("items = 16", "items = 24"))
    told = "\n".join(check_study(real).text())
    assert f"trials plan {real} --items 20" in told
    assert len(draw_plan(real, items=20).plan.rows) == 20


# ---- nothing to take -----------------------------------------------------------------------------


def refused(real: Path) -> StudyError:
    with pytest.raises(StudyError) as problem:
        open_study(real)
    error = problem.value
    assert str(real / "study.toml") in error.where
    assert error.found
    assert error.allowed
    assert error.do
    return error


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    error = refused(folder(tmp_path))
    assert error.code == "study.spread_from_missing"
    assert "line 5" in error.where


def test_a_folder_that_holds_a_study(tmp_path: Path) -> None:
    real = folder(tmp_path, STUDY.replace("../first", "../other"))
    (tmp_path / "other").mkdir()
    text = STUDY.replace('spread_from = "../first"\n', "")
    (tmp_path / "other" / "study.toml").write_text(text, encoding="utf-8")
    draw_plan(tmp_path / "other", seed=1)
    assert refused(real).code == "study.spread_from_study"


def test_a_study_without_a_plan_is_no_practice_run_either(tmp_path: Path) -> None:
    real = folder(tmp_path, STUDY.replace("../first", "../other"))
    (tmp_path / "other").mkdir()
    text = STUDY.replace('spread_from = "../first"\n', "")
    (tmp_path / "other" / "study.toml").write_text(text, encoding="utf-8")
    assert refused(real).code == "study.spread_from_study"


def test_of_groups_that_the_run_did_not_have_the_guess_stays(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    text = STUDY.replace("[groups.team]", "[groups.day]\ncount = 2\n\n[groups.team]") + (
        "[responses.power.spread]\nitems = 0.4\ngroups = { day = 0.2, team = 0.1 }\n"
        'source = "shipped guess"\n'
    )
    spread = taken(folder(tmp_path, text))
    assert spread.groups["day"] == 0.2
    assert spread.groups["team"] > 0.3  # the makers there differed much
    assert spread.guessed == ("day",)
    told = "\n".join(check_study(tmp_path / "real").text())
    assert "nothing sure of how days differ: there the guess stays" in told
    here, study = open_study(tmp_path / "real")
    assert study.digest() == read_study(here.study).digest()


@pytest.mark.parametrize("planned", [False, True])
def test_a_practice_run_with_nothing_measured(tmp_path: Path, planned: bool) -> None:
    measured_run(tmp_path / "first", None, planned=planned)
    assert refused(folder(tmp_path)).code == "study.spread_from_unmeasured"


def test_another_response(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    error = refused(folder(tmp_path, STUDY.replace("responses.power", "responses.Power")))
    assert error.code == "study.spread_from_response"
    assert "'power' there is 'Power' here" in error.do


def test_a_unit_of_another_kind(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    error = refused(folder(tmp_path, STUDY.replace('unit = "mW"', 'unit = "V"')))
    assert error.code == "study.spread_from_unit"
    assert error.found == "V here, mW there"


def test_a_run_that_tells_no_spread(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", {"M1": [1.0, None], "M2": [2.5, None]})
    error = refused(folder(tmp_path))
    assert error.code == "study.spread_from_nothing"
    assert error.found == "2 of 4 items worked"


def test_no_folder_named_and_a_practice_run_that_names_one(tmp_path: Path) -> None:
    error = refused(folder(tmp_path, STUDY.replace("../first", " ")))
    assert error.code == "study.empty_text"
    measured_run(tmp_path / "first", VALUES)
    toml = tmp_path / "first" / "study.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text('spread_from = "../x"\n' + text, encoding="utf-8")
    with pytest.raises(StudyError) as problem:
        analyse_folder(tmp_path / "first")
    assert problem.value.code == "study.practice_spread_from"


def test_the_line_below_a_heading_is_sent_to_the_top(tmp_path: Path) -> None:
    text = STUDY.replace('spread_from = "../first"\n', "") + 'spread_from = "../first"\n'
    error = refused(folder(tmp_path, text))
    assert error.code == "study.unknown_key"
    assert "top of the file" in error.do


def test_power_of_a_planned_study_does_without_a_practice_run_that_is_gone(tmp_path: Path) -> None:
    measured_run(tmp_path / "first", VALUES)
    real = folder(tmp_path)
    draw_plan(real, seed=3)
    assert power_of_study(real).of.which == "plan"
    shutil.rmtree(tmp_path / "first")
    assert power_of_study(real).of.which == "plan"
