"""What there is of a material, in words."""

from __future__ import annotations

from decimal import Decimal

from trials.classroom.materials import handy
from trials.classroom.stock import Stock
from trials.quantities import nice, shown
from trials.words.materials import amount_text, stock_text


def stock_sentence(one: Stock, item: str) -> str:
    """Return whether what there is of a material is enough, and for how many items it is."""
    amounts = (
        amount_text(shown(one.there), nice(one.unit)),
        amount_to_get_out(one.needed, one.unit),
        "" if one.spare is None else amount_to_get_out(one.spare, one.unit),
    )
    return stock_text(
        one.name,
        item,
        amounts,
        items=one.items,
        fits=one.fits,
        surely=one.surely,
        enough=one.enough,
        with_spares=one.with_spares,
    )


def amount_to_get_out(amount: Decimal, unit: str) -> str:
    """Return an amount in the words in which every sheet says it, rounded up to be measured out."""
    number, printed = handy(amount, unit)
    return amount_text(shown(number), nice(printed))
