"""Cautions in words: what the codes mean, and the lines that stand before anything hazardous.

The texts are prompts. Local rules, the supplier's data sheet and a qualified person's risk
assessment come first, and every page that prints a caution says so.
"""

from __future__ import annotations

import importlib.resources
import tomllib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Final

from trials.words.language import marked, say

FIRST: Final = marked(
    "The rules of your school and country, the supplier's safety data sheets and the risk "
    "assessment of a qualified person come first. The cautions here are usual ones, and may not "
    "be all."
)
DO_NOT_START: Final = marked("Do not start until signed")
WHY_SIGNED: Final = marked(
    "Some steps of this work can hurt people. Nobody starts before the responsible adult has read "
    "the cautions below, has written a risk assessment for this room and this group, and has "
    "signed this page."
)
SIGN_LINES: Final = (
    marked("Risk assessment (risk-form.pdf, or where it is kept)"),
    marked("Signature of the responsible adult"),
    marked("Date"),
)
NO_NAMES: Final = marked("This page stays on paper: the program stores no name.")
NONE_GIVEN: Final = marked(
    "The study names no cautions. That doesn't mean that nothing can hurt: ask the responsible "
    "adult before you start."
)
CODES_NOTE: Final = marked(
    "W, M, E, F, and P below 100 are safety signs of ISO 7010; the drawings beside them are our "
    "own, not the signs. GHS, H, and P above 100 are from the system that labels chemicals all "
    "over the world."
)
CODES_COLUMNS: Final = (
    marked("Code"),
    marked("Drawing"),
    marked("What it is"),
    marked("What it says"),
)
FORM_TITLE: Final = marked("Risk assessment: a form to fill in")
FORM_INTRO: Final = marked(
    "Fill this in before anyone starts, together with the person who is responsible. What is "
    "printed is what usually hurts and what people usually do: cross out what doesn't fit, and "
    "write what is missing in this room and with this group. Write 'team', 'all' or 'the adult', "
    "not names."
)
FORM_COLUMNS: Final = (
    marked("Step"),
    marked("What can hurt"),
    marked("Who might be hurt"),
    marked("What people usually do"),
    marked("What else we do"),
    marked("Where what is left goes (local rules)"),
)
FORM_NONE: Final = marked("The study names nothing. Think yourself: what can hurt here?")
FORM_SOURCES: Final = marked(
    "Where we looked it up (safety data sheets, school rules, the maker's instructions)"
)
FORM_HELP: Final = marked("If something happens: who is called, where first aid and eye wash are")
FORM_CHANGED: Final = marked(
    "If a step, a material, the room or the group changes, look at this form again and have it "
    "signed again."
)
FORM_SIGN: Final = marked("BEFORE the work starts: signature of the responsible adult")
FORM_LINKED: Final = marked(
    "Page one of the making sheets, 'Do not start until signed', is signed after this form."
)
_DOES: Final = "MPEF"  # first letters of signs that say what to do, or where help is
_LAST_SIGN: Final = 100
_LETTERS: Final = "FfDdi"  # such as in H360FD, H350i
_KINDS: Final = (
    ("W", marked("warning")),
    ("M", marked("must do")),
    ("P", marked("must not")),
    ("E", marked("where help is")),
    ("F", marked("for a fire")),
)


@lru_cache(maxsize=1)
def _tables() -> Mapping[str, str]:
    source = importlib.resources.files("trials.words").joinpath("cautions.toml")
    tables = tomllib.loads(source.read_text(encoding="utf-8"))
    return MappingProxyType(
        {code: text for table in tables.values() for code, text in table.items()}
    )


def code_words(code: str) -> str:
    """Return what a GHS or ISO 7010 code means; empty for a code that isn't in the list.

    Precautions that are said together are joined; a letter behind a statement's number says more
    exactly what it means and is left away.

    Examples
    --------
    >>> code_words("W017"), code_words("H225"), code_words("X999")
    ('hot surface', 'Highly flammable liquid and vapour', '')
    >>> code_words("P403+P235"), code_words("H360FD")
    ('Store in a well-ventilated place. Keep cool', 'May damage fertility or the unborn child')
    """
    bare = code.strip()
    found = _tables().get(bare) or _tables().get(bare.rstrip(_LETTERS), "")
    if found or "+" not in bare:
        return found and say(found)
    parts = [code_words(part) for part in bare.split("+")]
    if not all(parts):
        return ""
    between = ". " if bare.startswith("P") else "; "
    return between.join(parts).replace(":. ", ": ")


def code_text(code: str) -> str:
    """Return a code and its meaning, as a caution prints it.

    Examples
    --------
    >>> code_text("M009"), code_text("GHS02"), code_text("X999")
    ('M009 wear protective gloves', 'GHS02 (flame)', 'X999')
    """
    words = code_words(code)
    if not words:
        return code.strip()
    if code.strip().startswith("GHS"):
        return f"{code.strip()} ({words})"
    return f"{code.strip()} {words}"


def code_kind(code: str) -> str:
    """Return which kind of sign or statement a code is, in words.

    Examples
    --------
    >>> code_kind("P022"), code_kind("P210"), code_kind("GHS07"), code_kind("H302"), code_kind("?")
    ('must not', 'precaution', 'picture on the bottle', 'hazard statement', '')
    """
    bare = code.strip()
    if bare.startswith("GHS"):
        return say("picture on the bottle")
    if bare.startswith(("H", "EUH")):
        return say("hazard statement")
    if _is_precaution(bare):
        return say("precaution")
    kind = dict(_KINDS).get(bare[:1], "")
    return kind and say(kind)


def parted(text: str) -> tuple[str, str]:
    """Return what can hurt and what people usually do, of one caution.

    What stands before a colon is what can hurt. Without one the text says what to do.

    Examples
    --------
    >>> parted("Glass cuts: use ground edges."), parted("Don't taste it.")
    (('Glass cuts', 'Use ground edges.'), ('', "Don't taste it."))
    """
    before, colon, after = text.partition(": ")
    hurts, does = (before.strip(), after.strip()) if colon else ("", text.strip())
    return hurts, does[:1].upper() + does[1:]


def says_what_to_do(code: str) -> bool:
    """Return whether a code says what to do, or where help is, and not what can hurt.

    Examples
    --------
    >>> [says_what_to_do(code) for code in ("M004", "P022", "P210", "W017", "H302", "GHS07")]
    [True, True, True, False, False, False]
    """
    return code.strip()[:1] in _DOES


def _is_precaution(code: str) -> bool:
    """Whether a code with P is one of the system for chemicals: those of signs are below 100."""
    return code[:1] == "P" and code[1:4].isdigit() and int(code[1:4]) > _LAST_SIGN


def sorted_codes(codes: Iterable[str]) -> tuple[str, ...]:
    """Return codes once each: warnings, musts, must-nots, help, then GHS pictures and statements.

    Examples
    --------
    >>> sorted_codes(["P210", "H302", "M009", "W017", "GHS07", "P022", "W017"])
    ('W017', 'M009', 'P022', 'GHS07', 'H302', 'P210')
    """
    letters = "WMPEFGHp"

    def place(code: str) -> tuple[int, str]:
        first = "p" if _is_precaution(code) else code[:1]
        return (letters.find(first) % len(letters + " "), code)

    return tuple(sorted({code.strip() for code in codes if code.strip()}, key=place))
