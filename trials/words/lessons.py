"""What a timetable says: how many lessons, what is tight, and what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trials.words.class_times import best_found
from trials.words.numbers import count, listing

NO_LESSONS = (
    "How long it takes isn't worked out: study.toml says nothing under [lessons] (minutes = 45, "
    "for instance)."
)


def no_timetable(folder: str) -> str:
    """Return what follows where sheets are printed of a plan that doesn't fit into the lessons.

    Examples
    --------
    >>> print(no_timetable("cups"))
    This plan has no timetable: no way was found to do it in the lessons that study.toml names....
    """
    return (
        "This plan has no timetable: no way was found to do it in the lessons that study.toml "
        "names. So there is no lesson.pdf, and no page says what is done when. Before you hand "
        f"these sheets out, see why, and what helps: trials check {folder}. Change study.toml "
        f"then, and draw again: trials plan {folder}. The plan is locked now, so these sheets are "
        "void after that, and the report will tell."
    )


def unused_words(names: Sequence[str]) -> str:
    """Return that no step uses some equipment.

    Examples
    --------
    >>> print(unused_words(["burner"]))
    Note: study.toml names equipment that no step uses: burner. Nothing is planned with it. If a...
    """
    return (
        f"Note: study.toml names equipment that no step uses: {listing(names)}. Nothing is planned "
        "with it. If a step needs it, name it there under equipment."
    )


def too_few_hands(size: int, hands: int, advised: int) -> str:
    """Return that of a team hardly anybody is free while it works, and what to write if need be.

    Examples
    --------
    >>> print(too_few_hands(4, 3, 2))
    A team of 4 is counted on for 3 pieces of work at a time: hardly anybody is free to carry thi...
    """
    return (
        f"A team of {size} is counted on for {hands} pieces of work at a time: hardly anybody is "
        "free to carry things and to look on. If that is too much, write [lessons] hands = "
        f"{advised}."
    )


def counted_on_words(tools: Mapping[str, int], by_team: Mapping[str, int], section: str) -> str:
    """Return what a timetable counts on, as nobody said how many there are; empty: on nothing.

    Parameters
    ----------
    tools : how many of each are in use at once, at most; of what is one, nothing is said.
    by_team : how many of them in one team, at most; empty: there are no teams.
    section : of the tool of which most are, as study.toml writes it.

    Examples
    --------
    >>> print(counted_on_words({"sink": 4, "tongs": 1, "kettle": 8}, {}, "equipment.kettle"))
    Counted on, as study.toml doesn't say how many there are: kettle 8 at once and sink 4. Have ...
    >>> print(counted_on_words({"rod": 9, "dish": 2}, {"rod": 3, "dish": 1}, "equipment.rod"))
    Counted on, as study.toml doesn't say how many there are: rod 9 at once (up to 3 in one team)...
    >>> counted_on_words({"tongs": 1}, {}, "equipment.tongs")
    ''
    """
    several = sorted((-number, name) for name, number in tools.items() if number > 1)
    if not several:
        return ""
    told: list[str] = []
    for number, name in several:
        at_once = "" if told else " at once"
        team = f" (up to {by_team[name]} in one team)" if name in by_team else ""
        told.append(f"{name} {-number}{at_once}{team}")
    each = ', or what each team has for itself: count = 1, per = "team"' if by_team else ""
    return (
        f"Counted on, as study.toml doesn't say how many there are: {listing(told)}. Have you so "
        f"many? If not, write how many you have, such as: [{section}] count = "
        f"{min(2, -several[0][0] - 1)}{each}"
    )


def fits(lessons: int, minutes: int, ends: int, *, proved: bool, bound: int) -> str:
    """Return in how many lessons the work is done.

    Examples
    --------
    >>> print(fits(2, 50, 90, proved=True, bound=90))
    Time: 2 lessons of 50 minutes; in the last one the work takes until minute 40. No other ...
    >>> print(fits(2, 50, 90, proved=False, bound=90))
    Time: 2 lessons of 50 minutes; in the last one the work takes until minute 40. The best ...
    """
    last = ends - (lessons - 1) * minutes
    text = (
        f"Time: {count(lessons, 'lesson')} of {minutes} minutes; in the last one the work takes "
        f"until minute {last}."
    )
    return f"{text} {best_found(ends - bound, proved=proved)}"


SPLIT = (
    "One session doesn't fit into one lesson, so its items are measured in several: the sessions "
    "then stand for more than one occasion each."
)


def does_not_fit(lessons: int, minutes: int, *, sure: bool) -> str:
    """Return that the work can't be done in the lessons that there are."""
    there = f"{count(lessons, 'lesson')} of {minutes} minutes"
    if sure:
        return f"Time: this can't be done in {there}."
    return f"Time: no way was found to do this in {there}."


