"""A study's text and its TOML values, with every way of failing said in plain words."""

from __future__ import annotations

import math
import re
import tomllib
import unicodedata
from typing import Any

from trials.errors import StudyError
from trials.study.messages import Places, key_text, shorten, shown
from trials.study.positions import Path, Twice, find_positions

LARGEST = 1_000_000  # bytes; a study of forty factors has about 20,000
LONGEST_TEXT = 2_000  # letters in one text
_DEEPEST = 12
_NAMED = {"factors": "factors", "groups": "groups", "responses": "responses"}
_PLACE = re.compile(r"\(at line (\d+), column \d+\)")
_BYTE_ORDER_MARK = "\ufeff"


def decode(content: bytes, where: str) -> str:
    """Return the text of a study file.

    Raises
    ------
    StudyError : empty, too large, not a text, or not UTF-8.

    Examples
    --------
    >>> decode(b"title = 1", "study.toml")
    'title = 1'
    """
    if len(content) > LARGEST:
        raise StudyError(
            "The file is too large for a study.",
            code="study.too_large",
            where=where,
            found=f"{len(content):,} bytes",
            allowed=f"at most {LARGEST:,} bytes",
            do="Check that this is the study file; measurements belong in the workbook.",
        )
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _wrong_encoding(where, "UTF-16, which some editors call 'Unicode'")
    if b"\x00" in content:
        raise StudyError(
            "The file is not a text.",
            code="study.binary",
            where=where,
            found=_kind_of(content),
            allowed="a text file such as study.toml",
            do="Check the name of the file. 'trials new FOLDER' makes a fresh study.toml.",
        )
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        place = ", ".join(part for part in (where, f"line {line}") if part)
        raise _wrong_encoding(place, "Windows-1252 or Latin-1") from None


def _kind_of(content: bytes) -> str:
    kinds = (
        (b"PK\x03\x04", "a workbook, a document or a zip file"),
        (b"%PDF", "a PDF"),
        (b"\x89PNG", "a picture"),
        (b"SQLite format 3", "a database"),
    )
    for start, kind in kinds:
        if content.startswith(start):
            return kind
    return "bytes that no text has"


def _wrong_encoding(where: str, encoding: str) -> StudyError:
    return StudyError(
        "The file is not written in UTF-8.",
        code="study.encoding",
        where=where,
        found=f"it looks like {encoding}",
        allowed="UTF-8, with or without a byte order mark",
        do="Open it in a text editor, choose 'Save as' and the encoding UTF-8, and save it.",
    )


def load(text: str, where: str) -> tuple[dict[str, Any], Places]:
    """Return the values of a TOML text, and where each stands.

    Raises
    ------
    StudyError : the text is empty or isn't TOML, a key stands twice, or a value is of a kind that
        no study has (a date, 'nan').
    """
    text = text.removeprefix(_BYTE_ORDER_MARK).replace("\r\n", "\n")
    _refuse_odd_text(text, where)
    places = Places(where, find_positions(text))
    try:
        values = tomllib.loads(text)
    except RecursionError:
        raise _too_deep(Places(where), ()) from None
    except ValueError as problem:  # also Python's own limit on the digits of a whole number
        twice = places.positions.twice
        if twice and str(problem).startswith("Cannot"):
            raise _twice(places, twice[0]) from None
        raise _syntax(places, text, str(problem)) from None
    if not values:
        raise _empty(where)
    _refuse_odd_values(values, places)
    return values, places


def _refuse_odd_text(text: str, where: str) -> None:
    if not text.strip():
        raise _empty(where)
    if len(text) > LARGEST:
        raise StudyError(
            "The text is too long for a study.",
            code="study.too_large",
            where=where,
            found=f"{len(text):,} characters",
            allowed=f"at most {LARGEST:,}",
            do="Check that this is the study file; measurements belong in the workbook.",
        )
    for place, letter in enumerate(text):
        if "\ud800" <= letter <= "\udfff":
            line = text[:place].count("\n") + 1
            raise _wrong_encoding(", ".join(filter(None, (where, f"line {line}"))), "broken text")


