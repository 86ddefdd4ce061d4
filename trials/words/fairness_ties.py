"""The fair-test check in plain sentences: ties, repeats, groups and order."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

from trials.words.numbers import capital, count, listing, plural, with_unit

Facts = Mapping[str, Any]


class Say(NamedTuple):
    """What was found, why it matters ("" where the first says it), and what to do."""

    what: str
    why: str
    remedy: str


Says = Callable[[Facts], Say]


def a(noun: str) -> str:
    """Return a noun with its article.

    Examples
    --------
    >>> a("item"), a("cup")
    ('an item', 'a cup')
    """
    return f"an {noun}" if noun[:1].lower() in "aeiou" else f"a {noun}"


def _tied(facts: Facts) -> Say:
    group, factor = facts["group"], facts["factor"]
    makes = f"Each {group} {'makes' if facts['maker'] else 'has'} only one version of {factor}."
    other = f"the hands of the {group}" if facts["maker"] else f"the {group}"
    return Say(
        makes,
        f"If one version does better, nobody can tell whether it was the {factor} or {other}.",
        f"Let every {group} have every version of {factor}: {listing(facts['levels'])}.",
    )


def _alias_group(facts: Facts) -> Say:
    between = _between(facts["groups"])
    return Say(
        f"{capital(_what(facts['term']))} is wholly mixed up with {between}.",
        "If something comes out differently, nobody can tell which of the two it was.",
        _fit(facts),
    )


def _alias_part(facts: Facts) -> Say:
    between = _between(facts["groups"])
    told = f"{round(100 * facts['told'])}"
    most = f"{round(100 * facts.get('told_most', facts['told']))}"
    if most != told:
        told = f"{told} to {most}"
    return Say(
        f"{capital(_what(facts['term']))} is largely mixed up with {between}: only about {told} %"
        " of what the plan could tell is free of them.",
        f"A {_one(facts['groups'])} that is simply better would look like an answer.",
        _fit(facts),
    )


def _what(term: list[str]) -> str:
    if len(term) == 1:
        return f"what {term[0]} does"
    return f"whether {listing(term)} depend on each other"


def _between(groups: list[str]) -> str:
    if len(groups) == 1:
        return f"differences between {plural(groups[0])}"
    return f"differences between combinations of {listing(groups)}"


def _one(groups: list[str]) -> str:
    return groups[0] if len(groups) == 1 else f"combination of {listing(groups)}"


def _fit(facts: Facts) -> str:
    wish = f"Share the versions out so that every {_one(facts['groups'])} gets as many of each."
    return wish if not facts.get("needed") else f"{wish} Other numbers make that possible."


def _no_replication(facts: Facts) -> Say:
    factor, item, unit = facts["factor"], facts["item"], facts["unit"]
    made = count(facts["members"], unit or item)
    needed = facts.get("needed")
    left = "hardly anything would be" if facts["df"] else "nothing would be"
    if unit is None:
        return Say(
            f"With {made} {left} left over to show how much {plural(item)} built alike differ.",
            f"So nobody could tell {factor} from luck.",
            f"Make {count(needed, item)} or more, so that recipes come several times."
            if needed
            else f"Make more {plural(item)}, or change fewer things at once.",
        )
    shared = (
        f" The same {plural(unit)} also decide {listing(facts['also'])}." if facts["also"] else ""
    )
    few = (
        f"there are only {made}" if not facts["also"] else f"there are {made}, too few for all that"
    )
    more = f"Plan {count(needed, unit)} or more" if needed else f"Plan more {plural(unit)}"
    return Say(
        f"A whole {unit} gets one version of {factor}, and {few}.{shared}",
        f"More {plural(item)} in the same {plural(unit)} don't help: it is the {plural(unit)} that"
        " count.",
        f"{more}, or give each {item} its own version of {factor}.",
    )


def _counts(facts: Facts) -> Say:
    unit, item = facts["unit"], facts["item"]
    return Say(
        f"A whole {unit} gets one version of {facts['factor']}, so for {facts['factor']} the"
        f" {count(facts['members'], unit)} count, not the {count(facts['items'], item)}.",
        "",
        f"For a surer answer about {facts['factor']} add {plural(unit)}, not {plural(item)}.",
    )


def _one_for_level(facts: Facts) -> Say:
    group, levels = facts["group"], listing(facts["levels"])
    verb = "comes" if len(facts["levels"]) == 1 else "each come"
    needed = facts.get("needed")
    many = (
        f"Plan {count(needed, group)} or more, so that" if needed and facts["unit"] else "See that"
    )
    return Say(
        f"Of {facts['factor']}, {levels} {verb} from one {group} only.",
        f"If that {group} is unusual, it looks like the version.",
        f"{many} every version comes from several {plural(group)}.",
    )


def _unseen(facts: Facts) -> Say:
    group = facts["group"]
    parts = [
        f"{group} {member} never has {listing([str(level) for level in levels])}"
        for member, levels in list(facts["missing"].items())[:3]
    ]
    more = len(facts["missing"]) - len(parts)
    rest = (
        f", and {count(more, group)} more {'misses' if more == 1 else 'miss'} one" if more else ""
    )
    return Say(
        f"Not every {group} has every version of {facts['factor']}: {listing(parts)}{rest}.",
        f"Then a good or bad {group} tips the comparison.",
        f"Share the versions out so that every {group} gets each of them.",
    )


def _barred(facts: Facts) -> Say:
    group, factor, single = facts["group"], facts["factor"], facts["single"]
    parts = [
        f"{group} {member} never has {listing(levels, 'or')}"
        for member, levels in facts["missing"].items()
    ]
    only = [f"{group} {member} has {level} only" for member, level in single.items()]
    return Say(
        f"By what study.toml forbids, {listing(parts)} ({factor}). The others have as much more of"
        " it.",
        f"{capital(listing(only))}: a {group} with one version says nothing about {factor}, and if"
        f" it is simply better or worse than the others, that tips the comparison."
        if single
        else f"These say less about {factor} than the others do.",
        "If somebody else can do that step for them, with them watching, delete the line under"
        " [limits]; else read the result as one from the others.",
    )


def _uneven(facts: Facts) -> Say:
    return Say(
        f"In {facts['group']} {facts['member']} one version of {facts['factor']} comes"
        f" {often(facts['most'])} and another {often(facts['fewest'])}.",
        f"Then a good or bad {facts['group']} tips the comparison.",
        f"Choose numbers that share out evenly: as many {plural(facts['item'])} in every"
        f" {facts['group']}, and a multiple of the number of versions.",
    )


def _shared_pot(facts: Facts) -> Say:
    item, factor = facts["item"], facts["factor"]
    return Say(
        f"Several {plural(item)} share one pot or batch of {factor}.",
        f"If a batch goes wrong, all its {plural(item)} do, so they are not separate tries.",
        f"Make {factor} anew for each {item} and write shared = false under {facts['name']} in"
        " study.toml. Or tell the program which pot is which: add a group for the pots and write"
        f" applied_to with its name under {facts['name']}.",
    )


def _shared_unknown(facts: Facts) -> Say:
    item = facts["item"]
    things = listing(facts["factors"], "or")
    where = listing(facts["names"])
    return Say(
        f"Do several {plural(item)} share one pot, batch, dish or stretch of time for {things}?",
        "Then they are not separate tries.",
        f"If each {item} gets its own, write shared = false under {where} in study.toml. If they"
        " share, write shared = true; the check then tells how to go on.",
    )


def _sizes_short(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        f"The sizes of the {plural(facts['group'])} add up to {count(facts['items'], item)}, though"
        f" you could make {facts['wanted']}.",
        f"So {count(facts['wanted'] - facts['items'], item)} fewer are planned than could be.",
        f"Write larger sizes under {facts['name']} in study.toml, or leave it so on purpose.",
    )


def _group_of_one(facts: Facts) -> Say:
    group = facts["group"]
    return Say(
        f"There is only one {group}.",
        f"What comes out holds for this one; whether another {group} gives the same, nobody knows.",
        f"Plan a second {group} if you can, or say so in the report.",
    )


def _another_draw(facts: Facts, what: str) -> str:
    if "other_draws" in facts:
        return f"Nothing to do yet: trials plan mixes the {what} by chance. Look at it then."
    return (
        f"Mix the {what} by chance: trials plan --seed with another number makes another draw. The "
        "report then says that you drew more than once, and why is yours to tell."
    )


def _time_order(facts: Facts) -> Say:
    factor = facts["factor"]
    verb = "made" if facts["order"] == "making" else "measured"
    return Say(
        f"The versions of {factor} are {verb} one after the other.",
        f"A room that warms up or a hand that gets better would look like {factor}.",
        _another_draw(facts, "order"),
    )


def _carry_over(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        f"When measuring, like versions of {facts['factor']} mostly follow each other.",
        f"What one {item} leaves behind on the instrument then stays with its version.",
        _another_draw(facts, "order"),
    )


def _same_order(facts: Facts) -> Say:
    item = facts["item"]
    how = "backwards in the order in which" if facts["backwards"] else "in the order in which"
    return Say(
        f"The {plural(item)} are measured {how} they are made.",
        "Whatever changes while making can't be told from what changes while measuring.",
        _another_draw(facts, "order of measuring"),
    )


def _few_layouts(facts: Facts) -> Say:
    unit, factor = facts["unit"] or facts["item"], facts["factor"]
    needed = facts.get("needed")
    more = (
        f"Plan {count(needed, unit)} or more: then luck can be told apart."
        if needed
        else f"Use more {plural(unit)}: from 20 ways up, luck can be told apart."
    )
    if facts["layouts"] <= 1:
        return Say(
            f"There is only one way to share out {factor} over the {plural(unit)}.",
            f"So a draw by chance can say nothing about {factor}: any result would do for luck.",
            more,
        )
    return Say(
        f"There are so few ways to share out {factor} over the {plural(unit)} that even the"
        f" clearest result would come by luck alone in 1 of {facts['layouts']} draws.",
        "",
        more,
    )


def _loss_fatal(facts: Facts) -> Say:
    factor, unit = facts["factor"], facts["unit"] or facts["item"]
    needed = facts.get("needed")
    every = facts["fatal"] == facts["members"]
    return Say(
        f"If a single {unit} is lost,{'' if every else ' there is a risk that'} hardly anything is"
        f" left to tell {factor} from luck.",
        "Things break, and then the whole question would be open.",
        f"Plan {count(needed, unit)} or more." if needed else f"Plan a few {plural(unit)} more.",
    )


def _lesson_tied(facts: Facts) -> Say:
    factor, item = facts["factor"], facts["item"]
    unit = "" if facts["unit"] == "1" else facts["unit"]
    alone = [with_unit(level, unit) for level in facts["alone"]]
    one, lessons = len(alone) == 1, _lessons(facts["lessons"])
    return Say(
        f"The timetable puts the step '{facts['step']}' for {listing(alone)} ({factor}) into"
        f" {lessons}, where no other version has it."
        if one
        else f"The timetable gives {listing(alone)} ({factor}) lessons of their own for the step"
        f" '{facts['step']}': {lessons}.",
        f"If {'it does' if one else 'one of them does'} better, nobody can tell whether it was the"
        f" {factor} or the day: another room, other light, hands with more practice.",
        f"Let every {item} wait as long as the slowest version before this step, or make lessons"
        " longer, so that each lesson has every version. Then draw the plan again.",
    )


def _lesson_split(facts: Facts) -> Say:
    items, lessons = plural(facts["item"]), _lessons(facts["lessons"])
    days = "What differs between the lessons (light, warmth, who measures)"
    if facts["group"] is None:
        return Say(
            f"The {items} are measured in {lessons}, and the plan knows of no such parts.",
            f"{days} then counts as difference between {items} made alike, and hides what you look"
            " for.",
            f"Add a group for it, so that each part has its share of every version and the"
            f" difference is taken out: a part [groups.occasion] with count ="
            f' {len(facts["lessons"])} and step = "{facts["step"]}". Then draw the plan again.',
        )
    member, group = facts["member"], facts["group"]
    return Say(
        f"The timetable measures {group} {member} in {lessons}, not in one.",
        f"{days} then counts as difference between {items} of one {group}, and hides what you look"
        " for.",
        f"Plan more but smaller {plural(group)}, one for each lesson of measuring, or do what"
        " 'trials plan' says would make it fit. Then draw the plan again.",
    )


def _lessons(numbers: Sequence[int]) -> str:
    """Return lessons by their numbers.

    Examples
    --------
    >>> _lessons([2]), _lessons([2, 3, 5])
    ('lesson 2', 'lessons 2, 3 and 5')
    """
    word = "lesson" if len(numbers) == 1 else "lessons"
    return f"{word} {listing([str(number) for number in numbers])}"


def often(n: int) -> str:
    """Return how many times something happens.

    Examples
    --------
    >>> often(1), often(2), often(5)
    ('once', 'twice', '5 times')
    """
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


TIES: Mapping[str, Says] = MappingProxyType(
    {
        "tied": _tied,
        "alias.group": _alias_group,
        "alias.part": _alias_part,
        "no_replication": _no_replication,
        "counts": _counts,
        "one_for_level": _one_for_level,
        "unseen": _unseen,
        "uneven": _uneven,
        "barred": _barred,
        "shared_pot": _shared_pot,
        "shared_unknown": _shared_unknown,
        "group_of_one": _group_of_one,
        "sizes_short": _sizes_short,
        "time_order": _time_order,
        "carry_over": _carry_over,
        "same_order": _same_order,
        "lesson_tied": _lesson_tied,
        "lesson_split": _lesson_split,
        "few_layouts": _few_layouts,
        "loss_fatal": _loss_fatal,
    }
)
