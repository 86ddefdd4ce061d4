"""Errors about a study that say where: file, line and key, with the nearest right spelling."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from trials.errors import StudyError
from trials.study.positions import Path, Positions

_BARE = re.compile(r"[A-Za-z0-9_-]+\Z")
_LONGEST = 60


@dataclass(frozen=True)
class Places:
    """Knows where a key of a study stands; without a file it names only the key."""

    where: str = ""
    positions: Positions = field(default_factory=Positions)

    def at(self, path: Path) -> str:
        """Return file, line and key, as a person would look for them.

        Examples
        --------
        >>> Places("study.toml").at(("steps", 0, "minutes"))
        'study.toml, steps[1].minutes'
        """
        line = self.positions.line(path)
        parts = [self.where, f"line {line}" if line else "", key_text(path)]
        return ", ".join(part for part in parts if part)

    def error(
        self, path: Path, what: str, *, code: str, found: str = "", allowed: str = "", do: str = ""
    ) -> StudyError:
        """Return the error about the key ``path``; ``code`` without the leading ``study.``."""
        return StudyError(
            what,
            code=f"study.{code}",
            where=self.at(path),
            found=found,
            allowed=allowed,
            do=do,
        )


def key_text(path: Path) -> str:
    """Return a path as people write it; places in a list are counted from 1.

    Examples
    --------
    >>> key_text(("factors", "red cabbage", "levels", 1))
    'factors."red cabbage".levels[2]'
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            name = part if _BARE.match(part) else json.dumps(part, ensure_ascii=False)
            text += f".{name}" if text else name
    return shorten(text)


def shorten(text: str) -> str:
    """Return ``text`` on one line, cut to what fits a message.

    Examples
    --------
    >>> shorten("a\\nb"), len(shorten("x" * 1000))
    ('a b', 60)
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= _LONGEST else line[: _LONGEST - 3] + "..."


def shown(value: object) -> str:
    """Return a value as it would stand in the file, cut to what fits a message.

    Examples
    --------
    >>> shown("oven"), shown(True), shown([1, "a"]), shown({"a": 1})
    ('"oven"', 'true', '[1, "a"]', '{"a": 1}')
    """
    try:
        return shorten(json.dumps(value, ensure_ascii=False, default=str))
    except (ValueError, RecursionError):
        return "something too large to show"


def nearest(word: str, allowed: Iterable[str]) -> str | None:
    """Return the allowed word that ``word`` was most likely meant to be, or None.

    Examples
    --------
    >>> nearest("lvels", ["label", "levels"]), nearest("Oven", ["oven"]), nearest("x", ["oven"])
    ('levels', 'oven', None)
    """
    return next(iter(near(word, allowed, 1)), None)


def near(word: str, allowed: Iterable[str], most: int) -> list[str]:
    """Return the allowed words spelled most like ``word``, the nearest first, at most so many."""
    by_folded = {name.casefold().strip(): name for name in allowed}
    hits = difflib.get_close_matches(word.casefold().strip()[:80], by_folded, n=most, cutoff=0.6)
    return [by_folded[hit] for hit in hits]


def meant(word: str, allowed: Iterable[str], otherwise: str) -> str:
    """Return what to do about a word that isn't allowed.

    Examples
    --------
    >>> meant("lvels", ["label", "levels"], "Choose one of these.")
    "Did you mean 'levels'?"
    """
    hit = nearest(word, allowed)
    return f"Did you mean '{hit}'?" if hit else otherwise
