"""What to get out, as it is printed and as a table: amounts against sums by hand."""

from __future__ import annotations

import csv
import io

import pytest

from tests.remembered import words_of_pages
from trials.design.values import Plan
from trials.render.typeset import Paper
from trials.sheets import Handouts, make_sheets
from trials.study.values import Material, Study, TakenSpread
from trials.words import materials as words

USED = {
    "clean": (
        Material(name="conductive slide", amount=2),
        Material(name="rinsing water", amount=2, unit="mL"),
    ),
    "coat": (Material(name="tape", amount=15, unit="cm"),),
    "heat": (Material(name="card 'hot'", amount=1, per="group"),),
    "dye": (Material(name="rinsing water", amount=100, unit="mL", per="team"),),
    "close": (Material(name="electrolyte", amount=1, unit="drop"),),
    "measure": (Material(name="paper towel", amount=3, per="lesson"),),
}


def using(study: Study, materials: dict[str, tuple[Material, ...]]) -> Study:
    steps = tuple(
        step.model_copy(update={"materials": materials.get(step.name, ())}) for step in study.steps
    )
    return study.model_copy(update={"steps": steps})


def practised(study: Study, failed: int, made: int) -> Study:
    spread = TakenSpread(items=0.3, folder="try", made=made, failed=failed, source="practice run")
    first = study.responses[0].model_copy(update={"spread": spread})
    return study.model_copy(update={"responses": (first, *study.responses[1:])})


def text_of(handouts: Handouts) -> str:
    return " ".join(words_of_pages(handouts.files["materials.pdf"]))


def table_of(handouts: Handouts) -> list[dict[str, str]]:
    text = handouts.files["materials.csv"].decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_amounts_for_each_team_and_the_class_with_spares(
    cells: tuple[Study, Plan], paper: Paper
) -> None:
    """48 cells of 6 teams, 8 firings, 2 sessions; a quarter is reckoned to go wrong.

    With 72 made 48 work in 0.958 of classes, with 71 in 0.939 (binomial), so 24 are spare: 4
    firings more. 15 cm of tape: 8 cells of a team 1.2 m, 48 7.2 m, 72 10.8 m, to two digits 11 m.
    """
    handouts = make_sheets(using(cells[0], USED), cells[1], paper=paper)
    text = text_of(handouts)
    for row in (
        "Conductive slide Clean the glass 2 for each cell 16 96 144",
        "Rinsing water Clean the glass 2 mL for each cell 16 mL 96 mL 150 mL",
        "Tape Spread the paste 15 cm for each cell 1.2 m 7.2 m 11 m",
        "Card 'hot' Fire the slides 1 for each firing shared 8 12",
        "Rinsing water Soak in dye 100 mL for each team 100 mL 600 mL 600 mL",
        "Electrolyte Close the cell 1 drop for each cell 8 drops 48 drops 72 drops",
        "Paper towel Measure the cell 3 for each lesson shared 6 6",
    ):
        assert row.replace(" ", "") in text.replace(" ", ""), row
    assert "Rinsing water, in all 750 mL, with spares" in text  # 2 x 72 + 600
    assert "enough to make 72 cells" in text
    assert "planning value" in text
    assert "For 48 cells and 6 teams" in text


def test_the_table_has_the_numbers_in_the_studys_units(cells: tuple[Study, Plan]) -> None:
    rows = table_of(make_sheets(using(cells[0], USED), cells[1]))
    tape = next(row for row in rows if row["thing"] == "tape")
    assert (tape["unit"], tape["each"], tape["for"]) == ("cm", "15", "each cell")
    assert (tape["each team, fewest"], tape["each team, most"]) == ("120", "120")
    assert (tape["the class"], tape["with spares"]) == ("720", "1100")
    card = next(row for row in rows if row["thing"] == "card 'hot'")
    assert (card["each team, most"], card["the class"], card["with spares"]) == ("", "8", "12")
    assert {row["kind"] for row in rows} == {"used up", "equipment"}
    oven = next(row for row in rows if row["thing"] == "oven")
    assert oven["the step is done with"] == "48 cells in 8 firings"
    assert oven["the class"] == ""


def test_the_share_that_failed_in_a_practice_run_counts(cells: tuple[Study, Plan]) -> None:
    study, plan = cells
    some = text_of(make_sheets(practised(using(study, USED), 1, 8), plan))
    assert "If 1 in 8 goes wrong, as in the practice run in try" in some
    assert "planning value" not in some
    none = text_of(make_sheets(practised(using(study, USED), 0, 8), plan))
    assert "none are reckoned with, because none of 8 cells failed" in none
    assert words.WRITE_DOWN not in none
    every = text_of(make_sheets(practised(using(study, USED), 8, 8), plan))
    assert words.NO_END in every
    assert "Find out why before you go on" in every


def test_teams_with_unlike_shares_see_both_ends(cells: tuple[Study, Plan]) -> None:
    study, plan = cells
    text = text_of(
        make_sheets(using(study, USED), plan.model_copy(update={"rows": plan.rows[:45]}))
    )
    assert "7 drops to 8 drops" in text


def test_a_study_without_amounts_keeps_its_list_of_equipment(cells: tuple[Study, Plan]) -> None:
    handouts = make_sheets(*cells)
    text = text_of(handouts)
    assert "names the equipment but not the amounts" in text
    assert "What is used up" not in text
    rows = table_of(handouts)
    assert set(rows[0]) == {"Step", "Equipment", "The step is done with"}
    assert [row["Equipment"] for row in rows if row["Step"] == "Fire the slides"] == [
        "oven",
        "burner",
        "tongs",
    ]


def test_nothing_here_names_a_version(cells: tuple[Study, Plan]) -> None:
    """Whoever prepares may know them, but the list is for everyone: it names steps only."""
    bare = cells[0].model_copy(update={"same": ()})
    steps = tuple(step.model_copy(update={"equipment": ()}) for step in bare.steps)
    handouts = make_sheets(using(bare.model_copy(update={"steps": steps}), USED), cells[1])
    everything = (text_of(handouts) + handouts.files["materials.csv"].decode()).casefold()
    for factor in bare.factors:
        for level in factor.levels if factor.kind == "category" else ():
            assert level.casefold() not in everything


def test_what_is_in_stock_is_told_with_for_how_many_it_does(cells: tuple[Study, Plan]) -> None:
    """48 cells take 96 slides, and with 24 spare cells 144; 100 slides do for 50 cells."""
    study = using(cells[0], USED).model_copy(update={"stock": {"Conductive slide": 100}})
    text = text_of(make_sheets(study, cells[1]))
    assert "Conductive slide: you have 100, enough for 48 cells (96) and for 2 more" in text
    assert "with a chance of 95 %, you need 144" in text
    later = text_of(make_sheets(study, cells[1], lost=(cells[1].rows[0].item,)))
    assert "you have 100" not in later  # nobody knows how many are left by then
