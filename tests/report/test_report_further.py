"""The best recipe, how sure we are, how to repeat it, words in numbers, and the raw readings."""

from __future__ import annotations

import csv
import importlib
import warnings
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from trials.analysis.findings import BestRecipe
from trials.record.values import Cell, Place, Row
from trials.render.blocks import walk
from trials.render.table import Table, shown, to_csv
from trials.report import build
from trials.report.checklist import checklist_section
from trials.study.values import Step
from trials.words.checklist import ITEMS
from trials.words.forbidden import find_forbidden

from .made import TODAY, make
from .telling import files, section, tables_in, text_of, told, without_pictures, worded

LEVELS = {"dye": "hibiscus", "heat": "oven", "coats": "2"}


def best(gap: tuple[float, float], fresh: int | None = 12) -> BestRecipe:
    return BestRecipe(
        levels=LEVELS, mean=0.71, interval=(0.6, 0.82), runner_up={**LEVELS, "coats": "1"},
        gap=0.05, gap_interval=gap, fresh=fresh, fresh_for=0.1,
    )  # fmt: skip


def test_the_best_recipe_comes_with_its_doubt_and_a_check_run() -> None:
    with without_pictures():
        near = make("difference", best_recipe=best((-0.1, 0.2))).document()
        far = make("difference", best_recipe=best((0.02, 0.08), fresh=3)).document()
    text = text_of(section(near, "power-best"))
    assert "this one came out best: hibiscus, oven, 2 coating passes." in text
    assert "0.71 mW (0.60 to 0.82 mW fits the data)" in text
    assert "too close to call" in text
    assert "likely a little too good. Make at least 3 fresh cells" in text
    assert "takes 12 cells of each" in text
    assert "Heat and coating passes aren't sure to make a difference worth caring about" in text
    other = text_of(section(far, "power-best"))
    assert "It is clearly ahead." in other
    assert "of each" not in other  # three will do
    assert find_forbidden(text) == ()
    assert "power-best" not in [s.key for s in worded("difference").parts[0].sections]


def test_how_often_chance_does_it_is_told_for_each_variable() -> None:
    table = tables_in(told("difference"), "power-sure")["sure"]
    assert shown(table)[0][:2] == ("dye", "fewer than 1 of 1000 repeats")
    assert [row[0] for row in shown(table)] == ["dye", "heat", "coating passes"]


def test_another_class_is_told_how_to_do_it_again() -> None:
    made = make("difference")
    factors = (
        made.study.factors[0].model_copy(update={"how": {"hibiscus": "Soak it in the red tea."}}),
        *made.study.factors[1:],
    )
    step = Step(
        name="heat", label="Fire", text="Heat it", minutes=10, waiting=2.5, factors=("heat",)
    )
    study = made.study.model_copy(update={"factors": factors, "steps": (step,)})
    plan = made.plan.model_copy(update={"study_digest": study.digest()})
    findings = made.findings.model_copy(update={"plan_digest": plan.digest()})
    with without_pictures():
        document = build(study, plan, made.measured, findings, today=TODAY, version="9.9")
    text = text_of(section(document, "again"))
    assert "Fire: Heat it. (10 min of work and 2.5 min of waiting)" in text
    assert "Here each firing gets its heat." in text
    assert "Hibiscus: Soak it in the red tea." in text
    assert "48 cells, 12 recipes, 3 readings of each cell" in text
    assert "--seed 11" in text
    # a step is never printed without its cautions before it
    keys = [s.key for s in document.parts[0].sections]
    assert keys.index("cautions") == keys.index("again") - 1


def test_words_are_told_by_the_numbers_of_the_study() -> None:
    found = make("difference").found
    text = text_of(section(worded("difference"), "words"))
    assert f"Here: 2 of {found.n_items + 2} cells made and tested." in text
    assert "Here: 1 cell." in text
    assert "Here: dye." in text  # mattered
    assert "Here: 41 % goes with dye." in text
    assert "Here: 0.1 mW." in text  # worth caring about
    assert "Here: dye, heat and coating passes." in text
    mean = next(m for m in found.means if m.term == "dye")
    assert f"Here: {mean.mean:.3f} mW for hibiscus." in text  # as in the table of averages