def _empty(where: str) -> StudyError:
    return StudyError(
        "The study file is empty.",
        code="study.empty",
        where=where,
        allowed="a title, a question, [factors.NAME] and [responses.NAME]",
        do="'trials new FOLDER' asks nine questions and writes one for you.",
    )


def _twice(places: Places, twice: Twice) -> StudyError:
    lines = f"line {twice.first} and line {twice.second}"
    path = twice.path
    where = ", ".join(filter(None, (places.where, f"line {twice.second}", key_text(path))))
    what = f"The key '{shorten(str(path[-1]))}' stands twice."
    do = "Delete one of the two, or give it another name."
    code = "study.key_twice"
    if len(path) == 2 and path[0] in _NAMED and twice.heading:
        what = f"Two {_NAMED[str(path[0])]} are called '{shorten(str(path[1]))}'."
        code = "study.name_twice"
        do = "Give one of the two another name."
    elif twice.heading:
        what = f"The heading [{key_text(path)}] stands twice."
        do = "Put what stands under both headings under one."
    return StudyError(what, code=code, where=where, found=lines, allowed="each name once", do=do)


def _syntax(places: Places, text: str, problem: str) -> StudyError:
    lines = text.split("\n")
    hit = _PLACE.search(problem)
    number = int(hit[1]) if hit else places.positions.unreadable
    unread = places.positions.unreadable
    if number and unread and problem.startswith(("Unclosed", "Expected ']'")):
        number = min(number, unread)
    line = lines[min(number, len(lines)) - 1] if number else ""
    what, allowed, do = _explained(problem, line)
    return StudyError(
        what,
        code="study.syntax",
        where=", ".join(filter(None, (places.where, f"line {number}" if number else ""))),
        found=shorten(line) or "the end of the file",
        allowed=allowed,
        do=do,
    )


# Beginnings of the reader's messages -> what is wrong, what is allowed, what to do.
_EXPLAINED = (
    (
        "Expected '='",
        "A line isn't of the form: name = value.",
        'a line such as: title = "Which plane flies further?"',
        "Put '=' between name and value; start a line for people with '#'. "
        'A name with a space in it needs quotes: "red cabbage" = ...',
    ),
    (
        "Unclosed array",
        "A list has no end, or a comma is missing in it.",
        'a list such as: levels = ["oven", "burner"]',
        "Close the list with ']' and put a comma between its parts.",
    ),
    (
        "Unclosed inline table",
        "A '{' isn't closed on its line.",
        'one line such as: how = { oven = "...", burner = "..." }',
        "Put everything between '{' and '}' on one line, with commas between.",
    ),
    (
        "Unterminated string",
        "A text in quotes has no end.",
        'a text in straight quotes on one line: "like this"',
        "Put the closing quotes.",
    ),
    (
        "Illegal character",
        "A text in quotes has no end on its line.",
        'a text in straight quotes on one line: "like this"',
        "Put the closing quotes at the end of the text.",
    ),
    (
        "Unescaped '\\'",
        "A backslash in a text needs another one before it.",
        'a text such as: "C:\\\\folder"',
        "Write two backslashes, or put the text in single quotes.",
    ),
    (
        "Expected ']",
        "A heading isn't closed.",
        "a heading such as [factors.dye] or [[steps]]",
        "Close it with as many ']' as it has '['.",
    ),
    (
        "Expected newline",
        "Something follows a value on the same line.",
        "one 'name = value' a line, and after it only a note that starts with '#'",
        "Move what follows to a line of its own.",
    ),
    (
        "Cannot",
        "A name is used twice in ways that don't go together.",
        "each key and each heading once",
        "Delete one of the two.",
    ),
)


