"""A printed page as rows of tables and clauses of prose, and the numbers in them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

NUMBER = re.compile(r"(?<![\w.])[−-]?\d+(?:\.\d+)?(?:\s×\s10[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)?(?![\w.]*[A-Za-z])")
CODE = re.compile(r"\b(?=\w*\d)(?=\w*[A-Za-z])\w+\b")
_RAISED = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")
_DASHED = re.compile(r"(?<=\d)-(?=\d)")


def shows(token: str, value: float) -> bool:
    """Tell whether a number as printed is the rounding of a value."""
    plain, _, power = token.replace("−", "-").partition("×")
    ten = int(power.strip()[2:].translate(_RAISED)) if power else 0
    plain, value = plain.strip(), value / 10.0**ten
    decimals = len(plain.partition(".")[2])
    half = 0.5 * 10.0**-decimals
    return abs(float(plain) - value) <= half * (1 + 1e-9) + 1e-12


def any_shows(token: str, values: Iterable[float]) -> bool:
    return any(shows(token, value) for value in values)


@dataclass(frozen=True)
class Line:
    """A row of a table (its caption, its headings) or a clause of prose (caption "")."""

    text: str
    caption: str = ""
    heads: tuple[str, ...] = ()
    cells: tuple[str, ...] = ()


@dataclass
class _Reader(HTMLParser):
    """Takes a page apart into rows and blocks of prose, alt texts and folded tables too."""

    blocks: list[Line] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()
        self.caption = ""
        self.heads: list[str] = []
        self.cells: list[str] = []
        self.text: list[str] = []
        self.in_head = self.skip = False
        self.order: list[str] = []  # visible text outside what is folded away, as on paper
        self.folded = 0
        self.listed: list[int] = []  # numbers of the open lists, -1 where they are not numbered

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        if tag == "img" and known.get("alt"):
            self.blocks.append(Line(str(known["alt"])))
        self.folded += tag == "details"
        self.skip = self.skip or tag in ("style", "nav")
        if tag in ("ol", "ul"):
            self.listed.append(0 if tag == "ol" else -1)
        if tag == "footer":
            self.folded += 1  # on paper the foot of every page
        if tag == "li" and self.listed[-1] >= 0:
            self.listed[-1] += 1
            self.order.append(f" {self.listed[-1]}. ")
        self.in_head = tag == "thead" or (self.in_head and tag != "tbody")
        if tag == "table":
            self.caption, self.heads = "", []
        if tag == "tr":
            self.cells = []
        if tag in ("p", "li", "dt", "dd", "caption", "td", "th", "figcaption", "h1", "h2", "h3"):
            self.text = []

    def handle_data(self, data: str) -> None:
        if not self.skip:
            self.text.append(data)
            if not self.folded:
                self.order.append(data)

    def handle_endtag(self, tag: str) -> None:
        text = " ".join("".join(self.text).split())
        self.folded -= tag in ("details", "footer")
        if tag in ("ol", "ul"):
            self.listed.pop()
        if tag in ("style", "nav"):
            self.skip, self.text = False, []
        elif tag == "caption":
            self.caption = text
            self.blocks.append(Line(text))
        elif tag in ("td", "th"):
            (self.heads if self.in_head else self.cells).append(text)
        elif tag == "tr" and not self.in_head:
            row = tuple(self.cells)
            self.blocks.append(Line(" | ".join(row), self.caption, tuple(self.heads), row))
        elif tag in ("p", "li", "dt", "dd", "figcaption", "h1", "h2", "h3", "h4"):
            self.blocks.append(Line(text))
        if tag in ("td", "th", "p", "li", "dt", "dd", "figcaption", "caption", "h1", "h2", "h3"):
            self.text = []
            if not self.folded and not self.skip:
                self.order.append(" ")


def read_page(page: str) -> tuple[list[Line], str]:
    """Return a page's rows and blocks, and its text as on paper (nothing folded, no alt texts)."""
    reader = _Reader()
    reader.feed(re.sub(r'src="data:[^"]+"', 'src=""', page))
    return reader.blocks, "".join(reader.order)


def clauses(text: str) -> Iterator[str]:
    """Cut prose where a sentence or a clause ends; never within a number."""
    yield from (part for part in re.split(r"(?<!p adj)[.;](?=\s|$)\s*|\s\|\s", text) if part)


def numbers(text: str) -> list[str]:
    return NUMBER.findall(_DASHED.sub(" ", text))


def long(token: str) -> bool:
    """Whether a number shows three digits or more, leading zeros apart."""
    return len(re.sub(r"\D", "", token).lstrip("0")) >= 3


def flat(node: Any) -> Iterator[float]:
    """Give every number within a node, and those that stand there as text (levels)."""
    if isinstance(node, bool) or node is None:
        return
    if isinstance(node, int | float):
        yield float(node)
    elif isinstance(node, str):
        if re.fullmatch(r"-?\d+(\.\d+)?", node):
            yield float(node)
    else:
        for one in node.values() if isinstance(node, dict) else node:
            yield from flat(one)
