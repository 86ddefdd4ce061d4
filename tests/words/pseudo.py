"""A made-up language that shows what was never given to a translator: full-width letters.

``python -m tests.words.pseudo FOLDER`` tells the report of a study that was measured in it, and
prints every line in which words of plain letters are left that are none of the study's own.
"""

from __future__ import annotations

import datetime
import gettext
import itertools
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest.mock import patch

from trials.analysis import analyse_study
from trials.record import Store, measured_state
from trials.render.blocks import Document, texts
from trials.report import edited_texts, judge_document, report_document, story_of, teacher_document
from trials.service.analyse import told_measured
from trials.service.opening import open_planned
from trials.words import language, spanish

_FULL_WIDTH = {letter: letter + 0xFEE0 for letter in range(0x41, 0x7B) if chr(letter).isalpha()}
_PLACE = re.compile(r"\{[^{}]*\}")
_WORD = re.compile(r"[A-Za-z][a-z]{2,}")
# a source is cited in its own words; these stand for themselves in any language
_SOURCE = re.compile(r"\b(?:1[89]|20)\d\d[),]|https?:|ISO|JCGM|IEC")


class _MadeUp(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return made_up(message)

    def pgettext(self, context: str, message: str) -> str:  # noqa: ARG002  # gettext asks for it
        return message if _FULL_WIDTH_SEEN.search(message) else made_up(message)


_FULL_WIDTH_SEEN = re.compile("[\uff21-\uff5a]")


def made_up(text: str) -> str:
    """Return a text in the made-up language; its places stay.

    Examples
    --------
    >>> made_up("{a} gave more")
    '{a} ｇａｖｅ ｍｏｒｅ'
    """
    ends = [0, *(end for match in _PLACE.finditer(text) for end in match.span()), len(text)]
    pieces = [text[a:b] for a, b in itertools.pairwise(ends)]
    return "".join(
        piece if place % 2 else piece.translate(_FULL_WIDTH) for place, piece in enumerate(pieces)
    )


@contextmanager
def speaking_made_up() -> Iterator[None]:
    """Write in the made-up language within the block, with the grammar of Spanish."""
    with patch.object(language, "_catalogue", lambda _: _MadeUp()), language.speaking("es"):
        yield


def told_lines(folder: Path) -> list[tuple[str, str]]:
    """Return each text of all that is told of a study, with the document it stands in."""
    opened = open_planned(folder)
    with Store.open(opened.here.record) as store:
        state = store.state()
    findings = analyse_study(
        opened.study, opened.plan, measured_state(state, opened.study, opened.plan)
    )
    day = datetime.date(2030, 5, 17)
    lines: list[tuple[str, str]] = []
    with (
        speaking_made_up(),
        patch("trials.render.drawing.finished", return_value=b"<svg/>"),
        patch("trials.render.dots._drawn"),
    ):
        measured = told_measured(open_planned(folder), state)
        story = story_of(opened.study, opened.plan, measured, findings, today=day, version="9.9")
        told = edited_texts(story, None, None)
        for name, text in (("board.md", told.board), ("abstract.md", told.abstract)):
            lines += [(name, line) for line in text.splitlines()]
        documents = {
            "report": report_document(story),
            "judge": judge_document(story),
            "teacher": teacher_document(story),
        }
        lines += [
            (name, text)
            for name, document in documents.items()
            if document is not None
            for text in _texts(document)
        ]
    return lines


def _texts(document: Document) -> Iterator[str]:
    yield from (document.title, document.subtitle, *document.foot)
    for part in document.parts:
        yield part.title
        yield from texts(part.sections)


def left_over(folder: Path) -> list[tuple[str, str, str]]:
    """Return the words of plain letters that aren't the study's, where they stand, and the text."""
    own = set(_WORD.findall((folder / "study.toml").read_text(encoding="utf-8")))
    own |= {form(word) for word in own for form in (str.capitalize, spanish.plural)}
    found = []
    for name, text in dict.fromkeys(told_lines(folder)):
        if _SOURCE.search(text):
            continue
        words = [word for word in _WORD.findall(text) if word not in own]
        if words:
            found.append((" ".join(words), name, text))
    return found


if __name__ == "__main__":
    for words, name, text in left_over(Path(sys.argv[1])):
        print(f"{name}: {words}\n    {text[:200]}")  # noqa: T201  # a tool for the terminal
