"""Typeset pages: one typed door to the typst wheel.

What a person wrote enters as data (a JSON file that the page reads), never as markup, so no title
or note can run anything. Only fonts that come with the installed packages are used, so that a page
looks the same on every machine. A letter that none of them can draw is replaced visibly, and the
last page says so: a printout never fails because of an emoji in a title.

Facts of the wheel relied on here (run with version 0.15): PDF/UA-1 refuses a letter without a
shape and names it, other PDF kinds print a box in silence; with ``timestamp=0`` the same input
gives the same bytes; a document's keywords stand uncompressed in the file, as XMP's pdf:Keywords.
"""

from __future__ import annotations

import html
import importlib.resources
import importlib.util
import json
import re
import struct
import unicodedata
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, Literal, cast

import typst

from trials.errors import RequestError, TrialsError
from trials.render.symbols import symbols
from trials.words.language import language, marked, say
from trials.words.logbook import continued

Paper = Literal["a4", "us-letter"]

PAPERS: Final[tuple[Paper, ...]] = ("a4", "us-letter")
LETTERS_NOTE: Final = marked(
    "Some signs of the text can't be drawn with the letters of this program. "
    "They stand in [ ] here, by their name or their Unicode number."
)
_PRELUDE: Final = '#import "style.typ": *\n#let data = json("data.json")\n'
_RESERVED: Final = ("main.typ", "data.json", "page.json", "style.typ", "symbols.json")
_MISSING: Final = re.compile(r'the text `"((?:[^"\\]|\\.)*)"` could not be displayed')
_ESCAPE: Final = re.compile(r"\\(?:u\{([0-9a-fA-F]+)\}|(.))")
_KEYWORDS: Final = re.compile(rb"<pdf:Keywords>([^<]*)</pdf:Keywords>")
_ROUNDS: Final = 8
# Marks that steer the direction of writing: a printed code must never read backwards.
_DIRECTION: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


class TypesetError(TrialsError):
    """A page can't be typeset: a fault of a page's pattern, not of what a person wrote."""

    exit_code = 3


@dataclass(frozen=True)
class _Job:
    """One document, ready to be typeset but for letters that have no shape."""

    source: str
    data: Mapping[str, Any]
    title: str
    files: Mapping[str, bytes]
    paper: Paper
    lang: str
    mark: str = ""

    def virtual_files(self, missing: frozenset[str]) -> dict[str, bytes]:
        page = {
            "title": _drawable(self.title, missing).strip()
            or say("untitled"),  # UA-1 wants a title
            "paper": self.paper,
            "lang": self.lang,
            "mark": self.mark,
            "letters-note": say(LETTERS_NOTE) if missing else "",
            "page-of": say("page {page} of {pages}"),  # the pattern fills these places
            "continued": continued("{title}"),
        }
        return {
            **self.files,
            "main.typ": (_PRELUDE + self.source).encode(),
            "style.typ": template("style.typ").encode(),
            "symbols.json": json.dumps(symbols()).encode(),
            "page.json": json.dumps(page).encode(),
            "data.json": json.dumps(_drawable(self.data, missing), allow_nan=False).encode(),
        }


def pdf(
    document_source: str,
    data: Mapping[str, Any],
    *,
    title: str,
    files: Mapping[str, bytes] | None = None,
    paper: Paper = "a4",
    lang: str = "",
    mark: str = "",
) -> bytes:
    """Return a tagged PDF (PDF/UA-1, ISO 14289-1) as bytes; the same input gives the same bytes.

    Parameters
    ----------
    document_source : typst text of the page's pattern. ``data`` and everything in style.typ are
        in scope; it begins with ``#show: sheet.with(foot: data.foot)`` or the like. The first
        heading is of level 1, no heading is empty, and images and equations carry ``alt``.
    data : what the pattern reads: JSON values only. Text in it is never read as markup.
    title : title of the document, for screen readers and window titles.
    files : further virtual files (figures as SVG or PNG), by the name the pattern uses.
    paper : "a4" or "us-letter".
    lang : language of the text, ISO 639-1; left out: the one that is written now.
    mark : few words that stand in the foot and tell this print from others; see :func:`mark_of`.

    Raises
    ------
    RequestError : unknown paper, or a file name that is taken.
    TypesetError : the pattern itself is at fault.

    Examples
    --------
    >>> page = pdf("#show: sheet\\n= Tea\\n#data.words", {"words": "#1 *plain*"}, title="Tea")
    >>> page[:5]
    b'%PDF-'
    """
    job = _Job(document_source, data, title, dict(files or {}), paper, lang or language(), mark)
    return _settled(_checked(job))[0]


