"""What burns openly and what catches fire, by the plain words of a study; never both in a room."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from trials.words.numbers import listing

_BURNS: Final = re.compile(
    r"\b(?:burners?|bunsen|candles?|tea ?lights?|blow ?torch(?:es)?|open flames?|"
    r"mecheros?|quemador(?:es)?|velas?|sopletes?|llama abierta)\b",
    re.IGNORECASE,
)
_CATCHES: Final = re.compile(
    r"\b(?:alcohols?|ethanol|methanol|isopropanol|propanol|isopropyl|acetone|methylated spirits?|"
    r"white spirit|petrol|etanol|metanol|acetona|gasolina)\b",
    re.IGNORECASE,
)


def burning(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the words for what burns openly, each once.

    Examples
    --------
    >>> burning(["Heat it over the burner.", "oven", "Candle, burner"])
    ('burner', 'candle')
    """
    return _named(_BURNS, texts)


def catching(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the words for what catches fire easily, each once.

    Examples
    --------
    >>> catching(["Rinse with ethanol.", "alcohol-free water", "Ethanol"])
    ('ethanol',)
    """
    return _named(_CATCHES, (re.sub(r"\balcohol-free\b", "", text) for text in texts))


def _named(pattern: re.Pattern[str], texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.lower() for text in texts for one in pattern.findall(text)))


def apart(burns: Iterable[str], catches: Iterable[str], *, timed: bool) -> str:
    """Return that a flame and something that catches fire are named, and nothing keeps them apart.

    Parameters
    ----------
    timed : the study says when the class works, so that a timetable can keep them apart.

    Examples
    --------
    >>> print(apart(["burner"], ["ethanol"], timed=True))
    Fire: this study names a flame (burner) and something that catches fire (ethanol). They must
    never be in the room in the same lesson. The timetable sees to that once study.toml marks both:
    flame = true under [equipment.NAME], flammable = true under the step.
    """
    what = (
        f"Fire: this study names a flame ({listing(list(burns))}) and something that catches fire "
        f"({listing(list(catches))}). They must never be in the room in the same lesson."
    )
    marks = "flame = true under [equipment.NAME], flammable = true under the step"
    if timed:
        return f"{what} The timetable sees to that once study.toml marks both: {marks}."
    write = "write [lessons] into study.toml, and mark both"
    return f"{what} Nothing here sees to that: {write}: {marks}."
