"""The catalogues of other languages: what is said in the code, gathered and compiled by Babel.

``python -m tests.words.catalogue`` brings each catalogue up to date with the code and compiles it.
``... --left [ROOM/FILE.py ...]`` prints what has no translation yet, as a file to be filled in, and
``... --take FILE.po`` takes such a file in.
"""

from __future__ import annotations

import ast
import datetime
import io
import string
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

import trials
from trials.words.language import DOMAIN, ENGLISH, FOLDER, LANGUAGES

ROOT = Path(trials.__file__).parent
HEADING = "heading"  # the context of a table's headings, see render/table.py
_DRAWN = ("report/", "render/")  # whose tables are drawn in the language of the study
_ENGLISH = (  # but for those of a plan and of the lesson on unfair tests: these pages are English
    *(f"report/{name}.py" for name in ("plan_page", "plan_plots", "power_plot", "unfair_page")),
    *(f"render/{name}.py" for name in ("curves", "seats", "shares", "ties")),
)
TEXTS = ("words/cautions.toml", "words/teaching.toml")
_CODES = ("about", "also", "stage")  # keys of what is looked up in these, and not read by people
_DAY = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)  # one day, so that a file has one form


@dataclass(frozen=True, order=True)
class Message:
    """A text to be translated, its context ("" for none) and the file it stands in."""

    text: str
    context: str
    file: str


@cache
def messages() -> tuple[Message, ...]:
    """Return every text of the program that is said in the language of the study."""
    found: set[Message] = set()
    for path in sorted(ROOT.rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                found.update(Message(text, context, name) for context, text in _said(node, name))
    for name in TEXTS:
        table = tomllib.loads((ROOT / name).read_text(encoding="utf-8"))
        found.update(Message(text, "", name) for text in _texts(table))
    return tuple(sorted(found))


def _said(call: ast.Call, file: str) -> Iterator[tuple[str, str]]:
    name = call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
    if name in ("say", "marked", "kept") and call.args:
        yield from (("", text) for text in _either(call.args[0]))
    elif name in ("say_as", "marked_as") and len(call.args) == 2:
        context, message = call.args
        yield from ((one, text) for one in _either(context) for text in _either(message))
    elif name == "Column" and file.startswith(_DRAWN) and file not in _ENGLISH:
        yield from ((HEADING, text) for text in _headed(*call.args[:2]))


def _headed(name: ast.expr, title: ast.expr | None = None) -> Iterator[str]:
    """Return what a column's heading may be: its title, or its name where that is all it has."""
    yield from _either(name if title is None or getattr(title, "value", None) == "" else title)


def _either(text: ast.expr) -> Iterator[str]:
    """Return a text that stands in the code, or both where a condition chooses one."""
    if isinstance(text, ast.IfExp):
        yield from (*_either(text.body), *_either(text.orelse))
    elif isinstance(text, ast.Constant) and isinstance(text.value, str):
        yield text.value


def _texts(value: object) -> Iterator[str]:
    """Return what people read of a table of texts."""
    if isinstance(value, dict):
        for key, one in value.items():
            if key not in _CODES:
                yield from _texts(one)
    elif isinstance(value, list):
        for one in value:
            yield from _texts(one)
    elif isinstance(value, str):
        yield value


def places(text: str) -> set[str]:
    """Return the names of a text's places."""
    return {name.split(".")[0] for _, name, _, _ in string.Formatter().parse(text) if name}


def file_of(code: str) -> Path:
    """Return where the catalogue of a language is."""
    return FOLDER / code / "LC_MESSAGES" / f"{DOMAIN}.po"


def catalogue(code: str) -> Catalog:
    """Return the catalogue of a language as it stands; empty if there is none."""
    path = file_of(code)
    if not path.exists():
        return Catalog(locale=code)
    with path.open("rb") as stream:
        return read_po(stream, locale=code)


def renewed(code: str, *taken: Path) -> Catalog:
    """Return a catalogue with just what the code says, and what further files translate."""
    known = {(one.id, one.context): one.string for one in catalogue(code) if one.id}
    for path in taken:
        with path.open("rb") as stream:
            filled = [one for one in read_po(stream) if one.id and one.string]
        known.update({(one.id, one.context): one.string for one in filled})
    new = Catalog(locale=code, fuzzy=False, creation_date=_DAY, revision_date=_DAY)
    for one in messages():
        context = one.context or None
        new.add(one.text, known.get((one.text, context), ""), [(one.file, 0)], context=context)
    return new


def po_text(found: Catalog) -> bytes:
    """Return a catalogue as a file for translators, the same every time."""
    stream = io.BytesIO()
    write_po(stream, found, width=100, omit_header=True, sort_by_file=True, include_lineno=False)
    head = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    return head.encode() + stream.getvalue()


def mo_bytes(found: Catalog) -> bytes:
    """Return a catalogue as the program reads it."""
    stream = io.BytesIO()
    write_mo(stream, found)
    return stream.getvalue()


def left(code: str, *files: str) -> Catalog:
    """Return what has no translation yet, of these files or of all."""
    empty = Catalog(locale=code)
    for one in catalogue(code):
        if one.id and not one.string and (not files or {f for f, _ in one.locations} & set(files)):
            empty.add(one.id, "", one.locations, context=one.context)
    return empty


def main(arguments: list[str]) -> None:
    """Bring the catalogues up to date, or print or take in what is left."""
    for code in LANGUAGES:
        if code == ENGLISH:
            continue
        if arguments[:1] == ["--left"]:
            sys.stdout.buffer.write(po_text(left(code, *arguments[1:])))
            continue
        found = renewed(code, *(Path(name) for name in arguments[1:]))
        path = file_of(code)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(po_text(found))
        path.with_suffix(".mo").write_bytes(mo_bytes(found))
        translated = sum(bool(one.string) for one in found if one.id)
        print(f"{code}: {translated} of {len(found)} translated")  # noqa: T201  # a tool for the terminal


if __name__ == "__main__":
    main(sys.argv[1:])
