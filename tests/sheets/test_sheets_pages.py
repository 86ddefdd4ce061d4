"""The printed sheets: the right items, the right words, on the right page.

What every team must find on paper comes from the plan itself; that measuring sheets and labels give
no treatment away is the blinding that ARRIVE 2.0 asks for (item 5: "Blinding/Masking"). Paper sizes
are those of ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import cast

import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject

from tests.remembered import forget_pages, words_of_pages
from trials.design.values import Plan
from trials.errors import PlanError, RequestError
from trials.render.typeset import Paper
from trials.sheets import Handouts, make_sheets
from trials.study.values import Caution, FailedRule, Response, Step, Study, StudyFactor, StudyGroup
from trials.words import cautions
from trials.words.forbidden import find_forbidden

DemoStudy = Callable[[str], Study]
HandPlan = Callable[[Study, int], Plan]
SIZES = {"cells": 48, "greenhouse": 48, "planes": 8, "tea": 48}
PDFS = (
    "cautions.pdf",
    "risk-form.pdf",
    "materials.pdf",
    "timetable.pdf",
    "labels.pdf",
    "making-sheets.pdf",
    "logbook.pdf",
    "measuring-sheets.pdf",
)


def _pages(handouts: Handouts, name: str) -> list[str]:
    return list(words_of_pages(handouts.files[name]))


def _bare(text: str) -> str:
    """Return a text without spaces and line breaks, for finding words across lines."""
    return re.sub(r"\s+", "", text)


def _words(text: str) -> list[str]:
    return re.findall(r"[^\s,()]+", text)


@pytest.fixture(scope="module")
def handed_out(cells: tuple[Study, Plan]) -> Handouts:
    return make_sheets(*cells)


@pytest.fixture(scope="module", params=sorted(SIZES))
def any_study(
    request: pytest.FixtureRequest, demo_study: DemoStudy, hand_plan: HandPlan
) -> tuple[Study, Plan, Handouts]:
    study = demo_study(request.param)
    plan = hand_plan(study, SIZES[request.param])
    return study, plan, make_sheets(study, plan)


def test_every_file_is_listed_with_what_it_is_for(handed_out: Handouts) -> None:
    names = [name for name, _ in handed_out.listing]
    assert names == list(handed_out.files)
    assert set(names) == {*PDFS, "materials.csv", "entry-workbook.xlsx"}
    assert all(purpose for _, purpose in handed_out.listing)


def test_every_code_stands_on_each_sheet_exactly_as_planned(
    any_study: tuple[Study, Plan, Handouts],
) -> None:
    _, plan, handouts = any_study
    codes = sorted(row.item for row in plan.rows)
    for name in ("labels.pdf", "measuring-sheets.pdf"):
        words = _words(" ".join(_pages(handouts, name)))
        assert sorted(word for word in words if word in codes) == codes, name
    for name in ("making-sheets.pdf", "timetable.pdf", "logbook.pdf"):
        assert set(codes) <= set(_words(" ".join(_pages(handouts, name)))), name


def test_measuring_order_is_the_planned_one(any_study: tuple[Study, Plan, Handouts]) -> None:
    _, plan, handouts = any_study
    codes = {row.item: row.measure for row in plan.rows}
    for page in _pages(handouts, "measuring-sheets.pdf"):
        order = [codes[word] for word in _words(page) if word in codes]
        assert order == sorted(order)


@pytest.mark.parametrize("name", ["labels.pdf", "logbook.pdf", "measuring-sheets.pdf"])
def test_nothing_that_the_measurer_sees_names_a_version(
    any_study: tuple[Study, Plan, Handouts], name: str
) -> None:
    study, _, handouts = any_study
    text = " ".join(_pages(handouts, name))
    for factor in study.factors:
        for level in factor.levels:
            named = level if factor.kind == "category" else f"{level} {factor.unit}"
            if factor.kind == "category" or factor.unit:
                assert not re.search(rf"(?<!\w){re.escape(named)}(?!\w)", text, re.IGNORECASE)
        for how in factor.how.values():
            assert _bare(how) not in _bare(text)


def test_a_title_that_names_a_version_stays_off_the_measuring_sheets(
    cells: tuple[Study, Plan], hand_plan: HandPlan
) -> None:
    study = cells[0].model_copy(update={"title": "Is hibiscus best?"})
    handouts = make_sheets(study, hand_plan(study, 48))
    for name in ("labels.pdf", "logbook.pdf", "measuring-sheets.pdf"):
        assert "hibiscus" not in " ".join(_pages(handouts, name))
    assert "Is hibiscus best?" in _pages(handouts, "making-sheets.pdf")[0]


def test_each_team_finds_its_items_with_their_versions(
    cells: tuple[Study, Plan], handed_out: Handouts
) -> None:
    _, plan = cells
    pages = _pages(handed_out, "making-sheets.pdf")
    for session in ("1", "2"):
        for team in ("alder", "willow"):
            page = next(p for p in pages if f"Making sheet: team {team}, session {session}" in p)
            for row in plan.rows:
                if row.groups["team"] == team and row.groups["session"] == session:
                    line = (
                        f"{row.run} {row.item} {row.groups['firing']} {row.factors['dye']} "
                        f"{row.factors['heat']} {row.factors['soak']} min {row.factors['coats']}"
                    )
                    assert line in page


def test_cautions_stand_on_the_page_of_their_step(any_study: tuple[Study, Plan, Handouts]) -> None:
    study, _, handouts = any_study
    pages = _pages(handouts, "making-sheets.pdf")
    making = [step for step in study.steps if step.stage == "make"]
    for number, step in enumerate(making, 1):
        with_step = [page for page in pages if f"{number}. {step.label}" in page]
        assert with_step
        for page in with_step:
            for caution in step.cautions:
                assert _bare(caution.text) in _bare(page)
                for code in (*caution.iso7010, *caution.ghs):
                    assert _bare(cautions.code_text(code)) in _bare(page)
    measuring = " ".join(_pages(handouts, "measuring-sheets.pdf"))
    for step in study.steps:
        if step.stage == "measure":
            for caution in step.cautions:
                assert _bare(caution.text) in _bare(measuring)


def test_nothing_starts_before_a_responsible_adult_has_signed(handed_out: Handouts) -> None:
    first = _pages(handed_out, "making-sheets.pdf")[0]
    for words in (cautions.DO_NOT_START, *cautions.SIGN_LINES, cautions.NO_NAMES, cautions.FIRST):
        assert _bare(words) in _bare(first)


def test_all_cautions_and_codes_are_in_one_place(
    cells: tuple[Study, Plan], handed_out: Handouts
) -> None:
    text = _bare(" ".join(_pages(handed_out, "cautions.pdf")))
    for step in cells[0].steps:
        for caution in step.cautions:
            assert _bare(caution.text) in text
            for code in (*caution.iso7010, *caution.ghs):
                assert _bare(cautions.code_words(code)) in text


def test_what_goes_together_has_a_card(cells: tuple[Study, Plan], handed_out: Handouts) -> None:
    _, plan = cells
    pages = _pages(handed_out, "making-sheets.pdf")
    firing = next(group for group in plan.groups if group.name == "firing")
    for member in firing.members:
        page = next(p for p in pages if f"Card for firing {member}" in p)
        mine = [row for row in plan.rows if row.groups["firing"] == member]
        assert f"Heat: {mine[0].factors['heat']}" in page
        assert all(row.item in _words(page) for row in mine)


def test_a_session_of_measuring_parts_the_measuring_only(hand_plan: HandPlan) -> None:
    study = _bare_study(
        groups=(StudyGroup(name="day", count=2, step="weigh"),),
        steps=(Step(name="tie", text="Tie it."), Step(name="weigh", stage="measure")),
    )
    handouts = make_sheets(study, hand_plan(study, 6))
    making = " ".join(_pages(handouts, "making-sheets.pdf"))
    assert "Making sheet: all items" in making
    assert "Card for" not in making
    measuring = " ".join(_pages(handouts, "measuring-sheets.pdf"))
    assert "Measuring sheet: day 1" in measuring
    assert "Measuring sheet: day 2" in measuring


def test_a_group_that_carries_a_version_is_named_on_no_label(hand_plan: HandPlan) -> None:
    study = _bare_study(
        factors=(StudyFactor(name="rope", levels=("hemp", "nylon"), applied_to="team"),),
        groups=(StudyGroup(name="team", count=2, role="maker", members=("elm", "oak")),),
    )
    handouts = make_sheets(study, hand_plan(study, 6))
    for name in ("labels.pdf", "measuring-sheets.pdf"):
        text = " ".join(_pages(handouts, name))
        assert "elm" not in text
        assert "oak" not in text
    assert "Making sheet: team elm" in " ".join(_pages(handouts, "making-sheets.pdf"))


def test_foot_of_every_page(any_study: tuple[Study, Plan, Handouts]) -> None:
    study, plan, handouts = any_study
    for name in PDFS:
        pages = _pages(handouts, name)
        for number, page in enumerate(pages, 1):
            assert f"page {number} of {len(pages)}" in page
            assert f"plan check code {plan.digest()[:8]}" in page
            assert _bare(study.note) in _bare(page)
            assert _bare(study.title) in _bare(page)


def test_failed_rule_and_usual_ranges_stand_where_it_is_measured(handed_out: Handouts) -> None:
    text = _bare(" ".join(_pages(handed_out, "measuring-sheets.pdf")))
    assert _bare("stays under 3 mV (3 times the last digit of the meter)") in text
    assert _bare("usual: 0 to 0.8") in text
    assert _bare("Light (W/m²)") in text


def test_sums_of_the_timetable(handed_out: Handouts) -> None:
    # by hand: 24 cells in a session; 5, 8, 6, 5 and 4 minutes a cell, 10 for a firing in the oven
    # and for each slide of a firing at the burner, of which there are two each
    page = _pages(handed_out, "timetable.pdf")[0]
    assert 24 * (5 + 8 + 6 + 5 + 4) + 2 * 10 + 2 * 6 * 10 == 13 * 60 + 32
    assert "Work in all: 13 h 32 min" in page
    assert "Shared by 6: about 2 h 15 min each" in page
    assert "4 firings" in page


@pytest.fixture(scope="module")
def one_by_one(cells: tuple[Study, Plan]) -> Handouts:
    """Return what is handed out where a burner takes one slide after another."""
    study, plan = cells
    steps = tuple(
        step.model_copy(update={"one_by_one": ("burner",)}) if step.name == "heat" else step
        for step in study.steps
    )
    return make_sheets(study.model_copy(update={"steps": steps}), plan)


def test_work_done_one_after_another_is_counted_so(one_by_one: Handouts) -> None:
    # by hand: 24 cells in a session, 4 firings of 6, two of them at a burner, 10 minutes each time
    page = _pages(one_by_one, "timetable.pdf")[0]
    assert 24 * (5 + 8 + 6 + 5 + 4) + (2 + 2 * 6) * 10 == 13 * 60 + 32
    assert "Work in all: 13 h 32 min" in page
    assert "4 firings; in 2 of them one cell after another, 12 times" in page


def test_each_kind_of_firing_has_its_own_time(
    cells: tuple[Study, Plan], one_by_one: Handouts
) -> None:
    oven = "about 10 min of work for each firing, then about 40 min of waiting."
    burner = (
        "about 60 min of work (6 times 10 min: one cell after another), then about 40 min of "
        "waiting."
    )
    text = _bare(" ".join(_pages(one_by_one, "making-sheets.pdf")))
    sheets = text.count(_bare(f"Oven: {oven} Burner: {burner}"))
    assert sheets == 12  # six teams, two sessions
    firings = {row.groups["firing"]: row.factors["heat"] for row in cells[1].rows}
    heats = list(firings.values())
    assert text.count(_bare("A" + oven[1:])) == heats.count("oven") == 4
    assert text.count(_bare("A" + burner[1:])) == heats.count("burner") == 4
    assert "burner" not in " ".join(_pages(one_by_one, "measuring-sheets.pdf")).casefold()


@pytest.mark.parametrize(
    ("paper", "millimetres"), [("a4", (210.0, 297.0)), ("us-letter", (215.9, 279.4))]
)
def test_paper(cells: tuple[Study, Plan], paper: Paper, millimetres: tuple[float, float]) -> None:
    handouts = make_sheets(*cells, paper=paper)
    for name in PDFS:
        for page in PdfReader(io.BytesIO(handouts.files[name])).pages:
            box = page.mediabox
            size = sorted(float(side) * 25.4 / 72 for side in (box.width, box.height))
            assert size == pytest.approx(sorted(millimetres), abs=0.1)


def test_every_file_is_tagged(handed_out: Handouts) -> None:
    for name in PDFS:
        root = PdfReader(io.BytesIO(handed_out.files[name])).trailer["/Root"]
        assert "/StructTreeRoot" in cast("DictionaryObject", root)


def test_the_same_plan_gives_the_same_bytes(
    cells: tuple[Study, Plan], handed_out: Handouts
) -> None:
    forget_pages()
    assert make_sheets(*cells).files == handed_out.files


def test_a_plan_of_another_study_is_refused(cells: tuple[Study, Plan]) -> None:
    study = cells[0].model_copy(update={"factors": cells[0].factors[1:]})
    with pytest.raises(PlanError) as caught:
        make_sheets(study, cells[1])
    assert caught.value.code == "sheets.other_study"


def test_a_study_whose_words_were_mended_still_fits(cells: tuple[Study, Plan]) -> None:
    study = cells[0].model_copy(update={"title": "Better words"})
    assert make_sheets(study, cells[1]).handouts


def test_a_plan_without_items_is_refused(cells: tuple[Study, Plan]) -> None:
    with pytest.raises(PlanError) as caught:
        make_sheets(cells[0], cells[1].model_copy(update={"rows": ()}))
    assert caught.value.code == "sheets.no_items"


def test_unknown_paper_is_refused(cells: tuple[Study, Plan]) -> None:
    with pytest.raises(RequestError):
        make_sheets(*cells, paper=cast("Paper", "b5"))


def _bare_study(**more: object) -> Study:
    """Return the smallest study: one factor, no groups, no steps."""
    fields: dict[str, object] = {
        "title": "Which knot holds?",
        "question": "Does a second turn hold more?",
        "factors": (StudyFactor(name="knot", levels=("single", "double")),),
        "responses": (Response(name="weight", unit="kg"),),
    }
    return Study.model_validate({**fields, **more})


def test_a_study_without_groups_steps_or_cautions(hand_plan: HandPlan) -> None:
    study = _bare_study()
    handouts = make_sheets(study, hand_plan(study, 6))
    making = _pages(handouts, "making-sheets.pdf")
    assert len(making) == 1
    assert "Making sheet: all items" in making[0]
    assert "Knot: double" in making[0]
    assert cautions.DO_NOT_START not in making[0]
    assert _bare(cautions.NONE_GIVEN) in _bare(_pages(handouts, "cautions.pdf")[0])
    assert "describes no steps" in _pages(handouts, "materials.pdf")[0]


def test_one_item_and_no_factor(hand_plan: HandPlan) -> None:
    study = _bare_study(factors=())
    text = " ".join(_pages(make_sheets(study, hand_plan(study, 1)), "making-sheets.pdf"))
    assert "Make 1 item. Write its code" in text


def _large_study() -> Study:
    long = "Rindfleischetikettierungsüberwachungsaufgabenübertragungsgesetz"
    return _bare_study(
        title=f"🧪 {long} " * 3,
        note="invented 中文 \u202eevil",
        item_name="Versuchsaufbau",
        factors=tuple(
            StudyFactor(
                name=f"factor{k}",
                label=f"{long} {k}",
                levels=("žluťoučký kůň", "Ελληνικά", f"{long}{k}", "=HYPERLINK(1)"),
                how={"Ελληνικά": "#panic() *a* " * 9},
            )
            for k in range(6)
        ),
        groups=(
            StudyGroup(name="team", count=12, role="maker"),
            StudyGroup(name="session", count=2),
        ),
        responses=tuple(
            Response(
                name=f"response {k}",
                label=f"{long} {k}",
                unit="µS/cm²",
                readings=k + 1,
                failed=FailedRule(below=0.5),
            )
            for k in range(5)
        ),
        steps=tuple(
            Step(
                name=f"step{k}",
                label=f"{long}",
                text="Do it. " * 60,
                cautions=(Caution(text="Mind it. " * 30, ghs=("H225", "X1"), iso7010=("W017",)),),
            )
            for k in range(3)
        ),
        same=tuple(f"{long} {k}" for k in range(12)),
    )


@pytest.fixture(scope="module")
def large(hand_plan: HandPlan) -> tuple[Plan, Handouts]:
    """Give 100 items of twelve teams, with names as long as they come, on Letter paper."""
    study = _large_study()
    plan = hand_plan(study, 100)
    return plan, make_sheets(study, plan, paper="us-letter")


def test_a_large_class_with_long_names_in_many_letters(large: tuple[Plan, Handouts]) -> None:
    plan, handouts = large
    codes = {row.item for row in plan.rows}
    for name in ("labels.pdf", "logbook.pdf", "timetable.pdf"):
        assert codes <= set(_words(" ".join(_pages(handouts, name))))
    pages = _pages(handouts, "making-sheets.pdf")
    making = " ".join(pages)
    assert codes <= set(_words(making))
    assert "[test tube]" in making
    assert "[4E2D 6587]" in making
    assert "\u202e" not in making
    assert "#panic() *a*" in making
    assert len([page for page in pages if "Making sheet: team" in page]) == 24


@pytest.mark.needs("pdftotext")
@pytest.mark.parametrize("name", PDFS)
def test_no_word_leaves_the_paper(large: tuple[Plan, Handouts], name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(large[1].files[name])
    boxes = subprocess.run(
        ["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True
    ).stdout
    width, height = 0.0, 0.0
    words = 0
    for line in boxes.splitlines():
        if page := re.search(r'<page width="([\d.]+)" height="([\d.]+)"', line):
            width, height = float(page[1]), float(page[2])
        elif word := re.search(
            r'xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"', line
        ):
            words += 1
            assert float(word[1]) > 20, line
            assert float(word[3]) < width - 20, line
            assert float(word[4]) < height - 10, line
    assert words > 20


def test_students_read_no_word_that_only_statisticians_know(
    any_study: tuple[Study, Plan, Handouts],
) -> None:
    _, _, handouts = any_study
    for name in PDFS:
        assert find_forbidden(" ".join(_pages(handouts, name))) == (), name
    for _, purpose in handouts.listing:
        assert find_forbidden(purpose) == ()
