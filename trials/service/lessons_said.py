"""What ``trials lessons`` is told of teams and equipment, beside what the timetable remembers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trials.classroom.arrange import maker_group
from trials.design.values import Away, Missing, Timetable, in_short, missing_in
from trials.errors import PlanError
from trials.files import as_typed
from trials.record import Absence
from trials.service.codes import nearest
from trials.service.opening import Opened
from trials.study import Study
from trials.study.check_lessons import pieces_in_all
from trials.words.numbers import listing

_KINDS = ("team", "equipment")


@dataclass(frozen=True)
class Less:
    """Equipment that is out of order from a lesson on.

    ``kept``: lesson by lesson, for the timetable. ``fewer``: pieces less of each from that lesson
    on; ``said``: what of it was said just now. ``known``: was named although none was left.
    ``there``: was said to be out of order from a later lesson on, and counts as there.
    """

    kept: tuple[Missing, ...]
    fewer: Mapping[str, int]
    said: Mapping[str, int]
    known: tuple[str, ...]
    there: tuple[Missing, ...]


def less_equipment(
    study: Study, told: Timetable, since: int, without: Sequence[str], back: Sequence[str]
) -> Less:
    """Return what is out of order from a lesson on: what was before, what is now, what is back.

    Raises
    ------
    PlanError : there is no such equipment, not so much of it, or not so much is out of order.
    """
    without = _equipment(study, without)
    earlier = [one for one in told.missing if one.since <= since]
    later = [one for one in told.missing if one.since > since and one.equipment not in back]
    there = {one.name: pieces_in_all(study, one) for one in study.equipment}
    now = Counter(missing_in(earlier, since))
    for name, times in Counter(back).items():
        if times > max(now[name], 1):
            raise _not_so_many(name, times, now[name])
        now[name] = max(0, now[name] - times)
    known: list[str] = []
    for name in without:
        if now[name] < there[name]:
            now[name] += 1
        else:
            known.append(name)
    names = sorted({*now, *(one.equipment for one in earlier)})
    here = [Missing(equipment=name, pieces=now[name], since=since) for name in names]
    more = {one.equipment: one for one in reversed(later) if one.pieces > now[one.equipment]}
    return Less(
        in_short((*earlier, *here)),
        {name: pieces for name, pieces in now.items() if pieces},
        Counter(without) - Counter(known),
        tuple(dict.fromkeys(known)),
        tuple(more.values()),
    )


def away_teams(
    opened: Opened,
    told: Timetable,
    since: int,
    said: tuple[Sequence[str], Sequence[str]],
    absences: Sequence[Absence],
) -> tuple[tuple[Away, ...], tuple[Away, ...], tuple[Away, ...]]:
    """Return which teams are away, and those that were said to be from a later lesson on.

    Last come those that were said to be away and of which that was known.

    Parameters
    ----------
    told : the timetable so far, which keeps who was away.
    said : teams that are away by now, as they were typed, and teams that are back.

    Raises
    ------
    PlanError : there is no such team, it made nothing, or none would be left.
    """
    away, back = said
    missing = {one.team for one in absences if not one.session}
    known = {one.team: one for one in told.away if one.team not in {*missing, *back}}
    over = {team: one for team, one in known.items() if one.since <= since}
    maker = maker_group(opened.plan)
    teams = maker.members if maker else ()
    found = dict(over)
    said_now = _teams(away, teams)
    for team in said_now:
        found.setdefault(team, Away(team=team, since=since))
        if team in missing:
            raise _refused_absent(opened, team)
    if found and not set(teams) - set(found) - missing:
        raise PlanError(
            "No team is left.",
            code="lessons.team",
            where="--away",
            found=listing(list(found)),
            allowed="fewer teams than there are",
            do="Leave out a team that is there, or say which one is back: --back TEAM",
        )
    there = tuple(one for team, one in known.items() if team not in found)
    return tuple(found.values()), there, tuple(over[team] for team in said_now if team in over)


def back_again(
    opened: Opened, told: Timetable, since: int, names: Sequence[str], absences: Sequence[Absence]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the teams and the equipment that are back, of those that the timetable remembers.

    Equipment comes as often as it is named, a team once. ``team=NAME`` and ``equipment=NAME`` say
    which of the two is meant.

    Raises
    ------
    PlanError : nothing of that name is remembered, or a team and equipment are.
    """
    maker = maker_group(opened.plan)
    absent = {one.team for one in absences if not one.session}
    away = [one.team for one in told.away if one.team not in absent]
    teams = _names(away, maker.members if maker else ())
    later = (one.equipment for one in told.missing if one.pieces and one.since > since)
    gone = list(dict.fromkeys((*missing_in(told.missing, since), *later)))
    pieces = _called(opened.study, gone)
    found: tuple[list[str], list[str]] = [], []
    for text in names:
        kind, equals, rest = text.partition("=")
        kind = kind.strip() if equals and kind.strip() in _KINDS else ""
        key = (rest if kind else text).strip().casefold()
        meant = [known.get(key) if kind in ("", mine) else None
                 for mine, known in zip(_KINDS, (teams, pieces), strict=True)]  # fmt: skip
        if all(meant):
            raise _either(text)
        if not any(meant):
            raise _not_gone(text, key, away, gone, opened.study)
        for mine, name in zip(found, meant, strict=True):
            mine.extend([name] if name else [])
    return tuple(dict.fromkeys(found[0])), tuple(found[1])


