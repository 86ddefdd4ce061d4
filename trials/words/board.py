"""The words of the display board: its headline, its tiles, the page on hanging, the abstracts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from trials.words.crossing import CrossFacts, crossing_what
from trials.words.extending import fairly_added
from trials.words.language import marked, say, say_as
from trials.words.numbers import capital, count, listing, plural

# ---- headings of the tiles ---------------------------------------------------------------------

QUESTION: Final = marked("Our question")
PREDICTED: Final = marked("We predicted")
VARIABLES: Final = marked("What we changed")
MEASURED: Final = marked("We measured")
SAME: Final = marked("What we kept the same")
STEPS: Final = marked("How we did it")
SAFETY: Final = marked("Safety first")
TABLE: Final = marked("What we measured")
GRAPH: Final = marked("Every {item} a dot")
CONCLUSION: Final = marked("Conclusion")
OPEN: Final = marked("Not settled yet")
SURE: Final = marked("How sure are we?")
NEXT: Final = marked("What comes next")
PHOTOS: Final = marked("Photographs")
SHORT: Final = marked("In 100 words")
LONG: Final = marked("In 250 words")

CREDIT_PHOTO: Final = marked("Photograph by")
CREDIT_DRAWN: Final = marked("Drawings: by our study program.")
CREDIT_GRAPH: Final = marked("Graph: by our study program.")
ON_BOTTLES: Final = marked("On the bottles")
SAFETY_LINE: Final = marked(
    "Usual cautions, perhaps not all. Our school's rules and a qualified person's risk assessment "
    "come first."
)
NO_CAUTIONS: Final = marked(
    "The study names no cautions. That doesn't mean that nothing can hurt: ask the responsible "
    "adult."
)
NO_STEPS: Final = marked("The study names no steps.")
NO_TABLE: Final = marked("There is no average to show.")
OPEN_QUESTIONS: Final = marked("The answer may change when they are settled.")
NOT_THE_SAME: Final = marked("'Not settled' is not the same as 'no difference'.")
SCOPE: Final = marked("This speaks only for the versions that were tried.")
NO_MARGIN: Final = marked(
    "No smallest difference worth caring about was set beforehand, so nothing can be called "
    "settled."
)


def nothing_worked(item: str) -> str:
    """Return that there is no answer.

    Examples
    --------
    >>> nothing_worked("cell")
    'No cell gave a value, so there is no answer yet.'
    """
    return say("No {item} gave a value, so there is no answer yet.", item=item)


def set_beforehand(care: str) -> str:
    """Return which difference was said to be worth caring about."""
    return say(
        "The smallest difference worth caring about was set to {care} beforehand.", care=care
    )


# ---- the headline ------------------------------------------------------------------------------

_MOST_WORDS: Final = 14  # of the names that a headline lists; beyond that they are counted
_MOST_PAIRS: Final = 2


@dataclass(frozen=True)
class Headline:
    """What the headline is made of, labels as a person reads them.

    Parameters
    ----------
    mattered, little, open : labels of the variables with each verdict.
    together : pairs of variables that matter together.
    winners : the best version of each variable that mattered, only where everything is settled.
    failed : whether some items failed.
    low : whether less is better.
    by_lot : whether chance gave out the versions; else a difference just went with them.
    """

    response: str
    item: str
    mattered: tuple[str, ...] = ()
    little: tuple[str, ...] = ()
    open: tuple[str, ...] = ()
    together: tuple[CrossFacts, ...] = ()
    winners: tuple[str, ...] = ()
    failed: bool = False
    low: bool = False
    by_lot: bool = True


def headline(facts: Headline) -> str:
    """Return the answer in a line or two; it names no winner but those it is given.

    Examples
    --------
    >>> headline(Headline("power", "cell", ("dye",), (), ("heat", "soak time"), failed=True))
    'Of the cells that worked: dye mattered for power; heat and soak time are not settled yet.'
    >>> headline(Headline("power", "cell", ("dye",), ("heat",), winners=("hibiscus",)))
    'The most power came with hibiscus. Dye mattered. Heat made no practical difference.'
    >>> headline(Headline("power", "cell", open=("heat",)))
    'Heat is not settled yet.'
    """
    parts = [*_ahead(facts), *_together(facts), *_mattered(facts), *_little(facts), *_open(facts)]
    if facts.failed:
        return say(
            "Of the {items} that worked: {list}.", items=plural(facts.item), list="; ".join(parts)
        )
    return " ".join(f"{capital(part)}." for part in parts)


def _ahead(facts: Headline) -> Iterator[str]:
    winners = listing(facts.winners)
    if not winners or len(winners.split()) > _MOST_WORDS:
        return
    if facts.low:
        yield say(
            "the least {response} came with {winners}", response=facts.response, winners=winners
        )
    else:
        yield say(
            "the most {response} came with {winners}", response=facts.response, winners=winners
        )


def _together(facts: Headline) -> Iterator[str]:
    if len(facts.together) > _MOST_PAIRS:
        yield say("{n} pairs of variables have to be looked at together", n=len(facts.together))
        return
    for one in facts.together:
        text = crossing_what(replace(one, failed=False))
        # of which items is said before the whole list, where this goes on with a verb
        yield f"{text[0].lower()}{text[1:]}" if one.failed else text


def _mattered(facts: Headline) -> Iterator[str]:
    if not facts.mattered:
        return
    one = len(facts.mattered) == 1
    told = {"named": _named(facts.mattered), "in_what": ""}
    if facts.by_lot:
        if not facts.winners:
            told["in_what"] = say(" for {response}", response=facts.response)
        yield (
            say_as("one variable", "{named} mattered{in_what}", **told)
            if one
            else say_as("several variables", "{named} mattered{in_what}", **told)
        )
        return
    if not facts.winners:
        told["in_what"] = say(" in {response}", response=facts.response)
    yield (
        say_as("one variable", "{named} went with a difference{in_what}", **told)
        if one
        else say_as("several variables", "{named} went with a difference{in_what}", **told)
    )


def _little(facts: Headline) -> Iterator[str]:
    if not facts.little:
        return
    named, one = _named(facts.little), len(facts.little) == 1
    if facts.by_lot:
        yield (
            say_as("one variable", "{named} made no practical difference", named=named)
            if one
            else say_as("several variables", "{named} made no practical difference", named=named)
        )
        return
    yield (
        say_as("one variable", "{named} went with no practical difference", named=named)
        if one
        else say_as("several variables", "{named} went with no practical difference", named=named)
    )


def _open(facts: Headline) -> Iterator[str]:
    if len(facts.open) == 1:
        yield say("{named} is not settled yet", named=_named(facts.open))
    elif facts.open:
        yield say("{named} are not settled yet", named=_named(facts.open))


def _named(labels: Sequence[str]) -> str:
    named = listing(labels)
    if len(named.split()) > _MOST_WORDS:
        return count(len(labels), say("variable"))
    if len(labels) == 1:
        return say_as("one variable by its label", "{label}", label=named)
    return say_as("several variables by their labels", "{labels}", labels=named)


# ---- tiles -------------------------------------------------------------------------------------


def table_intro(response: str, unit: str, confidence: str, *, ratio: bool) -> str:
    """Return what stands above the averages.

    Examples
    --------
    >>> table_intro("power", "mW", "95 %", ratio=False)
    'Average power, in mW, and its range of doubt (95 %).'
    """
    named = {"response": response, "confidence": confidence}
    if ratio and unit:
        return say(
            "Average {response}, in {unit} (geometric mean), and its range of doubt "
            "({confidence}).",
            unit=unit,
            **named,
        )
    if ratio:
        return say(
            "Average {response} (geometric mean), and its range of doubt ({confidence}).", **named
        )
    if unit:
        return say(
            "Average {response}, in {unit}, and its range of doubt ({confidence}).",
            unit=unit,
            **named,
        )
    return say("Average {response}, and its range of doubt ({confidence}).", **named)


def graph_caption(response: str, unit: str, item: str, confidence: str, *, log: bool) -> str:
    """Return how to read the graph.

    Examples
    --------
    >>> graph_caption("power", "mW", "cell", "95 %", log=False)
    'Up: power (mW). One dot is one cell. Thick dash: average. Thin bar: its range of doubt (95 %).'
    """
    axis = f"{response} ({unit})" if unit else response
    scale = say(", log scale") if log else ""
    return say(
        "Up: {axis}{scale}. One dot is one {item}. Thick dash: average. Thin bar: its range of "
        "doubt ({confidence}).",
        axis=axis,
        scale=scale,
        item=item,
        confidence=confidence,
    )


def settle(labels: Sequence[str], *, declared: bool) -> str:
    """Return what to do about variables that are not settled; ``declared``: a second look is left.

    Examples
    --------
    >>> print(settle(["heat", "dye"], declared=True))
    To settle heat and dye, first set how many more to make. Add them to this study as the second
    look that the plan declared (its ranges are wide enough for that), or make a new study as big as
    old and new together. Adding a few at a time until something shows makes chance look like a
    find.
    """
    fairly = fairly_added(declared=declared)
    return say(
        "To settle {named}, {how}", named=_named(labels), how=f"{fairly[0].lower()}{fairly[1:]}"
    )


def photo_captions(items: str, measuring: str) -> tuple[str, str]:
    """Return what the photographs may show, to be changed by a person."""
    return say("Some of our {items}", items=items), measuring or say("How we measured")


def open_questions(n: int) -> str:
    """Return that questions about the data are open, as a heading.

    Examples
    --------
    >>> open_questions(1), open_questions(3)
    ('1 question about the data is still open', '3 questions about the data are still open')
    """
    if n == 1:
        return say("1 question about the data is still open")
    return say("{n} questions about the data are still open", n=n)


# ---- how the tiles hang ------------------------------------------------------------------------

HANGING_TITLE: Final = marked("How to hang the tiles")
HANGING_INTRO: Final = marked(
    "This page is for you and is not hung. Print all pages at 100 %, and hang them on a folding "
    "board: a middle and two wings. Read it column by column, from the left."
)
HANGING_FITS: Final = marked(
    "Your {tiles} tiles of {tile} cm fit on a board {width} cm wide when open and {height} cm "
    "high, in {rows} rows. On a table 91 cm high its top is {top} cm above the floor. Fairs often "
    "allow at most 122 cm of width, 76 cm of depth and 274 cm of height."
)
HANGING_FLOOR: Final = marked(
    "Your {tiles} tiles of {tile} cm need a board {height} cm high, in {rows} rows. On a table "
    "91 cm high it would be {top} cm high, and fairs often allow 274 cm: stand it on the floor, or "
    "take some tiles out of board.md."
)
HANGING_TOO_MANY: Final = marked(
    "Your {tiles} tiles of {tile} cm are too many for one board: fairs often allow 122 cm of width "
    "and 274 cm of height, which hold {most} of them. Take some out of board.md, or make its text "
    "shorter."
)
HANGING_PAGE: Final = marked("Page")
HANGING_PLACES: Final = (
    marked("left wing"),
    marked("middle, left"),
    marked("middle, right"),
    marked("right wing"),
    marked("top of the middle"),
)
HANGING_MORE: Final = marked("(goes on)")


def hanging_places() -> tuple[str, str, str, str, str]:
    """Return what the columns of a board are called, from the left, and the top of two of them."""
    left, middle_left, middle_right, right, top = map(say, HANGING_PLACES)
    return left, middle_left, middle_right, right, top


def hanging_notes(items: str) -> tuple[str, ...]:
    """Return what to look after before the fair. Rules of fairs: usual ones, no single source."""
    return (
        say(
            "Check the rules of your own fair first: they decide. The sizes here are those of many "
            "fairs of the international kind (76 cm deep, 122 cm wide, 274 cm high with the table)."
        ),
        say(
            "Most fairs don't let you bring the {items} themselves: no chemicals, liquids, food, "
            "raw plants, flames, sharp things, and often no glass. Show photographs instead.",
            items=items,
        ),
        say(
            "Every photograph and graph needs a line that says who made it. Ask every person in a "
            "photograph, and a parent of each child. Some fairs allow no faces but your own."
        ),
        say(
            "Some fairs allow no names of people or schools on the board. Some don't want the "
            "abstract on it."
        ),
        say(
            "The words are yours: change board.md beside study.toml, then make the report again. "
            "Words in {{ }} hold results and fill themselves in."
        ),
    )


# ---- what stands in the files for a person to edit ---------------------------------------------

BOARD_INTRO: Final = marked("""\
The words of your board. Change them as you like, then run: trials report
Lines that start with ## begin a tile. Take a tile out, add one, or change their order.
Words in double braces hold results. They are filled in from the findings each time, so don't
change what stands in them. You may move them or take them out.
This note is not printed. Delete this file to get a fresh draft.""")

ABSTRACT_INTRO: Final = marked("""\
Drafts of your abstract, at most 100 and at most 250 words. Change the words as you like, then run:
trials report
Words in double braces hold results. They are filled in from the findings each time, so don't
change what stands in them. You may move them or take them out.
This note is not printed. Delete this file to get a fresh draft.""")

YOUR_TURN: Final = marked("""\
Write one sentence of your own here: does the answer agree with your prediction, disagree, or can't
the data tell? 'Not settled' speaks neither for it nor against it.""")


# ---- abstracts ---------------------------------------------------------------------------------


def changed(factors: Sequence[tuple[str, Sequence[str]]], *, versions: bool) -> str:
    """Return what was changed; factors as label and names of their versions.

    Examples
    --------
    >>> changed([("dye", ["red", "blue"]), ("heat", ["oven", "burner"])], versions=True)
    'We changed dye (red and blue) and heat (oven and burner).'
    >>> changed([("dye", ["red", "blue"])], versions=False)
    'We changed dye.'
    """
    names = [f"{label} ({listing(list(own))})" if versions else label for label, own in factors]
    return say("We changed {names}.", names=listing(names))


def made(items: int, recipes: int, item: str) -> str:
    """Return how many were made.

    Examples
    --------
    >>> made(48, 24, "cell")
    'We planned 48 cells of 24 recipes.'
    """
    return say(
        "We planned {n_items} of {n_recipes}.",
        n_items=count(items, item),
        n_recipes=count(recipes, say("recipe")),
    )


def measured(label: str) -> str:
    """Return what was measured, with its unit in ``label``."""
    return say("We measured {label}.", label=label)


def by_chance(item: str, *, by_lot: bool) -> str:
    """Return whether chance gave out the versions."""
    if not by_lot:
        return say("Only one layout kept all our rules, so chance decided nothing.")
    return say("Chance decided which {item} got which version.", item=item)
