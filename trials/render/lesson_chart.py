"""The chart of one lesson: who does which step when, and what each scarce piece is taken by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

from trials.render.marks import HATCHES, INK, PALE, QUIET, SMALL, WIDTH, mark
from trials.words.language import say
from trials.words.numbers import count

_INCH: Final = 72.0  # points
_LANE: Final = 0.21 * _INCH  # height of one hand or place
_TALLEST: Final = 4.4 * _INCH  # of all lines together
_GAP: Final = 0.35  # of a lane, between lines
_LETTER: Final = 0.064 * _INCH  # width of a letter in a bar
_RIGHT: Final = 0.24 * _INCH  # room at the right for half of the last mark
_TEXT: Final = 6.5  # letters in a bar
_BELOW: Final = 0.6 * _INCH  # room for the axis
_KEY: Final = 0.24 * _INCH  # from one line of the key to the next
_MOST_MARKS: Final = 10
_DIGIT: Final = 0.62 * SMALL  # width of a letter of a mark of the axis
_APART: Final = 0.5 * SMALL  # between two marks, at least


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
class Tile:
    """A rectangle from its upper left corner, in points; no ``edge``: without one."""

    x: float
    y: float
    wide: float
    high: float
    fill: str
    edge: str = ""
    hatch: str = ""


@dataclass(frozen=True)
class Rule:
    """A straight line between two points."""

    start: tuple[float, float]
    end: tuple[float, float]
    colour: str
    pen: float


@dataclass(frozen=True)
class Words:
    """A text at a point: at its middle, or at one end; ``room`` (0: any) is broken into lines."""

    x: float
    y: float
    text: str
    size: float
    across: Literal["left", "center", "right"] = "center"
    colour: str = INK
    room: float = 0.0


Shape = Tile | Rule | Words


@dataclass(frozen=True)
class LessonChart:
    """The finished drawing (in points, from its upper left corner), and what it shows in words.

    Shapes are drawn in their order: what comes later covers what came before.
    """

    wide: float
    high: float
    shapes: tuple[Shape, ...]
    alt: str
    caption: str

    def to_data(self) -> dict[str, Any]:
        """Return the drawing as values for lesson_chart.typ."""
        shapes = [{"kind": type(shape).__name__.lower(), **asdict(shape)} for shape in self.shapes]
        return {**asdict(self), "shapes": shapes}


@dataclass(frozen=True)
class _Ground:
    """Where minutes and lanes lie on paper; all in points."""

    names: float  # width of the names of the lines
    minute: float
    lane: float
    tops: tuple[float, ...]  # of the lines
    bottom: float

    def x(self, minute: float) -> float:
        return self.names + minute * self.minute


def lesson_chart(plot: LessonPlot) -> LessonChart:
    """Return the drawing of a lesson, for the pattern lesson_chart.typ."""
    ground, keys = _ground(plot), _key_lines(plot)
    shapes: list[Shape] = [*_behind(plot, ground)]
    for bar in plot.bars:
        shapes += _bar(plot, bar, ground)
    for line, top in zip(plot.lines, ground.tops, strict=True):
        middle = top + line.lanes * ground.lane / 2
        x = ground.x(0) - 5
        shapes.append(Words(x, middle, line.label, SMALL, "right", room=ground.names - 6))
    shapes += _axis(plot, ground)
    for place, keyed in enumerate(keys):
        shapes += _key(keyed, ground.bottom + 0.55 * _INCH + _KEY * place)
    high = ground.bottom + _BELOW + _KEY * len(keys)
    return LessonChart(WIDTH * _INCH, high, tuple(shapes), _alt(plot), plot.caption)


def _ground(plot: LessonPlot) -> _Ground:
    tops, top = [], 0.0  # in lanes
    for line in plot.lines:
        tops.append(top)
        top += line.lanes + _GAP
    lanes = max(top, 1.0)
    lane = min(_LANE, _TALLEST / lanes)
    longest = max((len(line.label) for line in plot.lines), default=0)
    names = min(0.075 * longest + 0.2, 1.25) * _INCH
    minute = (WIDTH * _INCH - names - _RIGHT) / plot.minutes
    return _Ground(names, minute, lane, tuple(top * lane for top in tops), lanes * lane)


def _behind(plot: LessonPlot, ground: _Ground) -> Iterator[Shape]:
    """Yield what lies behind the bars: the minutes in which nothing is made, and thin rules."""
    gap = _GAP * ground.lane
    for begin, end in ((0, plot.free[0]), (plot.minutes - plot.free[1], plot.minutes)):
        if end > begin:
            wide = (end - begin) * ground.minute
            yield Tile(ground.x(begin), 0, wide, ground.bottom - gap, PALE)
    for at, _ in _marks(plot, ground):
        x = ground.x(at)
        yield Rule((x, 0), (x, ground.bottom - gap / 2), "#dde4e7", 0.7)
    for line, top in zip(plot.lines, ground.tops, strict=True):
        low = top + line.lanes * ground.lane + gap / 2
        yield Rule((ground.x(0), low), (ground.x(plot.minutes), low), "#c3ced4", 0.5)


def _bar(plot: LessonPlot, bar: ChartBar, ground: _Ground) -> Iterator[Shape]:
    step = plot.steps[bar.step]
    look, hatch = mark(step.place), HATCHES[step.place % len(HATCHES)]
    lane, minute = ground.lane, ground.minute
    top = ground.tops[bar.line] + bar.lane * lane
    x, wide = ground.x(bar.start + 0.06), (bar.minutes - 0.12) * minute
    yield Tile(x, top + 0.05 * lane, wide, 0.9 * lane, look.fill, look.colour, hatch)
    room = bar.minutes * minute - 0.04 * _INCH
    texts = (f"{step.sign} {bar.what}", step.sign)
    text = next((one for one in texts if one and len(one) * _LETTER <= room), "")
    if not text:
        return
    middle = ground.x(bar.start + bar.minutes / 2)
    if hatch:  # a plain patch, so that the sign can be read
        wide = min(len(text) * _LETTER + 0.05 * _INCH, room)
        yield Tile(middle - wide / 2, top + 0.14 * lane, wide, 0.72 * lane, look.fill)
    yield Words(middle, top + lane / 2, text, _TEXT)


def _axis(plot: LessonPlot, ground: _Ground) -> Iterator[Shape]:
    y = ground.bottom - _GAP / 2 * ground.lane
    yield Rule((ground.x(0), y), (ground.x(plot.minutes), y), QUIET, 0.8)
    for at, text in _marks(plot, ground):
        x = ground.x(at)
        yield Rule((x, y), (x, y + 0.05 * _INCH), QUIET, 0.8)
        yield Words(x, y + 0.14 * _INCH, text, SMALL)
    yield Words(ground.x(plot.minutes / 2), y + 0.34 * _INCH, plot.axis, SMALL, colour=QUIET)


def _marks(plot: LessonPlot, ground: _Ground) -> list[tuple[int, str]]:
    """Return the marks that find room beside each other: both ends, the working time, the rest."""
    first = (0, plot.minutes, plot.free[0], plot.minutes - plot.free[1])
    kept: list[tuple[int, str]] = []
    for at, text in sorted(plot.marks, key=lambda one: (*first, one[0]).index(one[0])):
        if all(
            abs(at - other) * ground.minute >= (len(text) + len(its)) / 2 * _DIGIT + _APART
            for other, its in kept
        ):
            kept.append((at, text))
    return sorted(kept)


def _key_width(step: ChartStep) -> float:
    return (0.55 + 0.07 * len(f"{step.sign}: {step.label}")) * _INCH


def _key_lines(plot: LessonPlot) -> list[list[ChartStep]]:
    """Return the steps of each line of the key, as many as fit beside each other."""
    lines: list[list[ChartStep]] = [[]]
    taken = 0.0
    for step in plot.steps:
        if lines[-1] and taken + _key_width(step) > (WIDTH - 0.1) * _INCH:
            lines.append([])
            taken = 0.0
        lines[-1].append(step)
        taken += _key_width(step)
    return lines


def _key(steps: Sequence[ChartStep], y: float) -> Iterator[Shape]:
    x, wide, high = 0.0, 0.3 * _INCH, 0.15 * _INCH
    for step in steps:
        look, hatch = mark(step.place), HATCHES[step.place % len(HATCHES)]
        yield Tile(x, y, wide, high, look.fill, look.colour, hatch)
        text = f"{step.sign}: {step.label}"
        yield Words(x + wide + 0.06 * _INCH, y + high / 2, text, SMALL, "left")
        x += _key_width(step)


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
