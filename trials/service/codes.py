"""Item codes as people type them."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from trials.errors import RecordError
from trials.service.opening import Opened
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
    near = nearest(item, codes.values())
    raise RecordError(
        f"The plan has no {opened.study.item_name} of that code.",
        code="record.unknown_item",
        where=where,
        found=item,
        allowed=f"one of the {count(len(codes), 'code')} in {opened.here.plan_table.name}",
        do=f"Read the code on the label again.{f' Nearest to it: {near}.' if near else ''}",
    )


def nearest(text: str, allowed: Iterable[str]) -> str:
    """Return the words spelled most like ``text``, as a list to read; "" if none is near.

    Examples
    --------
    >>> nearest("hibiskus", ["hibiscus", "beetroot"])
    'hibiscus'
    """
    known = {one.casefold(): one for one in allowed}
    found = get_close_matches(text.strip().casefold(), list(known), n=2, cutoff=0.6)
    return listing([known[one] for one in found], "or")
