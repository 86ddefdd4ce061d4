"""Placing works in time, by OR-tools' CP-SAT.

One worker, a fixed seed and a limit counted in work rather than in seconds: the same call gives the
same answer on every machine, fast or slow.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from trials.classroom.values import Fitting, Placement, Room, Slot, Work
from trials.classroom.work import Job

EFFORT = 6.0  # CP-SAT's deterministic units for the shortest timetable
FIRST_EFFORT = 0.5  # for a first one that will do, where the search for it finds none
IDLE_EFFORT = 0.5  # and for the fewest idle hands at that length
LATE_EFFORT = 0.5  # and to place late what keeps for a while only
SPARE = 60  # minutes to spare, where there are some, before what keeps until a lesson is too old
LYING = 2  # idle minutes that are as bad as one in which something waits that soon is too old
FITTING_EFFORT = 3.0  # and for the most items that fit
_EVER = 10**6  # minutes, nearly two years
_SLACK = 1e-6  # of a bound that is a whole number
_DAY = 24 * 60


@dataclass
class _Model:
    """The model while it is built."""

    model: Any
    works: Sequence[Work]
    room: Room
    starts: list[Any] = field(default_factory=list)
    whole: bool = True  # each session is measured in one lesson
    done: Mapping[int, int] = field(default_factory=dict)  # work -> when it was done
    since: int | None = None  # nothing else starts before
    there: list[Any] = field(default_factory=list)  # whether each is done at all; empty: it is


def place(
    job: Job,
    room: Room,
    *,
    whole: bool = True,
    effort: float = EFFORT,
    spread: bool = True,
    trial: bool = False,
    done: Mapping[int, int] = MappingProxyType({}),
    since: int | None = None,
) -> Placement:
    """Place all works in the lessons of a room: over as soon as possible, then few idle hands.

    Together with that, what keeps only for a short time is begun late.

    Parameters
    ----------
    whole : each session is measured within one lesson; else only no two in the same lesson.
    effort : limit of the search, in CP-SAT's deterministic units.
    spread : go on to the fewest idle hands.
    trial : the first placement found will do, as it is only asked whether there is one.
    done : works, by index, that were done already, and when each began; they stay there and take
        nothing of what there is now.
    since : minute before which nothing else starts; None: any time. Where a time between lessons
        begins with it, what is placed there comes on the last days on which it can be done: some of
        that time is over by now.

    Returns
    -------
    A placement; the same for the same works and room.
    """
    from ortools.sat.python import cp_model

    built = _Model(cp_model.CpModel(), job.works, room, whole=whole, done=done)
    built.since = since
    if not _add_starts(built):
        return Placement("impossible")
    _add_rules(built, job)
    finish = built.model.new_int_var(0, room.starts[-1] + room.minutes, "")
    for start, work in zip(built.starts, job.works, strict=True):
        if not work.between:
            built.model.add(finish >= start + work.minutes)
    if trial:
        values = _from_the_end(built)
        if values is not None:
            return _placed(built, values, 0)
    built.model.minimize(finish)
    solver = _solver(effort)
    solver.parameters.stop_after_first_solution = trial
    status = solver.solve(built.model)
    if status == cp_model.UNKNOWN and not trial:
        values = _from_the_end(built)
        if values is not None:  # the search goes on from there
            _hint(built, values)
            status = solver.solve(built.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Placement("impossible" if status == cp_model.INFEASIBLE else "not found")
    values = [solver.value(start) for start in built.starts]
    best = solver.value(finish)
    bound = best if status == cp_model.OPTIMAL else int(solver.best_objective_bound)
    if spread and not trial:
        values = _on_the_last_days(built, _fewer_idle(built, finish, best, values))
        values = _together_and_late(built, values)
    return _placed(built, values, bound)


def _placed(built: _Model, values: Sequence[int], bound: int) -> Placement:
    """Return where everything is; ``bound``: minute before which it can't be over."""
    works, room = built.works, built.room
    pairs = list(zip(values, works, strict=True))
    best = max((at + work.minutes for at, work in pairs if not work.between), default=0)
    lessons, ends = _taught(room, max(0, best))
    return Placement(
        "proved" if best <= bound else "found",
        tuple(Slot(at, _lesson(room, at, work)) for at, work in pairs),
        lessons,
        ends,
        _taught(room, bound)[1],
    )