def _explained(problem: str, line: str) -> tuple[str, str, str]:
    value = line.partition("=")[2].split("#")[0].strip()
    if re.match(r"[-+]?\d+,\d+\Z", value):
        right = value.replace(",", ".")
        return (
            "A number has a decimal comma.",
            "numbers with a decimal point",
            f"Write {right} in place of {value}.",
        )
    if any(quote in line for quote in "“”„‘’«»"):
        return (
            "A text stands in curly quotes.",
            'straight quotes: "like this"',
            "Replace the curly quotes by straight ones, in a plain text editor.",
        )
    if value in ("True", "False", "yes", "no", "Yes", "No"):
        right = "true" if value in ("True", "yes", "Yes") else "false"
        return (f"'{value}' is not a value.", "true or false", f"Write {right}.")
    for start, what, allowed, do in _EXPLAINED:
        if problem.startswith(start):
            return what, allowed, do
    if problem.startswith("Invalid value"):
        return (
            "What stands after '=' can't be read.",
            "a text in quotes, a number with a decimal point, true, false, or a [list]",
            f'Put quotes around words: "{shorten(value)}"' if value else "Write a value after '='.",
        )
    return (
        "This line can't be read.",
        "lines such as: name = value, [heading], or notes that start with '#'",
        "Compare the line with one of the examples: 'trials new FOLDER --example planes'.",
    )


def _refuse_odd_values(values: dict[str, Any], places: Places) -> None:
    """Refuse what TOML allows and no study has."""
    waiting: list[tuple[Path, Any]] = [((), values)]
    while waiting:
        path, value = waiting.pop()
        if len(path) > _DEEPEST:
            raise _too_deep(places, path)
        if isinstance(value, dict):
            waiting.extend(((*path, key), inner) for key, inner in reversed(value.items()))
        elif isinstance(value, list):
            inside = [((*path, place), inner) for place, inner in enumerate(value)]
            waiting.extend(reversed(inside))
        elif isinstance(value, float) and not math.isfinite(value):
            raise _odd_number(places, path, str(value))
        elif isinstance(value, int) and not isinstance(value, bool) and abs(value) > 10**15:
            raise _odd_number(places, path, shown(value))
        elif isinstance(value, str):
            _refuse_odd_letters(value, path, places)
        elif not isinstance(value, (int, float)):
            raise places.error(
                path,
                "A date or a time stands here without quotes.",
                code="wrong_kind",
                found=str(value),
                allowed="a text in quotes or a number",
                do=f'Put it in quotes: "{value}"',
            )


def _refuse_odd_letters(value: str, path: Path, places: Places) -> None:
    if len(value) > LONGEST_TEXT:
        raise places.error(
            path,
            "This text is too long.",
            code="text_too_long",
            found=f"{len(value):,} letters",
            allowed=f"at most {LONGEST_TEXT:,} letters",
            do="Say it shorter; sheets and labels have little room.",
        )
    odd = [letter for letter in value if is_control(letter)]
    if odd:
        raise places.error(
            path,
            "A text holds a letter that can't be printed.",
            code="unprintable",
            found=f"character number {ord(odd[0])}",
            allowed="letters, figures, signs, spaces and line ends",
            do="Type the text again, rather than pasting it.",
        )


def is_control(letter: str) -> bool:
    """Return whether a letter steers a terminal or printer rather than being printed.

    Examples
    --------
    >>> is_control("a"), is_control("\\n"), is_control("\\x1b")
    (False, False, True)
    """
    return letter not in "\n\t" and unicodedata.category(letter) == "Cc"


def _odd_number(places: Places, path: Path, found: str) -> StudyError:
    return places.error(
        path,
        "This is not a number that can be worked with.",
        code="wrong_kind",
        found=found,
        allowed="a number below 1000 million million",
        do="Write the number out, in a larger unit if it is so large; or delete the line.",
    )


def _too_deep(places: Places, path: Path) -> StudyError:
    return places.error(
        path,
        "There are too many brackets inside one another.",
        code="wrong_kind",
        allowed="lists, and [headings] with at most three names",
        do="Compare it with one of the examples: 'trials new FOLDER --example planes'.",
    )
