"""Words that tell of a flame or of something that catches fire, and what is asked about them.

A study's texts say in plain words what burns. What is surely denied ("nothing is rinsed with
alcohol", "alcohol-free", "no flame is lit") isn't there; what is only warned of ("don't spill the
alcohol") or denied on a condition ("not lit until the glass is dry") is. Where a text can be read
both ways it counts as there, for a question too many hurts nobody.
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
_ANY: Final = r"(?:(?:any|an?|the|open|naked|un|una|el|la|los|las|ningún|ninguna)\s+){0,2}"
_SAID: Final = r"(?:used|needed|lit|wanted|necessary|here)"
_RINSED: Final = r"(?:rinsed|washed|cleaned|wiped|heated)\s+(?:with|in|over|on)"
_SE_USA: Final = r"(?:us|utiliz|necesit|enciend)\w+"
_SE_LAVA: Final = r"(?:lav|limpi|enjuag|aclar)\w+\s+con"
# What stands right before a word that is surely denied.
_BEFORE: Final = tuple(
    re.compile(rf"{pattern}\s+{_ANY}$")
    for pattern in (
        r"(?:^|[,(]|\b(?:and|or|with|is|are|has|uses?|needs?|contains?))\s*(?:no|neither)",
        rf"\b(?:nothing|none)(?:\s+here)?\s+(?:is|are|gets)\s+{_RINSED}",
        r"\b(?:nobody|no one)\s+(?:lights|uses|needs)",
        r"\b(?:not|\w+n['’]t|never)\s+(?:be\s+)?(?:used?|needs?)",
        rf"\b(?:not|\w+n['’]t|never)\s+{_RINSED}",
        r"\b(?:no hay|nada de|^ninguna)",
        rf"\b(?:no|nadie|nunca)\s+(?:se\s+)?{_SE_USA}",
        rf"\b(?:nada|no|nunca)\s+se\s+{_SE_LAVA}",
        r"^\s*(?:keep|mantener)(?:\s+(?:it|them))?\s+(?:away from|lejos de)",
    )
)
# The same; but after a "not" it says that the word is there ("never let it stand without ethanol").
_LACKING: Final = re.compile(
    r"\b(?:without|free (?:of|from)|instead of|rather than|in place of|sin|en (?:vez|lugar) de)"
    rf"\s+{_ANY}$"
)
_NOT: Final = re.compile(r"\b(?:not?|never|nothing|nobody|cannot|\w+n['’]t|nunca|nada|nadie|ni)\b")
# A list of what is denied, up to the word itself: "no alcohol, acetone or".
_LIST: Final = re.compile(
    r"(?<![\w-])[\w-]+(?:,\s+[\w-]+)*(?:,?\s+(?:or|nor|o|u|ni)|,)"
    rf"\s+(?:no\s+)?{_ANY}$"
)
_OR: Final = re.compile(r"\b(?:or|nor|o|u|ni)\b")
_LACKED: Final = re.compile(r"\b(?:without|sin)\b")
# What may follow the word, so that nothing is left open.
_END: Final = re.compile(
    rf"(?:\s*,?\s+(?:or|nor|o|u|ni)\s+{_ANY}[\w-]+)*"
    rf"(?:\s*[,)](?!\s*(?:or|o)\b)|\s+(?:and|y)\s+no\b|\s+in\s+(?:the|this)\s+(?:room|study|lesson)"
    rf"|\s+(?:is|are)\s+{_SAID}(?=\s*(?:,|$))|\s*$)"
)
_NEAR_IT: Final = re.compile(r"\s+near\b")
_FREE: Final = re.compile(r"-(?:free|less)\b|[\s-]+(?:proof|resistant|retardant|repellent)\b")
_BEHIND: Final = re.compile(
    rf"\s+(?:is|are)(?:\s+not|n['’]t|\s+never)\s+{_SAID}(?=\s*(?:,|$))"
    rf"|\s+no\s+se\s+{_SE_USA}(?=\s*(?:,|$))"
)
# With one of these in the sentence it is there after all, at another time or in another amount.
_ON_CONDITION: Final = re.compile(
    r"\b(?:until|till?|unless|before|after|when(?:ever)?|while|if|(?<!at )once|except|but|too|"
    r"(?<!rather )than|then|later|first|yet|now|today|only\s+(?:for|in|at|with|by|on)|"
    r"hasta|salvo|excepto|a menos|antes|después|luego|cuando|mientras|si|sino|pero|"
    r"demasiad[oa]|aún|todavía|hoy|s[oó]lo\s+(?:para|con|en|al?))\b"
    r"|^\s*(?:without|sin)\b[^,]*,"
)
_OF_FIRE: Final = re.compile(
    r"(?<!non-)(?<!non)(?<!not )(?<!no )\b(?:(?:in)?flam\w*|fires?|ignit\w+|sparks?|"
    r"fuego|incendi\w+|prende\w*|arden?|chispas?|llamas?)\b",
    re.IGNORECASE,
)
_NEARBY: Final = re.compile(
    r"\b(?:near|(?:close|next) to|away from|beside|cerca de|lejos de|junto a)\s+"
    r"(?:(?:an?|any|the|open|naked|lit|un|una|el|la|los|las|cualquier)\s+)*\w+",
    re.IGNORECASE,
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
    return re.sub(r"spirit|alcohol|(?:but|prop)ane", _blank, hit.group(), flags=re.IGNORECASE)


def _denied(sentence: str, start: int, end: int) -> bool:
    """Return whether a sentence says of the word between two places that it isn't there."""
    if sentence.startswith("ninguna ", start):
        start += len("ninguna ")
    before, behind = sentence[:start], sentence[end:]
    if _FREE.match(behind):
        return True
    if _ON_CONDITION.search(f"{before}_{behind}") or _LACKED.search(behind):
        return False
    if _BEHIND.match(behind):
        return True
    if _NEAR_IT.match(behind):
        return _BEFORE[0].search(before) is not None
    heads = [before]
    if (one := _LIST.search(before)) and _OR.search(one.group() + behind):
        heads.append(before[: one.start()])
    return _END.match(behind) is not None and any(_right_behind_no(head) for head in heads)


