"""Kinds of plans in words: the textbook's name for those who ask, and one plain sentence.

The textbook names stand in the list of options and on the page on methods only.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from trials.words.language import marked, say
from trials.words.numbers import listing

MOST_NAMED = 6


@dataclass(frozen=True)
class FamilyWords:
    """A kind of plan: its textbook name and what a student is told."""

    textbook: str
    plain: str


FAMILY_WORDS: Mapping[str, FamilyWords] = MappingProxyType(
    {
        "completely_randomised": FamilyWords(
            marked("completely randomised design"),
            "Every version is made equally often, and chance alone says which item gets which.",
        ),
        "randomised_blocks": FamilyWords(
            marked("randomised complete block design"),
            "Every group is a small fair test of its own: it holds every version, so differences "
            "between groups can't favour one.",
        ),
        "latin_square": FamilyWords(
            marked("Latin square"),
            "Every version comes once in each row and once in each column, so two nuisances are "
            "kept out at the same time.",
        ),
        "incomplete_blocks": FamilyWords(
            marked("balanced incomplete block design"),
            "The groups are too small for all versions, so each holds some of them, and any two "
            "versions meet in a group equally often.",
        ),
        "confounded": FamilyWords(
            marked("confounded factorial in blocks"),
            "All recipes are made, but a group is too small to hold them all. They are shared out "
            "so that only what matters least is mixed up with the groups.",
        ),
        "split_plot": FamilyWords(
            marked("split-plot design"),
            "One variable is set for a whole group at a time, another for each item in it. The "
            "first is compared between groups, the second within them.",
        ),
        "criss_cross": FamilyWords(
            marked("criss-cross (strip-plot) design"),
            "One variable is set for whole rows and another for whole columns, and every item "
            "gets what its row and its column got.",
        ),
        "full_factorial": FamilyWords(
            marked("full factorial design"),
            "Every version of each variable is made with every version of the others.",
        ),
        "fractional": FamilyWords(
            marked("two-level fractional factorial design"),
            "Only some of the recipes are made, chosen so that every variable is still compared "
            "fairly. In return some joint workings of variables are mixed up.",
        ),
        "plackett_burman": FamilyWords(
            marked("Plackett-Burman design"),
            "Very few recipes for very many variables: it finds the ones that stand out, and "
            "says nothing safe about how two of them work together.",
        ),
        "with_control": FamilyWords(
            marked("one factor with a control (square-root rule)"),
            "The control is made more often than each other version, because every version is "
            "compared with it.",
        ),
        "practice_run": FamilyWords(
            marked("practice run"),
            "A few items are made alike, to see how much they differ by themselves.",
        ),
        "searched": FamilyWords(
            marked("plan found by search"),
            "No ready-made plan fits these numbers, so the program tried very many and kept the "
            "one that compares best.",
        ),
    }
)

_ARRANGED: Mapping[str, str] = MappingProxyType(
    {
        "completely_randomised": marked("completely randomised"),
        "randomised_blocks": marked("in randomised complete blocks"),
        "latin_square": marked("in a Latin square"),
        "incomplete_blocks": marked("in balanced incomplete blocks"),
        "confounded": marked("confounded in blocks"),
        "split_plot": marked("in a split-plot arrangement"),
        "criss_cross": marked("in a criss-cross (strip-plot) arrangement"),
        "searched": marked("arrangement found by search"),
    }
)

# what is made, as ``_made`` writes it, besides the textbook names
_MADE = (
    marked("full factorial {levels}"),
    marked("full factorial"),
    marked("two-level fractional factorial {fraction}, resolution {resolution}"),
    marked("two-level fractional factorial {fraction}"),
    marked("two-level fractional factorial"),
    marked("Plackett-Burman design in {n} runs"),
    marked("recipes chosen by search"),
)


@dataclass(frozen=True)
class FamilyFacts:
    """What a textbook name is made of.

    ``facts`` may hold ``levels`` ("2 x 3"), ``fraction`` ("2^(5-1)"), ``resolution`` ("V") and
    ``runs`` ("12").
    """

    arrangement: str
    treatments: str
    groups: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict)


def textbook_name(facts: FamilyFacts) -> str:
    """Return the name a textbook has for a plan.

    Examples
    --------
    >>> textbook_name(FamilyFacts("randomised_blocks", "fractional", ("oven",),
    ...                           {"fraction": "2^(5-1)", "resolution": "V"}))
    'two-level fractional factorial 2^(5-1), resolution V, in randomised complete blocks (oven)'
    >>> textbook_name(FamilyFacts("latin_square", "one_factor", ("row", "column")))
    'Latin square (row, column)'
    """
    groups = f" ({', '.join(facts.groups)})" if facts.groups else ""
    made = _made(facts)
    if not made:
        return FAMILY_WORDS[facts.arrangement].textbook + groups
    if facts.arrangement == "completely_randomised" and facts.treatments == "none":
        return made
    return f"{made}, {_ARRANGED[facts.arrangement]}{groups}"


def told_name(name: str) -> str:
    """Return a plan's textbook name, as ``textbook_name`` wrote it, in the language written now.

    Examples
    --------
    >>> told_name("full factorial 3 x 2, in a Latin square (row, column)")
    'full factorial 3 x 2, in a Latin square (row, column)'
    """
    known = [one.textbook for one in FAMILY_WORDS.values()]
    for whole in known:
        if name == whole or name.startswith(f"{whole} ("):
            return say(whole) + name.removeprefix(whole)
    for arranged in _ARRANGED.values():
        made, found, groups = name.partition(f", {arranged}")
        if found:
            return f"{_told_made(made, known)}, {say(arranged)}{groups}"
    return _told_made(name, known)


def _told_made(made: str, known: Sequence[str]) -> str:
    for pattern in (*known, *_MADE):
        places = re.sub(r"\\{(\w+)\\}", r"(?P<\1>.+)", re.escape(pattern))
        fit = re.fullmatch(places, made)
        if fit is not None:
            return say(pattern, **fit.groupdict())
    return made


def _made(facts: FamilyFacts) -> str:
    known = facts.facts
    if facts.treatments == "full_factorial":
        return _with("full factorial", "", known.get("levels"))
    if facts.treatments == "fractional":
        named = _with("two-level fractional factorial", "", known.get("fraction"))
        return _with(named, ", resolution", known.get("resolution"))
    if facts.treatments == "plackett_burman":
        named = _with("Plackett-Burman design", " in", known.get("runs"))
        return f"{named} runs" if known.get("runs") else named
    if facts.treatments == "with_control":
        return FAMILY_WORDS["with_control"].textbook
    if facts.treatments == "none":
        return FAMILY_WORDS["practice_run"].textbook
    return "recipes chosen by search" if facts.treatments == "searched" else ""


def _with(start: str, joint: str, more: str | None) -> str:
    return f"{start}{joint} {more}" if more else start


def term_words(term: str) -> str:
    """Return a term as a student reads it.

    Examples
    --------
    >>> term_words("heat"), term_words("heat:soak"), term_words("a:b:c")
    ('heat', 'how heat and soak work together', 'how a, b and c work together')
    """
    names = term.split(":")
    return term if len(names) == 1 else f"how {listing(names)} work together"


def loss_sentences(
    gives_up: Sequence[str],
    partly: Sequence[str] = (),
    mixed: Sequence[Sequence[str]] = (),
    *,
    incomplete: bool = False,
) -> tuple[str, ...]:
    """Return what a plan can't tell, in the names of the variables.

    Examples
    --------
    >>> loss_sentences(["a:b"], mixed=[("c", "a:b")])
    ("This plan can't tell how a and b work together.", 'Mixed up with each other: c; and how a and
    b work together.')
    >>> loss_sentences([])
    ()
    """
    out = []
    if gives_up:
        out.append(f"This plan can't tell {_some(gives_up)}.")
    if partly:
        out.append(f"It tells less well {_some(partly)}.")
    for terms in list(mixed)[:MOST_NAMED]:
        parts = [term_words(term) for term in terms]
        out.append(f"Mixed up with each other: {'; '.join(parts[:-1])}; and {parts[-1]}.")
    if len(mixed) > MOST_NAMED:
        out.append(f"{len(mixed) - MOST_NAMED} more sets like these are mixed up.")
    if incomplete:
        out.append("Some groups don't hold every version, so versions are also compared across.")
    return tuple(out)


def _some(terms: Sequence[str]) -> str:
    words = [term_words(term) for term in terms[:MOST_NAMED]]
    rest = len(terms) - len(words)
    if rest:
        words.append(f"{rest} more of that kind")
    return listing(words)
