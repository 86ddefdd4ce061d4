"""A study and its plan: do they still belong together?"""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from trials.errors import PlanError, StudyError
from trials.service.new import new
from trials.service.opening import open_planned
from trials.service.plan import draw_plan
from trials.workspace import lock_plan

DAY = datetime.date(2031, 3, 4)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new(tmp_path / "planes", example="planes")
    draw_plan(tmp_path / "planes", seed=3)
    return tmp_path / "planes"


def lock(folder: Path) -> None:
    opened = open_planned(folder)
    lock_plan(opened.here, opened.plan, DAY)


def change(folder: Path, old: str, new_text: str) -> None:
    study = folder / "study.toml"
    text = study.read_text(encoding="utf-8")
    assert text.count(old) == 1
    study.write_text(text.replace(old, new_text), encoding="utf-8")


def test_an_unchanged_study_has_nothing_to_tell(folder: Path) -> None:
    opened = open_planned(folder)
    assert opened.notes == ()
    assert opened.departures == ()


@pytest.mark.parametrize(
    ("old", "new_text"),
    [
        ('title = "Which paper plane flies further?"', 'title = "Planes"'),
        ('label = "shape"', 'label = "the shape"'),
        ("Fold the narrow plane.", "Fold the narrow one."),
    ],
)
@pytest.mark.parametrize("printed", [False, True])
def test_words_may_be_mended_at_any_time(
    folder: Path, old: str, new_text: str, printed: bool
) -> None:
    if printed:
        lock(folder)
    change(folder, old, new_text)
    assert open_planned(folder).departures == ()


def test_before_printing_a_changed_rule_asks_for_a_new_plan(folder: Path) -> None:
    change(folder, "worthwhile = 1\n", "worthwhile = 2\n")
    with pytest.raises(StudyError) as problem:
        open_planned(folder)
    assert problem.value.found == "responses.distance.worthwhile was 1.0 and is now 2.0"
    assert "trials plan" in problem.value.do
    draw_plan(folder, seed=3)
    assert open_planned(folder).departures == ()


def test_after_printing_a_changed_rule_is_a_departure(folder: Path) -> None:
    lock(folder)
    change(folder, "worthwhile = 1\n", "worthwhile = 2\n")
    assert open_planned(folder).departures == (
        "study.toml now says worthwhile = 2; the plan said 1 before anything was measured, and the "
        "answer keeps 1.",
    )


def test_after_printing_a_changed_fact_is_a_departure(folder: Path) -> None:
    lock(folder)
    change(folder, "high = 50\n", "high = 60\n")
    assert open_planned(folder).departures == (
        "study.toml was changed after the sheets were printed: responses.distance.high was 50.0 "
        "and is now 60.0.",
    )
    assert open_planned(folder).study.responses[0].high == 60


@pytest.mark.parametrize("printed", [False, True])
def test_other_lessons_are_told_once_sheets_are_out(folder: Path, printed: bool) -> None:
    study = folder / "study.toml"
    bare = study.read_text(encoding="utf-8")
    times = 'minutes = 45\ncount = 2\nstarts = ["2031-03-05 08:00", "2031-03-07 08:00"]\n'
    study.write_text(f"{bare}\n[lessons]\n{times}", encoding="utf-8")
    draw_plan(folder, seed=3)
    if printed:
        lock(folder)
    change(folder, "minutes = 45\ncount = 2\n", "minutes = 55\ncount = 3\ntidy = 4\n")
    change(folder, '"2031-03-05 08:00", ', '"2031-03-04 08:00", "2031-03-05 08:00", ')
    start = "study.toml was changed after the sheets were printed: lessons."
    told = (
        f"{start}minutes was 45 and is now 55.",
        f"{start}count was 2 and is now 3.",
        f"{start}starts was 2031-03-05 08:00, 2031-03-07 08:00 and is now 2031-03-04 08:00, "
        "2031-03-05 08:00, 2031-03-07 08:00.",
    )
    assert open_planned(folder).departures == (told if printed else ())


@pytest.mark.parametrize("printed", [False, True])
def test_how_tables_are_read_may_be_said_at_any_time(folder: Path, printed: bool) -> None:
    if printed:
        lock(folder)
    study = folder / "study.toml"
    text = study.read_text(encoding="utf-8")
    study.write_text(text + '\n[columns]\n"Plane no." = "item"\n', encoding="utf-8")
    opened = open_planned(folder)
    assert opened.study.columns == {"Plane no.": "item"}
    moment = "sheets were printed" if printed else "plan was drawn"
    assert opened.departures == (
        f"study.toml was changed after the {moment}: columns.Plane no. was not given and is now "
        "item.",
    )


