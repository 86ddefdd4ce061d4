"""The chart of one lesson: who does which step when, and what each scarce piece is taken by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from trials.render import drawing
from trials.render.drawing import SMALL, WIDTH, Axes
from trials.render.marks import INK, PALE, QUIET, mark
from trials.render.seats import HATCHES
from trials.words.language import say
from trials.words.numbers import count

_LANE: Final = 0.21  # inches: height of one hand or place
_TALLEST: Final = 4.4  # inches: of all lines together
_GAP: Final = 0.35  # of a lane, between lines
_LETTER: Final = 0.064  # inches: width of a letter in a bar
_RIGHT: Final = 0.24  # inches: room at the right for half of the last mark
_TEXT: Final = 6.5  # points: letters in a bar
_MOST_MARKS: Final = 10


@dataclass(frozen=True)
class ChartStep:
    """One step: the short sign in its bars, its name, and its place among the study's steps."""

    sign: str
    label: str
    place: int


@dataclass(frozen=True)
class ChartBar:
    """One work: from minute ``start``, in a lane of its line; ``what`` says on which items."""

    line: int
    lane: int
    start: int
    minutes: int
    step: int  # index in the plot's steps
    what: str


@dataclass(frozen=True)
class ChartLine:
    """One team or one piece of equipment, and how many works it has at a time."""

    label: str
    lanes: int


@dataclass(frozen=True)
class LessonPlot:
    """One lesson. ``marks``: what stands at which minute of the axis, under ``axis``.

    ``free``: minutes at the beginning and at the end in which nothing is made.
    """

    name: str
    title: str
    minutes: int
    free: tuple[int, int]
    axis: str
    marks: tuple[tuple[int, str], ...]
    lines: tuple[ChartLine, ...]
    bars: tuple[ChartBar, ...]
    steps: tuple[ChartStep, ...]
    caption: str


@dataclass(frozen=True)
class LessonChart:
    """The finished picture, and what it shows in words."""

    name: str
    svg: bytes
    alt: str
    caption: str


def lesson_chart(plot: LessonPlot) -> LessonChart:
    """Return the picture of a lesson; letters in it are drawn as shapes."""
    tops, bottom = _tops(plot)
    lane = min(_LANE, _TALLEST / bottom)
    wide = _names(plot)
    keys = _key_lines(plot)
    with drawing.house_style():
        canvas, axes = drawing.sheet(lane * bottom + 0.6 + 0.24 * len(keys))
        minute = (WIDTH - wide - _RIGHT) / plot.minutes  # inches
        _ground(axes, plot, tops, bottom)
        for bar in plot.bars:
            _bar(axes, plot, bar, tops[bar.line] + bar.lane, minute)
        for line, top in zip(plot.lines, tops, strict=True):
            middle = top + line.lanes / 2
            label = drawing.wrapped(line.label, wide, SMALL)
            axes.text(-0.6, middle, label, ha="right", va="center", fontsize=SMALL)
        axes.set_xlim(-wide / minute, plot.minutes + _RIGHT / minute)
        axes.set_ylim(bottom + (0.6 + 0.24 * len(keys)) / lane, 0)
        _axis(axes, plot, bottom, lane)
        for place, keyed in enumerate(keys):
            y = bottom + (0.55 + 0.24 * place) / lane
            _key(axes, keyed, (-wide / minute, y), (minute, lane))
        svg = drawing.vectors(canvas)
    return LessonChart(plot.name, svg, _alt(plot), plot.caption)


def _tops(plot: LessonPlot) -> tuple[list[float], float]:
    """Return where each line begins, in lanes from the top, and where the last one ends."""
    tops, top = [], 0.0
    for line in plot.lines:
        tops.append(top)
        top += line.lanes + _GAP
    return tops, max(top, 1.0)


def _names(plot: LessonPlot) -> float:
    """Return the inches that the names of the lines take."""
    longest = max((len(line.label) for line in plot.lines), default=0)
    return min(0.075 * longest + 0.2, 1.25)


def _ground(axes: Axes, plot: LessonPlot, tops: Sequence[float], bottom: float) -> None:
    axes.set_axis_off()
    for begin, end in ((0, plot.free[0]), (plot.minutes - plot.free[1], plot.minutes)):
        if end > begin:
            drawing.tile(
                axes, (begin, 0), (end - begin, bottom - _GAP), facecolor=PALE, edgecolor="none",
                zorder=0,
            )  # fmt: skip
    for line, top in zip(plot.lines, tops, strict=True):
        low = top + line.lanes + _GAP / 2
        axes.plot([0, plot.minutes], [low, low], color="#c3ced4", linewidth=0.5, zorder=0.5)
    for at, _ in plot.marks:
        axes.plot([at, at], [0, bottom - _GAP / 2], color="#dde4e7", linewidth=0.7, zorder=0.4)


