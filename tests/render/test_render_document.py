"""One document drawn as a page, as paper and as plain lines."""

from __future__ import annotations

import io
import re
import subprocess
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.pages import axe_violations, in_chromium, nu_messages
from trials.render.blocks import (
    Bullets,
    Document,
    Figure,
    Paragraph,
    Part,
    Remark,
    Section,
    Terms,
    figures,
    texts,
    walk,
)
from trials.render.html import html_page
from trials.render.paper import document_pdf
from trials.render.plain import plain_lines
from trials.render.table import Column, Table

from .test_render_figures import all_figures

VOID = {"meta", "img", "br", "hr", "link", "input"}
HOSTILE = '<script>alert("1")</script> & "quotes" {{ 7*7 }} #strong[x] $a$'


@cache
def document() -> Document:
    table = Table(
        "means", "Means", (Column("level"), Column("mean", unit="mW", kind="number")),
        (("oven", 0.5), (HOSTILE, None)), ("A note.",),
    )  # fmt: skip
    dots, lines = all_figures()[:2]
    inner = Section("inner", "Deeper", (Terms((("word", "its meaning"),)), lines))
    student = Section(
        "answer",
        "The answer",
        (
            Paragraph("It is so.", "Really"),
            Paragraph("Perhaps.", "By chance?"),
            Bullets(("one", HOSTILE)),
            Bullets(("first", "second"), numbered=True),
            Remark("caution", "Hot", (Paragraph("Use tongs."), Bullets(("wait",)))),
            Remark("answer", "In short", (Paragraph("Yes.", "Heat"),)),
            table,
            dots,
        ),
        (inner,),
    )
    wide = Table(
        "wide", "A wide table", tuple(Column(f"column {i}", kind="number") for i in range(14)),
        tuple(tuple(float(i * j) for i in range(14)) for j in range(60)),
    )  # fmt: skip
    return Document(
        title="Cells & more",
        subtitle="Six teams",
        note="Invented data.",
        foot=("check code 1234", "made on 2030-05-17"),
        parts=(
            Part("report", "The report", "", (student,)),
            Part("technical", "In full", "For judges.", (Section("full", "Tables", (wide,)),)),
        ),
        data=(table,),
    )


@dataclass
class Page(HTMLParser):
    """What a page holds, and whether its tags close in order."""

    open: list[str] = field(default_factory=list)
    tags: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    text: list[str] = field(default_factory=list)
    headings: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if re.fullmatch(r"h\d", tag):
            self.headings.append(int(tag[1]))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.text.append(data)


def parsed(text: str) -> Page:
    page = Page()
    page.feed(text)
    page.close()
    assert page.open == []
    return page


def check_page(text: str) -> Page:
    """What every page of the package must hold to (WCAG 2.2, the parts that a machine can see)."""
    page = parsed(text)
    tags = page.tags
    assert [attrs["lang"] for tag, attrs in tags if tag == "html"] == ["en"]
    assert page.headings[0] == 1
    assert page.headings.count(1) == 1
    steps = zip(page.headings, page.headings[1:], strict=False)
    assert all(after <= before + 1 for before, after in steps)
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    for _, attrs in tags:
        for key in ("aria-labelledby",):
            assert attrs.get(key) in {None, *ids}
        link = attrs.get("href")
        assert link is None or (link.startswith("#") and link[1:] in ids)
    for tag, attrs in tags:
        if tag == "img":
            assert len(attrs.get("alt") or "") > 40
            assert (attrs.get("src") or "").startswith("data:image/svg+xml;base64,")
        if tag == "th":
            assert attrs.get("scope") in ("col", "row")
    names = [tag for tag, _ in tags]
    assert names.count("table") == names.count("caption")
    for landmark in ("header", "nav", "main", "footer"):
        assert names.count(landmark) == 1
    assert not re.search(r"https?:|//[a-z]+\.[a-z]", re.sub(r"base64,[^\"]+", "", text))
    return page


def test_the_page_is_whole_and_open_to_all() -> None:
    page = check_page(html_page(document()))
    assert page.headings == [1, 2, 3, 4, 2, 3]
    assert html_page(document()) == html_page(document())


