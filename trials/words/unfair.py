"""Two classes with the same items, one planned fairly and one not: what to show and to say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trials.words.numbers import capital, count, plural

SUBTITLE = "The same luck, two plans: which one names a wrong winner?"
FAIR = "planned fairly"
UNFAIR = "planned unfairly"
ENDINGS = ("names the right winner", "names a wrong winner", "says: not sure yet")
SHORT = ("right", "wrong", "not sure")
NOTHING_REAL = (
    "Nothing here was built or measured: classes were simulated, with made-up luck, on a computer."
)


@dataclass(frozen=True)
class Cast:
    """Who and what takes part, as people call it: labels, and numbers of the fair class."""

    item: str
    factor: str
    maker: str
    batch: str  # "" where nothing is applied to a group
    together: str
    items: int
    readings: int  # how often an unfair class measures its one item


@dataclass(frozen=True)
class Mistake:
    """One unfair habit: what it is called, what is wrong with it, and what to do instead."""

    name: str
    harm: str
    better: str

    def text(self, alone: str) -> str:
        """Return the habit, its harm, what it does ``alone``, and its cure as one line."""
        return f"{self.name}. {self.harm} {alone} Fair: {self.better}"


def mistakes(cast: Cast) -> Mapping[str, Mistake]:
    """Return the mistakes of the unfair class by their codes, in the order in which they are made.

    The codes are the names of what :class:`~trials.design.unfair.Faults` holds.

    Examples
    --------
    >>> told = mistakes(Cast("cell", "dye", "team", "heat", "firing", 36, 5))
    >>> [one.name for one in told.values()]
    ['A dye for each team', 'One firing for each heat', 'Five readings called five cells']
    >>> told["shared_out"].text(alone_text("names a winner", 0.04))
    'A dye for each team. A skilled team then makes its dye look good. Alone it names a winner in
    about 4 of 100 classes where there is none. Fair: every team makes every dye.'
    """
    items, maker, factor = plural(cast.item), cast.maker, cast.factor
    found = {
        "shared_out": Mistake(
            f"A {factor} for each {maker}",
            f"A skilled {maker} then makes its {factor} look good.",
            f"every {maker} makes every {factor}.",
        )
    }
    if cast.batch:
        found["one_batch"] = Mistake(
            f"One {cast.together} for each {cast.batch}",
            f"A lucky {cast.together} then looks like a good {cast.batch}.",
            f"several {plural(cast.together)} for each {cast.batch}, dealt out by chance.",
        )
    times = _number(cast.readings)
    found["readings_counted"] = Mistake(
        f"{capital(times)} readings called {times} {items}",
        f"They agree, but only because it is the same {cast.item}.",
        f"count {items}; several readings of one {cast.item} make one number.",
    )
    return found


def alone_text(what: str, share: float, truth: str = "there is none") -> str:
    """Return what one habit does by itself, where nothing makes a difference.

    Examples
    --------
    >>> alone_text("says that heat matters", 0.358, "it does not")
    'Alone it says that heat matters in about 36 of 100 classes where it does not.'
    """
    return f"Alone it {what} in {_of_100(share)} classes where {truth}."


def _number(n: int) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
    return words[n] if n < len(words) else str(n)


def truth_title(size: str, factor: str) -> str:
    """Return the heading of one truth; ``size`` is "" where all versions are alike.

    Examples
    --------
    >>> truth_title("", "dye"), truth_title("2 times", "dye")
    ('In truth every dye is equally good', 'In truth one dye is better: 2 times')
    """
    if not size:
        return f"In truth every {factor} is equally good"
    return f"In truth one {factor} is better: {size}"


def wrong_sentence(unfair: float, fair: float, factor: str) -> str:
    """Return how often each class names a winner where there is none.

    Examples
    --------
    >>> wrong_sentence(0.807, 0.0075, "dye")
    'When every dye is equally good, the unfair class still names a winner in about 81 of 100
    repeats. The fair class does so in about 1 of 100.'
    """
    return (
        f"When every {factor} is equally good, the unfair class still names a winner in "
        f"{_of_100(unfair)} repeats. The fair class does so in {_of_100(fair)}."
    )


def better_sentence(size: str, factor: str, unfair: tuple[float, float], fair: float) -> str:
    """Return how often each class gets it wrong where one version is better.

    ``unfair``: right and wrong; ``fair``: wrong.

    Examples
    --------
    >>> better_sentence("1.3 times", "dye", (0.6, 0.264), 0.0)
    'When one dye is better (1.3 times), the unfair class names the wrong one in about 26 of 100
    repeats and the right one in about 60 of 100: nobody can tell which it was. The fair class names
    the wrong one in hardly any; where its data are too few it says so.'
    """
    right, wrong = unfair
    return (
        f"When one {factor} is better ({size}), the unfair class names the wrong one in "
        f"{_of_100(wrong)} repeats and the right one in {_of_100(right)}: nobody can tell which "
        f"it was. The fair class names the wrong one in {_few(fair)}; where its data are too few "
        "it says so."
    )


def batch_sentence(unfair: float, fair: float, batch: str) -> str:
    """Return how often each class claims something of the factor that does nothing.

    Examples
    --------
    >>> batch_sentence(0.911, 0.053, "heat")
    'Heat made no difference at all in these classes. The unfair class said that it did in about 91
    of 100 repeats, the fair one in about 5 of 100.'
    """
    return (
        f"{capital(batch)} made no difference at all in these classes. The unfair class said that "
        f"it did in {_of_100(unfair)} repeats, the fair one in {_of_100(fair)}."
    )


def _of_100(share: float) -> str:
    near = round(100 * share)
    if near == 0:
        return "fewer than 1 of 100" if share else "0 of 100"
    return f"about {near} of 100"


def _few(share: float) -> str:
    return "hardly any" if round(100 * share) == 0 else _of_100(share)


def how_made(cast: Cast, studies: int, spread: str) -> str:
    """Return how the page came about, for those who ask.

    Examples
    --------
    >>> how_made(Cast("cell", "dye", "team", "heat", "firing", 36, 5), 2000, "not said")
    'Both classes were simulated 2000 times. Each time both had the same teams, the same firings and
    the same 36 cells with the same luck. How far things made alike differ: not said. The fair class
    follows the plan of study.toml and is judged as this program judges. The unfair class is judged
    by one least-squares fit of its rows, as if each were a cell of its own. A winner is named where
    a dye is better than every other beyond what chance explains (Tukey intervals).'
    """
    same = [f"the same {plural(cast.maker)}"]
    if cast.together:
        same.append(f"the same {plural(cast.together)}")
    return (
        f"Both classes were simulated {studies} times. Each time both had {', '.join(same)} and "
        f"the same {count(cast.items, cast.item)} with the same luck. How far things made alike "
        f"differ: {spread}. The fair class follows the plan of study.toml and is judged as this "
        "program judges. The unfair class is judged by one least-squares fit of its rows, as if "
        f"each were a {cast.item} of its own. A winner is named where a {cast.factor} is better "
        "than every other beyond what chance explains (Tukey intervals)."
    )
