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

FIRST: Final = (
    "The rules of your school and country, the supplier's safety data sheets and the risk "
    "assessment of a qualified person come first. The cautions here are usual ones, and may not "
    "be all."
)
DO_NOT_START: Final = "Do not start until signed"
WHY_SIGNED: Final = (
    "Some steps of this work can hurt people. Nobody starts before the responsible adult has read "
    "the cautions below, has written a risk assessment for this room and this group, and has "
    "signed this page."
)
SIGN_LINES: Final = (
    "Risk assessment (number, or where it is kept)",
    "Signature of the responsible adult",
    "Date",
)
NO_NAMES: Final = "This page stays on paper: the program stores no name."
NONE_GIVEN: Final = (
    "The study names no cautions. That doesn't mean that nothing can hurt: ask the responsible "
    "adult before you start."
)
_KINDS: Final = (
    ("W", "warning"),
    ("M", "must do"),
    ("P", "must not"),
    ("E", "where help is"),
    ("F", "for a fire"),
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

    Examples
    --------
    >>> code_words("W017"), code_words("H225"), code_words("X999")
    ('hot surface', 'Highly flammable liquid and vapour', '')
    """
    return _tables().get(code.strip(), "")


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
    >>> code_kind("P022"), code_kind("GHS07"), code_kind("H302"), code_kind("?")
    ('must not', 'picture on the bottle', 'hazard statement', '')
    """
    bare = code.strip()
    if bare.startswith("GHS"):
        return "picture on the bottle"
    if bare.startswith("H"):
        return "hazard statement"
    return dict(_KINDS).get(bare[:1], "")


def sorted_codes(codes: Iterable[str]) -> tuple[str, ...]:
    """Return codes once each: warnings, musts, must-nots, help, then GHS pictures and statements.

    Examples
    --------
    >>> sorted_codes(["H302", "M009", "W017", "GHS07", "W017"])
    ('W017', 'M009', 'GHS07', 'H302')
    """
    letters = "WMPEFGH"

    def place(code: str) -> tuple[int, str]:
        return (letters.find(code[:1]) % len(letters + " "), code)

    return tuple(sorted({code.strip() for code in codes if code.strip()}, key=place))
