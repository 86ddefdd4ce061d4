"""That the order of a lesson is kept, what can't wait, and what becomes of what isn't finished."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from trials.words.language import marked, say
from trials.words.numbers import listing

LAST_LESSON: Final = marked(
    "This is the last lesson: what isn't done at its end needs one lesson more. Go on there in the "
    "same order, and write the day beside each reading."
)
ALL_CAN_WAIT: Final = marked("Everything can wait until the next lesson.")
ELSE_CAN_WAIT: Final = marked("Everything else can wait until the next lesson.")


def order_kept(
    limits: Sequence[tuple[str, str, str, str]],
    by_hand: Sequence[tuple[str, str, str]] = (),
    *,
    last: bool = False,
    misses: Sequence[str] = (),
    others: bool = False,
) -> str:
    """Return that the order is kept, what can't wait, and what becomes of what isn't finished.

    Parameters
    ----------
    limits : step, how long it waits by itself ("" where it doesn't), the step that has to follow,
        and within how long after that.
    by_hand : of waiting that somebody ends: step, how long it waits, and what is done then ("" if
        nobody said).
    last : no lesson follows.
    misses : steps that are done before the next lesson to what is through this one.
    others : something isn't done to all.

    Examples
    --------
    >>> print(order_kept([]))
    Versions and orders were drawn by chance. Keep to the order; where you couldn't, write it down
    with the time. If you are late, go on where you stopped, in the same order. Everything can wait
    until the next lesson.
    >>> begin = order_kept([]).index("Everything")
    >>> print(order_kept([("Close", "2 min", "Measure", "10 min")])[begin:])
    This can't wait: after 'Close' and its 2 min, 'Measure' begins within 10 min. Start nothing of
    it that you can't finish in time; if it is too late all the same, go on, and write the real time
    beside it. Everything else can wait until the next lesson.
    >>> print(order_kept([], [("Brew", "5 min", "take it out")], misses=["Bake"])[begin:])
    This can't wait: after 'Brew' and its 5 min, take it out. Start nothing of it that you can't
    finish in time; if it is too late all the same, go on, and write the real time beside it. What
    isn't ready at the end of this lesson misses 'Bake', done before the next one: write down its
    code, and tell whoever does that.
    >>> print(order_kept([], last=True)[begin:])
    This is the last lesson: what isn't done at its end needs one lesson more. Go on there in the
    same order, and write the day beside each reading.
    """
    cant = [*(_limit(*one) for one in limits), *(_ended(*one) for one in by_hand)]
    told = [
        say(
            "Versions and orders were drawn by chance. Keep to the order; where you couldn't, "
            "write it down with the time. If you are late, go on where you stopped, in the same "
            "order."
        )
    ]
    if cant:
        told.append(
            say(
                "This can't wait: {each}. Start nothing of it that you can't finish in time; if it "
                "is too late all the same, go on, and write the real time beside it.",
                each="; ".join(cant),
            )
        )
    if misses and not last:
        steps = listing([say("'{step}'", step=step) for step in misses])
        told.append(
            say(
                "What isn't ready at the end of this lesson misses {steps}, done before the next "
                "one: write down its code, and tell whoever does that.",
                steps=steps,
            )
        )
    if last:
        told.append(say(LAST_LESSON))
    elif others or not misses:
        rest = cant or misses
        told.append(say(ELSE_CAN_WAIT if rest else ALL_CAN_WAIT))
    return " ".join(told)


def _ended(step: str, waits: str, do: str) -> str:
    if do:
        return say("after '{step}' and its {waits}, {do}", step=step, waits=waits, do=do)
    return say(
        "after '{step}' and its {waits}, somebody ends the waiting by hand", step=step, waits=waits
    )


def _limit(step: str, waits: str, after: str, within: str) -> str:
    if waits:
        before = say("after '{step}' and its {waits}", step=step, waits=waits)
    else:
        before = say("after '{step}'", step=step)
    if within:
        return say(
            "{before}, '{after}' begins within {time}", before=before, after=after, time=within
        )
    return say("{before}, '{after}' begins at once", before=before, after=after)
