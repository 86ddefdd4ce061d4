"""The best recipe, how sure we are, how to repeat it, words in numbers, and the raw readings."""

from __future__ import annotations

import csv
import importlib
import io
import warnings
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from trials.analysis.findings import BestRecipe, Crossing
from trials.record.values import Cell, Place, Row
from trials.render.blocks import walk
from trials.render.table import Table, shown, to_csv
from trials.report import report_document, story_of
from trials.report.again import again_section
from trials.report.checklist import checklist_section
from trials.report.in_numbers import in_numbers
from trials.report.story import Story
from trials.report.together import together_section
from trials.study.values import Step
from trials.words.checklist import ITEMS
from trials.words.forbidden import find_forbidden

from .made import TODAY, Made, make
from .telling import files, made, section, tables_in, text_of, told, without_pictures, worded

OPEN = dict.fromkeys(("dye", "heat", "coats"), ("not settled", "wide"))
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
    assert "not clear which of the two is better, and others may be as good." in text
    assert "likely a little too good. Check it before you tell others" in text
    assert "12 of each show that there is a difference in 8 of 10 such checks, if the" in text
    assert "For coating passes, any difference stays too small to care about. There, take" in text
    assert "Heat is not settled, so the choice there may matter." in text
    other = text_of(section(far, "power-best"))
    assert "It is clearly ahead." in other
    assert "Make at least 3 of each." in other  # three will do
    assert find_forbidden(text) == ()
    assert "power-best" not in [s.key for s in worded("difference").parts[0].sections]


def test_only_what_is_surely_small_is_free_to_choose() -> None:
    with without_pictures():
        made = make("difference", verdicts=OPEN, best_recipe=best((-0.1, 0.2)))
        nothing = text_of(section(made.document(), "power-best"))
        crossed = text_of(section(depending(made).document(), "power-best"))
    assert "cheaper" not in nothing
    assert "Dye, heat and coating passes are not settled, so the choice there may" in nothing
    # heat and dye are told together elsewhere: neither is free, nor open by itself
    assert "cheaper" not in crossed
    assert "Coating passes is not settled, so the choice there may matter." in crossed
    assert "dye" not in crossed.split("not free to choose yet")[1].casefold()


def depending(made: Made) -> Made:
    """Heat wins with one dye and loses with another."""
    pairs = [c for c in made.found.comparisons if c.term == "dye:heat" and "oven" in c.a.values()]
    one, other = (next(c for c in pairs if c.a["dye"] == c.b["dye"] == dye)
                  for dye in ("hibiscus", "beetroot"))  # fmt: skip
    crossing = Crossing(
        term="dye:heat", factor="heat", within="dye", one=one, other=other, turns=True, beyond=True
    )
    verdicts = tuple(
        v.model_copy(update={"reason": "depends"}) if v.factor == "heat" else v
        for v in made.found.verdicts
    )
    found = made.found.model_copy(update={"crossings": (crossing,), "verdicts": verdicts})
    return made.with_found(found)


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
        document = report_document(
            story_of(study, plan, made.measured, findings, today=TODAY, version="9.9")
        )
    text = text_of(section(document, "again"))
    assert "Fire: Heat it. (10 min of work and 2.5 min of waiting)" in text
    assert "Here each firing gets its heat." in text
    assert "for each cell" not in text
    assert "Hibiscus: Soak it in the red tea." in text
    assert "48 cells, 12 recipes, 3 readings of each cell" in text
    assert "--seed 11" in text
    # a step is never printed without its cautions before it
    keys = [s.key for s in document.parts[0].sections]
    assert keys.index("cautions") == keys.index("again") - 1


def test_the_command_that_draws_it_again_gives_as_many() -> None:
    # common practice, no source: a command that is printed must do what is said of it
    made = make("difference")
    limits = {
        as_many: made.study.limits.model_copy(update={"items": as_many}) for as_many in (48, 60)
    }
    for as_many, own in limits.items():
        study = made.study.model_copy(update={"limits": own})
        story = Story(study, made.plan, made.measured, made.findings, TODAY, "9.9")
        told = text_of(again_section(story))
        assert ("--seed 11 --items 48' draws this very plan" in told) == (as_many != 48)
        assert ("--seed 11' draws this very plan" in told) == (as_many == 48)


def test_pairs_that_cannot_be_tested_are_not_counted_as_looked_at() -> None:
    made = make("difference")
    pair = next(e for e in made.found.effects if e.term == "dye:heat")
    effects = (
        *(e for e in made.found.effects if e.term != "dye:heat"),
        *(pair.model_copy(update={"term": term, "p_adjusted": p})
          for term, p in (("dye:heat", 0.4), ("dye:coats", 0.6), ("heat:coats", None))),
    )  # fmt: skip
    found = made.found.model_copy(update={"effects": effects})
    story = Story(made.study, made.plan, made.measured, made.findings, TODAY, "9.9")
    part = together_section(story, found)
    assert part is not None
    told = text_of(part)
    assert "Of the 2 pairs looked at (1 more can't be tested here), none is clear" in told


