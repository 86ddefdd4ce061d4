"""What a timetable counts on is told where study.toml doesn't say how many there are."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.classroom.bench import STEPS, class_study
from tests.remembered import words_of_pages
from trials.service.check import check_study
from trials.service.plan import draw_plan
from trials.service.sheets import make_sheets
from trials.study import Equipment, write_study
from trials.study.values import Caution

GOGGLES = Caution(text="The paste splashes.", iso7010=("M004",))
COAT = STEPS[0].model_copy(update={"equipment": ("glass rod", "goggles"), "cautions": (GOGGLES,)})
LAST = STEPS[-1].model_copy(update={"equipment": ("meter pair", "ruler")})
TOLD = "Counted on, as study.toml doesn't say how many there are: "


def _folder(tmp_path: Path, *more: Equipment) -> Path:
    there = class_study().equipment
    study = class_study(steps=(COAT, *STEPS[1:-1], LAST), equipment=(*there, *more))
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    return tmp_path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return _folder(tmp_path)


def _most(folder: Path, step: str, *, each: bool = False) -> int:
    """Count minute by minute how often a step is at work, or in one team, from plan.json."""
    works: list[dict[str, Any]]
    works = json.loads((folder / "plan.json").read_text(encoding="utf-8"))["timetable"]["works"]
    mine = [w for w in works if w["step"] == step]
    return max(
        len(
            [
                w
                for w in mine
                if w["lesson"] == lesson
                and w["start"] <= minute < w["start"] + w["minutes"]
                and crew in ("", w["crew"])
            ]
        )
        for crew in ({w["crew"] for w in mine} if each else {""})
        for lesson in {w["lesson"] for w in mine}
        for minute in range(50)
    )


def test_before_a_plan_and_with_it_and_on_the_page_it_is_one_number(folder: Path) -> None:
    before = check_study(folder)
    said = before.to_dict()["counted_on"]
    assert set(said) == {"glass rod", "ruler"}  # what is worn, and what has a number, isn't there
    assert said["ruler"] <= 4  # one at each of four pairs of meters
    assert any(f"glass rod {said['glass rod']} at once" in line for line in before.text())

    planned = "\n".join(draw_plan(folder, seed=3).text())
    rods, rulers = _most(folder, "coat"), _most(folder, "measure")
    assert rods > rulers > 1
    own_rods, own_rulers = (_most(folder, step, each=True) for step in ("coat", "measure"))
    assert (
        f"{TOLD}glass rod {rods} at once (up to {own_rods} in one team) and ruler {rulers} (up to "
        f"{own_rulers} in one team). Have you so many?"
    ) in planned
    assert '[equipment."glass rod"] count = 2, or what each team has for itself: ' in planned
    said = check_study(folder).to_dict()["counted_on_by_team"]
    assert said == {"glass rod": own_rods, "ruler": own_rulers}
    assert check_study(folder).to_dict()["counted_on"] == {"glass rod": rods, "ruler": rulers}

    make_sheets(folder)
    page = " ".join(words_of_pages((folder / "sheets" / "lesson.pdf").read_bytes()))
    assert f"Glass rod: up to {rods}" in page
    assert f"Ruler: up to {rulers}" in page


def test_nothing_is_asked_where_all_are_counted(tmp_path: Path) -> None:
    numbers = (Equipment(name="glass rod", count=6), Equipment(name="ruler", count=6))
    checked = check_study(_folder(tmp_path, *numbers))
    assert checked.to_dict()["counted_on"] == {}
    assert not any(line.startswith(TOLD) for line in checked.text())


@pytest.mark.parametrize(
    ("students", "hands", "advised"),
    [(30, 3, None), (24, 3, 2), (24, 2, None), (12, 2, 1), (6, 1, None), (None, 9, None)],
)
def test_a_team_has_people_for_what_it_does_at_a_time(
    tmp_path: Path, students: int | None, hands: int, advised: int | None
) -> None:
    """Half of a team, rounded up; common practice, no source."""
    study = class_study()
    assert study.lessons is not None
    assert study.group("team").count == 6
    lessons = study.lessons.model_copy(update={"students": students, "hands": hands})
    study = study.model_copy(update={"lessons": lessons})
    (tmp_path / "study.toml").write_text(write_study(study), encoding="utf-8")
    told = [line for line in check_study(tmp_path).text() if "pieces of work at a time" in line]
    assert [f"write [lessons] hands = {advised}." in line for line in told] == (
        [] if advised is None else [True]
    )
