"""Typeset pages: the standard they keep, and what can't break them.

Outside sources. PDF/UA-1: ISO 14289-1:2014, clauses 5 (identification), 7.1 (tagging, title,
language) and 7.21 (embedded fonts). Paper: ISO 216 (A4, 210 mm x 297 mm) and ANSI/ASME Y14.1
(Letter, 8.5 in x 11 in). Contrast: WCAG 2.2, success criterion 1.4.3 and its formula of relative
luminance.
"""

from __future__ import annotations

import io
import re
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, StreamObject

from trials.errors import RequestError
from trials.render import typeset
from trials.render.typeset import (
    LETTERS_NOTE,
    TypesetError,
    mark_of,
    pdf,
    picture_png,
    png_pages,
    template,
)

PAGE = "#show: sheet.with(foot: data.foot)\n= Tea\n#data.words"


DRAWING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">
<path d="M0 0h9"/></svg>"""


def _page(words: str, **more: Any) -> bytes:
    return pdf(PAGE, {"words": words, "foot": ["Tea study"]}, title="Tea", **more)


def _reader(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


def _text(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in _reader(content).pages).split())


def test_the_file_says_that_it_keeps_the_standard_for_accessible_pdf() -> None:
    reader = _reader(_page("hot water"))
    root = cast("DictionaryObject", reader.trailer["/Root"])
    assert cast("DictionaryObject", root["/MarkInfo"])["/Marked"]
    assert "/StructTreeRoot" in root
    assert str(root["/Lang"]) == "en"
    assert cast("DictionaryObject", root["/ViewerPreferences"])["/DisplayDocTitle"]
    metadata = cast("StreamObject", root["/Metadata"].get_object()).get_data().decode()
    assert "http://www.aiim.org/pdfua/ns/id/" in metadata
    assert re.search(r"pdfuaid:part(>|=\")1", metadata)
    assert reader.metadata is not None
    assert reader.metadata.title == "Tea"


def test_a_mark_stands_in_every_foot_but_of_pages_that_are_unmarked() -> None:
    source = PAGE.replace("data.foot", "data.foot, unmarked: 1") + "\n#pagebreak()\n= Cups"
    content = pdf(source, {"words": "hot", "foot": ["Tea study"]}, title="Tea", mark="print 2, ñ")
    first, second = (" ".join(page.extract_text().split()) for page in _reader(content).pages)
    assert first.endswith("Tea study page 1 of 2")
    assert second.endswith("Tea study print 2, ñ page 2 of 2")
    assert mark_of(content) == "print 2, ñ"
    assert "Tea study print 2 page 1 of 1" in _text(_page("hot", mark="print 2"))


def test_every_font_is_within_the_file() -> None:
    fonts = 0
    for page in _reader(_page("hot water")).pages:
        resources = cast("DictionaryObject", page["/Resources"])
        for font in cast("DictionaryObject", resources["/Font"]).values():
            for below in font.get_object()["/DescendantFonts"]:
                descriptor = below.get_object()["/FontDescriptor"]
                assert {"/FontFile2", "/FontFile3"} & set(descriptor)
                fonts += 1
    assert fonts >= 2  # heading and text


@pytest.mark.parametrize(
    ("paper", "millimetres"), [("a4", (210.0, 297.0)), ("us-letter", (215.9, 279.4))]
)
def test_paper_sizes(paper: typeset.Paper, millimetres: tuple[float, float]) -> None:
    box = _reader(_page("hot water", paper=paper)).pages[0].mediabox
    size = (float(box.width) * 25.4 / 72, float(box.height) * 25.4 / 72)
    assert size == pytest.approx(millimetres, abs=0.1)


def test_the_same_input_gives_the_same_bytes() -> None:
    assert _page("hot water") == _page("hot water")
    assert _page("hot water") != _page("cold water")


def test_text_is_never_read_as_markup() -> None:
    words = '#panic("x") *bold* $x^2$ @label <b> \\ `raw` = Heading'
    assert words in _text(_page(words))


def test_title_and_language_and_foot() -> None:
    content = pdf(PAGE, {"words": "agua", "foot": ["uno", "dos"]}, title="Té", lang="es")
    reader = _reader(content)
    assert str(cast("DictionaryObject", reader.trailer["/Root"])["/Lang"]) == "es"
    assert reader.metadata is not None
    assert reader.metadata.title == "Té"
    assert "uno · dos" in _text(content)
    assert "page 1 of 1" in _text(content)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_a_long_title_stands_whole_in_the_foot(paper: typeset.Paper) -> None:
    title = (
        "Two lessons: does the dye or a second coat change what a plant-dye solar cell delivers?"
    )
    note = "Invented school: an example to change, not a real experiment."
    foot = [title, note, "code 1435e446"]
    content = pdf(PAGE, {"words": "x", "foot": foot}, title="T", paper=paper)
    assert f"{title} · {note} · code 1435e446" in " ".join(_text(content).split())


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_what_finds_no_room_in_the_foot_is_cut_at_a_word(paper: typeset.Paper) -> None:
    title = "Does the dye, or a second coat, change a thing? " * 12
    content = pdf(PAGE, {"words": "x", "foot": [title, "code 14"]}, title="T", paper=paper)
    _, told = " ".join(_text(content).split()).split("x ", 1)
    kept = told.split("… · code 14")[0]
    assert len(kept) > 80
    assert re.match(rf"{re.escape(kept)}[ ,?]", title)


@pytest.mark.parametrize(
    "title",
    [
        "Lesson 2, Wednesday 25 September 2030, 10:15",
        "Lección 2, miércoles 25 de septiembre de 2030, 10:15",
        "Lesson 3 (no date given yet)",
    ],
)
def test_the_time_of_a_lesson_is_not_alone_on_a_line(title: str) -> None:
    source = "#show: sheet.with(foot: data.foot)\n#heading(level: 1, dated(data.words))"
    page = _reader(pdf(source, {"words": title, "foot": []}, title="T")).pages[0]
    lines = [" ".join(line.split()) for line in page.extract_text().splitlines()]
    lines = [line for line in lines if line and not line.startswith("page ")]
    assert " ".join(lines) == title
    dated = re.search(r"\d+ (de )?[Ss].*", title)
    assert dated is None or lines[-1] == dated.group()


@pytest.mark.parametrize(
    ("words", "printed"),
    [
        ("tea 🧪 time", "tea [test tube] time"),
        ("中文", "[4E2D 6587]"),
        ("a👩‍🔬b", "a[woman, microscope]b"),
        ("हिन्दी tea", "[0939 093F 0928 094D 0926 0940] tea"),
        ("x\ue000y", "x[E000]y"),
        ("half\ud800", "half[D800]"),
    ],
)
def test_letters_without_a_shape_stand_in_brackets(words: str, printed: str) -> None:
    text = _text(_page(words))
    assert printed in text
    assert " ".join(LETTERS_NOTE.split()) in text or "[E000]" in text or "[D800]" in text


@pytest.mark.parametrize(
    "words",
    ["ñandú Öl çay Škoda", "Ελληνικά", "Кириллица", "µ Ω ° ± ² ₂ → ≤ × − – — “x” ‘y’ …", "½ ☐ ✓"],
)
def test_letters_of_a_laboratory_need_no_note(words: str) -> None:
    text = _text(_page(words))
    assert words in text
    assert "[" not in text


def test_marks_that_steer_writing_are_taken_out() -> None:
    # A right-to-left override would print the code backwards, another code to the eye.
    assert "code AB12" in _text(_page("code \u202eAB12\u202c\x00\x07\ufeff"))


def test_a_word_without_end_stays_on_paper() -> None:
    reader = _reader(_page("Donau" * 200))
    right = float(reader.pages[0].mediabox.width)
    ends: list[float] = []

    def visit(text: str, _cm: list[float], tm: list[float], _font: Any, _size: float) -> None:
        if text.strip():
            ends.append(tm[4])

    reader.pages[0].extract_text(visitor_text=visit)
    assert max(ends) < right
    assert _text(_page("Donau" * 200)).replace("\u200b", "").replace(" ", "").count("Donau") == 200


def test_a_title_may_hold_anything() -> None:
    content = pdf(PAGE, {"words": "x", "foot": ["🧪 study"]}, title="🧪 \x00 <x>")
    assert "[test tube] study" in _text(content)


def test_pictures_come_as_virtual_files() -> None:
    source = '#show: sheet\n= Tea\n#image("line.svg", alt: "a line")'
    assert _reader(pdf(source, {}, title="Tea", files={"line.svg": DRAWING})).pages


def test_a_picture_without_words_for_it_is_a_fault_of_the_pattern() -> None:
    source = '#show: sheet\n= Tea\n#image("line.svg")'
    with pytest.raises(TypesetError) as caught:
        pdf(source, {}, title="Tea", files={"line.svg": DRAWING})
    assert caught.value.code == "render.failed"
    assert caught.value.exit_code == 3
    assert "alt text" in caught.value.found
    assert "main.typ, line 5" in caught.value.where


def test_a_pattern_that_stops_names_the_place() -> None:
    with pytest.raises(TypesetError) as caught:
        pdf("#show: sheet\n= Tea\n#data.missing", {}, title="Tea")
    assert "main.typ, line 5" in caught.value.where


def test_a_letter_of_the_pattern_itself_is_our_fault() -> None:
    with pytest.raises(TypesetError) as caught:
        pdf("#show: sheet\n= 🧪", {}, title="Tea")
    assert caught.value.code == "render.letter"
    assert caught.value.found == "U+1F9EA"


def test_unknown_paper_is_refused() -> None:
    with pytest.raises(RequestError) as caught:
        _page("x", paper=cast("typeset.Paper", "b5"))
    assert caught.value.to_dict() == {
        "code": "render.paper",
        "what": "That paper size is unknown.",
        "where": "",
        "found": "b5",
        "allowed": "a4, us-letter",
        "do": "Choose one of these.",
    }


def test_the_page_keeps_its_own_file_names() -> None:
    with pytest.raises(RequestError) as caught:
        _page("x", files={"data.json": b"{}"})
    assert caught.value.found == "data.json"


def test_pages_as_pictures() -> None:
    data = {"words": "tea 🧪", "foot": []}
    source = PAGE + "\n#pagebreak()\nmore"
    small = png_pages(source, data, title="Tea", ppi=36)
    assert len(small) == len(_reader(pdf(source, data, title="Tea")).pages) == 2
    width = int.from_bytes(small[0][16:20], "big")  # PNG (ISO/IEC 15948), IHDR
    assert width == round(210 / 25.4 * 36)
    assert len(png_pages(source, data, title="Tea", ppi=72)[0]) > len(small[0])


def test_a_picture_as_png_is_as_large_on_paper() -> None:
    svg = b"""<svg xmlns="http://www.w3.org/2000/svg" width="36pt" height="18pt"