def _names(allowed: Sequence[str], every: Sequence[str]) -> dict[str, str]:
    """Return teams by what people may call them: by name, or by number among all teams."""
    teams = {team.casefold(): team for team in allowed}
    for number, team in enumerate(every, 1):
        if team in allowed:
            teams.setdefault(str(number), team)
    return teams


def _teams(names: Sequence[str], every: Sequence[str]) -> tuple[str, ...]:
    """Return teams that are away as the plan spells them, each once."""
    teams = _names(every, every)
    for text in names:
        if text.strip().casefold() not in teams:
            raise _no_team(text, every, "--away", "There is no such team.")
    return tuple(dict.fromkeys(teams[text.strip().casefold()] for text in names))


def _no_team(text: str, allowed: Sequence[str], where: str, what: str) -> PlanError:
    near = nearest(text, list(allowed))
    return PlanError(
        what,
        code="lessons.team",
        where=where,
        found=text,
        allowed=listing(list(allowed), "or") or "no team",
        do=f"Did you mean '{near}'?" if near else "Name the team that isn't there.",
    )


def _not_gone(
    text: str, key: str, away: Sequence[str], gone: Sequence[str], study: Study
) -> PlanError:
    named = {name.casefold() for one in study.equipment for name in (one.name, one.label) if name}
    if key not in named and not gone:
        return _no_team(text, away, "--back", "No such team is away.")
    near = nearest(text, [*away, *gone])
    return PlanError(
        "It isn't out of order." if key in named else "No such team or equipment is missing.",
        code="lessons.back",
        where="--back",
        found=text,
        allowed=listing([*away, *gone], "or") or "nothing: no team is away, nothing out of order",
        do=f"Did you mean '{near}'?" if near else "Name what was missing and is there again.",
    )


def _either(text: str) -> PlanError:
    return PlanError(
        "A team and a piece of equipment of this name are missing.",
        code="lessons.back",
        where="--back",
        found=text,
        allowed=f"team={text} or equipment={text}",
        do="Say which of the two is back, or name both, each with its own --back.",
    )


def _not_so_many(name: str, times: int, pieces: int) -> PlanError:
    return PlanError(
        "Not so many are out of order.",
        code="lessons.back",
        where="--back",
        found=f"{name}, {times} times",
        allowed=f"{name}, at most {max(pieces, 1)}",
        do="Name each piece once that is there again.",
    )


def _refused_absent(opened: Opened, team: str) -> PlanError:
    return PlanError(
        "It is known of this team that it made nothing.",
        code="lessons.absent",
        where="--away",
        found=team,
        allowed="a team that was there before",
        do=f"If it was there, take that back: trials absent {as_typed(opened.here.folder)} {team} "
        '--undo --why "..." --by CODE',
    )


def _equipment(study: Study, texts: Sequence[str]) -> tuple[str, ...]:
    """Return the equipment that is named, by its name or what people call it."""
    called = _called(study, [one.name for one in study.equipment])
    named = tuple(called.get(text.strip().casefold(), text) for text in texts)
    there = {one.name: pieces_in_all(study, one) for one in study.equipment}
    for name, times in Counter(named).items():
        if name not in there or times > there[name]:
            near = nearest(name, list(there)) if name not in there else ""
            raise PlanError(
                "There is no such equipment." if name not in there else "There are not so many.",
                code="lessons.equipment",
                where="--without",
                found=name if times == 1 else f"{name}, {times} times",
                allowed=", ".join(f"{one} ({count})" for one, count in there.items())
                or "study.toml names no equipment under [equipment.NAME]",
                do=f"Did you mean '{near}'?" if near else "Name what is out of order.",
            )
    return named


def _called(study: Study, names: Sequence[str]) -> dict[str, str]:
    """Return equipment of some names by what people may call it."""
    labels = {one.name: one.label for one in study.equipment}
    return {text.casefold(): name for name in names for text in (labels.get(name), name) if text}
