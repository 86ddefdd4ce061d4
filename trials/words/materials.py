"""What the list of materials says: how much, how often, and why there are spares."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trials.words.numbers import NBSP, capital, count, listing, percent, plural, with_unit

SHARED = "shared"
NO_END = "no number is enough"
ROUNDED = (
    "Amounts are rounded up to what can be measured out. What is kept in bulk needs a little more, "
    "because some stays in the bottle."
)
NO_SPARES = "What is taken once for a team or a lesson has no spares."
SPARES_KEPT = (
    "Keep the spares in one place, not on the teams' trays: shared by all, fewer are enough."
)
WRITE_DOWN = (
    "Spares are for what breaks while it is made. Write it down when you take one. A finished one "
    "that doesn't work is a result: it stays, and no spare takes its place."
)
NO_AMOUNTS = (
    "The study names the equipment but not the amounts: work out how much of each you need, and "
    "add spares."
)
NO_STEPS = "The study describes no steps, so there is no list of equipment."
OVER = (
    "Steps that are over are left out. Whoever starts one afresh needs what those steps take, too."
)


def for_all(items: str, teams: str) -> str:
    """Return for how many items and teams a list is.

    Examples
    --------
    >>> for_all("48 cells", "6 teams"), for_all("48 cells", "")
    ('For 48 cells and 6 teams.', 'For 48 cells.')
    """
    return f"For {items} and {teams}." if teams else f"For {items}."


def for_what_is_left(
    item: str, left: int, teams: str, out: tuple[int, ...], *, over: bool = False
) -> str:
    """Return for how many items a list is from now on, and what became of the others.

    Parameters
    ----------
    left : items that aren't finished.
    teams : how many teams still work, in words; "" where there are none.
    out : items that are lost, not made, and measured already.
    over : something has been done to them already.

    Examples
    --------
    >>> for_what_is_left("cell", 44, "6 teams", (4, 0, 0))
    'From now on, for the 44 cells still to be made (6 teams); 4 are lost.'
    >>> for_what_is_left("cell", 12, "", (1, 4, 0), over=True)
    'From now on, for the 12 cells still to be finished; 1 is lost, 4 were not made.'
    >>> for_what_is_left("cell", 0, "", (1, 0, 47))
    'Nothing more to get out: no cell is left to make; 1 is lost, 47 are measured.'
    """
    lost, unmade, measured = out
    told = f"Nothing more to get out: no {item} is left to make"
    if left:
        who = f" ({teams})" if teams else ""
        doing = "finished" if over else "made"
        told = f"From now on, for the {count(left, item)} still to be {doing}{who}"
    others = [
        f"{n} {one if n == 1 else many}"
        for n, one, many in (
            (lost, "is lost", "are lost"),
            (unmade, "was not made", "were not made"),
            (measured, "is measured", "are measured"),
        )
        if n
    ]
    return f"{told}; {', '.join(others)}." if others else f"{told}."


def amount_text(number: str, unit: str) -> str:
    """Return an amount with its unit; what no measure counts is a thing with a plural.

    Examples
    --------
    >>> amount_text("48", "drop"), amount_text("1", "drop"), amount_text("1.5", "L")
    ('48\\xa0drops', '1\\xa0drop', '1.5\\xa0L')
    """
    if unit.strip() in ("", "1"):
        return number
    if unit.isalpha() and unit.islower() and len(unit) > 3 and not unit.endswith("s"):
        unit = unit if number == "1" else plural(unit)
    return with_unit(number, unit)


def range_text(low: str, high: str) -> str:
    """Return one text, or both where teams differ.

    Examples
    --------
    >>> range_text("8", "8"), range_text("16", "18")
    ('8', '16 to\\xa018')
    """
    return low if low == high else f"{low} to{NBSP}{high}"


def per_text(per: str, level: str, item: str, group: str, team: str) -> str:
    """Return what an amount is for; ``level``: only for items with this version.

    Examples
    --------
    >>> per_text("item", "", "cell", "firing", "team"), per_text("lesson", "", "cell", "", "team")
    ('each cell', 'each lesson')
    >>> per_text("item", "hibiscus", "cell", "firing", "team")
    'each cell with hibiscus'
    >>> per_text("team", "hibiscus", "cell", "firing", "team")
    'each team, for hibiscus'
    """
    each = "each " + {"item": item, "group": group, "team": team, "lesson": "lesson"}[per]
    if not level:
        return each
    return f"{each} with {level}" if per == "item" else f"{each}, for {level}"


def needs_sentence(
    things: Sequence[tuple[str, int, int | None]], item: str, *, more: bool = False
) -> str:
    """Return how many things a study uses up; "" where it names none.

    Parameters
    ----------
    things : each with how many, without and with spares (None: no number is enough).
    more : further materials are not told here.

    Examples
    --------
    >>> needs_sentence([("glass slide", 96, 152)], "cell")
    'It needs 96 glass slides, or 152 with spares for cells that fail.'
    >>> needs_sentence([("glass slide", 96, 152), ("label", 48, 76)], "cell")
    'It needs 96 glass slides and 48 labels, or 152 and 76 with spares for cells that fail.'
    >>> needs_sentence([("cup", 1, 1)], "tea", more=True)
    'It needs 1 cup. The list of materials, printed with the sheets, has the rest.'
    """
    if not things:
        return ""
    told = f"It needs {listing([_several(n, name) for name, n, _ in things])}"
    if all(spare is not None and spare > n for _, n, spare in things):
        spares = listing([str(spare) for *_, spare in things])
        told += f", or {spares} with spares for {plural(item)} that fail"
    rest = " The list of materials, printed with the sheets, has the rest." if more else ""
    return f"{told}.{rest}"


def _several(number: int, name: str) -> str:
    """Return so many of a thing; only what stands before "for", "of" and the like is changed.

    Examples
    --------
    >>> _several(24, "sticky label for the dish"), _several(4, "gloves"), _several(2, "glass")
    ('24 sticky labels for the dish', '4 gloves', '2 glasses')
    """
    head = re.split(r",|\s+(?:for|of|with|to|in|from)\s", name, maxsplit=1)[0]
    as_is = number == 1 or (head.endswith("s") and not head.endswith("ss"))
    return f"{number} {head if as_is else plural(head)}{name[len(head) :]}"


def stock_text(
    name: str,
    item: str,
    amounts: tuple[str, str, str],
    *,
    items: int,
    fits: int | None,
    surely: int | None,
    enough: bool,
    with_spares: bool,
) -> str:
    """Return whether what there is of a material is enough, and for how many items it is.

    Parameters
    ----------
    amounts : what there is, what the plan takes, and that with spares ("" where nothing is enough).
    fits, surely : as of ``classroom.stock.Stock``.

    Examples
    --------
    >>> print(stock_text("slide", "cell", ("60", "48", "76"), items=24, fits=30, surely=18,
    ...                  enough=True, with_spares=False))
    Slide: you have 60, enough for 24 cells (48) and for 6 more if some go wrong. So that 24 come
    out well with a chance of 95 %, you need 76; with 60 it is so for 18 cells.
    >>> print(stock_text("slide", "cell", ("40", "48", "76"), items=24, fits=20, surely=11,
    ...                  enough=False, with_spares=False))
    Slide: you have 40, not enough for 24 cells (48): it does for 20, and with spares for 11.
    >>> stock_text("slide", "cell", ("80", "48", "76"), items=24, fits=40, surely=26,
    ...            enough=True, with_spares=True)
    'Slide: you have 80, enough for 24 cells (48) and for their spares (76).'
    >>> stock_text("glue", "cell", ("80 mL", "90 mL", "90 mL"), items=24, fits=None, surely=None,
    ...            enough=False, with_spares=False)
    'Glue: you have 80 mL, too little: the plan takes 90 mL.'
    """
    there, needed, spare = amounts
    told = f"{capital(name)}: you have {there}"
    of = f"{count(items, item)} ({needed})"
    if not enough and (fits is None or surely is None):
        return f"{told}, too little: the plan takes {needed}."
    if not enough:
        return f"{told}, not enough for {of}: it does for {fits}, and with spares for {surely}."
    if fits is None or surely is None:
        return f"{told}, enough: the plan takes {needed}."
    if with_spares:
        return f"{told}, enough for {of} and for their spares ({spare})."
    more = f" and for {fits - items} more if some go wrong" if fits > items else ", and for no more"
    told += f", enough for {of}{more}."
    if spare:
        told += f" So that {items} come out well with a chance of 95 %, you need {spare};"
        return f"{told} with {there} it is so for {count(surely, item)}."
    return told


def stock_remedy(fits: int | None, item: str) -> str:
    """Return what to do where there is too little for the plan.

    Examples
    --------
    >>> stock_remedy(20, "cell")
    'Make at most 20 cells (items under [limits]), or get more and change [stock].'
    >>> stock_remedy(None, "cell"), stock_remedy(0, "cell")
    ('Get more and change [stock].', 'Get more and change [stock].')
    """
    if not fits:
        return "Get more and change [stock]."
    return (
        f"Make at most {count(fits, item)} (items under [limits]), or get more and change [stock]."
    )


def why_spares(
    item: str,
    wanted: int,
    spare: int | None,
    *,
    share: float,
    made: int = 0,
    failed: int = 0,
    folder: str = "",
    over: bool = False,
) -> str:
    """Return for how many items the materials are enough, and where the share that fails is from.

    Parameters
    ----------
    over : something has been done to them already.

    Examples
    --------
    >>> print(why_spares("cell", 12, 8, share=0.25, made=4, failed=1, folder="try"))
    Spares: enough to make 20 cells. If 1 in 4 goes wrong, as in the practice run in try, 12 of
    them come out well in at least 19 of 20 classes.
    >>> print(why_spares("cell", 12, 8, share=0.25).replace("\\xa0", " "))
    Spares: enough to make 20 cells. If 25 % go wrong, 12 of them come out well in at least 19 of
    20 classes. The 25 % are a planning value for things made by hand (common practice, no source):
    a practice run of your own gives a better one.
    >>> print(why_spares("cell", 12, 0, share=0.0, made=4, folder="try"))
    Spares: none are reckoned with, because none of 4 cells failed in the practice run in try.
    So few tell little: get out a few more than the list says.
    """
    items = plural(item)
    if spare is None:
        return (
            f"Spares: all {count(made, item)} failed in the practice run in {folder}, so no number "
            "of spares is enough. Find out why before you go on."
        )
    if not spare:
        return (
            f"Spares: none are reckoned with, because none of {count(made, item)} failed in the "
            f"practice run in {folder}. So few tell little: get out a few more than the list says."
        )
    chance = f"{wanted} of them come out well in at least 19 of 20 classes."
    start = f"Spares: enough to {'finish' if over else 'make'} {wanted + spare} {items}."
    if made:
        goes = "goes" if failed == 1 else "go"
        return (
            f"{start} If {failed} in {made} {goes} wrong, as in the practice run in {folder}, "
            f"{chance}"
        )
    return (
        f"{start} If {percent(share)} go wrong, {chance} The {percent(share)} are a planning value "
        "for things made by hand (common practice, no source): a practice run of your own gives a "
        "better one."
    )
