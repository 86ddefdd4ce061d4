"""How long something lasts: the time until a quantity has fallen to half of its first value.

Each reading of an item is one value at one age. The item needs readings on both sides of the half;
where the last ones are still above it, no value is made up: it is known to be *at least* as long as
the item was watched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import log
from typing import TYPE_CHECKING

from trials.quantities import convertible, nice, scale_between
from trials.reduction.average import display_uncertainty
from trials.reduction.settings import refuse, setting_faults, setting_value
from trials.reduction.values import Asked, Column, Flag, Problem, Reading, Reduced, Setting
from trials.words.keeping import kept
from trials.words.language import marked, say
from trials.words.reducing import lacking

if TYPE_CHECKING:
    from trials.reduction.falling import Falling, Passed, Smooth

LEAST_TIMES = 3
FEW = 3  # degrees of freedom; below, an uncertainty is itself only roughly known
FIRST, FITTED = "first reading", "fitted"

SETTINGS = (
    Setting(
        "column",
        text=True,
        about="name of the column with the quantity that falls, for instance 'power'",
    ),
    Setting("column_unit", default="", text=True, about="unit of that quantity; none if left out"),
    Setting(
        "age_column",
        default="age",
        text=True,
        about="name of the column with the time since the start",
    ),
    Setting("age_unit", text=True, about="unit of the age, where it isn't that of the response"),
    Setting("share", default=0.5, number=True, about="share of the first value, above 0, below 1"),
    Setting(
        "first_value",
        default=FIRST,
        words=(FIRST, FITTED),
        about="what the share is taken of: the first reading (the average of those of the first "
        "age), or the smooth curve through all readings at the first age",
    ),
    Setting(
        "step",
        number=True,
        about="smallest step that the instrument shows, in column_unit",
    ),
)


@dataclass(frozen=True)
class _Course:
    """Readings of one item in order of age; ``gone``: since the first, when nothing was left."""

    falling: Falling
    used: int
    gone: float | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class HalfLife:
    """Values at several ages of an item, reduced to the time until half is left.

    The time counts from the first reading. Where the last readings are still above the half, the
    value is None and ``at_least`` tells for how long the item was watched.

    Examples
    --------
    >>> [setting.name for setting in HalfLife().settings][:3]
    ['column', 'column_unit', 'age_column']
    """

    name: str = "half_life"
    about: str = "the time until something has fallen to half, from values at several ages"
    settings: tuple[Setting, ...] = SETTINGS

    def problems(self, asked: Asked) -> tuple[Problem, ...]:
        """Return what is wrong with the settings and the unit of a response."""
        faults = list(setting_faults(asked, SETTINGS))
        if faults:
            return tuple(faults)
        if not _text(asked, "column"):
            faults.append(
                Problem("column", "", "a text",
                        "Name the column with the quantity that falls, for instance 'power'.")
            )  # fmt: skip
        share = _share(asked)
        if share >= 1:
            faults.append(
                Problem("share", f"{share:g}", "a number above 0 and below 1", "Half is 0.5.")
            )
        for found in dict.fromkeys((asked.unit, _age_unit(asked))):
            if not convertible(found, "s"):
                faults.append(
                    Problem("age_unit", found, "a unit of time, such as min or h",
                            "The response is a time: give it, and the age, a unit of time.")
                )  # fmt: skip
        return tuple(faults)

    def columns(self, asked: Asked) -> tuple[Column, ...]:
        """Return the age and the quantity."""
        refuse(asked, self.problems(asked))
        return (
            Column(
                _text(asked, "age_column"),
                _age_unit(asked),
                possible=(Decimal(0), None),
                aliases=("age", "time since start", "time since assembly", "elapsed time"),
                about=marked("time since the start, at each reading"),
                spans=True,
            ),
            Column(
                _text(asked, "column"),
                _text(asked, "column_unit"),
                possible=(Decimal(0), None),
                about=marked("at this age"),
                spans=True,
            ),
        )

    def check(self, asked: Asked, readings: Sequence[Reading]) -> tuple[Flag, ...]:
        """Flag an item whose values rise with age."""
        course = _course(asked, readings)
        if isinstance(course, str) or _smooth(course).fall < 0:
            return ()
        return (
            Flag(
                "rising",
                None,
                _text(asked, "column"),
                kept(
                    "{n} values that rise with the {age}",
                    n=course.used,
                    age=_text(asked, "age_column"),
                ),
                kept("This quantity should fall with time. Is the order of the ages right?"),
            ),
        )

    def reduce(self, asked: Asked, readings: Sequence[Reading]) -> Reduced:
        """Return how long it took to fall; None, with the reason, where that can't be told."""
        import numpy as np

        from trials.reduction.falling import passed

        course = _course(asked, readings)
        if isinstance(course, str):
            return Reduced(None, None, None, 0, (course,))
        curve = _smooth(course)
        if not curve.fall < 0:
            return _nothing(asked, course, say("the values do not fall with time"))
        falling, share = course.falling, _share(asked)
        if setting_value(asked, SETTINGS, "first_value") == FITTED:
            first, weights = curve.start, curve.weights
        else:
            at_first = falling.time == falling.time[0]
            weights = at_first / at_first.sum()
            first = float(falling.log[at_first].mean())
        step = setting_value(asked, SETTINGS, "step")
        display = display_uncertainty(float(step or 0)) / np.exp(falling.log)
        level = first + log(share)
        noise = np.maximum(curve.scatter, display)
        found = passed(falling, level, weights, curve, noise)
        if found is None:
            low = bool(falling.log[0] <= level)
            return _nothing(asked, course, _not_passed(asked, course, level), held=not low)
        return _told(asked, course, found)


