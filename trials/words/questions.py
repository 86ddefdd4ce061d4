"""The questions that start a study, as a person reads them, and the few words their answers use."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Question:
    """One plain question.

    ``default`` is what an empty answer means; "" where it depends on the answers before it.
    """

    key: str
    wording: str
    gloss: str
    example: str
    default: str


QUESTIONS = (
    Question(
        "question",
        "What do you want to find out?",
        "One sentence that ends with a question mark.",
        "Does a narrow dart fly further than a broad glider?",
        "Which of these changes makes a difference?",
    ),
    Question(
        "change",
        "What will you change?",
        "The things you make different on purpose (the factors). Put commas between them.",
        "dye, heat, soak time",
        "shape",
    ),
    Question(
        "versions",
        "Which versions of each will you compare?",
        "Name, colon, the versions (its levels) with commas between. A semicolon before the next. "
        "Numbers can carry a unit.",
        "dye: hibiscus, beetroot; heat: oven, burner; soak time: 10 min, 40 min",
        "",
    ),
    Question(
        "measure",
        "What will you measure, and in what unit?",
        "You may add how often you read each one, and 'less is better'.",
        "distance in m, 3 readings",
        "distance in m, 3 readings",
    ),
    Question(
        "items",
        "How many can you make?",
        "Count the things you make, not the readings. Every version together with every other is "
        "one recipe, and each recipe should be made several times.",
        "48 cells",
        "",
    ),
    Question(
        "makers",
        "Who makes them?",
        "If several make them, the plan gives each of them a fair share of every version.",
        "6 teams",
        "just me",
    ),
    Question(
        "together",
        "What is made or treated together?",
        "Lessons or days, and whatever goes through a step in batches. Semicolons between.",
        "2 lessons; heat in batches of 6",
        "nothing",
    ),
    Question(
        "same",
        "What stays the same?",
        "Everything else that could change the result. Semicolons between.",
        "paper from one pack; thrown by the same person",
        "materials from one pack; the same tools; the same place",
    ),
    Question(
        "worthwhile",
        "How big a difference would you care about?",
        "The smallest difference that would change what you do: in your unit, or in per cent.",
        "30 %",
        "30 %",
    ),
)

PRACTICE_KEYS = ("measure", "same")  # all that a practice run needs to know

NEXT = (
    "Open {file} and read it through: the lines that start with # explain it.",
    "Then run: trials check {folder}",
)
NEXT_GUESS = (
    "How different items come out that were built alike is a guess so far. Better: make a practice "
    "run first, with: trials new {practice} --practice  and name its folder behind spread_from, at "
    "the top of {file}."
)
NEXT_STEPS = (
    "Write into {file} how an item is made, step by step, and what can hurt at each step. Ask a "
    "qualified person; the rules of your school come first."
)
NEXT_PRACTICE = (
    "Make four items exactly alike, two by each maker, and measure each as often as the plan says. "
    "'trials report' then gives one page: how different equal things come out, how many work, and "
    "how many of each version your real study needs."
)
NEXT_APPLIED = (
    "'{factor}' is set for a whole {group} at once. So what counts for it is the number of times "
    "that is done ({count}), not the number of things made."
)

BACK = ("back", "b", "<")
NOTHING = ("nothing", "none", "no", "-")
ALONE = (
    "just me",
    "me",
    "only me",
    "i",
    "myself",
    "alone",
    "one person",
    "1 person",
    "nobody else",
)
COUNTS = MappingProxyType(
    {
        "one": 1,
        "two": 2,
        "three": 3,
        "four": 4,
        "five": 5,
        "six": 6,
        "seven": 7,
        "eight": 8,
        "nine": 9,
        "ten": 10,
        "eleven": 11,
        "twelve": 12,
    }
)
TIMES = MappingProxyType(
    {"twice": 2.0, "double": 2.0, "half as much again": 1.5, "three times": 3.0}
)
SINGULAR = MappingProxyType(
    {
        "people": "person",
        "children": "child",
        "shelves": "shelf",
        "leaves": "leaf",
        "halves": "half",
        "loaves": "loaf",
        "men": "man",
        "women": "woman",
        "series": "series",
        "glass": "glass",
        "class": "class",
    }
)


def singular(word: str) -> str:
    """Return one of what ``word`` names several of.

    Examples
    --------
    >>> [singular(w) for w in ("teams", "batches", "people", "shelves", "glasses", "trays", "oven")]
    ['team', 'batch', 'person', 'shelf', 'glass', 'tray', 'oven']
    """
    head, _, last = word.strip().casefold().rpartition(" ")
    if last in SINGULAR:
        one = SINGULAR[last]
    elif last.endswith("ies") and len(last) > 4:
        one = last[:-3] + "y"
    elif last.endswith(("ches", "shes", "xes", "sses")):
        one = last[:-2]
    elif last.endswith("s") and not last.endswith(("ss", "us", "is")) and len(last) > 2:
        one = last[:-1]
    else:
        one = last
    return f"{head} {one}".strip()
