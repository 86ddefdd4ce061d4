"""Codes of items as people and spreadsheet programs change them."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable

_LEFT_OUT = str.maketrans(dict.fromkeys(" -\u2010\u2011\u2013\u2014_.#'\"\u2018\u2019\u201c\u201d"))
_DATES = (
    re.compile(r"(?P<year>\d{4})-(?P<month>\d\d)-(?P<day>\d\d)(?: \d\d:\d\d(?::\d\d)?)?\Z"),
    re.compile(r"(?P<day>\d{1,2})[-. ](?P<month>[a-z]{3})(?:[-. ](?P<year>\d\d|\d{4}))?\Z"),
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def alike(code: str) -> str:
    """Return a code without what doesn't tell codes apart: blanks, strokes, dots, other widths.

    Examples
    --------
    >>> alike("K 7"), alike("\uff2b-\uff17"), alike("K7?")
    ('k7', 'k7', 'k7?')
    """
    return unicodedata.normalize("NFKC", code).casefold().translate(_LEFT_OUT)


def told_apart(codes: Iterable[str]) -> dict[str, str]:
    """Return the codes by what is alike in them, those left out that are alike themselves.

    Examples
    --------
    >>> told_apart(["K7", "M-1", "M1"])
    {'k7': 'K7'}
    """
    codes = list(codes)
    many = Counter(map(alike, codes))
    return {alike(code): code for code in codes if many[alike(code)] == 1}


def turned_into_date(written: str, codes: Collection[str]) -> tuple[bool, str]:
    """Return whether what stands for a code is a date, and the one code it may have been.

    Spreadsheet programs take MAR1, 1-MAR and MAR31 for days and months.

    Examples
    --------
    >>> turned_into_date("2031-03-01 00:00:00", ["MAR1", "K7"]), turned_into_date("1-Mar", ["K7"])
    ((True, 'MAR1'), (True, ''))
    >>> turned_into_date("2031-03-01", ["MAR1", "MAR31"]), turned_into_date("K7", ["MAR1"])
    ((True, ''), (False, ''))
    """
    found = next((match for one in _DATES if (match := one.match(written.casefold()))), None)
    if found is None:
        return False, ""
    month, day = found["month"], int(found["day"])
    if month.isdecimal():
        if not 1 <= int(month) <= len(_MONTHS):
            return False, ""
        month = _MONTHS[int(month) - 1]
    elif month not in _MONTHS:
        return False, ""
    ways = {f"{month}{day}", f"{month}{day:02}", f"{day}{month}", f"{day:02}{month}"}
    if day == 1 and found["year"]:
        ways |= {f"{month}{found['year'][-2:]}", f"{month}{found['year']}"}
    meant = [code for code in codes if alike(code) in ways]
    return True, meant[0] if len(meant) == 1 else ""
