"""The language that pages are written in: English stands in the code, others in catalogues.

A sentence is a whole text with named places, so that another language may order them anew; the
catalogues are GNU gettext's, one folder a language, made by ``python -m tests.words.catalogue``.
Whoever makes a page says first in which language: ``with speaking("es"):``.
"""

from __future__ import annotations

import gettext
import string
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache
from pathlib import Path
from typing import Any

from trials.words import spanish

ENGLISH = "en"
SPANISH = "es"
LANGUAGES = (ENGLISH, SPANISH)
FOLDER = Path(__file__).parent / "locale"
DOMAIN = "trials"

_spoken: ContextVar[str] = ContextVar("language", default=ENGLISH)


def language() -> str:
    """Return the language that is written now, as in ISO 639-1.

    Examples
    --------
    >>> language()
    'en'
    """
    return _spoken.get()


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Write in this language within the block.

    Raises
    ------
    KeyError : it is none of ``LANGUAGES``.

    Examples
    --------
    >>> with speaking("es"):
    ...     joined(["tinte", "horno"], "and")
    'tinte y horno'
    """
    if code not in LANGUAGES:
        raise KeyError(code)
    before = _spoken.set(code)
    try:
        yield
    finally:
        _spoken.reset(before)


def say(message: str, /, **values: object) -> str:
    """Return a text in the language that is written now, its places filled with ``values``.

    A text without values is taken as it stands, braces and all.

    Examples
    --------
    >>> say("{a} gave more than {b}", a="oven", b="burner")
    'oven gave more than burner'
    """
    return _filled(_catalogue(language()).gettext(message), values)


def say_as(context: str, message: str, /, **values: object) -> str:
    """Return a text whose English is the same in places where other languages differ.

    Examples
    --------
    >>> say_as("heading of a column", "given")
    'given'
    """
    return _filled(_catalogue(language()).pgettext(context, message), values)


def in_all(tell: Callable[[], str]) -> tuple[str, ...]:
    """Return what is told in each language, to know again what was written in another one.

    Examples
    --------
    >>> in_all(lambda: joined(["1", "2"], "and"))
    ('1 and 2', '1 y 2')
    """
    texts = []
    for code in LANGUAGES:
        with speaking(code):
            texts.append(tell())
    return tuple(dict.fromkeys(texts))


def said_in_all(message: str) -> tuple[str, ...]:
    """Return a text in each language.

    Examples
    --------
    >>> said_in_all("nobody's message")
    ("nobody's message",)
    """
    return in_all(lambda: say(message))


def marked(message: str) -> str:
    """Return the text itself: it stands in a table, and is said where it is used.

    Examples
    --------
    >>> marked("not settled")
    'not settled'
    """
    return message


def marked_as(context: str, message: str) -> str:  # noqa: ARG001  # read by the catalogue
    """Return the text itself, as ``marked`` does: ``say_as`` says it with the same context.

    Examples
    --------
    >>> marked_as("glossary", "lost")
    'lost'
    """
    return message


def _filled(text: str, values: Mapping[str, object]) -> str:
    return _FORMATS[language()].vformat(text, (), values) if values else text


@lru_cache(maxsize=len(LANGUAGES))
def _catalogue(code: str) -> gettext.NullTranslations:
    if code == ENGLISH:
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, FOLDER, [code])


class _Spanish(string.Formatter):
    """Fills places; one such as ``{item:el}`` together with the word that agrees with it."""

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec in spanish.AGREEING:
            return spanish.agreeing(format_spec, str(value))
        return str(super().format_field(value, format_spec))


_FORMATS: Mapping[str, string.Formatter] = {ENGLISH: string.Formatter(), SPANISH: _Spanish()}


def joined(words: Sequence[str], last: str) -> str:
    """Return words as a list within a sentence; ``last`` is "and" or "or".

    Examples
    --------
    >>> joined(["heat", "dye", "soak time"], "or")
    'heat, dye or soak time'
    """
    if len(words) < 2:
        return "".join(words)
    start = ", ".join(words[:-1])
    if language() == SPANISH:
        last = spanish.joining(last, words[-1])
    return f"{start} {last} {words[-1]}"
