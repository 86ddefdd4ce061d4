"""The fair-test check in plain sentences: what is wrong or unsaid, and what to do about it.

Each finding has a code and facts; here they become a message and a remedy, one or two short
sentences each. Nothing is computed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from trials.words.comparing import Scale, margin
from trials.words.numbers import count, listing, plural

Facts = Mapping[str, Any]
Words = tuple[str, str]


def fairness_words(code: str, facts: Facts) -> Words:
    """Return message and remedy of a finding of the fair-test check.

    Parameters
    ----------
    code : the finding's code, one of :data:`FAIRNESS_CODES`.
    facts : what the sentences are made of; labels as a person reads them.

    Raises
    ------
    KeyError : an unknown code, or a fact that is missing.

    Examples
    --------
    >>> fairness_words("several_draws", {"item": "cell", "draws": 3})[0]
    'This plan is the 3rd that was drawn.'
    """
    return _WORDS[code](facts)


def _tied(facts: Facts) -> Words:
    group, factor = facts["group"], facts["factor"]
    remedy = f"Let every {group} have every version of {factor}: {listing(facts['levels'])}."
    if facts["maker"]:
        return (
            f"Each {group} makes only one version of {factor}. If one version does better, "
            "nobody can"
            f" tell whether it was the {factor} or the hands of the {group}.",
            remedy,
        )
    return (
        f"Each {group} has only one version of {factor}. If one version does better, nobody can "
        "tell"
        f" whether it was the {factor} or the {group}.",
        remedy,
    )


def _no_replication(facts: Facts) -> Words:
    factor, item = facts["factor"], facts["item"]
    unit = facts["unit"]
    made = count(facts["members"], unit or item)
    if unit is None:
        return (
            f"With {made} nothing would be left over to show how much {plural(item)} built alike"
            f" differ. So nobody could tell {factor} from luck.",
            f"Make at least {count(facts['needed'], item)}, so that every recipe comes several"
            " times.",
        )
    return (
        f"A whole {unit} gets one version of {factor}, and there are only {made}. More"
        f" {plural(item)} in the same {plural(unit)} don't help: it is the {plural(unit)} that"
        " count.",
        f"Plan at least {count(facts['needed'], unit)}, or give each {item} its own version of"
        f" {factor}.",
    )


def _counts(facts: Facts) -> Words:
    unit, item = facts["unit"], facts["item"]
    return (
        f"A whole {unit} gets one version of {facts['factor']}, so for {facts['factor']} the"
        f" {count(facts['members'], unit)} count, not the {count(facts['items'], item)}.",
        f"For a surer answer about {facts['factor']} add {plural(unit)}, not {plural(item)}.",
    )


def _unseen(facts: Facts) -> Words:
    group = facts["group"]
    parts = [
        f"{group} {member} never has {listing([str(level) for level in levels])}"
        for member, levels in list(facts["missing"].items())[:3]
    ]
    more = len(facts["missing"]) - len(parts)
    rest = f", and {count(more, group)} more miss one" if more > 0 else ""
    return (
        f"Not every {group} has every version of {facts['factor']}: {listing(parts)}{rest}.",
        f"Share the versions out so that every {group} gets each of them.",
    )


def _uneven(facts: Facts) -> Words:
    return (
        f"In {facts['group']} {facts['member']} one version of {facts['factor']} comes"
        f" {_times(facts['most'])} and another {_times(facts['fewest'])}.",
        f"Choose numbers that share out evenly: as many {plural(facts['item'])} in every"
        f" {facts['group']}, and a multiple of the number of versions.",
    )


def _shared_pot(facts: Facts) -> Words:
    item, factor = facts["item"], facts["factor"]
    return (
        f"Several {plural(item)} share one pot or batch of {factor}. If a batch goes wrong, all its"
        f" {plural(item)} do, so they are not separate tries.",
        f"Make {factor} anew for each {item} and write shared = false under {facts['name']} in"
        " study.toml. Or tell the program which pot is which: add a group for the pots and write"
        f" applied_to with its name under {facts['name']}.",
    )


def _shared_unknown(facts: Facts) -> Words:
    item = facts["item"]
    things = listing(facts["factors"], "or")
    where = listing(facts["names"])
    return (
        f"Do several {plural(item)} share one pot, batch, dish or stretch of time for {things}? "
        "Then"
        " they are not separate tries.",
        f"If each {item} gets its own, write shared = false under {where} in study.toml. If they"
        " share, write shared = true; the check then tells how to go on.",
    )


def _unequal(facts: Facts) -> Words:
    item = facts["item"]
    below, above = facts["below"], facts["above"]
    fewest = _times(facts["fewest"]) if facts["fewest"] else "never"
    options = [count(n, item) for n in (below, above) if n]
    return (
        f"With {count(facts['items'], item)} some recipes are made {_times(facts['most'])} and "
        "others"
        f" {fewest}.",
        f"For equal numbers make {listing(options, 'or')}.",
    )


def _untested(facts: Facts) -> Words:
    pairs = [listing(term) for term in facts["terms"]]
    return (
        f"This plan can't tell whether these depend on each other: {'; '.join(pairs)}.",
        f"Make every recipe at least twice, or use more {plural(facts['item'])}.",
    )


def _time_order(facts: Facts) -> Words:
    factor = facts["factor"]
    verb = "made" if facts["order"] == "making" else "measured"
    return (
        f"The versions of {factor} are {verb} one after the other. A room that warms up or a hand"
        f" that gets better would look like {factor}.",
        "Mix the order by chance: run trials plan again for another draw.",
    )


def _few_layouts(facts: Facts) -> Words:
    unit = facts["unit"] or facts["item"]
    return (
        f"There are so few ways to share out {facts['factor']} over the {plural(unit)} that "
        "even the"
        f" clearest result would come by luck alone in 1 of {facts['layouts']} draws.",
        f"Use more {plural(unit)}: from 20 ways up, luck can be told apart.",
    )


def _several_draws(facts: Facts) -> Words:
    return (
        f"This plan is the {_ordinal(facts['draws'])} that was drawn.",
        "Say so in the report. Drawing until a plan pleases is not drawing by chance.",
    )


def _expected_small(facts: Facts) -> Words:
    scale: Scale = "ratio" if facts["ratio"] else "difference"

    def told(x: float) -> str:
        return margin(float(f"{x:.3g}"), scale, facts["unit"])

    return (
        f"For {facts['response']} you hope to see {told(facts['expected'])} and would care about"
        f" {told(facts['worthwhile'])}. That is so close together that the answer would mostly stay"
        " open, even if you are right.",
        f"Hope for {told(facts['double'])} or more, or care about {told(facts['half'])} already. If"
        " neither is honest, expect an open answer.",
    )


def _no_verdict(facts: Facts) -> Words:
    told = [f"{name} {_tenths(value)}" for name, value in facts["factors"].items()]
    return (
        f"For {facts['response']} this plan will often end without a clear answer, even if "
        "things are"
        f" as you hope. Chance of a clear answer: {listing(told)}.",
        f"Use more {listing([plural(unit) for unit in facts['units']], 'or')}, make them more "
        "alike,"
        " or care only about a bigger difference.",
    )


def _no_primary(facts: Facts) -> Words:
    names = listing(facts["responses"], "or")
    return (
        "The study doesn't say which measurement decides. With several to choose from it is easy to"
        " pick the one that came out well."
        if len(facts["responses"]) > 1
        else "The study doesn't say that its measurement is the one that decides.",
        f"Write primary = true under {names} in study.toml before you measure.",
    )


def _several_primary(facts: Facts) -> Words:
    return (
        f"Several measurements are marked as the one that decides: {listing(facts['responses'])}.",
        "Keep primary = true under one of them only.",
    )


def _no_failed_rule(facts: Facts) -> Words:
    item = facts["item"]
    return (
        f"The study doesn't say when {_a(item)} counts as failed in {listing(facts['responses'])}.",
        f"Write it down before you build, under failed in study.toml: below which value {_a(item)}"
        " counts as not working.",
    )


def _no_worthwhile(facts: Facts) -> Words:
    return (
        "The study doesn't say how big a difference would matter to you in"
        f" {listing(facts['responses'])}, so there will be no verdict on it.",
        f"Write worthwhile under {listing(facts['names'])} in study.toml: the smallest "
        "difference that"
        " would make you build another way.",
    )


def _no_spread(facts: Facts) -> Words:
    item = facts["item"]
    return (
        f"The study doesn't say how much {plural(item)} built alike differ in"
        f" {listing(facts['responses'])}, so nobody can say yet whether this plan is big enough.",
        f"Build a few {plural(item)} alike as a practice run, or guess, and write it under "
        "spread in"
        " study.toml.",
    )


def _no_group_spread(facts: Facts) -> Words:
    groups = listing([plural(group) for group in facts["groups"]])
    return (
        f"The study doesn't say how much {groups} treated alike differ in {facts['response']}. "
        "It is"
        " taken as nothing, so the chances shown are too good.",
        f"Write a guess for {listing(facts['group_names'])} under groups in the spread of"
        f" {facts['name']}.",
    )


def _times(n: int) -> str:
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


def _ordinal(n: int) -> str:
    if n % 100 in (11, 12, 13):
        return f"{n}th"
    return f"{n}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(n % 10, 'th') }"


def _tenths(share: float) -> str:
    tenths = round(10 * share)
    return f"about {tenths} in 10" if tenths else "hardly any"


def _a(noun: str) -> str:
    return f"an {noun}" if noun[:1].lower() in "aeiou" else f"a {noun}"


_WORDS: Mapping[str, Callable[[Facts], Words]] = MappingProxyType(
    {
        "tied": _tied,
        "no_replication": _no_replication,
        "unseen": _unseen,
        "uneven": _uneven,
        "untested": _untested,
        "shared_pot": _shared_pot,
        "time_order": _time_order,
        "few_layouts": _few_layouts,
        "expected_small": _expected_small,
        "no_verdict": _no_verdict,
        "no_group_spread": _no_group_spread,
        "several_primary": _several_primary,
        "no_primary": _no_primary,
        "counts": _counts,
        "shared_unknown": _shared_unknown,
        "unequal": _unequal,
        "several_draws": _several_draws,
        "no_failed_rule": _no_failed_rule,
        "no_worthwhile": _no_worthwhile,
        "no_spread": _no_spread,
    }
)

FAIRNESS_CODES: tuple[str, ...] = tuple(_WORDS)