def test_what_people_wrote_stays_text() -> None:
    text = html_page(document())
    assert "<script>" not in text
    assert HOSTILE in "".join(parsed(text).text)


def test_leads_end_as_they_should() -> None:
    text = html_page(document())
    assert "<strong>Really:</strong> It is so." in text
    assert "<strong>By chance?</strong> Perhaps." in text


def test_paper_is_tagged_titled_and_says_the_same() -> None:
    content = document_pdf(document())
    assert document_pdf(document()) == content
    reader = PdfReader(io.BytesIO(content))
    assert reader.metadata is not None
    assert reader.metadata.title == "Cells & more"
    root: Any = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]  # PDF/UA-1 (ISO 14289-1), 7.1
    assert root["/Lang"].startswith("en")
    pages = [
        re.sub(r"\s+", " ", page.extract_text().replace("\u200b", "")) for page in reader.pages
    ]
    flat = " ".join(pages)
    for piece in ("The answer", "Use tongs.", "0.500", "For judges.", "Invented data.", "Deeper"):
        assert piece in flat
    # the heading of a table stands on each of the pages that it takes
    assert ["column 13" in page for page in pages[-2:]] == [True, True]


def test_plain_lines_say_the_same_within_their_width() -> None:
    lines = plain_lines(document(), 60)
    text = "\n".join(lines)
    assert "Really: It is so." in text
    assert "1. first" in text
    assert "| Use tongs." in text
    assert "[Figure power-all] Power of every cell." in text
    running = lines[: lines.index("Means")]
    assert max(len(line) for line in running) <= 60


def test_walking_a_document() -> None:
    made = document()
    assert [figure.name for figure in figures(made)] == ["power-all", "dye-with-heat"]
    told = list(texts(made.parts[0].sections))
    for piece in ("Use tongs.", "its meaning", "A note.", "mean (mW)", "Hot", "first"):
        assert piece in told
    assert [s.key for s in walk(made.parts[0].sections)] == ["answer", "inner"]
    assert all(isinstance(f, Figure) for f in figures(made))


@pytest.mark.needs("chromium")
def test_the_page_reflows_on_a_small_screen(tmp_path: Path) -> None:
    # WCAG 2.2, 1.4.10: no scrolling in two directions at a width of 320 CSS pixels.
    inner = html_page(document()).replace("&", "&amp;").replace('"', "&quot;")
    frame = (
        f'<!DOCTYPE html><iframe width="320" height="900" srcdoc="{inner}"></iframe><script>'
        "window.onload = () => { const d = document.querySelector('iframe').contentDocument;"
        " document.title = 'width ' + d.documentElement.scrollWidth; }</script>"
    )
    path = tmp_path / "frame.html"
    path.write_text(frame, encoding="utf-8")
    seen = subprocess.run(
        [
            "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
            "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", f"--user-data-dir={tmp_path / 'profile'}",
            "--virtual-time-budget=3000", "--dump-dom", path.as_uri(),
        ],
        capture_output=True, text=True, check=True, timeout=60,
    ).stdout  # fmt: skip
    match = re.search(r"<title>width (\d+)", seen)
    assert match
    assert int(match[1]) <= 320


def wide_document() -> Document:
    """Return a page with a table of seven columns, as those of a plan for judges."""
    long = ("source", "stratum", "degrees of freedom", "tested by", "denominator", "efficiency")
    columns = (*(Column(name) for name in long), Column("mean", unit="mW", kind="number"))
    cells = ("coating passes × soak time", "session × team", "12", "firing", "11.8", "0.987")
    table = Table("wide", "Wide", columns, ((*cells, 0.5), (*cells, 0.25)), heads=2)
    few = Table("few", "Few", columns[:3], (("a long name of something", "b", "c"),))
    section = Section("s", "S", (table, few))
    return Document("t", "", "", ("f",), (Part("p", "P", "", (section,)),))


