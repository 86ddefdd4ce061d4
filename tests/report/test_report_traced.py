"""Every number of the demo's report is a number of its findings, at the digits shown.

The outside is the committed files themselves: findings.json, plan.json, study.toml and what the
class handed in, read by :mod:`.tracing`, which uses nothing of the package.
"""

from __future__ import annotations

import random
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

from tests.page_text import page_text, read_pages

from .traced_page import NUMBER, Line, long, numbers, read_page
from .tracing import (
    codes,
    each_once,
    kept,
    known_codes,
    paper_lines,
    told_on,
    traced,
    tracing,
    without_list_numbers,
)

FOOT = re.compile(r"Invented school[^\n]* · check code (\w+)( · [\d-]+)? page (\d+) of (\d+)\n?")


@each_once
def _html() -> tuple[list[Line], str]:
    return read_page((kept() / "report" / "report.html").read_text("utf-8"))


def _paper(name: str) -> str:
    return _read_paper(kept() / "report" / f"{name}.pdf")


@cache
def _read_paper(path: Path) -> str:
    """Return the text of a PDF without the foot of its pages, which is checked here."""
    pages = read_pages(path.read_bytes())
    out = []
    for at, page in enumerate(pages, 1):
        text = page_text(page) + "\n"
        foot = FOOT.search(text)
        assert foot, f"{path.name}, page {at} has no foot"
        assert (int(foot[3]), int(foot[4])) == (at, len(pages))
        assert foot[1] in known_codes()
        assert foot[2] in (None, f" · {told_on()}")
        out.append(FOOT.sub("", text))
    return "".join(out)


def _untraced(lines: list[Line]) -> list[tuple[str, str]]:
    return [(token, line.text[:90]) for line in lines for token, found in traced(line) if not found]


def test_every_number_of_the_page_is_one_of_the_findings() -> None:
    lines, _ = _html()
    assert sum(len(traced(line)) for line in lines) > 7000
    assert _untraced(lines) == []


def test_every_code_of_the_page_is_a_name_of_the_study() -> None:
    lines, _ = _html()
    assert {code for line in lines for code in codes(line.text)} - known_codes() == set()


def test_the_paper_has_the_numbers_of_the_page_in_the_same_order() -> None:
    # so what is traced for the page is traced for the paper
    assert numbers(_paper("report")) == numbers(_html()[1])


def test_the_numbers_of_the_other_papers_are_traced() -> None:
    for name, least in (("judge", 30), ("board", 80), ("teacher", 120)):
        assert _paper_untraced(name, least) == [], name


def _paper_untraced(name: str, least: int) -> list[tuple[str, str]]:
    """Return the numbers of a paper that aren't traced; of at ``least`` so many."""
    text, listed = without_list_numbers(_paper(name))
    assert [token for token, found in listed if not found] == []
    lines = list(paper_lines(text))
    assert sum(len(traced(line)) for line in lines) >= least
    assert set(codes(text)) - known_codes() == set()
    return _untraced(lines)


def test_the_numbers_of_a_smaller_study_are_traced_too() -> None:
    cells = known_codes()
    with tracing("planes"):
        lines, _ = _html()
        assert sum(len(traced(line)) for line in lines) > 400
        assert _untraced(lines) == []
        found = {code for line in lines for code in codes(line.text)}
        assert found - known_codes() == set()
        assert found - cells  # of another study
        for name, least in (("judge", 25), ("board", 30)):
            assert _paper_untraced(name, least) == []


def test_what_comes_next_fits_on_one_tile() -> None:
    text = _paper("board")
    assert "What comes next" in text
    assert "What comes next (goes on)" not in text


def test_a_number_that_is_off_by_its_last_digit_is_noticed() -> None:
    """Of 200 numbers of three digits and more, at least 95 of 100 are missed when moved by one."""
    lines, _ = _html()
    places = [
        (line, hit.start(), hit.end())
        for line in lines
        for hit in NUMBER.finditer(line.text)
        if long(hit[0])
    ]
    noticed = 0
    unnoticed = []
    dice = random.Random(20)  # noqa: S311 - any 200 of them
    for line, start, end in dice.sample(places, 200):
        moved = _moved(line, start, end, dice.choice((-1, 1)))
        if all(found for _, found in traced(moved)):
            unnoticed.append((line.text[start:end], line.text[:120]))
        else:
            noticed += 1
    assert noticed >= 190, unnoticed


def _moved(line: Line, start: int, end: int, step: int) -> Line:
    """Return a line with one number moved by one unit in its last place."""
    token = line.text[start:end]
    digits = token.partition("\u00a0×")[0]
    decimals = len(digits.partition(".")[2])
    value = float(digits.replace("−", "-")) + step * 10.0**-decimals
    shown = f"{value:.{decimals}f}".replace("-", "−") + token[len(digits) :]
    text = line.text[:start] + shown + line.text[end:]
    cells = tuple(text.split(" | ")) if line.cells else ()
    return replace(line, text=text, cells=cells)