def test_every_item_of_the_checklist_stands_somewhere() -> None:
    # Lang and Altman 2013 (SAMPL); the items in words/checklist.py are told from memory of it
    document = told("difference")
    table = tables_in(document, "checklist")["sampl"]
    titles = {s.title for part in document.parts for s in walk(part.sections)}
    assert len(table.rows) == len(ITEMS)
    assert {row[1] for row in table.rows} <= titles
    method = text_of(section(document, "method"))
    assert "look to both sides; their level is 5 %" in method
    # a section that isn't there is not claimed
    (alone,) = checklist_section(()).blocks
    assert isinstance(alone, Table)
    assert {row[1] for row in alone.rows} == {"not told here"}


@pytest.fixture
def frictionless() -> Iterator[Any]:
    """Give the reference library; it lifts a limit of the whole process, which is put back."""
    limit = csv.field_size_limit()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it and what it loads warn of their own future
        yield importlib.import_module("frictionless")
    csv.field_size_limit(limit)


def test_frictionless_accepts_the_tables_of_the_report(tmp_path: Path, frictionless: Any) -> None:
    for name, content in files("difference").items():
        if name.endswith((".csv", ".json")):
            (tmp_path / name).parent.mkdir(exist_ok=True)
            (tmp_path / name).write_bytes(content)
    package = tmp_path / "datapackage.json"
    found = frictionless.validate(str(package))
    assert found.valid, found.to_summary()
    assert len(found.tasks) > 5
    plan = tmp_path / "plan.csv"
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace("\n1,", "\none,"), encoding="utf-8")
    assert not frictionless.validate(str(package)).valid


def a_reading(item: str, number: int, value: str) -> Row:
    cell = Cell("power", value, "mW", Decimal(value), Decimal(value))
    return Row(Place("a.csv", "", number + 1), item, number, (cell,), time="10:05")


def test_the_raw_readings_stand_in_the_page_and_in_a_file() -> None:
    made = make("difference")
    item = made.plan.rows[0].item
    rows = tuple(a_reading(item, n, value) for n, value in enumerate(("0.61", "0.605", "0.6"), 1))
    some = replace(made, measured=replace(made.measured, readings=rows))
    with without_pictures():
        document = some.document()
    table = tables_in(document, "readings")["readings"]
    column = [c.name for c in table.columns].index("power")
    assert [row[column] for row in shown(table)] == ["0.610", "0.605", "0.600"]
    (file,) = [one for one in document.data if one.name == "readings"]
    assert to_csv(file).splitlines()[1].startswith(f"{item},1,0.61,10:05,a.csv,2")
    none = tuple(a_reading(item, n, "0") for n in (1, 2))
    with without_pictures():
        document = replace(made, measured=replace(made.measured, readings=none)).document()
    table = tables_in(document, "readings")["readings"]
    assert [row[[c.name for c in table.columns].index("power")] for row in shown(table)] == [
        "0"
    ] * 2
    many = replace(made, measured=replace(made.measured, readings=rows * 200))
    with without_pictures():
        text = text_of(section(many.document(), "readings"))
    assert "All 600 readings stand in readings.csv" in text


def test_raw_readings_turned_from_another_unit_keep_two_digits_more_than_were_written() -> None:
    """A foot is 0.3048 m exactly, a horsepower 550 ft lbf/s (NIST SP 811, appendix B.8)."""
    horse = Decimal("745.69987158227022") * 1000
    for unit, factor, texts, seen in (
        ("hp", horse, ("0.0000025", "0.5"), ["1.864", "372849.936"]),
        ("ft", Decimal("0.3048"), ("1.5", "2"), ["0.4572", "0.6096"]),
        ("µW", Decimal("0.001"), ("610", "605"), ["0.610", "0.605"]),
    ):
        made = make("difference")
        item = made.plan.rows[0].item
        rows = tuple(
            Row(
                Place("a.csv", "", n),
                item,
                n,
                (Cell("power", text, unit, Decimal(text), Decimal(text) * factor),),
            )
            for n, text in enumerate(texts, 1)
        )
        with without_pictures():
            document = replace(made, measured=replace(made.measured, readings=rows)).document()
        table = tables_in(document, "readings")["readings"]
        column = [c.name for c in table.columns].index("power")
        assert [row[column] for row in shown(table)] == seen
