"""The example studies are right, complete and say that they are invented."""

from __future__ import annotations

import re

import pytest

from trials.reduction import columns_of
from trials.service.examples import example_folder, example_names
from trials.study import Study, members_in_all, parse_study, read_study, recipes, write_study


@pytest.fixture(params=example_names())
def study(request: pytest.FixtureRequest) -> Study:
    return read_study(example_folder(request.param) / "study.toml")


def test_the_examples_are_there() -> None:
    names = ("aviones", "cells", "classes", "greenhouse", "lessons", "planes", "tea")
    assert example_names() == names


def test_says_that_it_is_invented(study: Study) -> None:
    said = {"en": "invented", "es": "inventado"}[study.language]
    assert said in study.note.casefold()
    assert f"({said})" in study.makers


def test_is_complete(study: Study) -> None:
    assert study.prediction
    assert len(study.same) >= 3
    assert study.limits.items is not None
    assert study.limits.items % recipes(study) == 0
    assert [step.stage for step in study.steps].count("measure") == 1
    set_at = [name for step in study.steps for name in step.factors]
    assert sorted(set_at) == sorted(factor.name for factor in study.factors)
    for response in study.responses:
        assert response.worthwhile
        assert response.expected
        assert response.spread
        assert response.spread.source == "shipped guess"
        assert response.low is not None
        assert response.high is not None
        assert columns_of([response])


def test_expects_at_least_twice_what_is_worthwhile(study: Study) -> None:
    for response in study.responses:
        worthwhile, expected = response.worthwhile or 0, response.expected or 0
        twice = worthwhile**2 if response.compare == "ratio" else 2 * worthwhile
        assert expected >= twice


def test_each_version_says_how_it_is_made(study: Study) -> None:
    for factor in study.factors:
        assert set(factor.how) == set(factor.levels)


def test_survives_being_written(study: Study) -> None:
    assert parse_study(write_study(study)) == study


def test_whatever_is_hot_sharp_or_poisonous_has_a_caution(study: Study) -> None:
    risky = re.compile(
        r"\b(450|boil|hot water|kettle|burner|glass slide|iodine|electrolyte|lamp)\b"
    )
    for step in study.steps:
        told = " ".join([step.text, *step.equipment]).casefold()
        if risky.search(told):
            assert step.cautions, step.name


def test_cells_is_24_recipes_twice_by_six_teams_in_eight_firings() -> None:
    cells = read_study(example_folder("cells") / "study.toml")
    assert (recipes(cells), cells.limits.copies, cells.limits.items) == (24, 2, 48)
    assert [len(factor.levels) for factor in cells.factors] == [3, 2, 2, 2]
    assert cells.factor("heat").applied_to == "firing"
    assert cells.factor("dye").shared is False
    assert cells.group("team").role == "maker"
    assert members_in_all(cells, "team") == 6
    assert members_in_all(cells, "session") == 2
    assert members_in_all(cells, "firing") == 8
    assert cells.path("firing") == "session/firing"
    assert cells.group("firing").capacity == 6
    power = cells.response("power")
    assert (power.primary, power.compare, power.readings) == (True, "ratio", 3)
    assert power.failed is not None
    # 3 times the last digit (1 mV) across the load resistor, as power per area
    settings = power.settings
    below = 1e6 * 0.003**2 / float(settings["load_ohm"]) / float(settings["area_cm2"])
    assert power.failed.below == pytest.approx(below, rel=0.05)
    assert [(column.name, column.unit) for column in columns_of(cells.responses)] == [
        ("open-circuit voltage", "V"),
        ("short-circuit current", "mA"),
        ("load voltage", "V"),
        ("light", "W/m^2"),
    ]


def test_no_alcohol_where_burners_are_lit() -> None:
    cells = read_study(example_folder("cells") / "study.toml")
    for step in cells.steps:
        told = " ".join([step.text, *step.equipment]).casefold()
        assert "ethanol" not in told
        assert "alcohol" not in told
