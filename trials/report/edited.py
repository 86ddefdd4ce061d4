"""A text that a person edits, in which results can't be changed by hand.

The text is Markdown: ``#`` a title, ``##`` a heading, ``-`` and ``1.`` lists, blank lines between
paragraphs, ``**words:**`` before a paragraph, ``<!-- a note -->``. A result stands in it as
``{{key: words}}``. What is printed is what the findings say now; words in braces that a person
changed are refused, and so is a number outside of them that isn't a number of the study itself. The
last line holds a short code of each result as it was written, by which words that have only grown
old are told from words that were changed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from trials.digest import digest
from trials.errors import TextError
from trials.words.edited import (
    ALLOWED_KEYS,
    ALLOWED_NUMBERS,
    CODES_NOTE,
    DESCRIBING,
    DO_BRACES,
    DO_CLOSE,
    DO_KEY,
    DO_NUMBER,
    SIZE_WORDS,
    WHAT_BRACES,
    WHAT_CLOSE,
    WHAT_KEY,
    WHAT_NUMBER,
    WHAT_SIZE,
)
from trials.words.language import say

BRACES: Final = re.compile(r"\{\{\s*([a-z]+)\s*(?::((?:[^{}]|\}(?!\})|\{(?!\{))*))?\}\}")
_NOTE: Final = re.compile(r"<!--.*?-->", re.DOTALL)
_CODES: Final = re.compile(rf"\n*<!-- {re.escape(CODES_NOTE)} (.*?) -->\n*", re.DOTALL)
# A number is one whatever it is glued to ("12mW", "3x", "gave12"); names such as TiO2 are none.
_PART: Final = "[\u00bc-\u00be\u2150-\u2189\u2460-\u249b]"  # one half, Roman numbers, ringed ones
_NUMBER: Final = re.compile(
    r"(?<![^\W_])((?:[^\W\d_]*[a-z]{2}|[xX])(?=\d)|(?<!\d[.,]))"
    rf"((?:(?:\d+(?:[.,]\d+)*|[.,]\d+){_PART}?|{_PART})(?:[eE][-+\u2212]?\d+)?)"
    r"[ \t\u00a0\u202f*_]*(?:\r?\n[ \t]*)?((?:[^\W\d_]|[%°µΩ²³])[^\W_]*(?:/[^\W_]+)*)?"
)
_NOUN: Final = re.compile(
    rf"(?:{DESCRIBING}(?:,?[ \t\u00a0]+|,?[ \t]*\r?\n[ \t]*))+([^\W\d_][^\W_]*)", re.IGNORECASE
)
_ORDERED: Final = re.compile(r"^(\s*)\d+[.)](?=\s)", re.MULTILINE)
_SIZE: Final = re.compile(SIZE_WORDS, re.IGNORECASE)
_CODE_LENGTH: Final = 8
_DRAFT: Final = "draft"  # stands among the codes for the whole text as the program wrote it


@dataclass(frozen=True)
class Line:
    """A number or a word of size, and the line it stands on."""

    line: int
    text: str


def flat(text: str) -> str:
    """Return a text on one line with single plain spaces."""
    return " ".join(text.split())


def protected(key: str, text: str) -> str:
    """Return a result as it stands in a person's text.

    Examples
    --------
    >>> protected("care", "0.2\\u00a0mW"), protected("graph", "")
    ('{{care: 0.2 mW}}', '{{graph}}')
    """
    return f"{{{{{key}: {flat(text)}}}}}" if text else f"{{{{{key}}}}}"


def codes_line(results: Mapping[str, str], text: str) -> str:
    """Return the line of codes for the results that ``text`` uses."""
    used = dict.fromkeys(match[1] for match in BRACES.finditer(text))
    codes = " ".join(f"{key}={_code(results[key])}" for key in used if key in results)
    return f"<!-- {CODES_NOTE} {codes} -->\n" if codes else ""


def _code(text: str) -> str:
    return digest(flat(text))[:_CODE_LENGTH]


def with_codes(text: str, results: Mapping[str, str]) -> str:
    """Return a text with its line of codes at the end."""
    return f"{text.rstrip()}\n\n{codes_line(results, text)}"


def drafted(text: str, results: Mapping[str, str]) -> str:
    """Return a draft with its line of codes, by which it is known again as long as it is one."""
    own = f"<!-- {CODES_NOTE} {_DRAFT}={_code(text)} "
    return with_codes(text, results).replace(f"<!-- {CODES_NOTE} ", own)


def fresh(text: str, draft: str) -> str | None:
    """Return today's draft where a person has written nothing yet, None where the text is theirs.

    Examples
    --------
    >>> old, new = drafted("{{care: 1 mW}}", {"care": "1 mW"}), "{{care: 2 mW}}"
    >>> fresh(old, new), fresh(old.replace("{{", "We say {{"), new)
    ('{{care: 2 mW}}', None)
    """
    if _kept_codes(text).get(_DRAFT) != _code(_CODES.sub("\n", text)):
        return None
    return text if flat(text) == flat(draft) else draft


def keys_used(text: str) -> set[str]:
    """Return the keys of what is printed: those within a note are not."""
    return {match[1] for match in BRACES.finditer(without_notes(text))}


def renewed(text: str, results: Mapping[str, str]) -> str:
    """Return a person's text with every result as it is now, and nothing else changed.

    Examples
    --------
    >>> print(renewed("Ours: {{care: 0.1 mW}}, so.\\n", {"care": "0.2 mW"}).split("\\n")[0])
    Ours: {{care: 0.2 mW}}, so.
    """
    bare = _CODES.sub("\n", text)
    told = BRACES.sub(lambda m: protected(m[1], results[m[1]]) if m[1] in results else m[0], bare)
    return text if told == bare and _codes_stand(text, results) else with_codes(told, results)


def _codes_stand(text: str, results: Mapping[str, str]) -> bool:
    kept = _kept_codes(text)
    kept.pop(_DRAFT, None)
    used = {match[1] for match in BRACES.finditer(text)} & set(results)
    return kept == {key: _code(results[key]) for key in used}


def _kept_codes(text: str) -> dict[str, str]:
    match = _CODES.search(text)
    pairs = (part.partition("=") for part in match[1].split()) if match else ()
    return {key: code for key, _, code in pairs}


def without_notes(text: str) -> str:
    """Return a text with its notes blanked out, line for line."""
    return _NOTE.sub(lambda match: "\n" * match[0].count("\n"), text)


def check(
    name: str, text: str, results: Mapping[str, str], others: Iterable[str], own: Iterable[str]
) -> None:
    """Refuse what a person changed and may not change.

    Parameters
    ----------
    name : the file, as a person knows it.
    results : what the findings say, by key.
    others : further keys, which stand for a table, a picture and the like; what a person writes
        after them is theirs.
    own : texts of the study and the program, the numbers of which may be used anywhere.

    Raises
    ------
    TextError : a note or braces without an end, an unknown key, a changed result, or a number or
        size that is none of the study's.
    """
    bare = without_notes(text)
    others = tuple(others)
    _refuse_unclosed(name, bare)
    codes = _kept_codes(text)
    for match in BRACES.finditer(bare):
        if match[1] not in others:
            line = _line(bare, match.start())
            _refuse_unknown(name, line, match[1], (*results, *others))
            _refuse_changed(name, line, match, results[match[1]], codes)
    free = _free(bare, results)
    allowed = {pair for one in own for pair in _numbers(one)}
    sizes = {flat(m[0]).casefold() for one in own for m in _SIZE.finditer(one)}
    for found in _foreign(free, allowed):
        raise _refusal(name, found, WHAT_NUMBER, ALLOWED_NUMBERS, DO_NUMBER)
    for match in _SIZE.finditer(free):
        if flat(match[0]).casefold() not in sizes:
            found = Line(_line(free, match.start()), flat(match[0]))
            raise _refusal(name, found, WHAT_SIZE, ALLOWED_NUMBERS, DO_NUMBER)


def _refuse_unclosed(name: str, bare: str) -> None:
    for mark, text in (("<!--", bare), ("{{", BRACES.sub("", bare)), ("}}", BRACES.sub("", bare))):
        at = text.find(mark)
        if at >= 0:
            line = _line(bare, bare.find(mark)) if mark == "<!--" else _line_of(bare, mark)
            raise _refusal(name, Line(line, mark), WHAT_CLOSE, say("{{key: words}}, <!-- note -->"),
                           DO_CLOSE)  # fmt: skip


def _line_of(bare: str, mark: str) -> int:
    """Return the line of braces that are no result."""
    whole = BRACES.sub(lambda match: re.sub(r"[^\n]", " ", match[0]), bare)
    return _line(whole, whole.find(mark))


def _refuse_unknown(name: str, line: int, key: str, known: tuple[str, ...]) -> None:
    if key not in known:
        found = Line(line, f"{{{{{key}}}}}")
        raise _refusal(name, found, WHAT_KEY, f"{ALLOWED_KEYS} {', '.join(known)}", DO_KEY)


def _refuse_changed(
    name: str, line: int, match: re.Match[str], result: str, codes: Mapping[str, str]
) -> None:
    key, said = match[1], flat(match[2] or "")
    if said and said != flat(result) and _code(said) != codes.get(key):
        found = Line(line, f"{{{{{key}: {said}}}}}")
        do = DO_BRACES.format(key=key)
        raise _refusal(name, found, WHAT_BRACES, protected(key, result), do)


def _refusal(name: str, found: Line, what: str, allowed: str, do: str) -> TextError:
    return TextError(
        what.format(name=name),
        code="report.edited",
        where=say("{name}, line {line}", name=name, line=found.line),
        found=found.text,
        allowed=allowed,
        do=do,
    )


def _free(bare: str, results: Mapping[str, str]) -> str:
    """Return what a person wrote: without the results, and without the numbers of lists."""
    told = BRACES.sub(
        lambda m: "\n" * m[0].count("\n") if m[1] in results or m[2] is None else f" {m[2]} ", bare
    )
    return _ORDERED.sub(r"\1", told)


def free_text(text: str, results: Mapping[str, str]) -> str:
    """Return what a person wrote: without notes and results."""
    return _free(without_notes(text), results)


def _numbers(text: str) -> Iterator[tuple[str, str, str]]:
    yield from map(_pair, _NUMBER.finditer(text))


def _pair(match: re.Match[str]) -> tuple[str, str, str]:
    """Return a number with the word after it, and what is glued to its front; ".5" is "0.5"."""
    size = match[2].replace(",", ".")
    size = f"0{size}" if size.startswith(".") else size
    return match[1].casefold(), size.casefold(), (match[3] or "").casefold()


def _foreign(free: str, allowed: set[tuple[str, str, str]]) -> Iterator[Line]:
    for match in _NUMBER.finditer(free):
        noun = _NOUN.match(free, match.start(3)) if match[3] else None
        described = (*_pair(match)[:2], noun[1].casefold()) if noun else None
        if _pair(match) not in allowed and described not in allowed:
            yield Line(_line(free, match.start()), flat(match[0]))


def _line(text: str, at: int) -> int:
    return text.count("\n", 0, max(at, 0)) + 1