viewBox="0 0 36 18"><rect width="18" height="18" fill="#0072b2"/></svg>"""
    png = picture_png(svg, 200)
    assert png == picture_png(svg, 200)
    with Image.open(io.BytesIO(png)) as picture:  # Pillow reads the chunk pHYs and checks its sum
        assert picture.size == (100, 50)
        assert picture.info["dpi"] == pytest.approx((200, 200), abs=0.01)
        pixels = picture.convert("RGB")
    assert pixels.getpixel((25, 25)) == (0x00, 0x72, 0xB2)
    assert pixels.getpixel((75, 25)) == (255, 255, 255)
    with pytest.raises(TypesetError):
        picture_png(b"tea", 200)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.text(max_size=40))
def test_no_text_can_break_a_page(words: str) -> None:
    source = PAGE + "\n== On #data.words\n#table(columns: 2, table.header[A][#data.words], [], [])"
    assert _reader(pdf(source, {"words": words, "foot": [words]}, title=words)).pages


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_letters_stand_out_from_every_ground() -> None:
    found = re.findall(r'#let ([\w-]+) = rgb\("#(\w{6})"\)', template("style.typ"))
    colours = {name: _luminance(value) for name, value in found}
    for letters in ("ink", "accent", "quiet", "alarm"):
        for ground in (1.0, colours["pale"], colours["alarm-pale"]):
            assert (ground + 0.05) / (colours[letters] + 0.05) >= 4.5, letters
