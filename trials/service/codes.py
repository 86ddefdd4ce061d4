"""Item codes as people type them."""

from __future__ import annotations

from collections.abc import Iterable

from trials.errors import RecordError
from trials.service.opening import Opened
from trials.study.messages import near
from trials.words.numbers import count, listing


def item_code(item: str, opened: Opened, where: str) -> str:
    """Return the code of an item as the plan writes it.

    Raises
    ------
    RecordError : the plan has no such item; names the codes that are spelled most alike.
    """
    codes = {row.item.casefold(): row.item for row in opened.plan.rows}
    known = codes.get(item.strip().casefold())
    if known is not None:
        return known
    meant = nearest(item, codes.values())
    raise RecordError(
        f"The plan has no {opened.study.item_name} of that code.",
        code="record.unknown_item",
        where=where,
        found=item,
        allowed=f"one of the {count(len(codes), 'code')} in {opened.here.plan_table.name}",
        do=f"Read the code on the label again.{f' Nearest to it: {meant}.' if meant else ''}",
    )


def nearest(text: str, allowed: Iterable[str]) -> str:
    """Return the words spelled most like ``text``, as a list to read; "" if none is near.

    Examples
    --------
    >>> nearest("hibiskus", ["hibiscus", "beetroot"])
    'hibiscus'
    """
    return listing(near(text, allowed, 2), "or")
