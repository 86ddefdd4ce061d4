"""Words for the codes beside a caution, against published lists.

Outside sources. ISO 7010 signs: the titles in the open sign library github.com/lbize/iso-7010
(lib.typ), which quotes the standard's numbers. GHS statements: UN Globally Harmonized System of
Classification and Labelling of Chemicals, annex 3, section 1, as tabulated in a public list of
hazard statements; pictogram numbers and names: annex 1, from memory.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from trials.words import cautions

from .pseudo import made_up, speaking_made_up

DEMO = Path(__file__).resolve().parents[2] / "study_demo"

SIGNS = {
    "W001": "General warning sign",
    "W004": "Laser beam",
    "W009": "Biological hazard",
    "W011": "Slippery surface",
    "W012": "Electricity",
    "W016": "Toxic material",
    "W017": "Hot surface",
    "W021": "Flammable material",
    "W022": "Sharp element",
    "W023": "Corrosive substance",
    "W024": "Crushing of hands",
    "W027": "Optical radiation",
    "W028": "Oxidizing substance",
    "W029": "Pressurized cylinder",
    "W079": "Hot content",
    "W080": "Hot steam",
    "W088": "Moving blades",
    "M013": "Wear a face shield",
    "M014": "Wear head protection",
    "M016": "Wear a mask",
    "M017": "Wear respiratory protection",
    "M022": "Use barrier cream",
    "M026": "Use protective apron",
    "M046": "Secure gas cylinders",
    "M057": "Ensure continuous ventilation",
    "M059": "Wear laboratory coat",
    "P002": "No smoking",
    "P003": "No open flame; Fire, open ignition source and smoking prohibited",
    "P010": "Do not touch",
    "P012": "No heavy load",
    "P022": "No eating or drinking",
    "P023": "Do not obstruct",
    "P028": "Do not wear gloves",
    "P029": "No photography",
    "P075": "Do not stare at light source",
}
STATEMENTS = {
    "H224": "Extremely flammable liquid and vapour",
    "H225": "Highly flammable liquid and vapour",
    "H226": "Flammable liquid and vapour",
    "H228": "Flammable solid",
    "H270": "May cause or intensify fire; oxidizer",
    "H290": "May be corrosive to metals",
    "H301": "Toxic if swallowed",
    "H302": "Harmful if swallowed",
    "H311": "Toxic in contact with skin",
    "H312": "Harmful in contact with skin",
    "H314": "Causes severe skin burns and eye damage",
    "H315": "Causes skin irritation",
    "H317": "May cause an allergic skin reaction",
    "H318": "Causes serious eye damage",
    "H319": "Causes serious eye irritation",
    "H331": "Toxic if inhaled",
    "H332": "Harmful if inhaled",
    "H335": "May cause respiratory irritation",
    "H336": "May cause drowsiness or dizziness",
    "H351": "Suspected of causing cancer",
    "H372": "Causes damage to organs through prolonged or repeated exposure",
    "H373": "May cause damage to organs through prolonged or repeated exposure",
    "H400": "Very toxic to aquatic life",
    "H410": "Very toxic to aquatic life with long lasting effects",
}
# UN GHS, annex 3, section 2, as several public lists of precautionary statements agree
PRECAUTIONS = {
    "P102": "Keep out of reach of children",
    "P210": "Keep away from heat, hot surfaces, sparks, open flames and other ignition sources. "
    "No smoking",
    "P233": "Keep container tightly closed",
    "P235": "Keep cool",
    "P261": "Avoid breathing dust/fume/gas/mist/vapours/spray",
    "P262": "Do not get in eyes, on skin, or on clothing",
    "P264": "Wash hands thoroughly after handling",
    "P270": "Do not eat, drink or smoke when using this product",
    "P271": "Use only outdoors or in a well-ventilated area",
    "P272": "Contaminated work clothing should not be allowed out of the workplace",
    "P273": "Avoid release to the environment",
    "P280": "Wear protective gloves/protective clothing/eye protection/face protection",
    "P301+P330+P331": "IF SWALLOWED: Rinse mouth. Do NOT induce vomiting",
    "P304+P340": "IF INHALED: Remove person to fresh air and keep comfortable for breathing",
    "P305+P351+P338": "IF IN EYES: Rinse cautiously with water for several minutes. Remove contact "
    "lenses, if present and easy to do. Continue rinsing",
    "P403+P235": "Store in a well-ventilated place. Keep cool",
    "P405": "Store locked up",
}
SMALL_WORDS = {"a", "the", "sign", "fire", "source", "prohibited", "and", "of"}


def _content(text: str) -> set[str]:
    words = "".join(letter if letter.isalpha() else " " for letter in text.casefold()).split()
    return set(words) - SMALL_WORDS


@pytest.mark.parametrize("code", sorted(SIGNS))
def test_signs_say_what_the_standard_says(code: str) -> None:
    published = _content(SIGNS[code])
    ours = _content(cautions.code_words(code))
    assert published <= ours | {"open", "ignition"}, (published, ours)


@pytest.mark.parametrize("code", sorted(STATEMENTS))
def test_statements_are_quoted_word_for_word(code: str) -> None:
    assert cautions.code_words(code) == STATEMENTS[code]


@pytest.mark.parametrize("code", sorted(PRECAUTIONS))
def test_precautions_are_quoted_word_for_word(code: str) -> None:
    assert cautions.code_words(code) == PRECAUTIONS[code].replace("/", ", ")


def test_precautions_are_no_signs() -> None:
    """ISO 7010 counts its signs from 001 and hasn't come to 100; precautions begin at P101."""
    assert [cautions.code_kind(code) for code in ("P003", "P099", "P101", "P305+P351+P338")] == [
        "must not",
        "must not",
        "precaution",
        "precaution",
    ]
    assert cautions.sorted_codes(["P210", "H225", "P003"]) == ("P003", "H225", "P210")
    assert cautions.code_words("P305+P999") == ""
    assert cautions.code_words("H301+H311") == "Toxic if swallowed; Toxic in contact with skin"


