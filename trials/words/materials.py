"""What the list of materials says: how much, how often, and why there are spares."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trials.words.language import marked, say
from trials.words.numbers import capital, count, listing, percent, plural, with_unit

SHARED = marked("shared")
NO_END = marked("no number is enough")
ROUNDED = marked(
    "Amounts are rounded up to what can be measured out. What is kept in bulk needs a little more, "
    "because some stays in the bottle."
)
NO_SPARES = marked("What is taken once for a team or a lesson has no spares.")
SPARES_KEPT = marked(
    "Keep the spares in one place, not on the teams' trays: shared by all, fewer are enough."
)
WRITE_DOWN = marked(
    "Spares are for what breaks while it is made. Write it down when you take one. A finished one "
    "that doesn't work is a result: it stays, and no spare takes its place."
)
NO_AMOUNTS = marked(
    "The study names the equipment but not the amounts: work out how much of each you need, and "
    "add spares."
)
NO_STEPS = marked("The study describes no steps, so there is no list of equipment.")
OVER = marked("Steps that are over are left out.")
AFRESH = marked("Whoever starts one afresh needs what those steps take, too.")


def for_all(items: str, teams: str) -> str:
    """Return for how many items and teams a list is.

    Examples
    --------
    >>> for_all("48 cells", "6 teams"), for_all("48 cells", "")
    ('For 48 cells and 6 teams.', 'For 48 cells.')
    """
    if teams:
        return say("For {items} and {teams}.", items=items, teams=teams)
    return say("For {items}.", items=items)


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
    told = say("Nothing more to get out: no {item} is left to make", item=item)
    if left:
        told = say(
            "From now on, for the {items} still to be finished"
            if over
            else "From now on, for the {items} still to be made",
            items=count(left, item),
        )
        told += f" ({teams})" if teams else ""
    others = [
        say(one if n == 1 else many, n=n)
        for n, one, many in (
            (lost, marked("{n} is lost"), marked("{n} are lost")),
            (unmade, marked("{n} was not made"), marked("{n} were not made")),
            (measured, marked("{n} is measured"), marked("{n} are measured")),
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
    return low if low == high else say("{low} to\u00a0{high}", low=low, high=high)


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
    thing = {"item": item, "group": group, "team": team, "lesson": say("lesson")}[per]
    if not level:
        return say("each {thing}", thing=thing)
    if per == "item":
        return say("each {thing} with {level}", thing=thing, level=level)
    return say("each {thing}, for {level}", thing=thing, level=level)


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
    known = {
        "thing": capital(name),
        "there": there,
        "needed": needed,
        "items": count(items, item),
        "fits": fits,
        "surely": surely,
        "spare": spare,
    }
    if not enough and (fits is None or surely is None):
        return say("{thing}: you have {there}, too little: the plan takes {needed}.", **known)
    if not enough:
        return say(
            "{thing}: you have {there}, not enough for {items} ({needed}): it does for {fits}, and "
            "with spares for {surely}.",
            **known,
        )
    if fits is None or surely is None:
        return say("{thing}: you have {there}, enough: the plan takes {needed}.", **known)
    if with_spares:
        return say(
            "{thing}: you have {there}, enough for {items} ({needed}) and for their spares "
            "({spare}).",
            **known,
        )
    told = say(
        "{thing}: you have {there}, enough for {items} ({needed}) and for {more} more if some go "
        "wrong."
        if fits > items
        else "{thing}: you have {there}, enough for {items} ({needed}), and for no more.",
        **known,
        more=fits - items,
    )
    if not spare:
        return told
    needs = say(
        "So that {n} come out well with a chance of 95 %, you need {spare}; with {there} it is so "
        "for {sure}.",
        n=items,
        spare=spare,
        there=there,
        sure=count(surely, item),
    )
    return f"{told} {needs}"


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
        return say(
            "Spares: all {items} failed in the practice run in {folder}, so no number of spares is "
            "enough. Find out why before you go on.",
            items=count(made, item),
            folder=folder,
        )
    if not spare:
        return say(
            "Spares: none are reckoned with, because none of {items} failed in the practice run in "
            "{folder}. So few tell little: get out a few more than the list says.",
            items=count(made, item),
            folder=folder,
        )
    start = say(
        "Spares: enough to finish {n} {items}." if over else "Spares: enough to make {n} {items}.",
        n=wanted + spare,
        items=items,
    )
    if made:
        chance = say(
            "If {failed} in {made} goes wrong, as in the practice run in {folder}, {wanted} of "
            "them come out well in at least 19 of 20 classes."
            if failed == 1
            else "If {failed} in {made} go wrong, as in the practice run in {folder}, {wanted} of "
            "them come out well in at least 19 of 20 classes.",
            failed=failed,
            made=made,
            folder=folder,
            wanted=wanted,
        )
    else:
        chance = say(
            "If {share} go wrong, {wanted} of them come out well in at least 19 of 20 classes. The "
            "{share} are a planning value for things made by hand (common practice, no source): a "
            "practice run of your own gives a better one.",
            share=percent(share),
            wanted=wanted,
        )
    return f"{start} {chance}"


def none_anew(item: str, step: str) -> str:
    """Return why there are no spares; ``step``: that after which none can be started afresh.

    Examples
    --------
    >>> print(none_anew("cell", "Fire"))
    Spares: none are reckoned with, as no cell can be started afresh once 'Fire' is over. Have a
    little more at hand of what may be dropped or spilled.
    """
    return say(
        "Spares: none are reckoned with, as no {item} can be started afresh once '{step}' is over. "
        "Have a little more at hand of what may be dropped or spilled.",
        item=item,
        step=step,
    )


def some_anew(item: str, fixed: int, others: int, step: str) -> str:
    """Return that only some have spares, as the others can't be started afresh.

    Examples
    --------
    >>> some_anew("cell", 6, 15, "Fire")
    "6 cells can't be started afresh, as 'Fire' is over for them: spares are for the other 15."
    >>> some_anew("cell", 1, 15, "Fire")
    "1 cell can't be started afresh, as 'Fire' is over for it: spares are for the other 15."
    """
    return say(
        "{items} can't be started afresh, as '{step}' is over for it: spares are for the other "
        "{others}."
        if fixed == 1
        else "{items} can't be started afresh, as '{step}' is over for them: spares are for the "
        "other {others}.",
        items=count(fixed, item),
        step=step,
        others=others,
    )
