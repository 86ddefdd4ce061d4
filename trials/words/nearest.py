"""Impossible requests: what can't all hold, and what each change that helps would cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trials.words.numbers import count, listing, plural

NOTHING_NEAR = "no single change of study.toml that the program tried makes it possible"


def conflict_heading(lines: int, *, smallest: bool) -> str:
    """Return the sentence above the lines that can't all hold.

    Examples
    --------
    >>> conflict_heading(3, smallest=True)
    'These 3 lines cannot all hold, and no fewer lines are to blame:'
    >>> conflict_heading(1, smallest=True)
    'This line cannot hold with what is compared:'
    """
    if lines == 1:
        return "This line cannot hold with what is compared:"
    told = f"These {lines} lines cannot all hold"
    return f"{told}, and no fewer lines are to blame:" if smallest else f"{told}:"


def number_words(item: str, old: int, new: int) -> str:
    """Return what another number of items means.

    Examples
    --------
    >>> number_words("slide", 12, 14), number_words("slide", 13, 12)
    ('2 more slides (14 instead of 12)', '1 slide fewer (12 instead of 13)')
    """
    by = abs(new - old)
    if by == 0:
        return f"{count(new, item)}, and no limit below that"
    what = f"{by} more {item if by == 1 else plural(item)}" if new > old else _fewer(by, item)
    return f"{what} ({new} instead of {old})"


def copies_words(item: str, old: int, new: int, items: int) -> str:
    """Return what fewer or more copies of every recipe mean.

    Examples
    --------
    >>> copies_words("cup", 3, 2, 12)
    'every recipe 2 times instead of 3 (12 cups)'
    """
    times = "once" if new == 1 else f"{new} times"
    return f"every recipe {times} instead of {old} ({count(items, item)})"


def group_words(group: str, within: str, old: int, new: int) -> str:
    """Return what another number of a group means.

    Examples
    --------
    >>> group_words("firing", "session", 4, 5), group_words("pot", "", 3, 2)
    ('1 more firing in each session (5 instead of 4)', '1 pot fewer (2 instead of 3)')
    """
    by = abs(new - old)
    where = f" in each {within}" if within else ""
    what = f"{by} more {group if by == 1 else plural(group)}" if new > old else _fewer(by, group)
    return f"{what}{where} ({new} instead of {old})"


def room_words(group: str, item: str, old: int, new: int) -> str:
    """Return what more room in each member of a group means.

    Examples
    --------
    >>> room_words("firing", "slide", 6, 7)
    'room for 7 slides in each firing (instead of 6)'
    """
    return f"room for {count(new, item)} in each {group} (instead of {old})"


def size_words(group: str, item: str, old: tuple[int, ...], new: tuple[int, ...]) -> str:
    """Return what other sizes of a group's members mean.

    Examples
    --------
    >>> size_words("firing", "slide", (6, 7), (6, 6))
    'firings of 6 and 6 slides instead of 6 and 7'
    """
    sizes, before = (listing([str(size) for size in some]) for some in (new, old))
    return f"{plural(group)} of {sizes} {plural(item)} instead of {before}"


def given_up_words(code: str, what: str = "", old: str = "") -> str:
    """Return what a change that gives something up means.

    Examples
    --------
    >>> given_up_words("factor", "heat"), given_up_words("level", "dye", "blue")
    ('without the factor heat', 'without the version blue of dye')
    """
    return {
        "sizes_deleted": f"every {what} of the same size",
        "ban": f"one ban fewer: {old} may be made",
        "required": f"one required combination fewer: {old} need not be made",
        "part": "some recipes are left out",
        "singly": "each factor by itself: what factors do together is not asked",
        "part_singly": "some recipes are left out, and what factors do together is not asked",
        "level": f"without the version {old} of {what}",
        "factor": f"without the factor {what}",
    }[code]


def edit_line(keys: tuple[str, ...], heading: str, written: str | None) -> str:
    """Return how to change one line of study.toml.

    Parameters
    ----------
    keys : of the line; ``heading`` it stands under and the line as ``written``; None: to delete.

    Examples
    --------
    >>> edit_line(("limits", "items"), "[limits]", "items = 14")
    'in [limits] write items = 14'
    >>> edit_line(("limits", "copies"), "[limits]", None)
    'in [limits] delete copies'
    >>> edit_line(("factors", "heat"), "[factors.heat]", None)
    'delete [factors.heat] and what stands under it'
    >>> edit_line(("steps", "heat", "factors"), "[steps.heat]", None)
    'in the step "heat" delete factors'
    """
    if written is None and len(keys) == 2 and keys[0] != "limits":
        return f"delete {heading} and what stands under it"
    where = f'in the step "{keys[1]}"' if keys[0] == "steps" else f"in {heading}"
    return f"{where} delete {keys[-1]}" if written is None else f"{where} write {written}"


def combination_words(combination: Mapping[str, str]) -> str:
    """Return a combination in words.

    Examples
    --------
    >>> combination_words({"heat": "oven", "soak": "2"})
    'heat oven with soak 2'
    """
    return " with ".join(f"{name} {level}" for name, level in combination.items())


def member_ban_words(ban: Mapping[str, str], groups: Sequence[str]) -> str:
    """Return what it means to give up what is forbidden to a member of some groups.

    Examples
    --------
    >>> member_ban_words({"team": "T3", "heat": "burner"}, ["team"])
    'one ban fewer: somebody else does that step for team T3, which then may have heat burner'
    """
    who = combination_words({name: ban[name] for name in groups})
    what = combination_words({name: ban[name] for name in ban if name not in groups})
    return f"one ban fewer: somebody else does that step for {who}, which then may have {what}"


def _fewer(by: int, noun: str) -> str:
    return f"{count(by, noun)} fewer"
