"""What a judge asks at a fair, and what a study answers: two sentences each, from its own numbers.

The twelve questions are ours: what anyone asks who wants to know how far a result can be trusted.
Nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from trials.words.answering import way_out
from trials.words.language import marked, say, say_as
from trials.words.missing import decisions_text, gone_words
from trials.words.numbers import capital, count, listing, plural
from trials.words.sentences import VerdictFacts

Told = tuple[str, str]

TITLE = marked("Questions a judge may ask")
INTRO = marked(
    "Below each question is a short answer with this study's own numbers. Read it, then write down "
    "below it what you would say. A judge wants to hear you, not a page."
)
OWN_WORDS = marked("In our own words")

QUESTIONS: Mapping[str, str] = MappingProxyType(
    {
        "why": marked("Why did you ask this question, and what did you expect?"),
        "changed": marked("What did you change, and what did you keep the same?"),
        "many": marked("Why did you make so many {items}?"),
        "shared_out": marked("How did you decide which {item} got which version?"),
        "found": marked("What did you find?"),
        "size": marked("How big is the difference, and how sure are you?"),
        "luck": marked("How do you know that it is not just luck? Why this test?"),
        "wrong": marked("What went wrong, and what did you do about it?"),
        "looked": marked("Did you look at the results before you chose what to compare?"),
        "limits": marked("What can your result not tell?"),
        "next": marked("What would you do differently, or do next?"),
        "helped": marked("What did you do yourselves, and who or what helped you?"),
    }
)


def closed(text: str) -> str:
    """Return what a person wrote with a sign at its end, so that a sentence can follow.

    Examples
    --------
    >>> closed(" It grows faster "), closed("Does it?")
    ('It grows faster.', 'Does it?')
    """
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


def studies(confidence: float) -> str:
    """Return in how many studies a range of doubt holds the true value.

    Examples
    --------
    >>> studies(0.95), studies(0.9706)
    ('about 19 of 20 studies', 'about 97 of 100 studies')
    """
    if abs(confidence - 0.95) < 1e-9:
        return say("about 19 of 20 studies")
    return say("about {n} of 100 studies", n=round(100 * confidence))


# ---- what was asked and how it was set up --------------------------------------------------------


def why_told(question: str, prediction: str) -> Told:
    """Return what was asked, and what was expected."""
    asked = say("We wanted to know: \u201c{question}\u201d", question=closed(question))
    if not prediction.strip():
        return asked, say("We wrote down no prediction, so there is none to hold the result up to.")
    return asked, say(
        "This is what we expected: \u201c{prediction}\u201d", prediction=closed(prediction)
    )


@dataclass(frozen=True)
class SetUpFacts:
    """What was changed, measured and kept the same; ``variables`` with how many versions each."""

    variables: tuple[tuple[str, int], ...]
    response: str
    unit: str
    same: tuple[str, ...]
    item: str


def changed_told(facts: SetUpFacts) -> Told:
    """Return what was changed and measured, and what stayed the same.

    Examples
    --------
    >>> changed_told(SetUpFacts((("dye", 3), ("heat", 2)), "power", "mW", ("one lamp",), "cell"))[0]
    'We changed dye (3 versions) and heat (2 versions), and we measured power in mW.'
    """
    changed = listing([f"{label} ({count(n, say('version'))})" for label, n in facts.variables])
    unit = say(" in {unit}", unit=facts.unit) if facts.unit and facts.unit != "1" else ""
    first = say(
        "We changed {changed}, and we measured {response}{unit}.",
        changed=changed,
        response=facts.response,
        unit=unit,
    )
    if not facts.same:
        return first, say("We wrote down nothing that we kept the same, so more may have changed.")
    one = closed(facts.same[0])
    n_things = count(len(facts.same), say("thing"))
    if len(facts.same) == 1:
        return first, say(
            "For every {item} we kept {n_things} the same: {one}",
            item=facts.item,
            n_things=n_things,
            one=one,
        )
    return first, say(
        "For every {item} we kept {n_things} the same, for example: {one}",
        item=facts.item,
        n_things=n_things,
        one=one,
    )


@dataclass(frozen=True)
class ManyFacts:
    """How many were planned and why.

    Parameters
    ----------
    planned : how many items.
    on : for each variable its label, what its versions were given to, and on how many of these the
        rarest and the commonest version was.
    shows : for variables the true difference that 8 of 10 studies would show, as text.
    from_practice : whether the spread behind that was measured in a practice run.
    """

    item: str
    planned: int
    on: tuple[tuple[str, str, int, int], ...]
    shows: tuple[tuple[str, str], ...] = ()
    from_practice: bool = False


def many_told(facts: ManyFacts) -> Told:
    """Return on how many each version was, and what so many can show.

    Examples
    --------
    >>> many_told(ManyFacts("cell", 48, (("dye", "cell", 16, 16), ("heat", "firing", 4, 4))))[0]
    'We planned 48 cells, so that each version of dye was on 16 cells and of heat on 4 firings.'
    """
    alike: dict[str, list[str]] = {}
    for label, unit, least, most in facts.on:
        n = (
            count(least, unit)
            if least == most
            else say("{least} to {n_units}", least=least, n_units=count(most, unit))
        )
        alike.setdefault(n, []).append(label)
    told = [
        say("of {labels} on {n_units}", labels=listing(labels), n_units=n)
        if place
        else say("of {labels} was on {n_units}", labels=listing(labels), n_units=n)
        for place, (n, labels) in enumerate(alike.items())
    ]
    first = say(
        "We planned {n_items}, so that each version {told}.",
        n_items=count(facts.planned, facts.item),
        told=listing(told),
    )
    alone = [(label, unit) for label, unit, _, most in facts.on if most < 2]
    if alone:
        label, unit = alone[0]
        return first, say(
            "But with one {unit} for each version of {label}, the luck of that {unit} can't be "
            "told from {label}.",
            unit=unit,
            label=label,
        )
    if not facts.shows:
        return first, say(
            "One {item} of a kind may just be lucky, and only several show how far luck reaches.",
            item=facts.item,
        )
    shows = listing(
        [say("{size} in {label}", size=size, label=label) for label, size in facts.shows]
    )
    spread = say("as they did in practice") if facts.from_practice else say("as we guessed")
    return first, say(
        "If {items} made alike differ {spread}, then about 8 of 10 such studies show "
        "a true difference of {shows}.",
        items=plural(facts.item),
        spread=spread,
        shows=shows,
    )


@dataclass(frozen=True)
class DrawnFacts:
    """How the versions were shared out.

    ``layouts`` how many could have been drawn ("70 layouts"; "" where that is not known), ``one``
    whether there was only one, ``draws`` how often it was drawn, ``added`` items drawn later.
    """

    item: str
    layouts: str
    one: bool = False
    draws: int = 1
    added: int = 0


def shared_out_told(facts: DrawnFacts) -> Told:
    """Return who decided which item got which version."""
    if facts.one:
        first = say(
            "Only one layout kept all our rules, so there was nothing left for lots to decide."
        )
    else:
        out_of = (
            say(" out of {layouts} that all keep our rules", layouts=facts.layouts)
            if facts.layouts
            else ""
        )
        first = say("Lots decided: a computer drew the plan by chance{out_of}.", out_of=out_of)
    more = [say("The order of making and the order of measuring were drawn by lot too")]
    if facts.added:
        more.append(
            say("{n_items} were added later by a new draw", n_items=count(facts.added, facts.item))
        )
    if facts.draws > 1:
        more.append(say("we drew {draws} times before we took this plan", draws=facts.draws))
    return first, f"{listing(more)}."


# ---- what went wrong, and what it can't tell -----------------------------------------------------


@dataclass(frozen=True)
class WrongFacts:
    """What became of what was planned, and of what was written down."""

    item: str
    planned: int
    worked: int
    failed: int = 0
    lost: int = 0
    never_made: int = 0  # of those lost
    corrected: int = 0  # decisions
    changed: int = 0  # items that these are about
    open: int = 0
    departures: int = 0


def wrong_told(facts: WrongFacts) -> Told:
    """Return how many gave a value, and what was done about the rest.

    Examples
    --------
    >>> wrong_told(WrongFacts("cell", 48, 44, 3, 1, corrected=5))[0]
    'Of 48 cells planned, 44 gave a value: 3 failed and 1 was lost.'
    """
    if facts.worked == facts.planned:
        first = say(
            "All {n_items} that we planned gave a value.", n_items=count(facts.planned, facts.item)
        )
    else:
        other = facts.planned - facts.worked - facts.failed - facts.lost
        gone = gone_words(facts.failed, facts.lost, facts.never_made, other)
        first = say(
            "Of {n_items} planned, {worked} gave a value: {gone}.",
            n_items=count(facts.planned, facts.item),
            worked=facts.worked,
            gone=listing(gone),
        )
    done = []
    if facts.corrected:
        done.append(decisions_text(facts.corrected, facts.changed, facts.item))
    if facts.departures:
        done.append(
            say("1 departure from the plan")
            if facts.departures == 1
            else say("{n} departures from the plan", n=facts.departures)
        )
    if facts.open:
        done.append(
            say("1 question that is still open")
            if facts.open == 1
            else say("{n} questions that are still open", n=facts.open)
        )
    if not done:
        return first, say("No number was changed, and nothing was done other than planned.")
    return first, say(
        "We kept every number as first written, and list what we did: {done}.", done=listing(done)
    )


@dataclass(frozen=True)
class LookedFacts:
    """Whether results were known when something was chosen.

    ``locked`` the day, or ""; ``shown`` whether the record shows that all readings came later;
    ``declared`` whether a look was part of the plan; ``after`` whether there were more looks than
    declared; ``added`` how many items were made after these, else after the declared one;
    ``changed`` whether study.toml was changed afterwards; ``main`` whether one response is the main
    one.
    """

    item: str
    response: str
    locked: str
    care: str
    confidence: float
    main: bool = True
    declared: bool = False
    shown: bool = False
    added: int = 0
    after: bool = False
    changed: bool = False


def looked_told(facts: LookedFacts) -> Told:
    """Return whether anything was chosen after looking, and what that does."""
    if facts.after:
        return (
            say(
                "Yes: we knew results when we added {n_items}, and our plan had not said so.",
                n_items=count(facts.added, facts.item),
            ),
            say(
                "That makes luck look like a find more often than in {n} of 100 studies, so our "
                "report tells the new part by itself.",
                n=round(100 * (1 - facts.confidence)),
            ),
        )
    if facts.added and facts.declared:
        added = count(facts.added, facts.item)
        return (
            say("We looked once, as our plan had said, and then added {added}.", added=added),
            say(
                "To pay for that look all ranges are wider: they hold in {studies}.",
                studies=studies(facts.confidence),
            ),
        )
    if facts.locked and facts.shown:
        first = say(
            "No: the plan was locked on {locked}, before there was a result.", locked=facts.locked
        )
    elif facts.locked:
        first = say(
            "We say no: the plan was locked on {locked}, but the record does not show that "
            "each reading came later.",
            locked=facts.locked,
        )
    else:
        first = say("We say no, but the plan was never locked, so nobody else can check that.")
    if facts.changed:
        return first, say("Something was changed later, and our answer does not use the change.")
    if not facts.main:
        return first, say(
            "But we named no main thing to measure, so take what {response} says as a hint.",
            response=facts.response,
        )
    if facts.care:
        return first, say(
            "We had also said that we compare {response}, and care about {care} or more.",
            response=facts.response,
            care=facts.care,
        )
    return first, say(
        "We had also said that we compare {response}, but not how big a difference we care about.",
        response=facts.response,
    )


@dataclass(frozen=True)
class LimitFacts:
    """What a result can't tell; labels of what is open, and of what shared one batch."""

    item: str
    unsettled: tuple[str, ...] = ()
    failed: bool = False
    batches: tuple[str, ...] = ()
    fixed: tuple[str, ...] = ()  # kinds of groups that averages hold for alone
    randomised: bool = True


