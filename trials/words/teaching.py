"""What a teacher is told for a lesson: mistakes to watch for, and a question for the class."""

from __future__ import annotations

import importlib.resources
import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from trials.words.language import language, say

MISTAKES: Final = 3


@dataclass(frozen=True)
class Done:
    """What a lesson's step is, in words: all that is said of it, and whether it is measuring."""

    said: str
    measuring: bool


@dataclass(frozen=True)
class _Entry:
    about: Mapping[str, tuple[str, ...]]  # by language
    also: Mapping[str, tuple[str, ...]]  # the same; a step has to have one of these, too
    stage: str
    text: str

    def fits(self, done: Done) -> bool:
        if _says(done, self.about) and (not self.also or _says(done, self.also)):
            return True
        return self.stage == "measure" and done.measuring

    @property
    def general(self) -> bool:
        return not self.about and not self.stage


def _by_language(words: Mapping[str, Sequence[str]]) -> Mapping[str, tuple[str, ...]]:
    return {code: tuple(some) for code, some in words.items()}


def _says(done: Done, words: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether a step has a word that begins with one of some, in the language written now."""
    mine = words.get(language(), ())
    return any(re.search(rf"\b{word}", done.said, re.IGNORECASE) for word in mine)


@lru_cache(maxsize=1)
def _table() -> dict[str, tuple[_Entry, ...]]:
    source = importlib.resources.files("trials.words").joinpath("teaching.toml")
    table = tomllib.loads(source.read_text(encoding="utf-8"))
    return {
        kind: tuple(
            _Entry(
                _by_language(one.get("about", {})),
                _by_language(one.get("also", {})),
                one.get("stage", ""),
                one["text"],
            )
            for one in entries
        )
        for kind, entries in table.items()
    }


def mistakes(lesson: Sequence[Done]) -> tuple[str, ...]:
    """Return three mistakes to watch for in a lesson, chosen by its steps.

    Examples
    --------
    >>> [text.split(":")[0] for text in mistakes([Done("Weigh the tea on the scales.", False)])]
    ["The scales aren't set to zero with the empty dish on them", 'A code is missing, or two ...']
    """
    found: list[str] = []
    spare: list[str] = []
    had: set[int] = set()
    for entry in _table()["mistakes"]:
        of = {at for at, done in enumerate(lesson) if entry.fits(done)}
        if of - had:
            found.append(entry.text)
            had.add(min(of - had))
        elif of or entry.general:
            spare.append(entry.text)
    return tuple(say(text) for text in (*found, *spare)[:MISTAKES])


def question(lesson: Sequence[Done], asked: Collection[str] = ()) -> str:
    """Return one question for the class that fits a lesson and wasn't ``asked`` in another.

    Examples
    --------
    >>> question([Done("Fold it.", False)])
    'Why did chance decide who makes what, and not we?'
    """
    fitting = [
        say(entry.text)
        for entry in _table()["questions"]
        if entry.general or any(entry.fits(done) for done in lesson)
    ]
    return next((text for text in fitting if text not in asked), fitting[0])