def _from_the_end(built: _Model) -> list[int] | None:
    """Return when each may start, found from the end: last things first, each as late as can be.

    What can't lie long is then where it has to be, and what comes before it gives way. That finds a
    timetable of many works in a moment, or none: it is not a good one, and proves nothing.
    """
    from ortools.sat.python import cp_model

    model = built.model.clone()
    model.clear_objective()
    model.add_decision_strategy(
        built.starts[::-1], cp_model.CHOOSE_HIGHEST_MAX, cp_model.SELECT_MAX_VALUE
    )
    solver = _solver(FIRST_EFFORT)
    solver.parameters.search_branching = cp_model.FIXED_SEARCH
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return [solver.value(start) for start in built.starts]


def _hint(built: _Model, values: Sequence[int]) -> None:
    built.model.clear_hints()
    for at, (start, value) in enumerate(zip(built.starts, values, strict=True)):
        if at not in built.done:  # a constant, of which each may be named once only
            built.model.add_hint(start, value)


def most_items(
    job: Job,
    room: Room,
    *,
    alike: Sequence[Collection[str]] = (),
    at_most: Iterable[tuple[Collection[str], int]] = (),
    done: Mapping[int, int] = MappingProxyType({}),
    since: int | None = None,
) -> Fitting:
    """Return the most items that can be done in a room; of equal numbers the best balanced ones.

    What goes together takes as long and as much room as if nothing of it were left out.

    Parameters
    ----------
    alike : sets of items of which about equally many should be done, such as those of one version.
    at_most : sets of items of which it is known that no more than so many can be done.
    done, since : as for :func:`place`.
    """
    from ortools.sat.python import cp_model

    built = _Model(cp_model.CpModel(), job.works, room, whole=False, done=done, since=since)
    items = tuple(dict.fromkeys(item for work in job.works for item in work.items))
    kept = {item: built.model.new_bool_var("") for item in items}
    for work in job.works:
        mine = [kept[item] for item in work.items]
        built.there.append(mine[0] if len(mine) == 1 else built.model.new_bool_var(""))
        if len(mine) > 1:
            built.model.add_max_equality(built.there[-1], mine)
    _add_starts(built)
    _add_rules(built, job)
    for some, most in at_most:
        built.model.add(sum(kept[item] for item in some) <= most)
    built.model.maximize(sum(kept.values()))
    solver = _solver(FITTING_EFFORT)
    status = solver.solve(built.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Fitting((), items, len(items))
    done_then = {item: solver.boolean_value(one) for item, one in kept.items()}
    number, bound = sum(done_then.values()), int(solver.best_objective_bound + _SLACK)
    for item, one in kept.items():
        built.model.add_hint(one, done_then[item])
    for at, start in enumerate(built.starts):
        if at not in done:
            built.model.add_hint(start, solver.value(start))
    built.model.clear_objective()
    built.model.add(sum(kept.values()) == number)
    built.model.minimize(sum(_squared(built, [kept[i] for i in one if i in kept]) for one in alike))
    if solver.solve(built.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        done_then = {item: solver.boolean_value(one) for item, one in kept.items()}
    sized = any(len(work.items) > 1 and at not in done for at, work in enumerate(job.works))
    return Fitting(
        tuple(item for item in items if done_then[item]),
        tuple(item for item in items if not done_then[item]),
        len(items) if sized else bound,
    )


def _squared(built: _Model, truths: Sequence[Any]) -> Any:
    """Return the square of how many are true, for an objective that makes it small."""
    square = built.model.new_int_var(0, len(truths) ** 2, "")
    for number in range(1, len(truths) + 1):  # the lines through neighbouring whole numbers
        built.model.add(square >= (2 * number - 1) * sum(truths) - number * (number - 1))
    return square


def _add_rules(built: _Model, job: Job) -> None:
    _add_chains(built)
    _add_orders(built, job.orders)
    _add_room(built)
    _add_flames(built)
    _add_flames_around(built)
    _add_sessions(built, job.sessions)


def _solver(effort: float) -> Any:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    # it would take Ctrl-C over and not give it back: the next one would kill the program
    solver.parameters.catch_sigint_signal = False
    return solver


def _windows(room: Room, work: Work) -> list[tuple[int, int]]:
    """Return the first and last start of a work in each lesson, or each time between lessons."""
    if work.between:
        long = max([work.minutes, *(work.lasts(name) for name, _ in work.places)])
        seen = room.supervised(work)
        found = [
            (begin, min(end - seen, room.gap(number)[1] - long))
            for number in range(len(room.starts) + 1)
            for begin, end in room.opened(number)
        ]
        return [(first, last) for first, last in found if first <= last]
    last = room.minutes - room.tidy - work.minutes - work.attended
    if last < room.put_out:
        return []
    return [(start + room.put_out, start + last) for start in room.starts]


def _add_starts(built: _Model) -> bool:
    """Add when each work may start; whether there is such a time for all that must be done."""
    from ortools.sat.python import cp_model

    for index, work in enumerate(built.works):
        if index in built.done:
            built.starts.append(built.model.new_constant(built.done[index]))
            continue
        windows = _windows(built.room, work)
        if built.since is not None:
            later = [(max(first, built.since), last) for first, last in windows]
            windows = [(first, last) for first, last in later if first <= last]
        if not windows and not built.there:
            return False
        if not windows:
            built.model.add(built.there[index] == 0)
            windows = [(built.room.gap(0)[0], built.room.starts[-1])]  # wherever others leave it
        domain = cp_model.Domain.from_intervals([list(window) for window in windows])
        built.starts.append(built.model.new_int_var_from_domain(domain, ""))
    return True


def _where_done(built: _Model, constraint: Any, *works: int) -> None:
    """Let a constraint hold only where these works are done."""
    if built.there:
        constraint.only_enforce_if([built.there[at] for at in works])


def _add_chains(built: _Model) -> None:
    for at, (work, start) in enumerate(zip(built.works, built.starts, strict=True)):
        for index in work.after:
            before = built.works[index]
            over = built.starts[index] + before.minutes + before.waiting
            _where_done(built, built.model.add(start >= over), at, index)
            if before.keeps is not None:
                late = built.model.add(start <= over + before.keeps)
                _where_done(built, late, at, index)


def _add_orders(built: _Model, orders: Iterable[Sequence[int]]) -> None:
    for order in orders:
        left = [index for index in order if index not in built.done]
        for first, second in itertools.pairwise(left):
            built.model.add(built.starts[first] <= built.starts[second])


def _add_room(built: _Model) -> None:
    """No crew does more at a time than it can, and no equipment holds more, its own or shared."""
    model = built.model
    crews: dict[str, list[Any]] = defaultdict(list)
    people: dict[str, list[int]] = defaultdict(list)
    places: dict[tuple[str, str], list[tuple[Any, int]]] = defaultdict(list)
    for index, work in enumerate(built.works):
        if index in built.done:
            continue
        if work.minutes:
            crews[work.crew].append(_interval(built, index, work.minutes))
            people[work.crew].append(work.people)
        for name, taken in work.places:
            if work.lasts(name):
                used = (_interval(built, index, work.lasts(name)), taken)
                places[name, built.room.whose(name, work.crew)].append(used)
    for crew, intervals in crews.items():
        if built.room.crews[crew] == 1:
            model.add_no_overlap(intervals)
        else:
            model.add_cumulative(intervals, [1] * len(intervals), built.room.crews[crew])
        there = built.room.people.get(crew)
        if there is not None and max(people[crew]) * built.room.crews[crew] > there:
            model.add_cumulative(intervals, people[crew], there)
    for (name, _), uses in places.items():
        intervals = [interval for interval, _ in uses]
        model.add_cumulative(intervals, [taken for _, taken in uses], built.room.places[name])


def _interval(built: _Model, index: int, size: int) -> Any:
    model, start = built.model, built.starts[index]
    if not built.there:
        return model.new_fixed_size_interval_var(start, size, "")
    return model.new_optional_fixed_size_interval_var(start, size, built.there[index], "")


def _in_lesson(built: _Model, index: int) -> list[Any]:
    """Return one truth for each lesson: whether a work is in it."""
    room, model = built.room, built.model
    found = []
    for start in room.starts:
        inside = model.new_bool_var("")
        begin, end = start, start + room.minutes
        model.add(built.starts[index] >= begin).only_enforce_if(inside)
        model.add(built.starts[index] <= end).only_enforce_if(inside)
        found.append(inside)
    model.add_exactly_one(found)
    return found


def _add_flames(built: _Model) -> None:
    """Never a flame and something that catches fire in one lesson."""
    works = [
        (at, work)
        for at, work in enumerate(built.works)
        if not work.between and at not in built.done
    ]
    flames = [at for at, work in works if work.flame]
    open_ = [at for at, work in works if work.flammable]
    if not flames or not open_:
        return
    lit = [built.model.new_bool_var("") for _ in built.room.starts]
    for index in flames:
        for inside, here in zip(_in_lesson(built, index), lit, strict=True):
            _where_done(built, built.model.add_implication(inside, here), index)
    for index in open_:
        for inside, here in zip(_in_lesson(built, index), lit, strict=True):
            _where_done(built, built.model.add_implication(inside, ~here), index)


def _add_flames_around(built: _Model) -> None:
    """A flame burns and something that catches fire is out one after the other, waiting and all.

    So they are never out at one time between lessons, nor where one of them goes on into a lesson.
    """
    works = list(enumerate(built.works))
    model = built.model
    for at, flame in works:
        for other, liquid in works:
            if not (flame.flame and liquid.flammable) or {at, other} <= built.done.keys():
                continue
            if at == other and flame.between:
                _where_done(built, model.add_bool_or([]), at)
            elif at != other and _may_meet(built.room, flame, liquid):
                first = model.new_bool_var("")
                for one, two, when in ((at, other, first), (other, at, ~first)):
                    over = built.starts[one] + built.works[one].whole
                    apart = model.add(built.starts[two] >= over)
                    there = [built.there[at], built.there[other]] if built.there else []
                    apart.only_enforce_if([when, *there])


def _may_meet(room: Room, one: Work, other: Work) -> bool:
    """Whether two works can go on at one time where no two are in one lesson."""
    if one.between and other.between:
        return True
    gaps = [late - early - room.minutes for early, late in itertools.pairwise(room.starts)]
    spared = 0 if one.between or other.between else min(gaps, default=0)
    return max(one.waiting, other.waiting) > spared


def _add_sessions(built: _Model, sessions: Sequence[str]) -> None:
    """Sessions are measured one after another, never two in one lesson."""
    model = built.model
    numbers = range(len(built.room.starts))
    lasts: list[Any] = []
    for session in sessions:
        mine = [at for at, work in enumerate(built.works) if session and work.session == session]
        if not mine:
            continue
        spare = len(sessions) if built.there else 0  # beyond the lessons, if nothing of it is done
        most = len(built.room.starts) - 1 + spare
        first, last = (model.new_int_var(-spare, most, "") for _ in range(2))
        for index in mine:
            inside = _in_lesson(built, index)
            number = sum(at * truth for at, truth in zip(numbers, inside, strict=True))
            _where_done(built, model.add(number >= first), index)
            _where_done(built, model.add(number <= last), index)
        if built.whole:
            model.add(first == last)
        if lasts:
            model.add(first > lasts[-1])
        lasts.append(last)


def _fewer_idle(built: _Model, finish: Any, best: int, values: Sequence[int]) -> list[int]:
    """Return starts with the same end, works close together, and little lying too long.

    Where something keeps only for a short time, each minute that it lies without need counts as
    ``LYING`` idle ones, and one of the longest such time as much for each. So it is begun late, all
    lie about equally long, and have time to spare before it is too late.
    """
    from ortools.sat.python import cp_model

    model = built.model
    model.clear_objective()
    model.add(finish <= best)
    _hint(built, values)
    idle = sum(at for at, work in zip(built.starts, built.works, strict=True) if not work.between)
    waits = _lying(built)
    if waits:
        longest = model.new_int_var(0, max(most for _, most in waits), "")
        for wait, _ in waits:
            model.add(wait <= longest)
        idle += LYING * (sum(wait for wait, _ in waits) + len(waits) * longest)
    model.minimize(idle)
    solver = _solver(IDLE_EFFORT)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return list(values)
    return [solver.value(start) for start in built.starts]


def _lying(built: _Model) -> list[tuple[Any, int]]:
    """Return how long each thing that keeps only for a short time lies without need, and may lie.

    That is for less than a lesson lasts, where both steps are in lessons and still to be done.
    """
    found = []
    for at, work in enumerate(built.works):
        for index in work.after if not work.between else ():
            before = built.works[index]
            short = before.keeps is not None and 0 < before.keeps < built.room.minutes
            if short and not before.between and index not in built.done:
                over = built.starts[index] + before.minutes + before.waiting
                found.append((built.starts[at] - over, before.keeps or 0))
    return found


def _on_the_last_days(built: _Model, values: Sequence[int]) -> list[int]:
    """Return starts with what is in the first time between lessons late: on the last days it can.

    Everything else stays.
    """
    number = None if built.since is None else _gap_at(built.room, built.since)
    begin, end = (0, 0) if number is None else built.room.gap(number)
    mine = {
        at
        for at, work in enumerate(built.works)
        if work.between and at not in built.done and begin <= values[at] <= end
    }
    if number is None or not mine:
        return list(values)
    return _late(built, values, mine, number)


def _together_and_late(built: _Model, values: Sequence[int]) -> list[int]:
    """Return starts with what is done before a lesson, and keeps for a while only, late.

    One right after another, so that all lie about equally long; everything else stays.
    """
    steps: dict[tuple[int, str], set[int]] = defaultdict(set)
    for at in _to_spare(built, values):
        steps[_gap_at(built.room, values[at]), built.works[at].step].add(at)
    for (number, _), mine in steps.items():
        values = _late(built, values, mine, number, together=True)
    return list(values)


def _to_spare(built: _Model, values: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Return of what is done before a lesson, and keeps for a while only, when it should begin.

    First and last minute: it is ready when the lesson begins, and there are ``SPARE`` minutes, or
    half of the time that it keeps, before it is too old.
    """
    found: dict[int, tuple[int, int]] = {}
    for at, work in enumerate(built.works):
        for index in work.after if not work.between else ():
            before = built.works[index]
            if before.between and before.keeps and index not in built.done:
                over = before.minutes + before.waiting
                oldest = values[at] - over - before.keeps + min(SPARE, before.keeps // 2)
                ready = built.room.gap(_gap_at(built.room, values[index]))[1] - over
                found[index] = max(oldest, found.get(index, (oldest, 0))[0]), ready
    return found


def _late(
    built: _Model,
    values: Sequence[int],
    mine: Collection[int],
    number: int,
    *,
    together: bool = False,
) -> list[int]:
    """Return starts with some works before a lesson on the last days on which they can be done.

    Not in the last minutes: on these days they are as early as can be, and there is time to spare.
    """
    from ortools.sat.python import cp_model

    should = {at: span for at, span in _to_spare(built, values).items() if at in mine}
    for spared, day in itertools.product((True, False), _days_before(built.room, number)):
        model = built.model.clone()
        model.clear_objective()
        model.clear_hints()
        for at, start in enumerate(built.starts):
            model.add(start >= day if at in mine else start == values[at])
        for at, (first, last) in should.items() if spared else ():
            model.add_linear_constraint(built.starts[at], first, last)
        starts = [built.starts[at] for at in mine]
        model.minimize(sum(starts) + (len(mine) * _span(model, starts) if together else 0))
        solver = _solver(LATE_EFFORT)
        if solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return [solver.value(start) for start in built.starts]
    return list(values)


def _span(model: Any, starts: Sequence[Any]) -> Any:
    """Return the minutes from the first to the last of some starts."""
    first, last = (model.new_int_var(-_EVER, _EVER, "") for _ in range(2))
    model.add_min_equality(first, starts)
    model.add_max_equality(last, starts)
    return last - first


def _days_before(room: Room, number: int) -> list[int]:
    """Return when each day before a lesson begins on which somebody is there, from the last on."""
    if room.hours:
        return [begin for begin, _ in reversed(room.opened(number))]
    begin, end = room.gap(number)
    return [*range(end - _DAY, begin, -_DAY), begin]


def _gap_at(room: Room, at: int) -> int:
    """Return before which lesson, counted from 0, a minute between lessons is."""
    return next(
        number for number in range(len(room.starts) + 1)
        if room.gap(number)[0] <= at <= room.gap(number)[1]
    )  # fmt: skip


def _lesson(room: Room, at: int, work: Work) -> int:
    if work.between:
        return _gap_at(room, at)
    return next(n for n, start in enumerate(room.starts) if start <= at <= start + room.minutes)


def _taught(room: Room, moment: int) -> tuple[int, int]:
    """Return how many lessons have begun at a moment, and the minutes of lessons until then."""
    begun = [start for start in room.starts if start < moment]
    if not begun:
        return 0, 0
    return len(begun), (len(begun) - 1) * room.minutes + min(moment - begun[-1], room.minutes)