def _text(asked: Asked, name: str) -> str:
    return str(setting_value(asked, SETTINGS, name) or "")


def _age_unit(asked: Asked) -> str:
    return _text(asked, "age_unit") or asked.unit


def _share(asked: Asked) -> float:
    return float(setting_value(asked, SETTINGS, "share") or 0)


def _course(asked: Asked, readings: Sequence[Reading]) -> _Course | str:
    """Return the readings in order of age, up to the first without anything left; or why not."""
    import numpy as np

    from trials.reduction.falling import Falling

    age, column = _text(asked, "age_column"), _text(asked, "column")
    full = [(float(r[age]), float(r[column])) for r in readings if age in r and column in r]
    notes = []
    if len(full) < len(readings):
        missing = sorted({c for r in readings for c in (age, column) if c not in r})
        left = len(readings) - len(full)
        notes.append(lacking(left, len(readings), missing))
    full.sort(key=lambda pair: pair[0])
    last = max((t for t, value in full if value > 0), default=None)
    slips = [t for t, value in full if value <= 0 and last is not None and t < last]
    if slips:
        notes.append(
            say("readings of nothing before others of something were left out: {n}", n=len(slips))
        )
        full = [pair for pair in full if pair[1] > 0 or pair[0] not in slips]
    dead = next((t for t, value in full if value <= 0), None)
    kept = [pair for pair in full if dead is None or pair[0] < dead]
    times = len({t for t, _ in kept})
    if times < LEAST_TIMES:
        told = say(
            "too few different ages ({n}): at least {least}, better 8"
            if dead is None
            else "too few different ages with anything left ({n}): at least {least}, better 8",
            n=times,
            least=LEAST_TIMES,
        )
        return "; ".join([*notes, told])
    t, y = np.array(kept).T
    gone = None if dead is None else float(dead - t[0])
    return _Course(Falling(t - t[0], np.log(y)), len(kept), gone, tuple(notes))


def _smooth(course: _Course) -> Smooth:
    from trials.reduction.falling import smooth

    return smooth(course.falling)


def _nothing(asked: Asked, course: _Course, reason: str, *, held: bool = True) -> Reduced:
    """Return no value; if it ``held``, and something was left at the end, for how long at least."""
    notes = (*course.notes, reason)
    if not held or course.gone is not None:
        return Reduced(None, None, None, 0, notes)
    scale = float(scale_between(_age_unit(asked), asked.unit) or 1)
    watched = float(course.falling.time[-1]) * scale
    return Reduced(None, None, None, course.used, notes, weak_fails=False, at_least=watched)


def _not_passed(asked: Asked, course: _Course, level: float) -> str:
    """Return in words why the level is not passed between the ends of the readings."""
    share = _share(asked)
    part = say("half") if share == 0.5 else say("{share} of its first value", share=f"{share:.4g}")
    unit = nice(_age_unit(asked))
    last = f"{float(course.falling.time[-1]):.4g} {unit}"
    if course.falling.log[0] <= level:
        return say("the first reading is already below {part}", part=part)
    if course.gone is None and course.falling.log.min() <= level:
        return say(
            "about {part} after {last}: the last readings lie on both sides", part=part, last=last
        )
    if course.gone is not None:
        return say(
            "still above {part} after {last}, and nothing left after {gone}: read more often in "
            "between",
            part=part,
            last=last,
            gone=f"{course.gone:.4g} {unit}",
        )
    return say("still above {part} after {last}", part=part, last=last)


def _told(asked: Asked, course: _Course, found: Passed) -> Reduced:
    scale = float(scale_between(_age_unit(asked), asked.unit) or 1)
    notes = list(course.notes)
    if found.df < FEW:
        notes.append(
            say("{n} readings: the uncertainty is itself only roughly known", n=course.used)
        )
    low, high = (end * scale for end in found.interval)
    notes.append(
        say(
            "95 % interval from {low} to {high}",
            low=f"{low:.3g}",
            high=f"{high:.3g} {nice(asked.unit)}",
        )
    )
    time, u = found.time * scale, found.u * scale
    return Reduced(time, None, u, course.used, tuple(notes), weak_fails=False)
