"""Words that tell of a flame or of something that catches fire, and what is asked about them.

A study's texts say in plain words what burns. What is denied ("nothing is rinsed with alcohol",
"alcohol-free", "no flame is lit") isn't there; what is only warned of ("don't spill the alcohol")
is. Where a text can be read both ways it counts as there, for a question too many hurts nobody.
"""

from __future__ import annotations

import importlib.resources
import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, Literal, get_args

from trials.words.numbers import count, listing

Kind = Literal["flame", "flammable"]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)

_SENTENCE: Final = re.compile(r"[.;:!?\n]+(?=\s|$)")
_ANY: Final = r"(?:(?:any|a|an|open|naked|other|more|such|kind of|of|real|pure|strong)\s+){0,3}"
_CUALQUIER: Final = (
    r"(?:(?:un|una|ningún|ninguna|el|la|los|las|otro|otra|de|uso de|usar|utilizar)\s+){0,3}"
)
_USES: Final = (
    r"(?:us|utili[sz]|necesit|lav|limpi|enjuag|aclar|enciend|prend|añad|llev|contien|contiene)\w*"
)
# What stands right before a word that is denied.
_BEFORE: Final = tuple(
    re.compile(pattern + r"$")
    for pattern in (
        r"\b(?:no|without|non|zero|free (?:of|from)|(?:far|away) from|neither|nor|not)[\s-]+"
        rf"{_ANY}",
        rf"\b(?:instead of|rather than|in place of)\s+(?:the\s+)?{_ANY}",
        rf"\b(?:no|without|neither|free (?:of|from))\s+(?:[\w-]+,?\s+){{1,5}}(?:or|nor)\s+{_ANY}",
        r"\b(?:nothing|none|nobody|no one)\b(?:\s+(?:here|in it|of it|at all))?\s+(?:is|are|was|"
        rf"were|gets|needs|uses|burns|lights)\s+(?:\w+\s+(?:with|in|by|over|on|at)\s+)?{_ANY}",
        r"\b(?:sin|no hay|libres? de|exent[oa]s? de|ni|nada de|en (?:vez|lugar) de)\s+"
        rf"{_CUALQUIER}",
        r"\blejos de\s+(?:ninguna\s+|cualquier\s+)?",
        rf"\b(?:sin|no hay|ni)\s+(?:[\w-]+,?\s+){{1,5}}(?:ni|o|u)\s+{_CUALQUIER}",
        rf"\b(?:nada|nadie|nunca|jamás|no)\s+(?:aquí\s+)?(?:se\s+)?{_USES}\s+(?:con|en)?\s*"
        r"(?:(?:un|una|ningún|ninguna)\s+)?",
    )
)
# The same where it stands in the middle of a list, as in "no alcohol, acetone or ether".
_LISTED: Final = re.compile(rf"\b(?:no|without|sin|no hay)\s+(?:[\w-]+,\s+){{1,4}}{_ANY}$")
_LIST_GOES_ON: Final = re.compile(r"\s*(?:,|\b(?:or|nor|o|u|ni)\b)")
# "Don't use alcohol", "never rinsed with alcohol"; not where a condition follows.
_NOT_USED: Final = re.compile(
    r"\b(?:not|\w+n['’]t|never)\s+(?:be\s+)?(?:use|uses|used|using|add|take|need|needs|needed|"
    r"rins\w+|wash\w*|clean\w*|wip\w+)\s+(?:(?:\w+\s+){0,3}(?:with|in)\s+)?"
    rf"{_ANY}$"
)
_ON_CONDITION: Final = re.compile(
    r"\s*(?:\w+\s+)?(?:near|beside|next to|close to|until|before|after|unless|while|if|when|"
    r"without|from|more|straight|over|above)\b"
)
# What stands right behind a word that is denied.
_BEHIND: Final = re.compile(
    r"\s*-?\s*(?:free|proof|resistant|retardant|repellent|less)\b"
    r"|\s+(?:is|are|was|were)(?:\s+not|n['’]t|\s+never)\s+(?:used|needed|lit|wanted|necessary|here)\b"
    r"|\s+no\s+(?:se\s+(?:usa|utiliza|necesita|enciende)n?|hace falta)\b"
)


