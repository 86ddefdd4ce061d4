"""The form for the risk assessment, and the drawings beside a caution.

What such a form asks for: hazards, precautions, disposal, sources and a supervisor's signature
before the work, as the risk assessment forms of science fairs do (common practice); who might be
harmed, as in the five steps of the UK Health and Safety Executive (from memory).
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable

import numpy as np
import pytest
from PIL import Image

from tests.remembered import words_of_pages
from trials.design.values import Plan
from trials.render.symbols import PEN, SIDE, symbol_of, symbols
from trials.render.typeset import Paper, png_pages
from trials.sheets import make_sheets
from trials.sheets.parts import Job, caution_lines
from trials.sheets.risk import risk_form
from trials.study.values import Caution, Step, Study
from trials.words import cautions

Cells = tuple[Study, Plan]
PROTECTION = ("M004", "M009", "M011", "M016", "M057", "M059")
WARNINGS = ("W016", "W017", "W021", "W022", "W023", "W027")


def bare(text: str) -> str:
    return re.sub(r"[\s\u200b]+", "", text)


def text_of(content: bytes) -> str:
    return bare(" ".join(words_of_pages(content)))


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_each_step_has_what_can_hurt_and_what_people_do(cells: Cells, paper: Paper) -> None:
    study, plan = cells
    text = text_of(risk_form(Job(study, plan, paper)))
    for words in (*cautions.FORM_COLUMNS, cautions.FIRST, cautions.FORM_SOURCES,
                  cautions.FORM_SIGN, cautions.FORM_HELP, cautions.NO_NAMES):  # fmt: skip
        assert bare(words) in text, words
    for step in study.steps:
        assert bare(step.label) in text
        for caution in step.cautions:
            hurts, does = cautions.parted(caution.text)
            assert bare(hurts) in text
            assert bare(does) in text
            for code in (*caution.iso7010, *caution.ghs):
                assert bare(cautions.code_text(code)) in text


def test_the_signature_comes_before_the_work_and_no_name_is_asked_for(cells: Cells) -> None:
    assert "BEFORE" in cautions.FORM_SIGN
    text = text_of(risk_form(Job(*cells, "a4")))
    assert text.index(bare(cautions.FIRST)) < text.index(bare("Clean the glass"))
    assert "notnames" in text
    assert not re.search(r"printedname|nameofthe(adult|teacher|student)", text, re.IGNORECASE)


def test_the_page_to_sign_names_the_form(cells: Cells) -> None:
    handouts = make_sheets(*cells)
    assert "risk-form.pdf" in handouts.files
    first = words_of_pages(handouts.files["making-sheets.pdf"])[0]
    assert bare(cautions.DO_NOT_START) in bare(first)
    assert "risk-form.pdf" in bare(first)
    assert bare(cautions.DO_NOT_START) in text_of(handouts.files["risk-form.pdf"])
    names = list(handouts.files)
    assert names.index("risk-form.pdf") < names.index("making-sheets.pdf")


def test_a_step_without_cautions_asks_to_think(cells: Cells) -> None:
    study, plan = cells
    steps = (
        Step(name="tie", label="Tie the knot", by="the adult"),
        Step(name="pull", cautions=(Caution(text="Stand aside.", iso7010=("W035", "M014")),)),
    )
    text = text_of(risk_form(Job(study.model_copy(update={"steps": steps}), plan, "a4")))
    assert text.count(bare(cautions.FORM_NONE)) == 1
    assert bare("done by the adult") in text
    assert "W035fallingobjects" in text
    assert "Standaside." in text
    none = text_of(risk_form(Job(study.model_copy(update={"steps": ()}), plan, "a4")))
    assert bare("Making and measuring the cells") in none
    assert bare(cautions.FORM_NONE) in none


@pytest.mark.parametrize("code", [*PROTECTION, *WARNINGS, "P003", "P022", "E003"])
def test_protection_and_main_warnings_have_a_drawing(code: str) -> None:
    name = symbol_of(code)
    assert name is not None
    picture = ET.fromstring(symbols()[name])  # noqa: S314 - our own text
    assert picture.attrib["viewBox"] == f"0 0 {SIDE} {SIDE}"
    assert cautions.code_words(code)


@pytest.mark.parametrize("name", sorted(symbols()))
def test_a_drawing_is_plain_at_10_mm_in_grey(name: str) -> None:
    """Drawn at 10 mm its line is half a millimetre; it stays within its square and tells apart."""
    assert 10 * PEN / SIDE > 0.5
    source = (
        "#show: sheet\n#set page(width: 10mm, height: 10mm, margin: 0mm, footer: none)\n"
        '#pdf.artifact(image(bytes(data.svg), format: "svg", width: 10mm))'
    )
    (page,) = png_pages(source, {"svg": symbols()[name]}, title=name, ppi=254)
    picture = Image.open(io.BytesIO(page))
    assert picture.size == (100, 100)
    colours = np.asarray(picture.convert("RGB")).astype(int)
    assert np.ptp(colours, axis=2).max() < 30
    grey = picture.convert("L")
    left, top, right, bottom = grey.point(lambda value: 255 if value < 128 else 0).getbbox() or (
        0, 0, 0, 0)  # fmt: skip
    assert (left, top) >= (1, 1)
    assert max(right, bottom) <= 99
    assert 0.1 < (np.asarray(grey) < 128).mean() < 0.4  # lines with white between them


def test_drawings_differ_and_each_sign_has_one_that_exists() -> None:
    drawings = symbols()
    assert len(set(drawings.values())) == len(drawings)
    used = {symbol_of(f"{letter}{n:03}") for letter in "WMPE" for n in range(100)} - {None}
    assert used == set(drawings)


def test_a_caution_names_its_drawings_once() -> None:
    (line,) = caution_lines([Caution(text="Hot.", iso7010=("W017", "W079", "M009", "M030"))])
    assert line["symbols"] == ["hot", "gloves"]


def test_every_example_gives_a_form(
    demo_study: Callable[[str], Study], hand_plan: Callable[[Study, int], Plan]
) -> None:
    for name in ("tea", "planes", "greenhouse"):
        study = demo_study(name)
        text = text_of(risk_form(Job(study, hand_plan(study, 8), "us-letter")))
        assert all(bare(step.label) in text for step in study.steps)