def _right_behind_no(before: str) -> bool:
    """Return whether what stands right behind this is denied."""
    if any(pattern.search(before) for pattern in _BEFORE):
        return True
    lacking = _LACKING.search(before)
    return lacking is not None and not _NOT.search(before[: lacking.start()])


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
    """Return whether a caution is about a flame, or about fire at what catches it.

    "Ethanol dries the skin" isn't, nor is "keep it away from flames" about the flame.

    Examples
    --------
    >>> cautioned("flammable", "Acetone dries skin.", ()), cautioned("flammable", "", ["H225"])
    (False, True)
    >>> cautioned("flammable", "Acetone catches fire: air the room.", ())
    True
    >>> cautioned("flame", "Burner: tie hair back, no alcohol in the room.", ())
    True
    >>> cautioned("flammable", "Burner: tie hair back, no alcohol in the room.", ())
    False
    """
    signs = {"flame": (), "flammable": ("GHS02", "W021", "H22", "P210")}[kind]
    if any(code.strip().startswith(signs) for code in codes if signs):
        return True
    if kind == "flammable":
        return kind in named(text) and _OF_FIRE.search(text) is not None
    return kind in named(_NEARBY.sub(" ", text))


KEPT: Final = "same"
"""Key of study.toml that lists what is kept the same."""

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
    "A flame and something that catches fire are never placed in one lesson, nor at one time "
    "between lessons: without one of the two (a hot plate instead of the flame, water instead of "
    "what catches fire) it may fit."
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


def at_one_time(lesson: int, step: str, folder: str) -> str:
    """Return that a timetable has a flame and what catches fire out at one time between lessons.

    Examples
    --------
    >>> print(at_one_time(2, "fire", "cups"))
    Stop: right before lesson 2 the timetable of this plan has a flame while something that catches
    fire is out. Place the work again before anyone starts: trials lessons cups --since 2 --not-yet
    fire
    """
    return (
        f"Stop: right before lesson {lesson} the timetable of this plan has a flame while "
        "something that catches fire is out. Place the work again before anyone starts: trials "
        f"lessons {folder} --since {lesson} --not-yet {step}"
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
    step : label of the step; empty where no step sets the factor that the text belongs to, and for
        what is kept the same.
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
    if not step and key.startswith(KEPT):
        return (
            f"'{word}' stands in study.toml ({key}): {_IS[kind]}. No step says so, so the "
            "timetable can't keep flames and what catches fire apart, and no caution is printed "
            "beside it."
        )
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


def if_kept(kind: Kind) -> str:
    """Return what to write where only what is kept the same names it.

    Examples
    --------
    >>> if_kept("flame")
    'Write under the [[steps]] at which it is used: flame = true. If it never is: flame = false'
    """
    return (
        f"Write under the [[steps]] at which it is used: {kind} = true. If it never is: "
        f"{kind} = false"
    )


def printed_for(step: str, word: str) -> str:
    """Return the note that a usual caution was added to the sheets."""
    of = f", for '{word}'" if word else ""
    return (
        f"The usual caution was added at the step '{step}'{of}: study.toml has none. "
        "'trials check' says what to write there."
    )
