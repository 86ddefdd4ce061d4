"""The fair-test check in plain sentences: ties, repeats, groups and order.

What was found and why it matters stands in the report too, so it is said in the language of the
study; what to do is told with the plan only, in English.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

from trials.words import spanish
from trials.words.language import SPANISH, language, marked, say
from trials.words.numbers import capital, count, listing, plural, with_unit

Facts = Mapping[str, Any]


class Say(NamedTuple):
    """What was found, why it matters ("" where the first says it), and what to do."""

    what: str
    why: str
    remedy: str


Says = Callable[[Facts], Say]

WHICH_OF_TWO = marked(
    "If something comes out differently, nobody can tell which of the two it was."
)
_OFTEN = MappingProxyType({1: marked("once"), 2: marked("twice")})
TIPS = marked("Then a good or bad {group} tips the comparison.")


def a(noun: str) -> str:
    """Return a noun with its article.

    Examples
    --------
    >>> a("item"), a("cup")
    ('an item', 'a cup')
    """
    if language() == SPANISH:
        return spanish.agreeing("un", noun)
    return f"an {noun}" if noun[:1].lower() in "aeiou" else f"a {noun}"


def _tied(facts: Facts) -> Say:
    group, factor = facts["group"], facts["factor"]
    return Say(
        say(
            "Each {group} makes only one version of {factor}."
            if facts["maker"]
            else "Each {group} has only one version of {factor}.",
            group=group,
            factor=factor,
        ),
        say(
            "If one version does better, nobody can tell whether it was the {factor} or the hands "
            "of the {group}."
            if facts["maker"]
            else "If one version does better, nobody can tell whether it was the {factor} or the "
            "{group}.",
            group=group,
            factor=factor,
        ),
        f"Let every {group} have every version of {factor}: {listing(facts['levels'])}.",
    )


def _alias_group(facts: Facts) -> Say:
    between = _between(facts["groups"])
    return Say(
        say(
            "{effect} is wholly mixed up with {differences}.",
            effect=capital(effect_text(facts["term"])),
            differences=between,
        ),
        say(WHICH_OF_TWO),
        _fit(facts),
    )


def _alias_part(facts: Facts) -> Say:
    between = _between(facts["groups"])
    told = f"{round(100 * facts['told'])}"
    most = f"{round(100 * facts.get('told_most', facts['told']))}"
    if most != told:
        told = say("{told} to {most}", told=told, most=most)
    return Say(
        say(
            "{effect} is largely mixed up with {differences}: only about {told} % of what the plan "
            "could tell is free of them.",
            effect=capital(effect_text(facts["term"])),
            differences=between,
            told=told,
        ),
        say(
            "A {group} that is simply better would look like an answer.",
            group=_one(facts["groups"]),
        ),
        _fit(facts),
    )


def effect_text(term: Sequence[str]) -> str:
    """Return what a variable, or several together, would show.

    Examples
    --------
    >>> effect_text(["heat"]), effect_text(["heat", "dye"])
    ('what heat does', 'whether heat and dye depend on each other')
    """
    if len(term) == 1:
        return say("what {factor} does", factor=term[0])
    return say("whether {factors} depend on each other", factors=listing(term))


def _between(groups: list[str]) -> str:
    if len(groups) == 1:
        return say("differences between {groups}", groups=plural(groups[0]))
    return say("differences between combinations of {groups}", groups=listing(groups))


def _one(groups: list[str]) -> str:
    if len(groups) == 1:
        return groups[0]
    return say("combination of {groups}", groups=listing(groups))


def _fit(facts: Facts) -> str:
    wish = f"Share the versions out so that every {_one(facts['groups'])} gets as many of each."
    return wish if not facts.get("needed") else f"{wish} Other numbers make that possible."


def _no_replication(facts: Facts) -> Say:
    factor, item, unit = facts["factor"], facts["item"], facts["unit"]
    made = count(facts["members"], unit or item)
    needed = facts.get("needed")
    if unit is None:
        return Say(
            say(
                "With {made} hardly anything would be left over to show how much {items} built "
                "alike differ."
                if facts["df"]
                else "With {made} nothing would be left over to show how much {items} built alike "
                "differ.",
                made=made,
                items=plural(item),
            ),
            say("So nobody could tell {factor} from luck.", factor=factor),
            f"Make {count(needed, item)} or more, so that recipes come several times."
            if needed
            else f"Make more {plural(item)}, or change fewer things at once.",
        )
    what = say(
        "A whole {unit} gets one version of {factor}, and there are {made}, too few for all that. "
        "The same {units} also decide {others}."
        if facts["also"]
        else "A whole {unit} gets one version of {factor}, and there are only {made}.",
        unit=unit,
        factor=factor,
        made=made,
        units=plural(unit),
        others=listing(facts["also"] or []),
    )
    more = f"Plan {count(needed, unit)} or more" if needed else f"Plan more {plural(unit)}"
    return Say(
        what,
        say(
            "More {items} in the same {units} don't help: it is the {units} that count.",
            items=plural(item),
            units=plural(unit),
        ),
        f"{more}, or give each {item} its own version of {factor}.",
    )


def _counts(facts: Facts) -> Say:
    unit, item = facts["unit"], facts["item"]
    return Say(
        say(
            "A whole {unit} gets one version of {factor}, so for {factor} the {made} count, not "
            "the {n_items}.",
            unit=unit,
            factor=facts["factor"],
            made=count(facts["members"], unit),
            n_items=count(facts["items"], item),
        ),
        "",
        f"For a surer answer about {facts['factor']} add {plural(unit)}, not {plural(item)}.",
    )


def _one_for_level(facts: Facts) -> Say:
    group, levels = facts["group"], listing(facts["levels"])
    needed = facts.get("needed")
    many = (
        f"Plan {count(needed, group)} or more, so that" if needed and facts["unit"] else "See that"
    )
    return Say(
        say(
            "Of {factor}, {levels} comes from one {group} only."
            if len(facts["levels"]) == 1
            else "Of {factor}, {levels} each come from one {group} only.",
            factor=facts["factor"],
            levels=levels,
            group=group,
        ),
        say("If that {group} is unusual, it looks like the version.", group=group),
        f"{many} every version comes from several {plural(group)}.",
    )


def _unseen(facts: Facts) -> Say:
    group = facts["group"]
    parts = [
        say(
            "{group} {member} never has {levels}",
            group=group,
            member=member,
            levels=listing([str(level) for level in levels]),
        )
        for member, levels in list(facts["missing"].items())[:3]
    ]
    more = len(facts["missing"]) - len(parts)
    if more:
        what = say(
            "Not every {group} has every version of {factor}: {parts}, and {n_more} more misses "
            "one."
            if more == 1
            else "Not every {group} has every version of {factor}: {parts}, and {n_more} more miss "
            "one.",
            group=group,
            factor=facts["factor"],
            parts=listing(parts),
            n_more=count(more, group),
        )
    else:
        what = say(
            "Not every {group} has every version of {factor}: {parts}.",
            group=group,
            factor=facts["factor"],
            parts=listing(parts),
        )
    return Say(
        what,
        say(TIPS, group=group),
        f"Share the versions out so that every {group} gets each of them.",
    )


def _barred(facts: Facts) -> Say:
    group, factor, single = facts["group"], facts["factor"], facts["single"]
    parts = [
        say(
            "{group} {member} never has {levels}",
            group=group,
            member=member,
            levels=listing(levels, "or"),
        )
        for member, levels in facts["missing"].items()
    ]
    only = [
        say("{group} {member} has {level} only", group=group, member=member, level=level)
        for member, level in single.items()
    ]
    return Say(
        say(
            "By what study.toml forbids, {parts} ({factor}). The others have as much more of it.",
            parts=listing(parts),
            factor=factor,
        ),
        say(
            "{only}: a {group} with one version says nothing about {factor}, and if it is simply "
            "better or worse than the others, that tips the comparison.",
            only=capital(listing(only)),
            group=group,
            factor=factor,
        )
        if single
        else say("These say less about {factor} than the others do.", factor=factor),
        "If somebody else can do that step for them, with them watching, delete the line under"
        " [limits]; else read the result as one from the others.",
    )


def _uneven(facts: Facts) -> Say:
    return Say(
        say(
            "In {group} {member} one version of {factor} comes {most} and another {fewest}.",
            group=facts["group"],
            member=facts["member"],
            factor=facts["factor"],
            most=often(facts["most"]),
            fewest=often(facts["fewest"]),
        ),
        say(TIPS, group=facts["group"]),
        f"Choose numbers that share out evenly: as many {plural(facts['item'])} in every"
        f" {facts['group']}, and a multiple of the number of versions.",
    )


def _shared_pot(facts: Facts) -> Say:
    item, factor = facts["item"], facts["factor"]
    return Say(
        say(
            "Several {items} share one pot or batch of {factor}.",
            items=plural(item),
            factor=factor,
        ),
        say(
            "If a batch goes wrong, all its {items} do, so they are not separate tries.",
            items=plural(item),
        ),
        f"Make {factor} anew for each {item} and write shared = false under {facts['name']} in"
        " study.toml. Or tell the program which pot is which: add a group for the pots and write"
        f" applied_to with its name under {facts['name']}.",
    )


def _shared_unknown(facts: Facts) -> Say:
    item = facts["item"]
    things = listing(facts["factors"], "or")
    where = listing(facts["names"])
    return Say(
        say(
            "Do several {items} share one pot, batch, dish or stretch of time for {things}?",
            items=plural(item),
            things=things,
        ),
        say("Then they are not separate tries."),
        f"If each {item} gets its own, write shared = false under {where} in study.toml. If they"
        " share, write shared = true; the check then tells how to go on.",
    )


def _sizes_short(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        say(
            "The sizes of the {groups} add up to {n_items}, though you could make {wanted}.",
            groups=plural(facts["group"]),
            n_items=count(facts["items"], item),
            wanted=facts["wanted"],
        ),
        say(
            "So {n_items} fewer are planned than could be.",
            n_items=count(facts["wanted"] - facts["items"], item),
        ),
        f"Write larger sizes under {facts['name']} in study.toml, or leave it so on purpose.",
    )


def _group_of_one(facts: Facts) -> Say:
    group = facts["group"]
    return Say(
        say("There is only one {group}.", group=group),
        say(
            "What comes out holds for this one; whether another {group} gives the same, nobody "
            "knows.",
            group=group,
        ),
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
    return Say(
        say(
            "The versions of {factor} are made one after the other."
            if facts["order"] == "making"
            else "The versions of {factor} are measured one after the other.",
            factor=factor,
        ),
        say(
            "A room that warms up or a hand that gets better would look like {factor}.",
            factor=factor,
        ),
        _another_draw(facts, "order"),
    )


def _carry_over(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        say(
            "When measuring, like versions of {factor} mostly follow each other.",
            factor=facts["factor"],
        ),
        say(
            "What one {item} leaves behind on the instrument then stays with its version.",
            item=item,
        ),
        _another_draw(facts, "order"),
    )


def _same_order(facts: Facts) -> Say:
    item = facts["item"]
    return Say(
        say(
            "The {items} are measured backwards in the order in which they are made."
            if facts["backwards"]
            else "The {items} are measured in the order in which they are made.",
            items=plural(item),
        ),
        say("Whatever changes while making can't be told from what changes while measuring."),
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
            say(
                "There is only one way to share out {factor} over the {units}.",
                factor=factor,
                units=plural(unit),
            ),
            say(
                "So a draw by chance can say nothing about {factor}: any result would do for luck.",
                factor=factor,
            ),
            more,
        )
    return Say(
        say(
            "There are so few ways to share out {factor} over the {units} that even the clearest "
            "result would come by luck alone in 1 of {layouts} draws.",
            factor=factor,
            units=plural(unit),
            layouts=facts["layouts"],
        ),
        "",
        more,
    )


def _loss_fatal(facts: Facts) -> Say:
    factor, unit = facts["factor"], facts["unit"] or facts["item"]
    needed = facts.get("needed")
    every = facts["fatal"] == facts["members"]
    return Say(
        say(
            "If a single {unit} is lost, hardly anything is left to tell {factor} from luck."
            if every
            else "If a single {unit} is lost, there is a risk that hardly anything is left to tell "
            "{factor} from luck.",
            unit=unit,
            factor=factor,
        ),
        say("Things break, and then the whole question would be open."),
        f"Plan {count(needed, unit)} or more." if needed else f"Plan a few {plural(unit)} more.",
    )


def _lesson_tied(facts: Facts) -> Say:
    factor, item = facts["factor"], facts["item"]
    unit = "" if facts["unit"] == "1" else facts["unit"]
    alone = [with_unit(level, unit) for level in facts["alone"]]
    one, lessons = len(alone) == 1, _lessons(facts["lessons"])
    return Say(
        say(
            "The timetable puts the step '{step}' for {versions} ({factor}) into {lessons}, where "
            "no other version has it."
            if one
            else "The timetable gives {versions} ({factor}) lessons of their own for the step "
            "'{step}': {lessons}.",
            step=facts["step"],
            versions=listing(alone),
            factor=factor,
            lessons=lessons,
        ),
        say(
            "If it does better, nobody can tell whether it was the {factor} or the day: another "
            "room, other light, hands with more practice."
            if one
            else "If one of them does better, nobody can tell whether it was the {factor} or the "
            "day: another room, other light, hands with more practice.",
            factor=factor,
        ),
        f"Let every {item} wait as long as the slowest version before this step, or make lessons"
        " longer, so that each lesson has every version. Then draw the plan again.",
    )


def _lesson_split(facts: Facts) -> Say:
    items, lessons = plural(facts["item"]), _lessons(facts["lessons"])
    if facts["group"] is None:
        return Say(
            say(
                "The {items} are measured in {lessons}, and the plan knows of no such parts.",
                items=items,
                lessons=lessons,
            ),
            say(
                "What differs between the lessons (light, warmth, who measures) then counts as "
                "difference between {items} made alike, and hides what you look for.",
                items=items,
            ),
            f"Add a group for it, so that each part has its share of every version and the"
            f" difference is taken out: a part [groups.occasion] with count ="
            f' {len(facts["lessons"])} and step = "{facts["step"]}". Then draw the plan again.',
        )
    member, group = facts["member"], facts["group"]
    return Say(
        say(
            "The timetable measures {group} {member} in {lessons}, not in one.",
            group=group,
            member=member,
            lessons=lessons,
        ),
        say(
            "What differs between the lessons (light, warmth, who measures) then counts as "
            "difference between {items} of one {group}, and hides what you look for.",
            items=items,
            group=group,
        ),
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
    told = listing([str(number) for number in numbers])
    if len(numbers) == 1:
        return say("lesson {number}", number=told)
    return say("lessons {numbers}", numbers=told)


def often(n: int) -> str:
    """Return how many times something happens.

    Examples
    --------
    >>> often(1), often(2), often(5)
    ('once', 'twice', '5 times')
    """
    if n in _OFTEN:
        return say(_OFTEN[n])
    return say("{n} times", n=n)


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
