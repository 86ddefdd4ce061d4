"""The record as frozen values: what was read, what is in doubt, what was decided."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal, TypedDict

from trials.record.quick import quickly
from trials.words.keeping import Kept

# "at least": no value, but known to be at least so much
Status = Literal["measured", "at least", "failed", "lost", "unmeasured", "set aside"]
Verb = Literal["keep", "correct", "set-aside"]
ActsOn = Literal["cell", "heading", "identity", "swap", "worked", "time", "copy", "nothing"]
Part = Literal["factor", "group"]
VERBS: tuple[Verb, ...] = ("keep", "correct", "set-aside")
DEVIATION = "deviation"  # code of questions about notes of something done otherwise


@dataclass(frozen=True, order=True, slots=True)
class Place:
    """One reading in one file as a person finds it. ``sheet`` is empty in a file without sheets.

    ``part`` counts the readings that stand in one row, from 0.
    """

    file: str
    sheet: str
    row: int  # line or spreadsheet row, from 1
    part: int = 0


class Worded(TypedDict):
    """What a question found and why it asks: in English, and as it is said in any language."""

    found: str
    found_kept: Kept | None
    why: str
    why_kept: Kept | None


def worded(found: str | Kept, why: Kept) -> Worded:
    """Return the texts of a question; ``found`` is a plain text where that is what was typed.

    Examples
    --------
    >>> worded("0,41", Kept("This is no number."))["why"]
    'This is no number.'
    """
    return Worded(
        found=str(found),
        found_kept=found if isinstance(found, Kept) else None,
        why=str(why),
        why_kept=why,
    )


@dataclass(frozen=True)
class Question:
    """Something in the measurements that a person has to settle.

    ``acts_on`` says what an answer changes in the rows at ``places``: the number in ``column``
    ("cell"), what the numbers under the heading ``column`` are ("heading"), the code of the item
    ("identity"), the codes of ``item`` and ``partner`` exchanged ("swap"), whether the item worked
    ("worked"), when it was read ("time"), or "nothing". Of a "copy" it says whether the file is a
    newer one of another name: it is read again then, and taken in as such.
    """

    id: str  # short and stable, typed by people: "Q7"
    code: str  # kind: "slip", "swapped", "unknown_item" ...
    file: str
    row: int | None  # line or spreadsheet row as a person counts it, from 1
    item: str | None
    column: str | None
    found: str
    why: str  # one sentence
    do: str  # what to type
    answer: str | None = None  # "keep", "correct", "set-aside"; None: open
    sheet: str = ""
    reading: int | None = None
    acts_on: ActsOn = "nothing"
    places: tuple[Place, ...] = ()  # every row concerned, the first is that of ``row``
    unit: str = ""  # unit of the column
    possible: tuple[str | None, str | None] = (None, None)  # what a corrected number may be
    usual: tuple[str | None, str | None] = (None, None)  # outside it a person must say "sure"
    endless: bool = False  # whether "open" is an answer: a number without end
    answers: tuple[Verb, ...] = VERBS  # those that make sense here
    proposal: str = ""  # what to put behind "correct", if the program has a guess
    choices: tuple[str, ...] = ()  # quantities, with their units, that a heading may mean
    partner: str | None = None  # the other item of an exchange
    must: bool = False  # what it is about takes no part until it is settled
    answer_value: str = ""
    answer_why: str = ""
    answer_by: str = ""
    answer_when: str = ""
    # the same texts to be said in another language; not in older records, nor where it was typed
    found_kept: Kept | None = None
    why_kept: Kept | None = None
    # asked as well once a heading is said to be the quantity that they are about
    then: tuple[Question, ...] = ()

    @property
    def found_told(self) -> str:
        """What was found, in the language that is written now."""
        return self.found if self.found_kept is None else self.found_kept.said()

    @property
    def why_told(self) -> str:
        """Why it is asked, in the language that is written now."""
        return self.why if self.why_kept is None else self.why_kept.said()

    @property
    def key(self) -> tuple[str, ...]:
        """What makes it the same question when a file comes again with rows moved."""
        return (
            self.code,
            self.file,
            self.sheet,
            self.item or "",
            str(self.reading or ""),
            self.column or "",
            self.partner or "",
            self.found,
        )


@dataclass(frozen=True, slots=True)
class Cell:
    """One number of one raw quantity, with the text it came from.

    ``number`` is in ``unit``, the unit it was written in; ``value`` the same in the unit of the
    column. None: the text is no number, or its unit is of another kind.
    """

    column: str
    text: str
    unit: str
    number: Decimal | None
    value: Decimal | None


@dataclass(frozen=True, slots=True)
class Row:
    """One reading of one item, as it stands in a file."""

    place: Place
    item: str  # the code as in the plan, or the text found where no code fits
    reading: int | None
    cells: tuple[Cell, ...] = ()
    groups: tuple[tuple[str, str], ...] = ()  # what sheet or row says of its groups
    time: str = ""
    worked: bool | None = None
    note: str = ""

    def having(self, cells: tuple[Cell, ...]) -> Row:
        """Return the row with other numbers; much faster than ``dataclasses.replace``."""
        return new_row(self.place, self.item, self.reading, cells, self.groups, self.time,
                       self.worked, self.note)  # fmt: skip

    def cell(self, column: str) -> Cell | None:
        """Return the cell of a column, or None where it is empty."""
        for cell in self.cells:
            if cell.column == column:
                return cell
        return None


new_place, new_row = quickly(Place), quickly(Row)  # one each for every reading of a logger


@dataclass(frozen=True)
class Intake:
    """One file read: its bytes, its rows, what is in doubt and what was understood silently."""

    name: str
    kind: Literal["workbook", "table"]
    content: bytes
    rows: tuple[Row, ...]
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()  # one sentence each


@dataclass(frozen=True)
class Taken:
    """What became of a file that was handed in."""

    name: str  # the name it is kept under
    status: Literal["new", "same", "revision"]
    revision: int
    readings: int
    questions: tuple[Question, ...] = ()  # those that it raised and that are open
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Loss:
    """An item that is broken, gone or never measured, for a cause outside the comparison."""

    item: str
    why: str
    by: str
    when: str


@dataclass(frozen=True)
class TakenBack:
    """A loss that was recorded and taken back later; ``measured``: a file was in by then."""

    loss: Loss
    why: str
    by: str
    when: str
    measured: bool = False


@dataclass(frozen=True)
class Placed:
    """What was left to do was placed again in the lessons, from one on.

    ``left_out``: items that were lost or not made, in the order of the plan; ``lessons``: how many
    it took in all before and takes since; ``measured``: whether a file with readings was in by
    then; ``times``: how often it was done from that lesson on, all but the last of no use now.
    """

    lesson: int
    left_out: tuple[str, ...]
    lessons: tuple[int, int]
    when: str
    measured: bool = False
    times: int = 1


@dataclass(frozen=True)
class StandIns:
    """A team that was not there from a lesson on, and which team finishes what of its items.

    ``team_of`` names the group of teams in the plan; ``until``: the first lesson in which it was
    there again, None where it isn't; ``items``: each with its team, in the order of the plan.
    """

    team_of: str
    team: str
    lesson: int
    items: tuple[tuple[str, str], ...]
    until: int | None = None


@dataclass(frozen=True)
class AwayTakenBack:
    """It was recorded that a team is away, and taken back; ``measured``: a file was in by then.

    ``said`` and ``when``: the times of the two.
    """

    away: StandIns
    said: str
    when: str
    measured: bool = False


@dataclass(frozen=True)
class MissingTakenBack:
    """It was recorded that equipment is out of order from a lesson on, and less of it later.

    ``pieces``: the most that was said of that lesson; ``left``: of that, what stands; ``said`` and
    ``when``: the times of the two; ``measured``: a file was in by then.
    """

    equipment: str
    lesson: int
    pieces: int
    left: int
    said: str
    when: str
    measured: bool = False


@dataclass(frozen=True)
class Exchange:
    """Two items that are known to have had each other's label: their readings are exchanged."""

    item: str
    partner: str
    why: str
    by: str
    when: str

    @property
    def pair(self) -> frozenset[str]:
        """The two codes."""
        return frozenset((self.item, self.partner))


