"""The teacher's page in words: how repeatable teams were, what they may have misunderstood.

Nothing is computed here. What may lie behind a sign is our own reading, common practice, no source;
the areas of difficulty are those of ``fairness_areas``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from trials.words.language import marked, say
from trials.words.numbers import chance_of, count

TITLE = marked("For the teacher")
INTRO = marked(
    "For talking with the teams, not for marks. Teams stand by their code; no names are kept."
)
NO_SIGN = marked("The plan and the record show no sign of a misunderstanding that this page knows.")
READ = marked(
    "Making: how far {items} of a team differ, once what each version and group does on average "
    "is taken off, and what measuring adds where a team took several readings. Measuring: how far "
    "readings of one {item} differ. Small is repeatable. A gap means too little data, or nothing "
    "that measuring and the other teams don't explain. Ranges of doubt are "
    "{confidence}, each by itself, and rough: with few {items} they are wide, as they should be."
)
TOO_FEW = marked("too few")
WHY_TOO_FEW = marked(
    "Too few: too few {items} to say, the range of doubt would be wider than it is worth."
)
QUESTIONS = marked("Questions: those about the team's {items}, whoever settled them.")
ALL_TEAMS = marked("Making, all teams together: {spread}.")
NO_TEAM = marked("Making, team by team: too few {items} to say.")


@dataclass(frozen=True)
class Sign:
    """What may lie behind something that plan or record shows, and what to ask about it."""

    area: str
    belief: str
    ask: str


_ONCE = Sign("variability", marked("One of each kind is enough, if it is made with care."),
             marked("If you made the same one again, would it give the same number?"))  # fmt: skip
_TIED = Sign("variability", marked("It makes no odds who makes which version, or when."),
             marked("If this team is just more careful, what would the numbers look "
             "like?"))  # fmt: skip
_ORDER = Sign("variability", marked("The order of making and measuring makes no odds."),
              marked("What else changes from the first to the last?"))  # fmt: skip
_POT = Sign("subject", marked("Everything made from one pot is a try of its own."),
            marked("If that one pot was bad, how many of your numbers are bad?"))  # fmt: skip
_BEST = Sign("measurement", marked("The best one shows what a version can do."),
             marked("Who gets the better best one: a team with three tries, or one with "
             "ten?"))  # fmt: skip
_COPY = Sign("measurement", marked("Readings should agree, so one can be written several times."),
             marked("Why do we take a reading again, if it must come out the same?"))  # fmt: skip
_ODD = Sign("measurement", marked("A number that looks odd is wrong and may go."),
            marked("Would you have looked again, had it been odd in your favour?"))  # fmt: skip
_GONE = Sign("measurement", marked("What did not work out need not be told."),
             marked("How would the answer look if the missing ones were all bad?"))  # fmt: skip

SIGNS: Mapping[str, Sign] = MappingProxyType(
    {
        "no_replication": _ONCE,
        "one_for_level": _TIED,
        "tied": _TIED,
        "alias.group": _TIED,
        "time_order": _ORDER,
        "same_order": replace(_ORDER, area="measurement"),
        "carry_over": replace(_ORDER, area="measurement"),
        "shared_pot": _POT,
        "best_of_many": _BEST,
        "several_draws": Sign(
            "variability", marked("Chance should look even, so draw until it does."),
            marked("What would you draw again for, and what does that do to chance?"),
        ),
        "changed_together": Sign(
            "manipulation", marked("Two changes at once save "
            "time."), marked("Which of the two did it?")
        ),
        "nothing_same": Sign(
            "subject", marked("What we don't think of stays the same by itself."),
            marked("What else could differ between two of them?"),
        ),
        "copied": _COPY,
        "copied_run": _COPY,
        "filled_down": _COPY,
        "odd_dropped": _ODD,
        "no_reason": _GONE,
        "more_readings": _BEST,
        "otherwise": Sign(
            "manipulation", marked("Near enough to the sheet is the same as on it."),
            marked("Which version does this one count for, and why?"),
        ),
        "after_looking": Sign(
            "inference", marked("Going on until it looks clear makes it surer."),
            marked("How often would you find something by luck, if you may stop when you like?"),
        ),
        "no_verdict": Sign(
            "inference", marked("A fair test always gives a clear answer."),
            marked("What does 'not settled' rule out, and what does it leave open?"),
        ),
    }
)  # fmt: skip


LEFT_IN = marked(
    "There are too many groups here to take off what they did, so nothing is said on whether teams "
    "differ in making."
)


def alike_sentence(p: float | None, items: str, alpha: float) -> str:
    """Return whether the teams differ in how alike their items came out, kindly.

    Examples
    --------
    >>> alike_sentence(0.4, "cells", 0.05)[:48]
    'Nothing here shows that teams differ, making and'
    """
    if p is None:
        return say(
            "There is too little to say whether teams differ in how alike their {items} are.",
            items=items,
        )
    if p < alpha:
        return say(
            "The teams do seem to differ in how alike their {items} came out, making and "
            "measuring together: if all were alike in both, that would turn up in "
            "{repeats}. It may be the task or the meter, not the care.",
            items=items,
            repeats=chance_of(p),
        )
    return say(
        "Nothing here shows that teams differ, making and measuring together: if all were alike "
        "in both, so much would turn up in {repeats}. So these numbers put nobody first or "
        "last.",
        repeats=chance_of(p),
    )


def seen_text(code: str, number: int, item: str, about: str) -> str:
    """Return what the record shows, for signs that are not of the fair-test check.

    ``about`` is what a kind of question is about, in English.

    Examples
    --------
    >>> seen_text("no_reason", 2, "cell", "")
    'No value and no reason in the record: 2 cells.'
    """
    n_items = count(number, item)
    told = {
        "no_reason": say("No value and no reason in the record: {n_items}.", n_items=n_items),
        "more_readings": say("Read more often than planned: {n_items}.", n_items=n_items),
        "otherwise": say("Made otherwise than planned: {n_items}.", n_items=n_items),
        "odd_dropped": say("Numbers set aside because they looked odd: {number}.", number=number),
        "after_looking": say("Items were added when results were known, without having said so."),
    }
    asked = say("Questions in the record about {about}: {number}.", about=say(about), number=number)
    return told.get(code, asked)