def test_every_code_of_the_demo_studies_has_words() -> None:
    codes = [
        code
        for path in DEMO.glob("*/study.toml")
        for step in tomllib.loads(path.read_text(encoding="utf-8")).get("steps", [])
        for caution in step.get("cautions", [])
        for code in (*caution.get("iso7010", []), *caution.get("ghs", []))
    ]
    assert len(codes) > 20
    assert [code for code in codes if not cautions.code_words(code)] == []


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        ("W017", "warning"),
        ("M004", "must do"),
        ("P022", "must not"),
        ("E003", "where help is"),
        ("F001", "for a fire"),
        ("GHS07", "picture on the bottle"),
        ("H302", "hazard statement"),
        ("X1", ""),
    ],
)
def test_kinds(code: str, kind: str) -> None:
    assert cautions.code_kind(code) == kind


def test_an_unknown_code_is_printed_as_it_stands() -> None:
    assert cautions.code_text(" X999 ") == "X999"


def test_codes_come_once_and_warnings_first() -> None:
    mixed = ["H302", "P022", "GHS07", "M009", "Z1", "W017", "E003", "M009", " "]
    assert cautions.sorted_codes(mixed) == ("W017", "M009", "P022", "E003", "GHS07", "H302", "Z1")


def test_what_comes_first_is_said() -> None:
    for words in ("rules", "risk assessment", "qualified person"):
        assert words in cautions.FIRST
    assert "responsible adult" in cautions.WHY_SIGNED
    assert "stores no name" in cautions.NO_NAMES


def test_a_caution_is_told_in_the_language_in_use() -> None:
    with speaking_made_up():
        assert cautions.code_text("W012") == f"W012 {made_up('electricity')}"
        assert cautions.code_text("X999") == "X999"
        told = cautions.code_words("P305+P351")
    first, then = "IF IN EYES:", "Rinse cautiously with water for several minutes"
    assert told == f"{made_up(first)} {made_up(then)}"