def limits_told(facts: LimitFacts) -> Told:
    """Return what nobody should read out of the result."""
    first = say("It tells only of the versions that we tried, made by us, from our materials.")
    if not facts.randomised:
        return first, say("Lots decided nothing, so we can't say what the reason is.")
    if facts.unsettled:
        also = (
            say(", and it tells only of {items} that worked", items=plural(facts.item))
            if facts.failed
            else ""
        )
        return first, say(
            "It can't tell yet whether {unsettled} matters{also}.",
            unsettled=listing(facts.unsettled, "or"),
            also=also,
        )
    if facts.failed:
        return first, say(
            "It tells only of {items} that worked, so we say that a difference 'went with' a "
            "version.",
            items=plural(facts.item),
        )
    if facts.batches:
        return first, say(
            "A good or bad batch can't be told from a version of {batches}.",
            batches=facts.batches[0],
        )
    if facts.fixed:
        return first, say(
            "The averages are for these {groups}, not for other ones.",
            groups=plural(facts.fixed[0]),
        )
    return first, say("It shows which version gives more, but not how that comes about.")


# ---- what comes next -----------------------------------------------------------------------------


@dataclass(frozen=True)
class NextFacts:
    """What is worth doing next.

    ``check`` the check run of the winner, as a clause, "" where there is none; ``open_`` the
    verdicts that are not settled.
    """

    item: str
    nothing: bool = False
    check: str = ""
    open_: tuple[VerdictFacts, ...] = ()


