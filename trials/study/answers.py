"""What a plain answer to each of the questions means."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from trials.errors import StudyError
from trials.study.check_names import name_fault
from trials.study.messages import meant, shorten
from trials.study.toml import LONGEST_TEXT, is_control
from trials.words.questions import ALONE, COUNTS, NOTHING, TIMES, singular

MOST = 10_000
_NUMBER = r"[-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(.*)\Z", re.DOTALL)
_COUNTED = re.compile(r"(\d+)\s+(\w[\w '-]*)\Z")
_BATCHES = re.compile(
    r"(?P<thing>.+?)\s+in\s+(?:(?P<count>\d+)\s+)?(?P<word>\w[\w '-]*?)\s+of\s+(?P<size>\d+)\Z"
)
_IN_UNIT = re.compile(r"(?P<name>.+)\s+in\s+(?P<unit>\S.*)\Z")
_UNIT_IN_BRACKETS = re.compile(r"(?P<name>.+?)\s*[(\[](?P<unit>[^()\[\]]+)[)\]]\Z")
_READINGS = re.compile(r"(\d+)\s*(?:readings?|times|x|throws?|tries)(?:\s+each)?\Z")
_LESS = re.compile(r"(?:less|lower|smaller|fewer|shorter|faster|low|small)(?:\s+is\s+better)?\Z")
_MORE = re.compile(r"(?:more|higher|larger|bigger|longer|high|large)(?:\s+is\s+better)?\Z")


@dataclass(frozen=True)
class Versions:
    """The versions of one thing that is changed."""

    levels: tuple[str, ...]
    kind: Literal["category", "quantity"] = "category"
    unit: str = ""
    scale: Literal["linear", "log"] = "linear"


@dataclass(frozen=True)
class Measure:
    """What is measured."""

    name: str
    unit: str
    readings: int = 1
    better: Literal["high", "low"] = "high"


@dataclass(frozen=True)
class Together:
    """One way in which items belong together.

    ``size`` None: a lesson or day, ``count`` of them. Otherwise batches of ``size`` at ``thing``.
    """

    word: str
    count: int | None
    thing: str = ""
    size: int | None = None


@dataclass(frozen=True)
class Margin:
    """The smallest difference worth caring about, as a difference or as a ratio above 1."""

    compare: Literal["difference", "ratio"]
    size: float


def wrong(what: str, *, code: str, found: str = "", allowed: str = "", do: str = "") -> StudyError:
    """Return the error about an answer; the place is put in by whoever knows it."""
    return StudyError(what, code=f"answer.{code}", found=shorten(found), allowed=allowed, do=do)


def clean(text: str) -> str:
    """Return an answer on one line, without what can't be printed.

    Raises
    ------
    StudyError : it is far too long.

    Examples
    --------
    >>> clean("  dye,\\theat ")
    'dye, heat'
    """
    line = " ".join("".join(" " if is_control(c) else c for c in text).split())
    if len(line) > LONGEST_TEXT:
        raise wrong(
            "The answer is too long.",
            code="too_long",
            found=f"{len(line)} letters",
            allowed=f"at most {LONGEST_TEXT} letters",
            do="Say it shorter; everything can be added in study.toml later.",
        )
    return line


def parts(text: str, signs: str = ";") -> tuple[str, ...]:
    """Return the parts of an answer between any of ``signs``.

    Examples
    --------
    >>> parts("a; b ;"), parts("dye, heat", ",;")
    (('a', 'b'), ('dye', 'heat'))
    """
    pieces = re.split(f"[{re.escape(signs)}]", text)
    return tuple(piece.strip() for piece in pieces if piece.strip())


def change(text: str) -> tuple[str, ...]:
    """Return the names of the things that are changed.

    Examples
    --------
    >>> change("dye, soak time")
    ('dye', 'soak time')
    """
    names = parts(text, ",;")
    if not names:
        raise wrong(
            "At least one thing has to be changed, or there is nothing to compare.",
            code="change",
            found=text,
            allowed="one name or more, with commas between",
            do="For instance: shape",
        )
    for name in names:
        _usable(name)
    folded = [name.casefold() for name in names]
    for place, name in enumerate(folded):
        if name in folded[:place]:
            raise wrong(
                "The same thing is named twice.",
                code="change",
                found=names[place],
                allowed="each thing once",
                do="Leave one of them out.",
            )
    return names


def _usable(name: str) -> None:
    fault = name_fault(name)
    if fault is not None:
        raise wrong(
            fault.replace("%s", "thing"),
            code="name",
            found=name,
            allowed="a short name without / : = that begins with a letter or figure",
            do="Choose another name.",
        )


def versions(text: str, names: Sequence[str]) -> dict[str, Versions]:
    """Return the versions of everything that is changed.

    Examples
    --------
    >>> versions("soak time: 10 min, 40 min; dye: hibiscus, beetroot", ["dye", "soak time"])["dye"]
    Versions(levels=('hibiscus', 'beetroot'), kind='category', unit='', scale='linear')
    >>> versions("10 min, 40 min", ["soak time"])["soak time"].levels
    ('10', '40')
    """
    found: dict[str, Versions] = {}
    folded = {name.casefold(): name for name in names}
    for piece in parts(text):
        before, colon, after = piece.partition(":")
        if not colon and len(names) == 1:
            before, after = names[0], piece
        elif not colon:
            raise wrong(
                "It isn't clear which of the things these versions belong to.",
                code="versions",
                found=piece,
                allowed="name: version, version; name: version, version",
                do=f"Write for instance: {names[0]}: this, that; {names[1]}: this, that",
            )
        name = folded.get(" ".join(before.split()).casefold())
        if name is None:
            raise wrong(
                "These versions belong to something that you don't change.",
                code="versions",
                found=before.strip(),
                allowed=", ".join(names),
                do=meant(before, names, "Use the names from the question before."),
            )
        if name in found:
            raise wrong(
                f"The versions of '{name}' are given twice.",
                code="versions",
                found=piece,
                allowed="each name once",
                do="Put all its versions behind one colon, with commas between.",
            )
        found[name] = _levels(name, parts(after, ","))
    for name in names:
        if name not in found:
            raise wrong(
                f"The versions of '{name}' are missing.",
                code="versions",
                found=text or "nothing",
                allowed="two versions or more of each thing you change",
                do=f"Add: {name}: this, that",
            )
    return {name: found[name] for name in names}


def _levels(name: str, words: tuple[str, ...]) -> Versions:
    folded = [word.casefold() for word in words]
    if len(words) < 2 or len(set(folded)) < len(folded):
        raise wrong(
            f"'{name}' needs two different versions or more."
            if len(words) < 2
            else f"A version of '{name}' stands twice.",
            code="versions",
            found=", ".join(words) or "nothing",
            allowed="different versions with commas between",
            do=f"For instance: {name}: this, that",
        )
    split = [_QUANTITY.match(word) for word in words]
    pairs = [(m[1].replace(",", "."), m[2].strip()) for m in split if m is not None]
    units = {unit for _, unit in pairs if unit}
    if len(pairs) < len(words) or len(units) > 1:
        return Versions(words)
    numbers = [float(number) for number, _ in pairs]
    if len(set(numbers)) < len(numbers) or not all(map(math.isfinite, numbers)):
        return Versions(words)
    levels = tuple(number.removeprefix("+") for number, _ in pairs)
    return Versions(levels, "quantity", units.pop() if units else "", _scale(numbers))


def _scale(numbers: Sequence[float]) -> Literal["linear", "log"]:
    """Return 'log' where three or more numbers grow by more even factors than steps."""
    ordered = sorted(numbers)
    if len(ordered) < 3 or ordered[0] <= 0:
        return "linear"
    gaps = [b - a for a, b in pairwise(ordered)]
    ratios = [math.log(b / a) for a, b in pairwise(ordered)]
    return "log" if max(ratios) / min(ratios) < max(gaps) / min(gaps) else "linear"


def measure(text: str) -> Measure:
    """Return what is measured, in which unit, how often, and which way is better.

    Examples
    --------
    >>> measure("distance in m, 3 readings")
    Measure(name='distance', unit='m', readings=3, better='high')
    >>> measure("drying time (min), less is better").better
    'low'
    """
    first, *rest = parts(text, ",;") or ("",)
    hit = _UNIT_IN_BRACKETS.match(first) or _IN_UNIT.match(first)
    name, unit = (hit["name"].strip(), hit["unit"].strip()) if hit else (first, "")
    readings, better = 1, "high"
    for place, piece in enumerate(rest):
        folded = piece.casefold()
        count = _READINGS.match(folded)
        if count:
            readings = int(count[1])
        elif _LESS.match(folded):
            better = "low"
        elif _MORE.match(folded):
            better = "high"
        elif place == 0 and not unit:
            unit = piece
        else:
            raise wrong(
                "A part of the answer isn't clear.",
                code="measure",
                found=piece,
                allowed="a quantity 'in' its unit, '3 readings', 'less is better'",
                do="For instance: distance in m, 3 readings",
            )
    if not unit and not name.casefold().startswith(("number of ", "count of ")):
        raise wrong(
            "The unit is missing.",
            code="measure",
            found=text or "nothing",
            allowed="a quantity and its unit; what is counted begins with 'number of'",
            do=f"For instance: {shorten(name) or 'distance'} in m",
        )
    if not 1 <= readings <= 100:
        raise wrong(
            "The number of readings can't be this.",
            code="measure",
            found=str(readings),
            allowed="1 to 100 readings",
            do="Write how often you read each one.",
        )
    _usable(name)
    return Measure(name, unit, readings, "low" if better == "low" else "high")


def items(text: str) -> tuple[int, str]:
    """Return how many can be made, and what one of them is called.

    Examples
    --------
    >>> items("24 cells"), items("24")
    ((24, 'cell'), (24, 'item'))
    """
    words = text.split()
    number = words[0].rstrip(".") if words else ""
    count = COUNTS.get(number.casefold()) or (int(number) if _whole(number) else None)
    if count is None or not 1 <= count <= MOST:
        raise wrong(
            "This is not a number of things that can be made.",
            code="items",
            found=text or "nothing",
            allowed=f"a whole number from 1 to {MOST}, and if you like what they are",
            do="For instance: 48 cells",
        )
    word = " ".join(words[1:])
    return count, singular(word) if word else "item"


def _whole(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 9


def makers(text: str) -> tuple[int, str]:
    """Return how many make the items, and what one of them is called; (1, "") for one alone.

    Examples
    --------
    >>> makers("6 teams"), makers("class 9b, two people"), makers("just me")
    ((6, 'team'), (2, 'person'), (1, ''))
    """
    if text.casefold().rstrip(".!") in ALONE:
        return 1, ""
    for piece in parts(text, ",;"):
        hit = _COUNTED.match(_with_figure(piece))
        if hit and int(hit[1]) == 1:
            return 1, ""
        if hit and 1 < int(hit[1]) <= MOST:
            word = singular(hit[2])
            _usable(word)
            return int(hit[1]), word
    raise wrong(
        "It isn't clear how many make them.",
        code="makers",
        found=text or "nothing",
        allowed="a number and who they are, or 'just me'",
        do="For instance: 6 teams",
    )


def _with_figure(text: str) -> str:
    """Return the text with a leading number word as a figure."""
    first, _, rest = text.strip().partition(" ")
    return f"{COUNTS.get(first.casefold(), first)} {rest}".strip()


def together(text: str) -> tuple[Together, ...]:
    """Return what is made or treated together.

    Examples
    --------
    >>> together("2 lessons; heat in batches of 6")[0]
    Together(word='lesson', count=2, thing='', size=None)
    >>> together("2 lessons; heat in 8 batches of 6")[1]
    Together(word='batch', count=8, thing='heat', size=6)
    >>> together("nothing")
    ()
    """
    if text.casefold().rstrip(".!") in NOTHING:
        return ()
    found = []
    for piece in parts(text, ";,"):
        batches = _BATCHES.match(piece)
        counted = _COUNTED.match(_with_figure(piece))
        if batches:
            count = int(batches["count"]) if batches["count"] else None
            size = int(batches["size"])
            one = Together(singular(batches["word"]), count, batches["thing"].strip(), size)
        elif counted:
            one = Together(singular(counted[2]), int(counted[1]))
        else:
            raise wrong(
                "It isn't clear what belongs together here.",
                code="together",
                found=piece,
                allowed="'2 lessons', 'heat in batches of 6', or 'nothing', semicolons between",
                do="For instance: 2 lessons; heat in batches of 6",
            )
        for number in (one.count, one.size):
            if number is not None and not 1 <= number <= MOST:
                raise wrong(
                    "A number here can't be this.",
                    code="together",
                    found=str(number),
                    allowed=f"1 to {MOST}",
                    do="Write how many there are, or how many go into one.",
                )
        _usable(one.word)
        found.append(one)
    return tuple(one for one in found if one.size is not None or one.count != 1)


def same(text: str) -> tuple[str, ...]:
    """Return what stays the same, as a list.

    Examples
    --------
    >>> same("paper from one pack; one thrower"), same("nothing")
    (('paper from one pack', 'one thrower'), ())
    """
    return () if text.casefold().rstrip(".!") in NOTHING else parts(text, ";")


def worthwhile(text: str, unit: str) -> Margin:
    """Return the smallest difference worth caring about.

    Examples
    --------
    >>> worthwhile("30 %", "m"), worthwhile("1.5 m", "m")
    (Margin(compare='ratio', size=1.3), Margin(compare='difference', size=1.5))
    """
    folded = text.casefold().strip()
    if folded in TIMES:
        return Margin("ratio", TIMES[folded])
    hit = _QUANTITY.match(folded)
    number = float(hit[1].replace(",", ".")) if hit else math.nan
    of = hit[2].strip() if hit else ""
    if not math.isfinite(number) or number <= 0 or number > 1e12:
        raise wrong(
            "This is not a size of a difference.",
            code="worthwhile",
            found=text or "nothing",
            allowed="a number above 0 in your unit, or in per cent",
            do="For instance: 30 %",
        )
    if of in ("%", "percent", "per cent"):
        return Margin("ratio", round(1 + number / 100, 6))
    if of in ("times", "x", "-fold", "fold"):
        if number <= 1:
            raise wrong(
                "'Times' needs a number above 1.",
                code="worthwhile",
                found=text,
                allowed="for instance 1.3 times, which is 30 % more",
                do="Write it in per cent.",
            )
        return Margin("ratio", number)
    if of not in ("", unit.casefold()):
        raise wrong(
            "This is another unit than the one you measure in.",
            code="worthwhile",
            found=text,
            allowed=f"{unit or 'a number without a unit'}, or %",
            do=f"Write it in {unit}." if unit else "Write only the number.",
        )
    return Margin("difference", number)