def test_work_for_each_item_and_waiting_by_a_version_are_told_as_they_are() -> None:
    """A burner takes one cell at a time; the time in the dye is a version, not one number."""
    made = make("difference")
    soak = made.study.factors[2].model_copy(
        update={"name": "coats", "label": "soak time", "unit": "min"}
    )
    steps = (
        Step(name="heat", text="Heat it.", minutes=10, waiting=40, one_by_one=("burner",)),
        Step(name="dye", text="Soak it.", minutes=6, waiting=25, waiting_is="coats"),
    )
    study = made.study.model_copy(
        update={"factors": (*made.study.factors[:2], soak), "steps": steps}
    )
    plan = made.plan.model_copy(update={"study_digest": study.digest()})
    findings = made.findings.model_copy(update={"plan_digest": plan.digest()})
    with without_pictures():
        document = report_document(
            story_of(study, plan, made.measured, findings, today=TODAY, version="9.9")
        )
    text = text_of(section(document, "again"))
    fired = "(10 min of work and 40 min of waiting; with burner, 10 min of work for each cell)"
    assert fired in text
    assert "(6 min of work and waiting as long as the soak time says)" in text


def test_what_depends_on_another_variable_is_not_called_unsettled() -> None:
    made = depending(make("difference", verdicts=OPEN))
    story = Story(made.study, made.plan, made.measured, made.findings, TODAY, "9.9")
    assert in_numbers(story, made.found)["not settled"] == "dye and coating passes"


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
    (alone,) = checklist_section(_story(made("difference")), ()).blocks
    assert isinstance(alone, Table)
    assert {row[1] for row in alone.rows} == {"not told here"}


def _story(one: Made) -> Story:
    return story_of(one.study, one.plan, one.measured, one.findings, today=TODAY, version="9.9")


def _of_cells(**changes: Any) -> tuple[list[str], dict[str, tuple[str, str]]]:
    """Return the titles of the checklists of a study read as cells are, and what they tell."""
    one = made("ratio")
    (first, *others) = one.study.responses
    cells = first.model_copy(
        update={
            "reducer": "iv_point",
            "settings": {"load_ohm": 330, "area_cm2": 4.0, "reference_light": 800},
        }
    )
    step = Step(
        name="measure", stage="measure", text="Lay it under the lamp. Read the light meter."
    )
    study = one.study.model_copy(
        update={
            "responses": (cells, *others),
            "same": ("the same mask, 4.0 square centimetres",),
            "steps": (step,),
            **changes,
        }
    )
    sections = [s for part in told("ratio").parts for s in part.sections]
    blocks = checklist_section(_story(replace(one, study=study)), sections).blocks
    tables = [block for block in blocks if isinstance(block, Table)]
    rows = {str(row[0]): (str(row[1]), str(row[2])) for row in tables[-1].rows}
    return [table.caption for table in tables], rows


def test_what_papers_on_cells_should_tell_is_ticked_where_it_is_told() -> None:
    # the Solar Cells Reporting Summary of the Nature Portfolio, from memory: area and mask, light,
    # how it was swept, temperature, number of devices, stability
    titles, rows = _of_cells()
    assert titles[1:] == ["What a report on solar cells should tell"]
    assert rows["the area that counts"] == ("4\u00a0cm²", "in this table")
    assert rows["how strong the light is"] == ("800\u00a0W/m²", "in this table")
    assert rows["which point of the curve is read: the load"][0].startswith("330\u00a0")
    assert rows["how that area is set apart (a mask)"] == (
        "the same mask, 4.0 square centimetres",
        "The question",
    )
    assert rows["where the light comes from"] == ("Lay it under the lamp.", "How to repeat it")
    assert rows["what the light is measured with"][0] == "Read the light meter."
    assert rows["how many cells the numbers rest on"] == ("yes", "The answer")
    assert rows["how warm the cells are"] == ("not told here", "")
    assert rows["how long a cell keeps, and under what conditions"] == ("not told here", "")


def test_nothing_of_a_field_of_work_is_ticked_unseen() -> None:
    titles, rows = _of_cells(same=(), steps=())
    assert rows["how that area is set apart (a mask)"] == ("not told here", "")
    assert rows["where the light comes from"] == ("not told here", "")
    # and a study of another field is asked nothing of it
    assert [t.caption for t in tables_in(told("ratio"), "checklist").values()] == titles[:1]


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


def test_every_table_of_the_technical_part_is_a_file() -> None:
    document, got = told("ratio"), files("ratio")
    data = {table.name for table in document.data}
    tables = [
        block
        for s in walk(document.parts[1].sections)
        for block in s.blocks
        if isinstance(block, Table) and block.name not in data
    ]
    assert len(tables) > 5
    assert {f"tables/{table.name}.csv" for table in tables} == {
        path for path in got if path.startswith("tables/")
    }
    for table in tables:
        # tidy: one heading, one row a row, as many cells as columns, numbers unrounded
        head, *rows = csv.reader(io.StringIO(got[f"tables/{table.name}.csv"].decode()))
        assert len(set(head)) == len(head) == len(table.columns)
        assert len(rows) == len(table.rows)
        for row, cells in zip(rows, table.rows, strict=True):
            for text, cell, column in zip(row, cells, table.columns, strict=True):
                if isinstance(cell, float):
                    part = 100 if column.unit == "%" else 1
                    assert float(text) == pytest.approx(part * cell, rel=1e-12, abs=1e-10)
    means = list(csv.DictReader(io.StringIO(got["tables/power-means.csv"].decode())))
    found = made("ratio").findings.responses[0].means
    assert [row["df"] for row in means] == [repr(one.df) for one in found]


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