def in_one_go(steps: Sequence[str], minutes: int, working: int) -> str:
    """Return that some steps must follow each other at once and are longer than a lesson.

    Examples
    --------
    >>> print(in_one_go(["Brew"], 50, 40))
    'Brew' must be done in one go and takes 50 minutes; a lesson leaves 40 for making. Make the...
    """
    takes = "takes" if len(steps) == 1 else "take"
    what = listing([f"'{step}'" for step in steps])
    return (
        f"{what} must be done in one go and {takes} {minutes} minutes; a lesson leaves {working} "
        "for making. Make the lesson longer or the waiting shorter, let the adult do it between "
        'lessons (when = "between"), or say after which step an item can lie (delete keeps).'
    )


FOLLOWS = (
    "There are minutes enough of each single thing; but what has to follow what, in each lesson, "
    "leaves too few of them. The tightest:"
)


def tight(kind: str, name: str, wanted: float, offered: float, session: str) -> str:
    """Return how much of one thing is wanted, and how much there is."""
    where = {
        "crew": f"The hands of {name}",
        "equipment": f"The {name}",
        "between": f"Between lessons: {name}",
        "session": f"The {name} in the one lesson of {session}",
    }[kind]
    return f"{where}: wanted for {wanted:.0f} minutes, there are {offered:.0f}."


def owned(name: str, each: str, others: Sequence[str] = ()) -> str:
    """Return what is called a tool that somebody has for himself, of those who are meant.

    Parameters
    ----------
    each : what one of them is called where each has its own; empty: ``others`` are all.

    Examples
    --------
    >>> owned("dropper", "team"), owned("dropper", "team", ["the adult"])
    ('dropper for each team', 'dropper for each team and the adult')
    >>> owned("dropper", "", ["oak", "elm"])
    'dropper for oak and elm'
    """
    return f"{name} for {listing([*([f'each {each}'] if each else []), *others])}"


def helps(kind: str, name: str, amount: int, lessons: int, item: str, *, saves: bool) -> str:
    """Return one change that makes the work fit, or saves a lesson."""
    what = {
        "equipment": f"One more {name}",
        "hands": "One more pair of hands in every team",
        "minutes": f"Lessons that are {amount} minutes longer",
        "lessons": f"{count(amount, 'more lesson')}",
        "hours": "Work between lessons at any hour ([lessons] between)",
        "fewer": f"{amount} fewer {item} (each team makes fewer)",
    }[kind]
    if saves:
        return f"{what}: done in {count(lessons, 'lesson')}, one less."
    return f"{what}: then it can be done in {count(lessons, 'lesson')}."


CHEAPEST_FIRST = (
    "Cheapest first: what costs only an agreement, then minutes of lessons, helpers, things to "
    "borrow or buy, and last what costs evidence, for that can't be got back."
)


def price(kind: str, amount: int, item: str, *, cheapest: bool) -> str:
    """Return what one change costs.

    Examples
    --------
    >>> price("minutes", 20, "cup", cheapest=True), price("items", 6, "cup", cheapest=False)
    ('Cheapest: 20 minutes of lessons in all.', 'Price: 6 cups fewer, so less evidence.')
    """
    what = {
        "agreement": "only an agreement",
        "minutes": f"{count(amount, 'minute')} of lessons in all",
        "hands": "a helper in every team",
        "equipment": f"{count(amount, 'thing')} to borrow or buy",
        "readings": f"{count(amount, 'reading')} of each {item} fewer, so less evidence",
        "items": f"{count(amount, item)} fewer, so less evidence",
    }[kind]
    return f"{'Cheapest' if cheapest else 'Price'}: {what}."


