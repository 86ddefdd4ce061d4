"""Sentences that are kept with what fills their places, to be said later in any language.

A question about the measurements is asked in one language and may be told in a report in another
one. So the record keeps the message and its values beside the English text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trials.words.language import ENGLISH, say, say_as, speaking


@dataclass(frozen=True)
class Kept:
    """A message with what fills its places; ``str`` of it is the English text.

    Examples
    --------
    >>> far = Kept("This is far above {beside}.", (("beside", "what is possible"),))
    >>> str(far), str(far + kept("Is that right?"))
    ('This is far above what is possible.', 'This is far above what is possible. Is that right?')
    """

    message: str
    values: tuple[tuple[str, str | Kept], ...] = ()
    context: str = ""

    def __str__(self) -> str:
        with speaking(ENGLISH):
            return self.said()

    def __add__(self, then: Kept) -> Kept:
        """Return two sentences one after the other."""
        return Kept("{first} {then}", (("first", self), ("then", then)))

    def said(self) -> str:
        """Return the text in the language that is written now."""
        values = {
            name: value.said() if isinstance(value, Kept) else value for name, value in self.values
        }
        if self.context:
            return say_as(self.context, self.message, **values)
        return say(self.message, **values)

    def form(self) -> list[Any]:
        """Return it as a file keeps it; ``kept_form`` reads that."""
        values = {
            name: value.form() if isinstance(value, Kept) else value for name, value in self.values
        }
        return [self.message, values, self.context]


def kept(message: str, /, **values: object) -> Kept:
    """Return a message that is said later, its places filled with texts or with such messages.

    Examples
    --------
    >>> str(kept("{low} or more", low=3))
    '3 or more'
    """
    return Kept(
        message,
        tuple(
            (name, value if isinstance(value, Kept) else str(value))
            for name, value in values.items()
        ),
    )


def kept_form(form: Sequence[Any]) -> Kept:
    """Return a message as a file kept it.

    Examples
    --------
    >>> far = kept("This is far above {beside}.", beside=kept("what is possible"))
    >>> kept_form(far.form()) == far
    True
    """
    message, values, context = form
    return Kept(
        message,
        tuple(
            (name, value if isinstance(value, str) else kept_form(value))
            for name, value in values.items()
        ),
        context,
    )


def kept_list(words: Sequence[str | Kept], last: str = "and") -> str | Kept:
    """Return words as a list within a kept sentence; ``last`` is "and" or "or".

    Examples
    --------
    >>> str(kept_list(["K7", "M2", "P3"], "or")), kept_list(["K7"])
    ('K7, M2 or P3', 'K7')
    """
    if len(words) < 2:
        return words[0] if words else ""
    start = words[0]
    for word in words[1:-1]:
        start = kept("{start}, {word}", start=start, word=word)
    if last == "or":
        return kept("{one} or {other}", one=start, other=words[-1])
    return kept("{one} and {other}", one=start, other=words[-1])
