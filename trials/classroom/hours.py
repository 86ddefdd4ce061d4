"""When somebody may work between lessons, in minutes from the first lesson's start."""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Iterator

from trials.study.check_lessons import hours_of
from trials.study.values import Lessons

_SATURDAY = 5  # weekdays are counted from Monday, 0
_DAY = 24 * 60
_CARRIED = 10  # minutes in which a lesson's things are carried away: common practice, no source


def open_spans(
    lessons: Lessons, first: datetime.datetime, offsets: tuple[int, ...]
) -> tuple[tuple[int, int], ...]:
    """Return when work between lessons may be done, over all days around the lessons.

    That is in the hours of ``lessons.between``, from Monday to Friday and on weekdays that have a
    lesson; but not right after a lesson, when what it made is carried to where work goes on.

    Parameters
    ----------
    first : day and time of the first lesson.
    offsets : minutes from it to every lesson.

    Examples
    --------
    >>> start = datetime.datetime(2030, 5, 17, 10, 0)  # a Friday
    >>> spans = open_spans(Lessons(minutes=50, between="08:00-16:00"), start, (0, 4320))
    >>> [span for span in spans if -120 <= span[0] <= 4320]  # that day and Monday
    [(-120, 50), (60, 360), (4200, 4370)]
    """
    hours = hours_of(lessons.between)
    if hours is None:
        raise ValueError(f"no hours: {lessons.between}")
    moments = [first + datetime.timedelta(minutes=offset) for offset in offsets]
    taught = {moment.weekday() for moment in moments}
    around = max([_DAY, *(late - early for early, late in itertools.pairwise(offsets))])
    midnight = first.replace(hour=0, minute=0)
    begin = -around // _DAY - 1
    out = []
    for day in range(begin, (offsets[-1] + around) // _DAY + 2):
        date = midnight + datetime.timedelta(days=day)
        if date.weekday() < _SATURDAY or date.weekday() in taught:
            start = round((date - first).total_seconds() / 60)
            out.append((start + hours[0], start + hours[1]))
    for offset in offsets:
        over = offset + math.floor(lessons.minutes)
        out = [part for span in out for part in _without(span, over, over + _CARRIED)]
    return tuple(out)


def _without(span: tuple[int, int], begin: int, end: int) -> Iterator[tuple[int, int]]:
    """Yield what is left of a span without the minutes from ``begin`` to ``end``."""
    for first, last in ((span[0], min(span[1], begin)), (max(span[0], end), span[1])):
        if first < last:
            yield first, last
