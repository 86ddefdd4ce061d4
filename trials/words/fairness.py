"""The fair-test check in plain sentences: what is wrong or unsaid, why it matters, what to do.

Each finding has a code and facts; here they become words. Nothing is computed. The sentences on
what was planned are here, those on ties, order and groups in ``fairness_ties``.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from trials.words.comparing import Scale, margin
from trials.words.fairness_ties import (
    TIES,
    WHICH_OF_TWO,
    Facts,
    Say,
    Says,
    a,
    effect_text,
    often,
)
from trials.words.language import SPANISH, language, say
from trials.words.naming import version_name
from trials.words.numbers import capital, count, listing, plural


def fairness_words(code: str, facts: Facts) -> tuple[str, str]:
    """Return message (what, and why it matters) and remedy of a finding of the fair-test check.

    Parameters
    ----------
    code : the finding's code, one of :data:`FAIRNESS_CODES`.
    facts : what the sentences are made of; labels as a person reads them.

    Raises
    ------
    KeyError : an unknown code, or a fact that is missing.

    Examples
    --------
    >>> fairness_words("several_draws", {"item": "cell", "draws": 3})[0].split(".")[0]
    'This plan is the 3rd that was drawn'
    """
    told = _SAYS[code](facts)
    parts = (told.what, told.why, _in_other_draws(facts))
    return " ".join(part for part in parts if part), told.remedy


def _in_other_draws(facts: Facts) -> str:
    """Return whether what was found in a trial draw hangs on that draw."""
    if "other_draws" not in facts:
        return ""
    others, seen = facts["other_draws"], facts["seen_in"]
    if seen == others:
        return say(
            "It is so in all {draws} trial draws: expect it in the plan, more or less.",
            draws=others + 1,
        )
    return say(
        "It is so in this trial draw, in none of {others} others: the plan may be free of it."
        if seen == 0
        else "It is so in this trial draw and in {seen} of {others} others: the plan may be free "
        "of it.",
        seen=seen,
        others=others,
    )


def change_words(headings: tuple[tuple[str, str], ...], *, together: bool = False) -> str:
    """Return how to write some lines into study.toml.

    Parameters
    ----------
    headings : for each the heading it stands under ("" for the top of the file) and the line.
    together : whether they settle other findings as well, and may ask for more than this one does.

    Examples
    --------
    >>> change_words((("[groups.pot]", "count = 6"), ("[limits]", "items = 24")))
    'In study.toml: in [groups.pot] write count = 6; in [limits] write items = 24'
    """
    under: dict[str, list[str]] = {}
    for heading, line in headings:
        under.setdefault(heading, []).append(line)
    parts = [
        f"{f'in {heading}' if heading else 'at the top'} write {listing(lines)}"
        for heading, lines in under.items()
    ]
    whom = ", for this and other findings together: " if together else ": "
    return f"In study.toml{whom}" + "; ".join(parts)


# ---- recipes and versions ------------------------------------------------------------------------


def _unequal(facts: Facts) -> Say:
    item = facts["item"]
    fewest = often(facts["fewest"]) if facts["fewest"] else say("never")
    now = facts["items"]  # as many as come out even, but groups of unequal size don't let them
    options = [count(n, item) for n in (facts["below"], facts["above"]) if n and n != now]
    why = ""
    if facts.get("group"):
        group, sizes = facts["group"], listing([str(size) for size in facts["sizes"]], "or")
        why = " " + say(
            "The reason: {a_group} gets one version of {factor} as a whole, and {groups} hold "
            "{sizes} {items}. So equal numbers of {groups} are not equal numbers of {items}.",
            a_group=a(group),
            factor=facts["factor"],
            groups=plural(group),
            sizes=sizes,
            items=plural(item),
        )
    what = say(
        "With {n_items} some recipes are made {most} and others {fewest}.",
        n_items=count(facts["items"], item),
        most=often(facts["most"]),
        fewest=fewest,
    )
    return Say(
        what + why,
        say(
            "What is made less often is known less well."
            if facts["fewest"]
            else "About a recipe that is never made, the plan says nothing."
        ),
        f"For equal numbers make {listing(options, 'or')}.",
    )


def _untested(facts: Facts) -> Say:
    pairs = [listing(term) for term in facts["terms"]]
    things = facts["unit"] or facts["item"]
    needed = facts.get("needed")
    return Say(
        say(
            "This plan can't tell whether these depend on each other: {pairs}.",
            pairs="; ".join(pairs),
        ),
        say("For that there must be repeats to hold the differences against."),
        f"Plan {count(needed, things)} or more." if needed else f"Plan more {plural(things)}.",
    )


def _changed_together(facts: Facts) -> Say:
    one, other = facts["factors"]
    always = facts["always"]
    return Say(
        say(
            "{one} and {other} always change together."
            if always
            else "{one} and {other} mostly change together.",
            one=capital(one),
            other=other,
        ),
        say(WHICH_OF_TWO)
        if always
        else say("So it is hard to tell which of the two made a difference."),
        f"Make recipes in which {one} changes and {other} doesn't, or keep one of the two the same"
        f" on every {facts['item']}.",
    )


def _alias_factors(facts: Facts) -> Say:
    terms = [effect_text(term) for term in facts["terms"]]
    if len(terms) == 1:
        return Say(
            say("The recipes of this plan don't show {effect}.", effect=terms[0]),
            say("Some combinations are never made, and just these would tell."),
            "Make more different recipes, or leave this question to another study.",
        )
    return Say(
        say("These look exactly the same in this plan: {effects}.", effects="; ".join(terms)),
        say("If one of them matters, nobody can tell which."),
        "Make more different recipes, or be ready to say which of these you can rule out before"
        " you start.",
    )


def _levels_close(facts: Facts) -> Say:
    low, high = (version_name(facts[end], facts["unit"]) for end in ("low", "high"))
    return Say(
        say(
            "The levels {low} and {high} of {factor} are less than a tenth apart.",
            low=low,
            high=high,
            factor=facts["factor"],
        ),
        say("So small a step seldom shows, even where a larger one would."),
        "Take levels that lie further apart. If just this small step is your question, leave them.",
    )


def _no_control(facts: Facts) -> Say:
    return Say(
        say(
            "The version '{level}' of {factor} looks like the one that the others are held "
            "against, but the study doesn't say so.",
            level=facts["level"],
            factor=facts["factor"],
        ),
        say("Held against one version, the others are judged more sharply than all against all."),
        f"If it is, say that '{facts['level']}' is the control.",
    )


def _usual_missing(facts: Facts) -> Say:
    return Say(
        say(
            "The question compares with how it is usually done, but no version is said to be the "
            "usual one."
        ),
        say(
            "Without it nobody can say that something is better than usual, only better than "
            "another."
        ),
        f"Add the usual way as a version of {listing(facts['factors'], 'or')}, and name it under"
        " control.",
    )


# ---- measuring -----------------------------------------------------------------------------------


def _best_of_many(facts: Facts) -> Say:
    item = facts["item"]
    why = say(
        "The best of several is luck as much as quality, and whoever picks it can have favourites."
    )
    if facts["told"]:
        return Say(
            say("The measuring step says to write down the best of several readings."),
            why,
            "Write all of them down; the program takes the average.",
        )
    return Say(
        say(
            "Every {item} is read {times} for {response}, but only one number is taken, and the "
            "study doesn't say which.",
            item=item,
            times=often(facts["readings"]),
            response=facts["response"],
        ),
        why,
        "Let the average of all readings count.",
    )


def _rough_readings(facts: Facts) -> Say:
    item, readings = facts["item"], facts["readings"]
    more = (
        f"Read every {item} {often(facts['needed'])}."
        if facts["needed"]
        else "Use a finer way of measuring if there is one."
    )
    return Say(
        say(
            "With {n_readings} of each {item}, {response} is known less well than {items} built "
            "alike differ.",
            n_readings=count(readings, say("reading")),
            item=item,
            response=facts["response"],
            items=plural(item),
        ),
        say("Then differences between {items} drown in the measuring.", items=plural(item)),
        more,
    )


def _no_primary(facts: Facts) -> Say:
    several = len(facts["responses"]) > 1
    return Say(
        say(
            "The study doesn't say which measurement decides."
            if several
            else "The study doesn't say that its measurement is the one that decides."
        ),
        say("With several to choose from it is easy to pick the one that came out well.")
        if several
        else "",
        f"Write primary = true under {listing(facts['responses'], 'or')} in study.toml before you"
        " measure.",
    )


def _several_primary(facts: Facts) -> Say:
    return Say(
        say(
            "Several measurements are marked as the one that decides: {responses}.",
            responses=listing(facts["responses"]),
        ),
        say("With several it is easy to pick the one that came out well."),
        "Keep primary = true under one of them only.",
    )


def _no_failed_rule(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        say(
            "The study doesn't say when {an_item} counts as failed in {responses}.",
            an_item=a(item),
            responses=listing(facts["responses"]),
        ),
        say("Decided afterwards, the rule could favour one version."),
        f"Write it down before you build, under failed in study.toml: below which value {a(item)}"
        " counts as not working.",
    )


def _no_worthwhile(facts: Facts) -> Say:
    return Say(
        say(
            "The study doesn't say how big a difference would matter to you in {responses}, so "
            "there will be no verdict on it.",
            responses=listing(facts["responses"]),
        ),
        "",
        f"Write worthwhile under {listing(facts['names'])} in study.toml: the smallest difference"
        " that would make you build another way.",
    )


def _no_spread(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        say(
            "The study doesn't say how much {items} built alike differ in {responses}, so nobody "
            "can say yet whether this plan is big enough.",
            items=plural(item),
            responses=listing(facts["responses"]),
        ),
        "",
        f"Build a few {plural(item)} alike as a practice run, or guess, and write it under spread"
        " in study.toml.",
    )


def _no_group_spread(facts: Facts) -> Say:
    groups = listing([plural(group) for group in facts["groups"]])
    return Say(
        say(
            "The study doesn't say how much {groups} treated alike differ in {response}.",
            groups=groups,
            response=facts["response"],
        ),
        say("It is taken as nothing, so the chances shown are too good."),
        f"Write a guess for {listing(facts['group_names'])} under groups in the spread of"
        f" {facts['name']}.",
    )


# ---- what can be said in the end -----------------------------------------------------------------


def _expected_small(facts: Facts) -> Say:
    scale: Scale = "ratio" if facts["ratio"] else "difference"

    def told(x: float) -> str:
        return margin(float(f"{x:.3g}"), scale, facts["unit"])

    return Say(
        say(
            "For {response} you hope to see {expected} and would care about {care}.",
            response=facts["response"],
            expected=told(facts["expected"]),
            care=told(facts["worthwhile"]),
        ),
        say(
            "That is so close together that the answer would mostly stay open, even if you are "
            "right."
        ),
        f"Hope for {told(facts['double'])} or more, or care about {told(facts['half'])} already. If"
        " neither is honest, expect an open answer.",
    )


def _no_verdict(facts: Facts) -> Say:
    units = facts["units"]
    needed = facts.get("needed")
    more = (
        f"Plan {count(needed, units[0])} or more"
        if needed
        else f"Use more {listing([plural(unit) for unit in units], 'or')}"
    )
    return Say(
        say(
            "For {response} this plan will often end without a clear answer.",
            response=facts["response"],
        ),
        say("Chance of a clear answer, at best: {chances}.", chances=_chances(facts)),
        f"{more}, make them more alike, or care only about a bigger difference.",
    )


def _margin_unreachable(facts: Facts) -> Say:
    names = listing(list(facts["factors"]))
    units = listing([plural(unit) for unit in facts["units"]])
    return Say(
        say(
            "For {response} a clear answer about {names} is out of reach: even {times} times as "
            "many {units} would often not give one.",
            response=facts["response"],
            names=names,
            times=facts["times"],
            units=units,
        ),
        say(
            "What you would care about, or hope for, is too small beside how much like things "
            "differ. Chance of a clear answer now: {chances}.",
            chances=_chances(facts),
        ),
        f"Make {units} more alike, measure something that differs less, or care only about a"
        " bigger difference.",
    )


def _chances(facts: Facts) -> str:
    return listing([f"{name} {_tenths(value)}" for name, value in facts["factors"].items()])


def _no_prediction(facts: Facts) -> Say:
    del facts
    return Say(
        say("The study doesn't say what you expect."),
        say("Written down beforehand, a guess can be tested; made up afterwards, it always fits."),
        "Write one sentence after prediction in study.toml.",
    )


def _nothing_same(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        say("The study doesn't say what all {items} have in common.", items=plural(item)),
        say("Whatever differs besides the versions can spoil the comparison."),
        "List it after same in study.toml: materials from one pack, the same place, the same"
        " hands.",
    )


def _several_draws(facts: Facts) -> Say:
    return Say(
        say("This plan is the {ordinal} that was drawn.", ordinal=_ordinal(facts["draws"])),
        say("Drawing until a plan pleases is not drawing by chance."),
        "Say so in the report.",
    )


def _ordinal(n: int) -> str:
    if language() == SPANISH:
        return f"{n}.º"
    if n % 100 in (11, 12, 13):
        return f"{n}th"
    return f"{n}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(n % 10, 'th') }"


def _tenths(share: float) -> str:
    tenths = round(10 * share)
    return say("about {tenths} in 10", tenths=tenths) if tenths else say("hardly any")


_SAYS: Mapping[str, Says] = MappingProxyType(
    {
        **TIES,
        "unequal": _unequal,
        "untested": _untested,
        "changed_together": _changed_together,
        "alias.factors": _alias_factors,
        "levels_close": _levels_close,
        "no_control": _no_control,
        "usual_missing": _usual_missing,
        "best_of_many": _best_of_many,
        "rough_readings": _rough_readings,
        "no_primary": _no_primary,
        "several_primary": _several_primary,
        "no_failed_rule": _no_failed_rule,
        "no_worthwhile": _no_worthwhile,
        "no_spread": _no_spread,
        "no_group_spread": _no_group_spread,
        "expected_small": _expected_small,
        "no_verdict": _no_verdict,
        "margin_unreachable": _margin_unreachable,
        "no_prediction": _no_prediction,
        "nothing_same": _nothing_same,
        "several_draws": _several_draws,
    }
)

FAIRNESS_CODES: tuple[str, ...] = tuple(_SAYS)
