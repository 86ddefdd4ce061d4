"""What the checks found, in words: what an answer hangs on, and what goes along with the leftovers.

Nothing is computed here; the codes are those of the findings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from trials.words.language import marked, say, say_as
from trials.words.numbers import listing, plural
from trials.words.quantity_names import quantity_name
from trials.words.sentences import verdict_text

STEADY = marked(
    "Leaving out any single {kinds} would change no variable's verdict. Which version is best was "
    "not tried that way."
)
NO_REASON = marked(
    "That is no reason to leave anything out: the answer is the one from all of them. But it "
    "stands close to the line, and more of the same would make it firmer."
)
AGE = "column:age"  # the code of a raw column that tells how old an item was
AGE_UNKNOWN = marked(
    "When each {item} was finished is not in the record, so nothing is said of how old it was "
    "when it was measured."
)
_NAMED = 3  # members of one kind that a sentence names

_BESIDE: Mapping[str, str] = MappingProxyType(
    {
        "making": marked("order of making"),
        "measuring": marked("order of measuring"),
        "clock": marked("time of day"),
    }
)


@dataclass(frozen=True)
class Names:
    """How a person calls what the findings name by code.

    ``factor`` and ``kind`` take a factor, and a group's path or "item"; ``own`` takes a kind and a
    member of it, and returns what the member is called beside its kind.
    """

    factor: Callable[[str], str]
    kind: Callable[[str], str]
    own: Callable[[str, str], str]

    def member(self, kind: str, name: str) -> str:
        """Return a member with its kind: "firing F3"."""
        return say_as(
            "one of a kind", "{kind} {name}", kind=self.kind(kind), name=self.own(kind, name)
        )


def beside_text(code: str) -> str:
    """Return what the leftovers were held against, by its code.

    Examples
    --------
    >>> beside_text("making"), beside_text("column:light")
    ('order of making', 'light')
    """
    return say(_BESIDE[code]) if code in _BESIDE else quantity_name(code.partition(":")[2] or code)


def sensitivity_sentences(
    diagnostics: Mapping[str, Any], names: Names, together: Mapping[str, str] = MappingProxyType({})
) -> tuple[str, ...]:
    """Return every change that would give a variable another answer; or that there is none.

    Empty where nothing was left out.

    Parameters
    ----------
    together : labels of the variables that one depends on, by the factor of which that is so.

    Examples
    --------
    >>> names = Names(str, str, lambda kind, member: member)
    >>> gone = {"kind": "firing", "member": "F3"}
    >>> move = {"left_out": gone, "factor": "heat", "verdict": "not settled"}
    >>> kinds = [{"kind": "firing", "left_out": 8}]
    >>> found = {"influence": {"factors": {"heat": {"ranges": kinds}}, "moves": [move]}}
    >>> sensitivity_sentences(found, names)[0]
    "Without firing F3 the answer about heat would be 'not settled'."
    """
    influence = diagnostics.get("influence") or {}
    out = [
        *_without(influence, names, together),
        *_with_drift(diagnostics.get("drift") or {}, names),
    ]
    if out:
        return (*out, say(NO_REASON)) if influence.get("moves") else tuple(out)
    kinds = list(_totals(influence))
    if not kinds:
        return ()
    named = [names.kind(kind) for kind in reversed(kinds)]
    return (say(STEADY, kinds=listing(named, "or")),)


def hanging_sentence(diagnostics: Mapping[str, Any], names: Names) -> str:
    """Return in one short sentence which answers hang on one thing; "" where none does.

    Examples
    --------
    >>> names = Names(str, str, lambda kind, member: member)
    >>> gone = {"kind": "firing", "member": "F3"}
    >>> move = {"left_out": gone, "factor": "heat", "verdict": "not settled"}
    >>> hanging_sentence({"influence": {"moves": [move]}}, names)
    'Leaving out a single firing can change the answer about heat: it stands close to the line.'
    """
    influence = diagnostics.get("influence") or {}
    moves = influence.get("moves") or ()
    if not moves:
        return ""
    kinds = dict.fromkeys(names.kind(move["left_out"]["kind"]) for move in moves)
    factors = dict.fromkeys(names.factor(move["factor"]) for move in moves)
    values = {"kinds": listing([*kinds][::-1], "or"), "factors": listing([*factors])}
    if len(factors) == 1:
        return say(
            "Leaving out a single {kinds} can change the answer about {factors}: it stands close "
            "to the line.{how_often}",
            **values,
            how_often=_how_often(moves, _totals(influence), names),
        )
    return say(
        "Leaving out a single {kinds} can change the answers about {factors}: they stand close to "
        "the line.",
        **values,
    )


def _how_often(moves: Sequence[Mapping[str, Any]], totals: Mapping[str, int], names: Names) -> str:
    """Return for how many of each kind an answer changes, with a leading space; "" if not known."""
    gone: dict[str, set[str]] = {}
    for move in moves:
        gone.setdefault(move["left_out"]["kind"], set()).add(move["left_out"]["member"])
    if not all(kind in totals for kind in gone):
        return ""
    told = [
        say(
            "{n_members} of the {total} {labels}",
            n_members=len(members),
            total=totals[kind],
            labels=plural(names.kind(kind)),
        )
        for kind, members in gone.items()
    ]
    return say(" That is so for {list}.", list=listing(told[::-1]))


def _totals(influence: Mapping[str, Any]) -> dict[str, int]:
    """Return how many of each kind were left out, at most, in the order of the findings."""
    out: dict[str, int] = {}
    for told in (influence.get("factors") or {}).values():
        for one in told["ranges"]:
            out[one["kind"]] = max(out.get(one["kind"], 0), one["left_out"])
    return out


def _without(influence: Mapping[str, Any], names: Names, together: Mapping[str, str]) -> list[str]:
    grouped: dict[tuple[str, str], dict[str, list[str]]] = {}
    for move in influence.get("moves") or ():
        kinds = grouped.setdefault((move["factor"], move["verdict"]), {})
        kinds.setdefault(move["left_out"]["kind"], []).append(move["left_out"]["member"])
    totals = _totals(influence)
    out = []
    for (factor, verdict), kinds in grouped.items():
        gone = listing([_some(k, members, totals, names) for k, members in kinds.items()], "or")
        told = {"gone": gone, "factor": names.factor(factor), "verdict": verdict_text(verdict)}
        out.append(
            say(
                "Without {gone} it would not be clear that {factor} and {others} have to be looked "
                "at together; the answer about {factor} alone would be '{verdict}'.",
                others=together[factor],
                **told,
            )
            if factor in together
            else say("Without {gone} the answer about {factor} would be '{verdict}'.", **told)
        )
    return out


def _some(kind: str, members: Sequence[str], totals: Mapping[str, int], names: Names) -> str:
    if len(members) <= _NAMED:
        return listing([names.member(kind, member) for member in members], "or")
    labels, total = plural(names.kind(kind)), totals.get(kind, len(members))
    if len(members) == total:
        return say("any one of the {total} {labels}", total=total, labels=labels)
    return say(
        "any one of {n_members} of the {total} {labels}",
        n_members=len(members),
        total=total,
        labels=labels,
    )


def _with_drift(drift: Mapping[str, Any], names: Names) -> list[str]:
    return [
        say(
            "If what goes with the {beside} is taken off first, the answer about "
            "{factor} would be '{verdict}'.",
            beside=beside_text(code),
            factor=names.factor(move["factor"]),
            verdict=verdict_text(move["verdict"]),
        )
        for code, told in drift.items()
        for move in told.get("moves") or ()
    ]


def member_name(member: str, members: Sequence[str]) -> str:
    """Return a group's member by the last part of its path, where that is its alone.

    Examples
    --------
    >>> member_name("S1/F3", ["S1/F3", "S2/F4"]), member_name("a/1", ["a/1", "b/1"])
    ('F3', '1 in a')
    """
    outer, _, last = member.rpartition("/")
    alone = sum(other.rpartition("/")[2] == last for other in set(members)) <= 1
    return last if alone or not outer else say("{last} in {outer}", last=last, outer=outer)