@dataclass(frozen=True)
class Usual:
    """The usual caution for one kind of hazard."""

    text: str
    ghs: tuple[str, ...]
    iso7010: tuple[str, ...]


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    source = importlib.resources.files("trials.words").joinpath("hazards.toml")
    return tomllib.loads(source.read_text(encoding="utf-8"))


@lru_cache(maxsize=4)
def _pattern(kind: Kind, key: str) -> re.Pattern[str]:
    words = sorted(_table()[kind][key], key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(words)})(?!\w)", re.IGNORECASE)


def named(text: str) -> dict[Kind, str]:
    """Return the first word of a text that tells of a flame, and of something that catches fire.

    Examples
    --------
    >>> named("Pour ethanol on it, then heat water on the burner.")
    {'flame': 'burner', 'flammable': 'ethanol'}
    >>> named("Nothing here is rinsed with alcohol, and no flame is lit.")
    {}
    >>> named("Don't spill the alcohol."), named("Heat it over the spirit lamp.")
    ({'flammable': 'alcohol'}, {'flame': 'spirit lamp'})
    """
    return dict(_named(text))


@lru_cache(maxsize=4096)  # the same texts are read for every timetable that is tried
def _named(text: str) -> tuple[tuple[Kind, str], ...]:
    found: dict[Kind, str] = {}
    for sentence in _SENTENCE.split(text):
        left = " ".join(sentence.split())
        for kind in KINDS:  # a spirit lamp burns; its spirit isn't open
            left = _pattern(kind, "looks_alike").sub(_blank, left)
            for hit in _pattern(kind, "names").finditer(left):
                if not _denied(left.lower(), *hit.span()):
                    found.setdefault(kind, hit.group())
            left = _pattern(kind, "names").sub(_blank_flame if kind == "flame" else _blank, left)
    return tuple(found.items())


def _blank(hit: re.Match[str]) -> str:
    return "_" * len(hit.group())


def _blank_flame(hit: re.Match[str]) -> str:
    """Hide the fuel's name in that of a lamp, and leave the words that deny what follows."""
    return re.sub(r"spirit|alcohol", _blank, hit.group(), flags=re.IGNORECASE)


def _denied(sentence: str, start: int, end: int) -> bool:
    """Return whether a sentence says of the word between two places that it isn't there."""
    word, before, behind = sentence[start:end], sentence[:start], sentence[end:]
    if word.startswith(("sin ", "ninguna ", "lejos de ")) or _BEHIND.match(behind):
        return True
    if any(pattern.search(before) for pattern in _BEFORE):
        return True
    if _LISTED.search(before) and _LIST_GOES_ON.match(behind):
        return True
    return bool(_NOT_USED.search(before)) and not _ON_CONDITION.match(behind)


def usual(kind: Kind, language: str) -> Usual:
    """Return the usual caution for a flame, or for what catches fire.

    Examples
    --------
    >>> usual("flammable", "en").iso7010
    ('W021', 'P003', 'M004', 'M057')
    """
    one = _table()["usual"][kind]
    return Usual(one["text"][language], tuple(one["ghs"]), tuple(one["iso7010"]))


def cautioned(kind: Kind, text: str, codes: Iterable[str]) -> bool:
    """Return whether a caution is about a flame, or about what catches fire.

    Examples
    --------
    >>> cautioned("flammable", "Acetone: air the room.", ()), cautioned("flammable", "", ["H225"])
    (True, True)
    >>> cautioned("flame", "Burner: tie hair back, no alcohol in the room.", ())
    True
    >>> cautioned("flammable", "Burner: tie hair back, no alcohol in the room.", ())
    False
    """
    signs = {"flame": (), "flammable": ("GHS02", "W021", "H22", "P210")}[kind]
    return kind in named(text) or any(code.strip().startswith(signs) for code in codes if signs)


_IS: Final = {
    "flame": "something burns openly",
    "flammable": "something that catches fire is open",
}


NOT_TIMED: Final = (
    "Safety: study.toml has a flame and something that catches fire. They must never be in "
    "the room in the same lesson, and nothing here sees to that: write [lessons], and the "
    "timetable will."
)
NOTHING_APART: Final = (
    "Fire: this study has a flame and something that catches fire. They must never be in the room "
    "in the same lesson, and no timetable sees to that here: the responsible adult does."
)
APART: Final = (
    "A flame and something that catches fire are never placed in one lesson: without one of the "
    "two (a hot plate instead of the flame, water instead of what catches fire) it may fit."
)