def left_over(items: int, since: int) -> str:
    """Return what was placed again.

    Examples
    --------
    >>> left_over(3, 2)
    'From lesson 2 on everything was placed again, without 3 that are lost or not made.'
    """
    without = f", without {items} that are lost or not made" if items else ""
    return f"From lesson {since} on everything was placed again{without}."


def counts_as_done(steps: Sequence[str], keys: Sequence[str], since: int) -> str:
    """Return which steps are taken to be done before a lesson, and what to say if they aren't.

    Parameters
    ----------
    keys : the same steps as they are typed.

    Examples
    --------
    >>> print(counts_as_done(["Bake"], ["heat"], 2))
    'Bake' counts as done before lesson 2. If it isn't done yet, place again and add --not-yet heat
    >>> print(counts_as_done(["Bake", "Soak"], ["heat", "soak"], 2))
    'Bake' and 'Soak' count as done before lesson 2. What isn't done yet: place again and add
    --not-yet heat or --not-yet soak
    """
    names = listing([f"'{step}'" for step in steps])
    add = listing([f"--not-yet {key}" for key in keys], "or")
    if len(steps) == 1:
        told = f"{names} counts as done before lesson {since}. If it isn't done yet,"
    else:
        told = f"{names} count as done before lesson {since}. What isn't done yet:"
    return f"{told} place again and add {add}"


def done_late(steps: Sequence[str], since: int, day: str, between: str) -> str:
    """Return that what isn't done yet before a lesson is placed on the last days before it.

    Parameters
    ----------
    day : on which it begins; empty where the study doesn't say when lessons are.
    between : the hours in which it is done, as study.toml has them.

    Examples
    --------
    >>> print(done_late(["Bake"], 2, "Wednesday 16 January 2030", "08:00-17:00"))
    'Bake' is placed on the last days before lesson 2 on which it can be done ([lessons] between =
    "08:00-17:00"), from Wednesday 16 January 2030 on, as earlier days may have passed.
    >>> print(done_late(["Bake", "Soak"], 3, "", ""))
    'Bake' and 'Soak' are placed on the last days before lesson 3 on which they can be done, as
    earlier days may have passed.
    """
    names = listing([f"'{step}'" for step in steps])
    verb, they = ("is", "it") if len(steps) == 1 else ("are", "they")
    hours = f' ([lessons] between = "{between}")' if day and between else ""
    first = f", from {day} on" if day else ""
    return (
        f"{names} {verb} placed on the last days before lesson {since} on which {they} can be "
        f"done{hours}{first}, as earlier days may have passed."
    )


def leave_out_without(steps: Sequence[str], name: str, key: str) -> str:
    """Return what to do if steps were over before the equipment that they need went out of order.

    Parameters
    ----------
    name, key : of the equipment, and as it is typed.

    Examples
    --------
    >>> leave_out_without(["Bake"], "oven", "oven")
    "If 'Bake' was done before the oven went out of order, leave out --without oven."
    """
    names = listing([f"'{step}'" for step in steps])
    verb = "was" if len(steps) == 1 else "were"
    return f"If {names} {verb} done before the {name} went out of order, leave out --without {key}."


def place_the_rest(folder: str, steps: Sequence[str]) -> str:
    """Return what to type when what is in the timetable has changed; ``steps``: between lessons.

    Examples
    --------
    >>> print(place_the_rest("cups", ["heat"]))
    Say from which lesson on to place the rest again: trials lessons cups --since N. Work right
    before lesson N counts as done; what isn't done yet: add --not-yet heat
    """
    told = f"Say from which lesson on to place the rest again: trials lessons {folder} --since N"
    if not steps:
        return told
    add = listing([f"--not-yet {step}" for step in steps], "or")
    return f"{told}. Work right before lesson N counts as done; what isn't done yet: add {add}"


def known_away(team: str, since: int) -> str:
    """Return that a team was said to be away that is.

    Examples
    --------
    >>> known_away("rowan", 2)
    'It was known already that rowan is away from lesson 2 on.'
    """
    return f"It was known already that {team} is away from lesson {since} on."