def _bar(axes: Axes, plot: LessonPlot, bar: ChartBar, top: float, minute: float) -> None:
    step = plot.steps[bar.step]
    look, hatch = mark(step.place), HATCHES[step.place % len(HATCHES)]
    drawing.tile(
        axes, (bar.start + 0.06, top + 0.05), (bar.minutes - 0.12, 0.9), facecolor=look.fill,
        edgecolor=look.colour, hatch=hatch, linewidth=0.7, zorder=2,
    )  # fmt: skip
    room = bar.minutes * minute - 0.04
    texts = (f"{step.sign} {bar.what}", step.sign)
    text = next((one for one in texts if one and len(one) * _LETTER <= room), "")
    if not text:
        return
    middle = (bar.start + bar.minutes / 2, top + 0.5)
    if hatch:  # a plain patch, so that the sign can be read
        wide = min(len(text) * _LETTER + 0.05, room) / minute
        drawing.tile(
            axes, (middle[0] - wide / 2, top + 0.14), (wide, 0.72), facecolor=look.fill,
            linewidth=0, zorder=3,
        )  # fmt: skip
    axes.text(*middle, text, ha="center", va="center", fontsize=_TEXT, color=INK, zorder=4)


def _axis(axes: Axes, plot: LessonPlot, bottom: float, lane: float) -> None:
    y = bottom - _GAP / 2
    axes.plot([0, plot.minutes], [y, y], color=QUIET, linewidth=0.8)
    for at, text in plot.marks:
        axes.plot([at, at], [y, y + 0.05 / lane], color=QUIET, linewidth=0.8)
        axes.text(at, y + 0.08 / lane, text, ha="center", va="top", fontsize=SMALL)
    axes.text(
        plot.minutes / 2, y + 0.28 / lane, plot.axis, ha="center", va="top", fontsize=SMALL,
        color=QUIET,
    )  # fmt: skip


def _key_width(step: ChartStep) -> float:
    return 0.55 + 0.07 * len(f"{step.sign}: {step.label}")


def _key_lines(plot: LessonPlot) -> list[list[ChartStep]]:
    """Return the steps of each line of the key, as many as fit beside each other."""
    lines: list[list[ChartStep]] = [[]]
    taken = 0.0
    for step in plot.steps:
        if lines[-1] and taken + _key_width(step) > WIDTH - 0.1:
            lines.append([])
            taken = 0.0
        lines[-1].append(step)
        taken += _key_width(step)
    return lines


def _key(
    axes: Axes,
    steps: Sequence[ChartStep],
    start: tuple[float, float],
    inches: tuple[float, float],
) -> None:
    (x, y), (minute, lane) = start, inches
    for step in steps:
        look = mark(step.place)
        drawing.tile(
            axes, (x, y), (0.3 / minute, 0.15 / lane), facecolor=look.fill, edgecolor=look.colour,
            hatch=HATCHES[step.place % len(HATCHES)], linewidth=0.7,
        )  # fmt: skip
        axes.text(
            x + 0.36 / minute, y + 0.075 / lane, f"{step.sign}: {step.label}", va="center",
            fontsize=SMALL,
        )  # fmt: skip
        x += _key_width(step) / minute


def axis_marks(minutes: int, free: tuple[int, int]) -> tuple[int, ...]:
    """Return the minutes that an axis names: both ends, the working time, round ones between.

    Examples
    --------
    >>> axis_marks(50, (5, 5)), axis_marks(90, (0, 0))
    ((0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50), (0, 10, 20, 30, 40, 50, 60, 70, 80, 90))
    """
    step = next((s for s in (5, 10, 15, 30, 60, 120) if minutes / s <= _MOST_MARKS), 240)
    ends = {0, free[0], minutes - free[1], minutes}
    near = [at for at in range(0, minutes, step) if min(abs(at - end) for end in ends) >= step / 2]
    apart = [e for e in sorted(ends) if e in (0, minutes) or step / 2 <= e <= minutes - step / 2]
    return tuple(sorted({*near, *apart}))


def _alt(plot: LessonPlot) -> str:
    lines = count(len(plot.lines), say("line"))
    parts = [say("{title}: {n} minutes, {lines}.", title=plot.title, n=plot.minutes, lines=lines)]
    for index, step in enumerate(plot.steps):
        mine = [bar for bar in plot.bars if bar.step == index]
        if mine:
            begin, end = min(b.start for b in mine), max(b.start + b.minutes for b in mine)
            parts.append(
                say("{step} from minute {begin} to {end}.", step=step.label, begin=begin, end=end)
            )
    return " ".join(parts)