@dataclass(frozen=True)
class Otherwise:
    """One thing in which an item was made otherwise than planned.

    ``name`` is a factor or a group, ``made`` the level or member it really got; "" is a level that
    the plan doesn't have.
    """

    item: str
    kind: Part
    name: str
    made: str
    why: str
    by: str
    when: str


@dataclass(frozen=True)
class Absence:
    """A team that was not there: what it was to make was not made, unless somebody else did.

    ``team_of`` and ``session_of`` name groups of the plan, ``team`` and ``session`` their members;
    the last two are empty where the team was not there at all. ``items``: what it was to make, by
    the plan as it was when this was told.
    """

    team_of: str
    team: str
    session_of: str
    session: str
    items: tuple[str, ...]
    why: str
    by: str
    when: str

    @property
    def key(self) -> tuple[str, str, str, str]:
        """Who was absent, and when."""
        return (self.team_of, self.team, self.session_of, self.session)


@dataclass(frozen=True)
class ItemValue:
    """One response of one item, reduced from its readings."""

    item: str
    response: str
    status: Status
    value: float | None
    exact: Decimal | None  # the value as an exact decimal where the reducer can keep it
    uncertainty: float | None  # standard uncertainty, in the unit of the response
    readings: int
    reason: str = ""  # why it isn't "measured", or what was corrected
    notes: tuple[str, ...] = ()  # what the reducer did or could not do
    reading_sd: float | None = None  # standard deviation of what each reading gives by itself
    surroundings: Mapping[str, float] = field(default_factory=dict)  # column -> mean, its own unit
    clock: float | None = None  # time of day of its readings on average, in minutes
    at_least: float | None = None  # of status "at least": what the value is at least
    never_made: bool = False  # of status "lost": its team was absent, and nobody else made it


@dataclass(frozen=True)
class Measured:
    """The record reduced to one value an item and response: what the analysis reads."""

    digest: str
    values: tuple[ItemValue, ...]
    open_questions: tuple[Question, ...] = ()
    corrections: tuple[str, ...] = ()  # every answer that changed or dropped a value, one sentence
    corrected: tuple[str, ...] = ()  # the items that these are about
    departures: tuple[str, ...] = ()
    n_readings: dict[str, int] = field(default_factory=dict)  # per response
    otherwise: tuple[Otherwise, ...] = ()  # what was made otherwise than planned
    answered: tuple[Question, ...] = ()  # questions that were settled
    finished: Mapping[str, str] = field(default_factory=dict)  # item -> team that stood in for its
    readings: tuple[Row, ...] = field(default=(), compare=False)  # that the values come from

    def of(self, response: str) -> tuple[ItemValue, ...]:
        """Return the values of one response, in the order of the plan."""
        return tuple(value for value in self.values if value.response == response)