def heading(number: int) -> str:
    """Return the line above what is asked about safety.

    Examples
    --------
    >>> heading(1)
    'Safety: 1 question to settle before anyone starts.'
    """
    return f"Safety: {count(number, 'question')} to settle before anyone starts."


def in_one_lesson(lessons: Sequence[int], folder: str) -> str:
    """Return that a timetable has a flame and what catches fire in the same lessons.

    Examples
    --------
    >>> print(in_one_lesson([1], "cups"))
    Stop: the timetable of this plan has a flame and something that catches fire in lesson 1, for it
    was made before study.toml told of both. Place the work again before anyone starts: trials
    lessons cups --since 1
    """
    named = listing([str(lesson) for lesson in lessons])
    which = f"lesson {named}" if len(lessons) == 1 else f"lessons {named}"
    return (
        f"Stop: the timetable of this plan has a flame and something that catches fire in {which}, "
        "for it was made before study.toml told of both. Place the work again before anyone "
        f"starts: trials lessons {folder} --since {min(lessons)}"
    )


def asked(
    kind: Kind,
    word: str,
    key: str,
    step: str,
    levels: Sequence[str],
    *,
    said: bool,
    cautioned: bool,
) -> str:
    """Return what was found, and what study.toml doesn't say of it.

    Parameters
    ----------
    key : where in study.toml the word stands; empty where nothing but the declaration says so.
    step : label of the step; empty where no step sets the factor that the text belongs to.
    said : study.toml says under the step, or its equipment, whether it burns.
    cautioned : the step has a caution about it.

    Examples
    --------
    >>> print(asked("flame", "burner", "steps[2].equipment", "Brew", ["red"], said=False,
    ...             cautioned=False))
    'burner' stands in study.toml (steps[2].equipment), so at the step 'Brew', for red, something
    burns openly. The step doesn't say so, and has no caution about it.
    >>> print(asked("flammable", "", "", "Brew", [], said=True, cautioned=False))
    At the step 'Brew' something that catches fire is open, as study.toml says. It has no caution
    about it.
    """
    if not step:
        return (
            f"'{word}' stands in study.toml ({key}): {_IS[kind]}. No step of the making sets this, "
            "so the timetable can't keep flames and what catches fire apart, and no caution is "
            "printed beside it."
        )
    where = f"at the step '{step}'" + (f", for {listing(list(levels))}," if levels else "")
    if not word:
        told = f"{where[0].upper()}{where[1:]} {_IS[kind]}, as study.toml says."
        return f"{told} It has no caution about it."
    told = f"'{word}' stands in study.toml ({key}), so {where} {_IS[kind]}."
    missing = [] if said else ["doesn't say so"]
    missing += [] if cautioned else ["has no caution about it"]
    return f"{told} The step {', and '.join(missing)}."


def until_then(*, said: bool, cautioned: bool) -> str:
    """Return what the program does as long as the question isn't settled; "" where that is nothing.

    Examples
    --------
    >>> until_then(said=True, cautioned=False)
    'Until you settle it, the usual caution is printed on the sheets.'
    """
    does = [] if said else ["flames and what catches fire are kept in different lessons"]
    does += [] if cautioned else ["the usual caution is printed on the sheets"]
    return f"Until you settle it, {' and '.join(does)}." if does else ""


BELOW_ITS_LINES: Final = "below its other lines"


def write_under(place: str) -> str:
    """Return where the lines that follow belong."""
    return f"If it is so, write under {place}:"


def if_not(line: str) -> str:
    """Return what to write under a step, or a piece of equipment, where nothing burns."""
    return f"If it isn't so, write there instead: {line}"


def if_set(factor: str, line: str) -> str:
    """Return what to write so that a factor's texts belong to a step.

    Examples
    --------
    >>> if_set("dye", 'factors = ["dye"]')
    'Write under the [[steps]] at which dye is set: factors = ["dye"]'
    """
    return f"Write under the [[steps]] at which {factor} is set: {line}"


def printed_for(step: str, word: str) -> str:
    """Return the note that a usual caution was added to the sheets."""
    of = f", for '{word}'" if word else ""
    return (
        f"The usual caution was added at the step '{step}'{of}: study.toml has none. "
        "'trials check' says what to write there."
    )