def added_later(items: Sequence[str]) -> list[str]:
    """Return that what a plan was extended by has no times; nothing where it wasn't.

    Examples
    --------
    >>> print(*added_later(["K7", "M3"]))
    What was added to the plan later has no times here: K7 and M3. Its sheets give the order.
    """
    if not items:
        return []
    return [
        f"What was added to the plan later has no times here: {listing(items)}. Its sheets give "
        "the order."
    ]


def longer(before: int, after: int) -> str:
    """Return what that costs in lessons.

    Examples
    --------
    >>> longer(2, 4), longer(2, 2)
    ('It takes 2 lessons more than before.', 'It takes no lesson more than before.')
    """
    if after < before:
        return f"It takes {count(before - after, 'lesson')} less than before."
    more = count(after - before, "lesson") if after > before else "no lesson"
    return f"It takes {more} more than before."


def no_date(lessons: Sequence[int], *, counted: bool) -> str:
    """Return of which lessons it isn't known when they are; ``counted``: study.toml has a count.

    Examples
    --------
    >>> print(no_date([3], counted=True))
    Lesson 3 has no date yet, so its times are minutes of the lesson. Write its start as the last
    one under [lessons] starts in study.toml, and count = 3; then place the rest again.
    >>> print(no_date(range(3, 5), counted=False))
    Lessons 3 and 4 have no date yet, so their times are minutes of the lesson. Write their starts
    as the last ones under [lessons] starts in study.toml; then place the rest again.
    """
    number = f", and count = {lessons[-1]}" if counted else ""
    if len(lessons) == 1:
        told = f"Lesson {lessons[0]} has no date yet, so its times are minutes of the lesson. "
        what = "its start as the last one"
    else:
        names = listing([str(lesson) for lesson in lessons])
        told = f"Lessons {names} have no date yet, so their times are minutes of the lesson. "
        what = "their starts as the last ones"
    return (
        f"{told}Write {what} under [lessons] starts in study.toml{number}; then place the rest "
        "again."
    )


KEPT_BEFORE = "What was done stays as it was; the old timetable is kept in history/."
NO_WAY = "What is left can't be done so. The timetable was left as it is."


def no_lessons_help(lessons: int | None) -> str:
    """Return that something can't be done at all; ``lessons``: as many as were asked for.

    Examples
    --------
    >>> no_lessons_help(None)
    "Time: this can't be done, however many lessons there are."
    >>> no_lessons_help(4)
    "Time: this can't be done in 4 lessons, and more of them are no help."
    """
    if lessons is None:
        return "Time: this can't be done, however many lessons there are."
    return f"Time: this can't be done in {count(lessons, 'lesson')}, and more of them are no help."


def stuck(step: str, equipment: str, items: str) -> str:
    """Return which step needs what isn't there any more; ``items``: how many of what wait.

    Examples
    --------
    >>> stuck("Bake", "oven", "3 cups")
    "'Bake' needs the oven, and there is none left. 3 cups wait for it."
    """
    verb = "waits" if items.startswith("1 ") else "wait"
    return f"'{step}' needs the {equipment}, and there is none left. {items} {verb} for it."


def rush(
    lesson: int,
    name: str,
    steps: Sequence[str],
    keeps: Sequence[tuple[str, str]],
    *,
    wanted: float,
    there: float,
) -> str:
    """Return what must be done in one lesson and doesn't fit.

    Parameters
    ----------
    name : what there is too little of; empty where no single thing is too little.
    keeps : the steps that are over, and how long what is through them keeps.

    Examples
    --------
    >>> print(rush(2, "scales", ["Weigh"], [("Dry", "16 h")], wanted=96, there=40))
    In lesson 2 the scales: wanted for 96 minutes, and 40 are left between what must come befor...
    """
    what = listing([f"'{step}'" for step in steps])
    after = listing([f"'{step}' keeps for {long} at the most" for step, long in keeps])
    cant = f"which can't wait for a later lesson: what is through {after}."
    if not name:
        return f"In lesson {lesson} there is no room for all of {what}, {cant}"
    return (
        f"In lesson {lesson} the {name}: wanted for {wanted:.0f} minutes, and {there:.0f} are left "
        f"between what must come before and what must come after. That is for {what}, {cant}"
    )


