"""Times as people write them down beside a reading: a time of day, with or without a date."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass

DAY = 24 * 60  # minutes
_CLOCK = re.compile(
    r"(?<![\d.:])(?P<hours>\d{1,2})\s?[:.hH]\s?(?P<minutes>\d{2})(?:[:.](?P<seconds>\d{2})(?:\.\d+)?)?"
    r"(?![\d:])\s*(?:(?P<half>[ap])\.?\s?m\b\.?)?",
    re.IGNORECASE,
)
_PLAIN = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?\Z", re.ASCII)
_ISO = re.compile(r"(?<!\d)(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})(?!\d)")
_DAY_FIRST = re.compile(r"(?<!\d)(?P<day>\d{1,2})\.\s?(?P<month>\d{1,2})\.\s?(?P<year>\d{4})(?!\d)")
_SHIFT = re.compile(r"(?P<sign>[+\-−])\s*(?P<hours>\d{1,2})[:.](?P<minutes>\d{2})\Z")


@dataclass(frozen=True)
class Moment:
    """A time of day in minutes, and the date where one is written; either may be missing."""

    minutes: float | None
    date: datetime.date | None = None


def moment(text: str) -> Moment:
    """Return the time and date that a text holds. Dates with slashes can be read in two ways: none.

    Examples
    --------
    >>> moment("9:05"), moment("1.05 pm").minutes, moment("14h30").minutes, moment("25:70")
    (Moment(minutes=545.0, date=None), 785.0, 870.0, Moment(minutes=None, date=None))
    >>> moment("2030-05-17T14:30:30")
    Moment(minutes=870.5, date=datetime.date(2030, 5, 17))
    """
    if plain := _PLAIN.match(text):  # most times by far
        hours, minutes, seconds = plain.groups("0")
        return Moment(int(hours) * 60 + int(minutes) + int(seconds) / 60)
    date = None
    for form in (_ISO, _DAY_FIRST):
        found = form.search(text)
        if found is not None:
            date = date or _date(found)
            text = text[: found.start()] + " " + text[found.end() :].lstrip("Tt")
    clock = _CLOCK.search(text)
    return Moment(None if clock is None else _minutes(clock), date)


def _date(found: re.Match[str]) -> datetime.date | None:
    try:
        return datetime.date(int(found["year"]), int(found["month"]), int(found["day"]))
    except ValueError:
        return None


def _minutes(found: re.Match[str]) -> float | None:
    hours, minutes, seconds = (int(found[part] or 0) for part in ("hours", "minutes", "seconds"))
    if found["half"]:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if found["half"].casefold() == "p" else 0)
    return (
        None if hours > 23 or minutes > 59 or seconds > 59 else hours * 60 + minutes + seconds / 60
    )


def shift_of(text: str) -> int | None:
    """Return the minutes by which a text such as "+12:00" moves a time; None if it is no such text.

    Examples
    --------
    >>> shift_of("+12:00"), shift_of("-1:30"), shift_of("12:00")
    (720, -90, None)
    """
    found = _SHIFT.match(text.strip())
    if found is None or int(found["minutes"]) > 59:
        return None
    minutes = int(found["hours"]) * 60 + int(found["minutes"])
    return minutes if found["sign"] == "+" else -minutes


def shifted(text: str, minutes: int) -> str:
    """Return a time moved by some minutes, with its date if it has one; the same day throughout.

    Examples
    --------
    >>> shifted("1:05", 720), shifted("2030-05-17 09:10", -90), shifted("soon", 60)
    ('13:05', '2030-05-17 07:40', 'soon')
    """
    said = moment(text)
    if said.minutes is None:
        return text
    date = f"{said.date.isoformat()} " if said.date is not None else ""
    return date + clock_text(said.minutes + minutes)


def clock_text(minutes: float) -> str:
    """Return a time of day as people read it.

    Examples
    --------
    >>> clock_text(545), clock_text(1500)
    ('09:05', '01:00')
    """
    whole = int(minutes) % DAY
    return f"{whole // 60:02d}:{whole % 60:02d}"
