"""What is told after measurements were taken in: how many are in, what is missing, what is next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trials.words.numbers import count, listing, plural

_NAMED = 8  # codes that one line names
_PLACES = 6  # sessions or teams that are listed one by one


def in_sentence(item: str, here: int, planned: int, failed: int, lost: int) -> str:
    """Return how many items are in; failed and lost ones counted apart.

    Examples
    --------
    >>> in_sentence("cell", 44, 48, 3, 1)
    '44 of 48 cells are in: 41 measured, 3 that did not work. 1 more is lost.'
    >>> in_sentence("cell", 48, 48, 0, 0)
    'All 48 cells are in.'
    """
    if here == planned and not failed:
        return f"All {count(planned, item)} are in." if planned > 1 else f"The {item} is in."
    who = f"{here} of {planned} {plural(item)} {'is' if here == 1 else 'are'} in"
    if failed:
        who += f": {here - failed} measured, {failed} that did not work"
    more = f" {lost} more {'is' if lost == 1 else 'are'} lost." if lost else ""
    return f"{who}.{more}"


def places_lines(places: Sequence[tuple[str, str, int, int]]) -> list[str]:
    """Return how many items of each session or team are in, where some are not.

    ``places``: (group, member, in, planned).

    Examples
    --------
    >>> places_lines([("session", "S1", 8, 8), ("session", "S2", 0, 8), ("team", "alder", 8, 16)])
    ['By session: S1 8 of 8, S2 0 of 8.']
    """
    groups: dict[str, list[tuple[str, int, int]]] = {}
    for group, member, here, planned in places:
        groups.setdefault(group, []).append((member, here, planned))
    lines = []
    for group, mine in groups.items():
        lacking = [one for one in mine if one[1] < one[2]]
        if len(mine) > 1 and lacking:
            told = mine if len(mine) <= _PLACES else lacking[:_PLACES]
            each = ", ".join(f"{member} {here} of {planned}" for member, here, planned in told)
            lines.append(f"By {group}: {each}.")
    return lines


def missing_lines(item: str, missing: Mapping[str, Sequence[str]], folder: str) -> list[str]:
    """Return which items are missing, under the place where each should be.

    Parameters
    ----------
    folder : of the study, as it has to be typed.

    Examples
    --------
    >>> missing_lines("cell", {"session S1, team alder": ["K7", "M2"]}, "cells")
    ['Missing: 2 cells. What never will be measured: trials lost cells ITEM --why ...',
     '    session S1, team alder: K7 and M2']
    """
    total = sum(map(len, missing.values()))
    if not total:
        return []
    told = f"What never will be measured: trials lost {folder} ITEM --why ..."
    lines = [f"Missing: {count(total, item)}. {told}"]
    for place, codes in missing.items():
        named = listing(codes) if len(codes) <= _NAMED else (
            f"{', '.join(codes[:_NAMED])} and {len(codes) - _NAMED} more"
        )  # fmt: skip
        lines.append(f"    {place}: {named}" if place else f"    {named}")
    return lines


def fewer_lines(fewer: Sequence[tuple[str, int, int]]) -> list[str]:
    """Return which items have fewer readings than planned: (item, readings, planned).

    Examples
    --------
    >>> fewer_lines([("XX7", 1, 3)]), fewer_lines([])
    (['XX7 has 1 of 3 readings.'], [])
    >>> fewer_lines([("XX7", 1, 3), ("K7", 2, 3)])
    ['Fewer readings than planned: XX7 has 1 of 3 and K7 2 of 3.']
    """
    if not fewer:
        return []
    (item, here, planned), *others = fewer
    if not others:
        return [f"{item} has {here} of {planned} readings."]
    told = [f"{item} has {here} of {planned}"]
    told += [f"{one} {n} of {most}" for one, n, most in others[: _NAMED - 1]]
    if len(others) >= _NAMED:
        return [f"Fewer readings than planned: {', '.join(told)} and "
                f"{len(others) + 1 - _NAMED} more."]  # fmt: skip
    return [f"Fewer readings than planned: {listing(told)}."]


def questions_sentence(must: int, others: int, kinds: Sequence[tuple[str, int]]) -> str:
    """Return how many questions are open, those that hold something back first.

    Examples
    --------
    >>> questions_sentence(1, 2, [("signs", 1), ("unusual numbers", 2)])
    '3 questions are open. 1 must be settled: until then it holds back what it is about. They are
    about: signs (1), unusual numbers (2).'
    """
    total = must + others
    if not total:
        return "No question is open."
    told = f"{count(total, 'question')} {'is' if total == 1 else 'are'} open."
    if must:
        holds = "it holds back what it is" if must == 1 else "they hold back what they are"
        which = "It" if must == total == 1 else "All" if must == total else str(must)
        told += f" {which} must be settled: until then {holds} about."
    listed = ", ".join(f"{about} ({n})" for about, n in kinds)
    return f"{told} {'It is' if total == 1 else 'They are'} about: {listed}."