def next_told(facts: NextFacts) -> Told:
    """Return what to do next, and how to do it fairly.

    Examples
    --------
    >>> next_told(NextFacts("cell", check="make fresh cells with hibiscus; make at least 3."))[0]
    'We would check the winner: make fresh cells with hibiscus; make at least 3.'
    """
    items = plural(facts.item)
    fair = say(
        "We would set how many first: a few at a time until it looks good makes luck a find."
    )
    if facts.nothing:
        return (
            say(
                "We would make a few {items} for practice, and find out why none gave a value.",
                items=items,
            ),
            say("Then we would plan the study again."),
        )
    told = [
        say("{factor} is still open: {way_out}.", factor=capital(f.factor), way_out=way_out(f))
        for f in facts.open_
    ]
    if facts.check:
        told.insert(0, say("We would check the winner: {check}", check=facts.check))
    if not told:
        return say("We would try versions further apart, or another variable."), fair
    return (told[0], told[1]) if len(told) > 1 else (told[0], fair)


def helped_told(makers: str, teams: int, item: str, others: Sequence[str]) -> Told:
    """Return who made the items, and what a computer did.

    Parameters
    ----------
    makers : who they are, as the study says; "" where it says nothing.
    teams : how many teams made them; 0 where there are none.
    others : who did single steps for them ("the adult").
    """
    items = plural(item)
    who = (
        say("The {items} were made by {n_teams}", items=items, n_teams=count(teams, say("team")))
        if teams
        else say("We made the {items}", items=items)
    )
    if makers.strip():
        who = say(
            "These made the {items}: {makers}", items=items, makers=makers.strip().rstrip(".")
        )
    by = ""
    if len(others) == 1:
        by = say(", and {others} did some steps for us", others=others[0])
    elif others:
        by = say_as("several", ", and {others} did some steps for us", others=listing(others))
    return (
        f"{who}{by}.",
        say(
            "A computer program drew the plan, did the sums and drafted these answers; what "
            "was built, read off and decided is our own."
        ),
    )
