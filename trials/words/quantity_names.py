"""The columns that the program itself names: most are a cell's electrical readings.

A file of results names them in English in any language; what people read and write on says them,
and a table is read back by their names in any language.
"""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType

from trials.words.keeping import Kept
from trials.words.language import in_all, marked_as, say_as

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


@lru_cache
def quantity_names(name: str) -> tuple[str, ...]:
    """Return what a quantity may be called, in any language.

    Examples
    --------
    >>> quantity_names("light"), quantity_names("altura")
    (('light', 'luz'), ('altura',))
    """
    return in_all(lambda: quantity_name(name))


def kept_quantity(name: str) -> str | Kept:
    """Return the name of a quantity to be kept in a sentence.

    Examples
    --------
    >>> str(kept_quantity("light")), kept_quantity("height")
    ('light', 'height')
    """
    return Kept(name, (), QUANTITY) if name in _NAMES else name