def handed_over(team: str, since: int, shares: Sequence[tuple[str, Sequence[str]]]) -> list[str]:
    """Return who does what a team can't do any more; ``shares``: teams, and the items of each.

    Examples
    --------
    >>> print(*handed_over("rowan", 2, [("elm", ["K7"]), ("oak", ["K9"])]), sep="\\n")
    What rowan made before lesson 2 stays. From then on others finish it:
      elm: K7
      oak: K9
    Write on the making sheet who finished which; in the record they stay those of rowan.
    """
    if not shares:
        return [f"Nothing of {team} is left to make."]
    return [
        f"What {team} made before lesson {since} stays. From then on others finish it:",
        *(f"  {other}: {', '.join(items)}" for other, items in shares),
        f"Write on the making sheet who finished which; in the record they stay those of {team}.",
    ]


def kept_away(folder: str, team: str, since: int, first: int) -> str:
    """Return what is remembered of a team that is away; ``since``: the lesson from which on it is.

    Examples
    --------
    >>> print(kept_away("cups", "rowan", 2, 3))
    Kept with the timetable: rowan is away from lesson 2 on. If it comes back: trials lessons cups
    --since 3 --back rowan
    """
    return (
        f"Kept with the timetable: {team} is away from lesson {since} on. If it comes back: trials "
        f"lessons {folder} --since {first} --back {team}"
    )


def not_away_yet(team: str, since: int, first: int) -> str:
    """Return that a team is there again as the work is placed from an earlier lesson on.

    Examples
    --------
    >>> print(not_away_yet("rowan", 2, 1))
    It was said that rowan is away from lesson 2 on. From lesson 1 on it counts as there now; if it
    isn't, say so: --away rowan
    """
    return (
        f"It was said that {team} is away from lesson {since} on. From lesson {first} on it counts "
        f"as there now; if it isn't, say so: --away {team}"
    )


def kept_missing(equipment: tuple[str, int, int], since: int, back: str) -> str:
    """Return what is remembered of equipment that is out of order.

    Parameters
    ----------
    equipment : what it is called, how many pieces are out of order, and of how many.
    since : the lesson from which on so many are.
    back : what to type when one is back.

    Examples
    --------
    >>> print(kept_missing(("oven", 1, 2), 2, "trials lessons cups --since 3 --back oven"))
    Kept with the timetable: oven, 1 of 2 out of order from lesson 2 on. If one is back: trials
    lessons cups --since 3 --back oven
    """
    name, pieces, there = equipment
    return (
        f"Kept with the timetable: {name}, {pieces} of {there} out of order from lesson {since} "
        f"on. If one is back: {back}"
    )


def shared_now(name: str, team: str, left: int) -> str:
    """Return that what each team had for itself is shared, as some of it is out of order.

    Examples
    --------
    >>> shared_now("dropper", "team", 5)
    'Each team had its own dropper. What is left, 5 in all, is shared by the class.'
    """
    return f"Each {team} had its own {name}. What is left, {left} in all, is shared by the class."


def known_missing(name: str) -> str:
    """Return that equipment was said to be missing of which none is left.

    Examples
    --------
    >>> known_missing("oven")
    'It was known already that every oven is out of order: there is none more to leave out.'
    """
    return (
        f"It was known already that every {name} is out of order: there is none more to leave out."
    )


def not_missing_yet(name: str, key: str, since: int, first: int) -> str:
    """Return that equipment is there again as the work is placed from an earlier lesson on.

    Examples
    --------
    >>> print(not_missing_yet("pair of scales", "scales", 3, 2))
    It was said that the pair of scales is out of order from lesson 3 on. From lesson 2 on it counts
    as there now; if it isn't, say so: --without scales
    """
    return (
        f"It was said that the {name} is out of order from lesson {since} on. From lesson "
        f"{first} on it counts as there now; if it isn't, say so: --without {key}"
    )