def mark_of(page: bytes) -> str:
    """Return the mark in the foot of a PDF that :func:`pdf` made; empty where it has none.

    Examples
    --------
    >>> mark_of(pdf("#show: sheet\\n= Tea", {}, title="Tea", mark="print 2 <b>"))
    'print 2 <b>'
    >>> mark_of(pdf("#show: sheet\\n= Tea", {}, title="Tea")), mark_of(b"no PDF")
    ('', '')
    """
    found = _KEYWORDS.search(page)
    return html.unescape(found[1].decode("utf-8", "replace")) if found else ""


def png_pages(
    document_source: str,
    data: Mapping[str, Any],
    *,
    title: str,
    files: Mapping[str, bytes] | None = None,
    paper: Paper = "a4",
    lang: str = "",
    ppi: float = 110.0,
) -> list[bytes]:
    """Return the pages of :func:`pdf` as PNG pictures of ``ppi`` dots per inch, one a page.

    Examples
    --------
    >>> [page[1:4] for page in png_pages("#show: sheet\\n= Tea", {}, title="Tea", ppi=30)]
    [b'PNG']
    """
    job = _checked(_Job(document_source, data, title, dict(files or {}), paper, lang or language()))
    missing = _settled(job)[1]

    pages = _compile(job.virtual_files(missing), format="png", ppi=ppi)
    return pages if isinstance(pages, list) else [pages]


def picture_png(svg: bytes, ppi: float) -> bytes:
    """Return a picture as PNG of ``ppi`` dots per inch; the same picture gives the same bytes.

    Raises
    ------
    TypesetError : ``svg`` is no SVG.

    Examples
    --------
    >>> dot = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M2 2h5"/></svg>'
    >>> picture_png(dot, 72)[1:4]
    b'PNG'
    """
    source = '#set page(width: auto, height: auto, margin: 0pt)\n#image("picture.svg")'
    made = _compile({"main.typ": source.encode(), "picture.svg": svg}, format="png", ppi=ppi)
    return _of_size(made if isinstance(made, bytes) else made[0], ppi)


def _of_size(png: bytes, ppi: float) -> bytes:
    """Return a PNG that says how large it is on paper (the wheel leaves that out).

    The chunk pHYs of the PNG specification (W3C, third edition, 11.3.4.3), after the first chunk.
    """
    first = 8 + 4 + 4 + 13 + 4  # signature; length, name, contents and check of IHDR
    named = b"pHYs" + struct.pack(">IIB", *[round(ppi / 0.0254)] * 2, 1)  # dots per metre
    chunk = struct.pack(">I", 9) + named + struct.pack(">I", zlib.crc32(named))
    return png[:first] + chunk + png[first:]


def template(name: str, package: str = "trials.render") -> str:
    """Return the text of a page pattern that lies in ``package``, such as ``"style.typ"``."""
    return importlib.resources.files(package).joinpath(name).read_text(encoding="utf-8")


def _checked(job: _Job) -> _Job:
    if job.paper not in PAPERS:
        raise RequestError(
            "That paper size is unknown.",
            code="render.paper",
            found=str(job.paper),
            allowed=", ".join(PAPERS),
            do="Choose one of these.",
        )
    taken = sorted(set(job.files) & set(_RESERVED))
    if taken:
        raise RequestError(
            "A file for the page has a name that the page needs itself.",
            code="render.file_name",
            found=", ".join(taken),
            allowed="any name but " + ", ".join(_RESERVED),
            do="Rename the file.",
        )
    return job


def _settled(job: _Job) -> tuple[bytes, frozenset[str]]:
    """Typeset until every letter has a shape; return the PDF and the letters that had none."""

    missing: frozenset[str] = frozenset()
    for _ in range(_ROUNDS):
        try:
            page = _compile(
                job.virtual_files(missing), format="pdf", pdf_standards="ua-1", timestamp=0
            )
        except _NoShapeError as problem:
            if problem.letters <= missing:
                raise TypesetError(
                    "The page's pattern holds a letter that can't be drawn.",
                    code="render.letter",
                    found=", ".join(f"U+{ord(letter):04X}" for letter in sorted(problem.letters)),
                    do="Report this with the command you ran.",
                ) from None
            missing |= problem.letters
        else:
            return cast("bytes", page), missing
    raise TypesetError(
        "The page can't be typeset: more and more letters can't be drawn.",
        code="render.letter",
        do="Report this with the command you ran.",
    )