@pytest.mark.needs("chromium")
@pytest.mark.parametrize("width", [320, 420])
def test_no_table_scrolls_sideways_on_a_phone(tmp_path: Path, width: int) -> None:
    inner = html_page(wide_document()).replace("&", "&amp;").replace('"', "&quot;")
    path = tmp_path / "frame.html"
    path.write_text(
        f'<!DOCTYPE html><iframe width="{width}" height="900" srcdoc="{inner}"></iframe><script>'
        "window.onload = () => { const d = document.querySelector('iframe').contentDocument;"
        " const over = [...d.querySelectorAll('.scroll')].map(e => e.scrollWidth - e.clientWidth);"
        " const cell = d.querySelector('.stack td');"
        " const told = d.defaultView.getComputedStyle(cell, '::before').content;"
        " document.title = 'over ' + over.join(' ') + ' told ' + told; }</script>",
        encoding="utf-8",
    )
    seen = subprocess.run(
        [
            "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
            "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", f"--user-data-dir={tmp_path / 'profile'}",
            "--virtual-time-budget=3000", "--dump-dom", path.as_uri(),
        ],
        capture_output=True, text=True, check=True, timeout=60,
    ).stdout  # fmt: skip
    match = re.search(r"<title>over (-?\d+) (-?\d+) told (.*)</title>", seen)
    assert match
    assert (int(match[1]), int(match[2])) == (0, 0)
    assert "degrees of freedom" in match[3]  # each cell has its heading beside it


@pytest.mark.needs("chromium")
def test_a_table_laid_out_as_lists_is_still_told_as_a_table() -> None:
    """What a screen reader is told, by Chromium's own tree: the layout takes no role away."""
    script = (
        "<script>window.onload = () => { const of = (what) => [...new Set([..."
        "document.querySelectorAll('.stack ' + what)].map(one => one.computedRole))];"
        " tell({display: getComputedStyle(document.querySelector('.stack td')).display,"
        " roles: Object.fromEntries(['table', 'thead', 'tbody', 'tr', 'thead th', 'tbody th', 'td']"
        ".map(what => [what, of(what)]))}); };</script>"
    )
    seen = in_chromium(html_page(wide_document()), script, width=320)
    assert seen["display"] == "grid"  # it is laid out as lists
    assert seen["roles"] == {
        "table": ["table"], "thead": ["rowgroup"], "tbody": ["rowgroup"], "tr": ["row"],
        "thead th": ["columnheader"], "tbody th": ["rowheader"], "td": ["cell"],
    }  # fmt: skip


def test_each_cell_of_a_wide_table_has_its_heading_beside_it() -> None:
    wide, few = html_page(wide_document()).split('id="table-few"')
    assert '<td data-heading="degrees of freedom">12</td>' in wide
    assert '<td class="right" data-heading="mean (mW)">0.500</td>' in wide
    assert "data-heading" not in few


@pytest.mark.needs("vnu-jar")
def test_the_nu_html_checker_has_nothing_to_say(tmp_path: Path) -> None:
    pages = {"whole.html": document(), "wide.html": wide_document()}
    for name, made in pages.items():
        (tmp_path / name).write_text(html_page(made), encoding="utf-8")
    assert nu_messages(*(tmp_path / name for name in pages)) == []


@pytest.mark.needs("chromium", "axe-core")
@pytest.mark.parametrize("width", [320, 1000])
def test_axe_finds_nothing_in_the_way_of_anyone(width: int) -> None:
    assert axe_violations(html_page(document()), width) == {}


@pytest.mark.needs("vnu-jar", "chromium", "axe-core")
def test_both_judges_see_what_is_wrong(tmp_path: Path) -> None:
    page = html_page(document())
    worse = page.replace("<tr>", '<tr role="row">')
    (tmp_path / "worse.html").write_text(worse, encoding="utf-8")
    told = nu_messages(tmp_path / "worse.html")
    assert any("“role” attribute" in one for one in told)
    pale = page.replace("--ink: #16242c", "--ink: #aabbc4").replace(' alt="', ' data-alt="')
    assert {"color-contrast", "image-alt"} <= set(axe_violations(pale))
