"""Labels: where they stand on the paper, how large they are, and what a camera reads on them.

QR codes are read back by an independent program (zxing-cpp, its own reader of ISO/IEC 18004) from
the printed page.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.page_text import read_pages
from trials.design.values import Plan
from trials.errors import RequestError
from trials.render.qr import QUIET, qr
from trials.render.typeset import Paper, png_pages, template
from trials.sheets import make_sheets
from trials.sheets.label_sheets import (
    KNOWN,
    READABLE,
    SIZES,
    LabelSheet,
    label_sheet,
    measures,
)
from trials.sheets.labels import TEMPLATE, label_page, labels
from trials.sheets.parts import Job
from trials.study.values import Study, StudyFactor

Cells = tuple[Study, Plan]
MM = 25.4 / 72  # of a point
FORMS: list[tuple[Paper, str]] = [
    ("a4", "plain"),
    ("a4", "large"),
    ("a4", "70 x 37 mm"),
    ("a4", "52.5 x 29.7 mm"),
    ("a4", "38.1 x 21.2 mm"),
    ("us-letter", "plain"),
    ("us-letter", "large"),
    ("us-letter", "2.625 x 1 in"),
    ("us-letter", "1.75 x 0.5 in"),
]


def pages_of(job: Job, wanted: str) -> list[Image.Image]:
    pages = png_pages(
        template(TEMPLATE, "trials.sheets"),
        label_page(job, wanted),
        title="Labels",
        paper=job.paper,
        ppi=200,
    )
    return [Image.open(io.BytesIO(page)).convert("L") for page in pages]


@pytest.mark.parametrize(("paper", "wanted"), FORMS)
def test_a_camera_reads_each_code_and_nothing_else(cells: Cells, paper: Paper, wanted: str) -> None:
    read = [
        code
        for page in pages_of(Job(*cells, paper), wanted)
        for code in zxingcpp.read_barcodes(page)
    ]
    assert {str(code.format) for code in read} == {"QR Code"}
    assert sorted(code.text for code in read) == sorted(row.item for row in cells[1].rows)


@pytest.mark.parametrize("text", ["BA17", "b-7", "Q" * 20, "0"])
def test_squares_keep_their_quiet_zone_and_read_back(text: str) -> None:
    """ISO/IEC 18004: 21 squares a side in version 1, 4 more in each next; 4 empty around."""
    made = qr(text)
    side = len(made.rows)
    assert (side - 21) % 4 == 0
    assert all(len(row) == side for row in made.rows)
    assert made.side == side + 2 * QUIET == side + 8
    picture = Image.new("L", (made.side, made.side), 255)
    for y, row in enumerate(made.rows):
        for x, dark in enumerate(row):
            if dark:
                picture.putpixel((x + QUIET, y + QUIET), 0)
    (found,) = zxingcpp.read_barcodes(
        picture.resize((made.side * 4,) * 2, Image.Resampling.NEAREST)
    )
    assert found.text == text
    assert found.ec_level == "H"
    assert made.svg().count(f'viewBox="0 0 {made.side} {made.side}"') == 1


def codes_on(job: Job, wanted: str) -> list[tuple[int, str, float, float, float]]:
    """Page, code, left and baseline in mm from the top left corner, size of the letters in mm."""
    codes = {row.item for row in job.plan.rows}
    found: list[tuple[int, str, float, float, float]] = []
    for number, page in enumerate(read_pages(labels(job, wanted)[0])):
        high = float(page.mediabox.height)
        parts: list[tuple[Any, ...]] = []

        def visit(*part: Any, parts: list[tuple[Any, ...]] = parts) -> None:
            parts.append(part)

        page.extract_text(visitor_text=visit)
        for text, cm, tm, _, size in parts:
            if text.strip() in codes:
                x = cm[0] * tm[4] + cm[2] * tm[5] + cm[4]
                y = cm[1] * tm[4] + cm[3] * tm[5] + cm[5]
                scale = abs(size * tm[3] * cm[3])
                found.append((number, text.strip(), x * MM, (high - y) * MM, scale * MM))
    return found


@pytest.mark.parametrize(
    ("paper", "wanted", "pitch", "grid"),
    [
        ("a4", "70 x 37 mm", (70.0, 37.0), (3, 8)),
        ("a4", "52,5 x 29,7 mm", (52.5, 29.7), (4, 10)),
        ("a4", "63.5 x 33.9", (66.0, 33.9), (3, 8)),
        ("us-letter", "2.625 x 1 in", (2.75 * 25.4, 25.4), (3, 10)),
        ("us-letter", "4 x 1.333 in", (4.1875 * 25.4, 25.4 * 4 / 3), (2, 7)),
        ("us-letter", "1.75 in x 0.5 in", (2.05 * 25.4, 12.7), (4, 20)),
    ],
)
def test_labels_stand_to_the_millimetre(
    cells: Cells, paper: Paper, wanted: str, pitch: tuple[float, float], grid: tuple[int, int]
) -> None:
    """Distances from label to label, as sellers state them: common practice, from memory."""
    across, down = grid
    found = codes_on(Job(*cells, paper), wanted)
    assert len(found) == 48
    first = found[0]
    for at, (page, _, x, y, _) in enumerate(found):
        place = at % (across * down)
        assert page == at // (across * down)
        assert x - first[2] == pytest.approx(place % across * pitch[0], abs=0.1)
        # where the small print takes another line the code stands a little higher
        assert y - first[3] == pytest.approx(place // across * pitch[1], abs=3.1)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_usual_sheets_fit_their_paper(paper: Paper) -> None:
    wide, high = SIZES[paper]
    for sheet in KNOWN[paper]:
        assert sheet.left >= 0
        assert sheet.top >= 0
        across = sheet.across * sheet.width + (sheet.across - 1) * sheet.gap
        assert across + 2 * sheet.left == pytest.approx(wide)
        assert sheet.down * sheet.height + 2 * sheet.top == pytest.approx(high)


@pytest.mark.parametrize(("paper", "wanted"), FORMS)
def test_codes_can_be_read_from_half_a_metre(cells: Cells, paper: Paper, wanted: str) -> None:
    """22 minutes of arc at 0.5 m are 3.2 mm; a capital of this font is 1493 of 2048 units high.

    Both from outside: ISO 9241-303 (from memory), and table OS/2 of the font itself.
    """
    job = Job(*cells, paper)
    stated = measures(label_sheet(wanted, paper), [r.item for r in cells[1].rows], 29)
    for _, _, _, _, letters in codes_on(job, wanted):
        assert letters == pytest.approx(stated.letters, abs=0.05)
        assert letters * 1493 / 2048 >= READABLE
        assert letters * 1493 / 2048 == pytest.approx(stated.capitals, abs=0.05)
    purpose = label_page(job, wanted)
    shown = f"The letters are {int(stated.capitals)} mm high"
    assert shown in purpose["purpose"] + purpose["intro"]


def test_large_print_is_large(cells: Cells) -> None:
    letters = {round(one[4], 1) for one in codes_on(Job(*cells, "a4"), "large")}
    assert min(letters) > 25
    assert "labels.pdf" in make_sheets(*cells, label_size="large").files


def test_no_label_says_a_version(hand_plan: Callable[[Study, int], Plan], cells: Cells) -> None:
    """A group that carries a version is named on no label, nor in a QR code."""
    study = cells[0].model_copy(
        update={
            "factors": (StudyFactor(name="rope", levels=("hemp", "nylon"), applied_to="team"),),
            "steps": (),
        }
    )
    plan = hand_plan(study, 48)
    page = label_page(Job(study, plan, "a4"), "70 x 37 mm")
    seen = str({key: value for key, value in page.items() if key != "foot"})
    for words in ("hemp", "nylon", "alder", "willow"):
        assert words not in seen
    assert [entry["check"] for entry in page["labels"]] == [["session\u00a01"]] * 24 + [
        ["session\u00a02"]
    ] * 24


@pytest.mark.parametrize(
    ("wanted", "code"),
    [
        ("", "sheets.labels"),
        ("huge", "sheets.labels"),
        ("70 x", "sheets.labels"),
        ("0 x 20 mm", "sheets.labels"),
        ("300 x 20 mm", "sheets.labels"),
        ("70 x 37 kg", "sheets.labels"),
        ("20 x 10 mm", "sheets.labels_small"),
        ("9 x 60 mm", "sheets.labels_small"),
        ("1 x 1 mm", "sheets.labels_small"),
    ],
)
def test_labels_that_cannot_be_are_refused(cells: Cells, wanted: str, code: str) -> None:
    with pytest.raises(RequestError) as caught:
        labels(Job(*cells, "a4"), wanted)
    assert caught.value.code == code
    assert caught.value.found is not None
    assert caught.value.allowed


@given(st.floats(30, 200), st.floats(14, 120), st.integers(3, 7))
def test_any_size_that_is_taken_has_room(width: float, height: float, letters: int) -> None:
    sheet = label_sheet(f"{width:.1f} x {height:.1f} mm", "a4")
    assert isinstance(sheet, LabelSheet)
    try:
        sizes = measures(sheet, ["W" * letters], 29)
    except RequestError:
        return
    across = sheet.width - 2 * sheet.pad[0]
    assert sizes.qr + sizes.letters * 0.602 * letters < across
    assert max(sizes.qr, sizes.capitals) <= sheet.height - 2 * sheet.pad[1] + 1e-9