class _NoShapeError(Exception):
    """Letters without a shape in the fonts; never leaves this module."""

    def __init__(self, letters: frozenset[str]) -> None:
        self.letters = letters
        super().__init__()


def _compile(sources: dict[str, bytes], **options: Any) -> bytes | list[bytes]:
    # The wheel's annotations don't name the mapping of virtual files that it takes.
    wheel: Any = typst
    try:
        pages: bytes | list[bytes] = wheel.compile(
            sources, font_paths=_fonts(), ignore_system_fonts=True, **options
        )
    except typst.TypstError as problem:
        clusters = [_unescape(text) for text in _MISSING.findall(problem.diagnostic)]
        letters = frozenset("".join(clusters))
        if letters:
            raise _NoShapeError(letters) from None
        raise TypesetError(
            "The page can't be typeset.",
            code="render.failed",
            where=_place(problem.diagnostic),
            found=problem.message,
            do="Report this with the command you ran; the other files are not touched.",
        ) from None
    return pages


def _unescape(text: str) -> str:
    """Undo the escapes in which the wheel quotes a letter.

    Examples
    --------
    >>> [ord(_unescape(text)) for text in ("\\\\u{1}", '\\\\"', "a")]
    [1, 34, 97]
    """
    plain = {"n": "\n", "t": "\t", "r": "\r", "0": "\0"}

    def undo(match: re.Match[str]) -> str:
        number, letter = match.groups()
        return chr(int(number, 16)) if number else plain.get(letter, letter)

    return _ESCAPE.sub(undo, text)


def _place(diagnostic: str) -> str:
    match = re.search(r"([\w.-]+):(\d+):(\d+)", diagnostic)
    return f"{match[1]}, line {match[2]}, column {match[3]}" if match else ""


def _drawable(value: Any, missing: frozenset[str]) -> Any:
    """Return ``value`` with every text in it cleaned, and letters without a shape named in [ ]."""
    if isinstance(value, str):
        return _named(_clean(value), missing)
    if isinstance(value, Mapping):
        return {str(key): _drawable(part, missing) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_drawable(part, missing) for part in value]
    return value


def _clean(text: str) -> str:
    """Return ``text`` without control marks; anything that parts lines becomes one plain space."""
    if text.isascii() and text.isprintable():
        return text  # most are, and of many thousand cells each goes through here
    out: list[str] = []
    for letter in unicodedata.normalize("NFC", text):
        category = unicodedata.category(letter)
        if category in ("Zl", "Zp") or letter in "\n\t\r\x0b\x0c\x85":
            out.append("\n" if letter == "\n" else " ")
        elif category == "Cc" or letter in _DIRECTION or letter == "\ufeff":
            continue
        elif category in ("Cs", "Cn", "Co"):
            out.append(f"[{ord(letter):04X}]")
        else:
            out.append(letter)
    return "".join(out)


def _named(text: str, missing: frozenset[str]) -> str:
    """Replace each run of ``missing`` letters by names (signs) or numbers (letters) in brackets.

    Examples
    --------
    >>> _named("tea \\U0001f642\\u4e2d\\u6587!", frozenset("\\U0001f642\\u4e2d\\u6587"))
    'tea [slightly smiling face, 4E2D 6587]!'
    """
    if missing.isdisjoint(text):
        return text
    out: list[str] = []
    run: list[str] = []
    for letter in [*text, ""]:
        if letter and letter in missing:
            run.append(letter)
            continue
        if run:
            out.append(_run_name(run))
            run = []
        out.append(letter)
    return "".join(out)


def _run_name(run: list[str]) -> str:
    parts: list[str] = []
    numbers: list[str] = []
    for letter in [*run, ""]:
        if letter and unicodedata.category(letter).startswith(("L", "M", "N")):
            numbers.append(f"{ord(letter):04X}")
            continue
        if numbers:
            parts.append(" ".join(numbers))
            numbers = []
        # Joiners, variation marks and skin tones only shape the sign before them.
        if letter and unicodedata.category(letter) not in ("Cf", "Sk"):
            parts.append(unicodedata.name(letter, f"{ord(letter):04X}").lower())
    return f"[{', '.join(parts)}]" if parts else ""


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    return typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=True,
        font_paths=[str(folder) for folder in _font_folders()],
    )


def _font_folders() -> tuple[Path, ...]:
    """Return the folder of the open fonts that come with matplotlib, found without importing it."""
    spec = importlib.util.find_spec("matplotlib")
    places = spec.submodule_search_locations if spec else None
    folders = (Path(place) / "mpl-data" / "fonts" / "ttf" for place in places or ())
    return tuple(folder for folder in folders if folder.is_dir())