def test_a_prediction_changed_after_printing_is_a_departure(folder: Path) -> None:
    lock(folder)
    change(folder, 'prediction = "The dart flies further."', 'prediction = "They fly alike."')
    (told,) = open_planned(folder).departures
    assert told == (
        'study.toml now says prediction = "They fly alike."; the plan said "The dart flies '
        'further." before anything was measured, and the answer keeps that.'
    )
    assert open_planned(folder).study.prediction == "The dart flies further."


@pytest.mark.parametrize("printed", [False, True])
def test_changed_versions_never_fit(folder: Path, printed: bool) -> None:
    if printed:
        lock(folder)
    change(folder, 'levels = ["dart", "glider"]', 'levels = ["dart", "tube"]')
    change(folder, "how = { dart", 'control = "dart"\nhow = { dart')
    change(folder, "glider = ", "tube = ")
    with pytest.raises(StudyError, match="levels was dart, glider and is now dart, tube"):
        open_planned(folder)


def test_several_seeds_are_told(folder: Path) -> None:
    draw_plan(folder, seed=4)
    (told,) = open_planned(folder).departures
    assert "drawn 2 times" in told
    assert "3, 4" in told


def test_a_study_keeps_its_seed_whatever_is_changed_in_it(tmp_path: Path) -> None:
    """Drawing again without asking for a seed is no second try, so there is nothing to tell."""
    folder = tmp_path / "planes"
    new(folder, example="planes")
    first = draw_plan(folder).plan
    change(folder, "worthwhile = 1\n", "worthwhile = 2\n")
    second = draw_plan(folder).plan
    assert second.seed == first.seed
    assert second.seeds_tried == (first.seed,)
    assert second.rows == first.rows
    assert open_planned(folder).departures == ()


def test_the_log_of_seeds_never_starts_anew(folder: Path) -> None:
    draw_plan(folder, seed=4)
    change(folder, "worthwhile = 1\n", "worthwhile = 2\n")
    draw_plan(folder, seed=5)
    change(folder, 'prediction = "The dart flies further."', 'prediction = "They fly alike."')
    assert draw_plan(folder).plan.seeds_tried == (3, 4, 5)
    (told,) = open_planned(folder).departures
    assert "drawn 3 times" in told


def test_the_same_plan_again_stays_locked(folder: Path) -> None:
    lock(folder)
    again = draw_plan(folder)
    assert again.same
    assert not again.replaced
    assert "nothing was changed" in " ".join(again.text())
    assert again.plan.locked == "2031-03-04"
    assert open_planned(folder).departures == ()


def test_a_damaged_copy_of_the_study_is_written_anew_while_the_study_is_unchanged(
    folder: Path,
) -> None:
    copy = open_planned(folder).here.study_as_planned
    right = copy.read_bytes()
    copy.write_bytes(right.replace(b"worthwhile = 1", b"worthwhile = 2"))
    (note,) = open_planned(folder).notes
    assert "study-as-planned-changed-1.toml" in note
    assert copy.read_bytes() == right
    copy.unlink()
    assert len(open_planned(folder).notes) == 1
    assert copy.read_bytes() == right
    assert open_planned(folder).notes == ()


@pytest.mark.parametrize("how", ["changed", "gone", "no study"])
def test_promises_are_never_read_from_a_changed_copy(folder: Path, how: str) -> None:
    lock(folder)
    here = open_planned(folder).here
    copy = here.study_as_planned
    for path in (here.study, copy):  # both in step, so that nothing seems to have changed
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("worthwhile = 1\n", "worthwhile = 2\n"), encoding="utf-8")
    if how == "gone":
        copy.unlink()
    elif how == "no study":
        copy.write_text("title = ", encoding="utf-8")
    with pytest.raises(PlanError) as problem:
        open_planned(folder)
    assert problem.value.code == "plan.study_copy"
    assert problem.value.where.endswith("study-as-planned.toml")
    assert "trials plan" in problem.value.do
    change(folder, "worthwhile = 2\n", "worthwhile = 1\n")  # as the message says
    assert open_planned(folder).departures == ()
