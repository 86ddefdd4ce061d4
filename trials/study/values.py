"""What is asked: the study as a frozen value.

Words: a *factor* is what we choose to change, a *level* one of its versions, a *group* a grouping
of items (team, firing, session), an *item* the thing made and compared. A factor is applied to a
group or, if ``applied_to`` is None, to each item on its own.
"""

from __future__ import annotations

from typing import Literal, TypeVar

from pydantic import BaseModel, ConfigDict

from trials.digest import digest
from trials.study.options import Compare, Options


class Frozen(BaseModel):
    """Base of the values of a study: can't be changed, knows no other keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class StudyFactor(Frozen):
    """One thing we choose to change."""

    name: str
    label: str = ""
    levels: tuple[str, ...]  # as written; for a quantity each is a number in ``unit``
    kind: Literal["category", "quantity"] = "category"
    unit: str = ""
    scale: Literal["linear", "log"] = "linear"
    applied_to: str | None = None  # name of a group; None: each item on its own
    shared: bool | None = None  # several items share one pot or batch of this; None: not said
    control: str | None = None
    how: dict[str, str] = {}  # level -> how it is applied, one sentence for the making sheet


class StudyGroup(Frozen):
    """One way in which items belong together."""

    name: str
    label: str = ""
    count: int  # how many there are in each member of ``within`` (in all, where within is None)
    within: str | None = None
    step: str | None = None  # process step at which the grouping happens; None: closed and measured
    capacity: int | None = None  # most items in one
    sizes: tuple[int, ...] = ()  # items in each member, where they are meant to differ
    role: Literal["maker"] | None = None
    random: bool | None = None
    members: tuple[str, ...] = ()  # names, if they have any


class Spread(Frozen):
    """How different things made alike come out: standard deviations, or CVs for a ratio.

    Each number belongs to one source of spread; ``groups`` is keyed by group name.
    """

    items: float
    readings: float | None = None
    groups: dict[str, float] = {}
    source: Literal["practice run", "own guess", "shipped guess"] = "own guess"


class TakenSpread(Spread):
    """A spread taken from a practice run for the forecast: nothing that the study itself says.

    ``written`` is the shipped guess that it stands in for, if study.toml has one; it stays for the
    groups in ``guessed``, of which the practice run says nothing. ``interval`` is that of
    ``items``; ``made`` and ``failed`` count the items of the practice run.
    """

    folder: str
    interval: tuple[float | None, float | None] = (None, None)
    made: int
    failed: int
    written: Spread | None = None
    guessed: tuple[str, ...] = ()


class FailedRule(Frozen):
    """When an item counts as made but not working, declared before building."""

    below: float  # in the unit of the response
    text: str = ""


class Response(Frozen):
    """One thing we measure on each item."""

    name: str
    label: str = ""
    unit: str = ""
    reducer: str = "value"  # a name in reduction.REDUCERS
    settings: dict[str, float | str] = {}  # what the reducer needs (area, load resistance ...)
    better: Literal["high", "low"] = "high"
    compare: Compare = "difference"
    worthwhile: float | None = None
    expected: float | None = None
    spread: Spread | None = None
    primary: bool = False
    failed: FailedRule | None = None
    readings: int = 1  # planned readings per item
    low: float | None = None  # smallest and largest value that is believable
    high: float | None = None


class Caution(Frozen):
    """One usual caution: what can hurt and what people usually do, with codes by number."""

    text: str
    ghs: tuple[str, ...] = ()  # "GHS02", "H225"
    iso7010: tuple[str, ...] = ()  # "W017", "P003"


class Material(Frozen):
    """Something that is used up at a step: how much for each item, group, team or lesson.

    ``per`` "group": for each member of the group that the step happens to, such as one firing.
    ``level``: for items with this level only; empty: for all.
    """

    name: str
    amount: float
    unit: str = ""  # empty: pieces
    per: Literal["item", "group", "team", "lesson"] = "item"
    level: str = ""


class Equipment(Frozen):
    """A kind of equipment of which there is not plenty.

    ``per``: ``count`` is what the class has, or what each team has for itself; whoever does a step
    in place of a team (``by``) has as many. ``together``: what is in it goes in and comes out
    together, such as in an oven whose door stays shut; else each place is free as soon as its item
    is done.
    """

    name: str
    label: str = ""
    count: int = 1  # how many there are
    per: Literal["class", "team"] = "class"  # of whom count is told
    holds: int = 1  # items that one takes at once
    together: bool = False
    flame: bool | None = None  # burns openly: never in one lesson with what catches fire


class Lessons(Frozen):
    """The lessons in which a class does the work.

    ``apart``: hours from the beginning of one lesson to that of the next, where ``starts`` doesn't
    say. ``hands``: pieces of work that one team can do at the same time. ``between``: the hours in
    which steps are done between lessons, known only where ``starts`` says when lessons are.
    """

    minutes: float  # of one lesson
    count: int | None = None  # most lessons to be had; None: as many as it takes
    apart: float = 24
    starts: tuple[str, ...] = ()  # "2030-05-14 10:15", one for each lesson
    put_out: float = 5  # minutes at the beginning in which nothing is made
    tidy: float = 5  # and at the end
    students: int | None = None
    hands: int = 2
    between: str = "08:00-17:00"  # Monday to Friday, and on weekdays that have a lesson


class Step(Frozen):
    """One step of the making."""

    name: str
    label: str = ""
    text: str = ""  # what to do, in plain words
    minutes: float | None = None  # hands-on
    waiting: float | None = None  # minutes that pass by themselves
    stage: Literal["make", "measure"] = "make"
    equipment: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    factors: tuple[str, ...] = ()  # factors whose level is set at this step
    # levels under which the items of a group are done one after another: ``minutes`` is then for
    # each item, else for the whole group
    one_by_one: tuple[str, ...] = ()
    equipment_for: dict[str, tuple[str, ...]] = {}  # level -> what is needed under it only
    busy: tuple[str, ...] = ()  # equipment that stays in use while ``waiting`` passes
    waiting_is: str | None = None  # factor whose level is the waiting, in its own unit of time
    # someone ends the waiting, so it is over before the clearing up; as a text: what is done then
    ended_by_hand: bool | str = False
    keeps: float | None = None  # minutes it may then lie until the next step; None: any time
    when: Literal["lesson", "between"] = "lesson"  # between: before, after and between lessons
    by: str = ""  # who does it, if not the team: "the adult"
    # something that catches fire is open, or something burns openly: never both in one lesson; at
    # some levels only where these are listed; None: not said
    flammable: bool | tuple[str, ...] | None = None
    flame: bool | tuple[str, ...] | None = None
    materials: tuple[Material, ...] = ()


class Limits(Frozen):
    """What is to be had."""

    items: int | None = None  # most items that can be made
    copies: int | None = None  # how many items of each recipe
    fraction: bool = False  # some recipes may be left out
    forbidden: tuple[dict[str, str], ...] = ()  # factor -> level: never together on one item
    required: tuple[dict[str, str], ...] = ()  # factor -> level: together on one item or more


class Planning(Frozen):
    """What makes one plan better than another, and how often results are looked at.

    ``criterion``: A, the mean variance of the comparisons; D, the joint precision of all effects;
    I, the mean variance of what is predicted for a recipe. ``looks``: 2 if the study may be
    extended after a first look, which is then paid for by wider intervals.
    """

    criterion: Literal["A", "D", "I"] = "A"
    looks: Literal[1, 2] = 1


class Study(Frozen):
    """Everything asked of the program, read from study.toml."""

    format_version: Literal[1] = 1
    title: str
    question: str
    prediction: str = ""
    makers: str = ""  # who: an invented or real class in plain words
    note: str = ""  # e.g. "invented school and data", printed on every page
    item_name: str = "item"
    language: Literal["en", "es"] = "en"  # that the report, the board and the pages are told in
    practice: bool = False  # a practice run: items built alike, no factors, to learn the spread
    spread_from: str | None = None  # folder of a practice run, seen from the folder of study.toml
    factors: tuple[StudyFactor, ...]
    groups: tuple[StudyGroup, ...] = ()
    responses: tuple[Response, ...]
    same: tuple[str, ...] = ()  # what is kept the same
    columns: dict[str, str] = {}  # heading in people's own tables -> what stands under it
    steps: tuple[Step, ...] = ()
    equipment: tuple[Equipment, ...] = ()
    lessons: Lessons | None = None
    stock: dict[str, float | str] = {}  # material -> how much there is: 60, or "500 mL"
    limits: Limits = Limits()
    plan: Planning = Planning()
    analysis: Options = Options()

    def factor(self, name: str) -> StudyFactor:
        """Return the factor called ``name``; KeyError if there is none."""
        return next_named(self.factors, name)

    def group(self, name: str) -> StudyGroup:
        """Return the group called ``name``; KeyError if there is none."""
        return next_named(self.groups, name)

    def response(self, name: str) -> Response:
        """Return the response called ``name``; KeyError if there is none."""
        return next_named(self.responses, name)

    def path(self, group: str) -> str:
        """Return the full path of a group, largest first: ``"session/firing"``."""
        this = self.group(group)
        return this.name if this.within is None else f"{self.path(this.within)}/{this.name}"

    def digest(self) -> str:
        """Return the SHA-256 of what the study says; what it leaves unsaid doesn't enter.

        So a later version of the program, which knows more keys, gives the same; and so does a
        practice run that changes, or is gone.
        """
        said = self.as_written().model_dump(mode="json", exclude_defaults=True)
        for one in (*said.get("equipment", ()), *said.get("steps", ())):
            for key in ("flame", "flammable"):  # False was what unsaid meant
                if one.get(key) is False:
                    del one[key]
        return digest(said)

    def as_written(self) -> Study:
        """Return the study as study.toml says it, without what was taken from a practice run."""
        responses = tuple(
            one.model_copy(update={"spread": one.spread.written})
            if isinstance(one.spread, TakenSpread)
            else one
            for one in self.responses
        )
        return self.model_copy(update={"responses": responses})


_Named = TypeVar("_Named", StudyFactor, StudyGroup, Response)


def next_named(things: tuple[_Named, ...], name: str) -> _Named:
    """Return the thing with this name; KeyError if there is none."""
    for thing in things:
        if thing.name == name:
            return thing
    raise KeyError(name)


def labels_of(study: Study) -> dict[str, str]:
    """Return what a person calls each factor and group."""
    labels = {factor.name: factor.label or factor.name for factor in study.factors}
    return labels | {group.name: group.label or group.name for group in study.groups}
