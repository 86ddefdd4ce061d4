"""The columns that the program itself names: most are a cell's electrical readings.

A file and a sheet name them in English in any language, so that a table is read back alike; a
sentence and a report's table say them.
"""

from __future__ import annotations

from types import MappingProxyType

from trials.words.keeping import Kept
from trials.words.language import marked_as, say_as

QUANTITY = "quantity"  # the context of their names

_NAMES = MappingProxyType(
    {
        text: text
        for text in (
            marked_as("quantity", "open-circuit voltage"),
            marked_as("quantity", "short-circuit current"),
            marked_as("quantity", "load voltage"),
            marked_as("quantity", "maximum power"),
            marked_as("quantity", "light"),
            marked_as("quantity", "active area"),
            marked_as("quantity", "age"),
            marked_as("quantity", "load resistance"),
            marked_as("quantity", "voltage"),
            marked_as("quantity", "current"),
            marked_as("quantity", "time"),
            marked_as("quantity", "did it work?"),
        )
    }
)


def quantity_name(name: str) -> str:
    """Return what a quantity is called in the language that is written now.

    What a study calls by a name of its own keeps it.

    Examples
    --------
    >>> from trials.words.language import speaking
    >>> with speaking("es"):
    ...     quantity_name("open-circuit voltage"), quantity_name("altura de la planta")
    ('voltaje en circuito abierto', 'altura de la planta')
    """
    return say_as(QUANTITY, name) if name in _NAMES else name


def kept_quantity(name: str) -> str | Kept:
    """Return the name of a quantity to be kept in a sentence.

    Examples
    --------
    >>> str(kept_quantity("light")), kept_quantity("height")
    ('light', 'height')
    """
    return Kept(name, (), QUANTITY) if name in _NAMES else name
