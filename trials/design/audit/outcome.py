"""What is measured and what is hoped for: which number decides, how read, and with what chances."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial

from trials.design.audit.sizes import MOST_TIMES, every_size
from trials.design.audit.view import Found, Mend, View, only_way
from trials.design.growing import MOST_ROWS
from trials.design.outlook import clear_chance, clear_chances_by_size
from trials.study.values import Response
from trials.words.controls import takes_the_best

CHANCE_WANTED = 0.8
ROUGH = 1.0  # doubt of an item's average over the spread of items, from which reading more pays
MOST_READINGS = 10


def no_primary(view: View) -> Iterator[Found]:
    """No response is said to be the one that decides."""
    responses = view.study.responses
    if any(r.primary for r in responses):
        return
    only = responses[0].name if len(responses) == 1 else None
    yield Found(
        ("primary",),
        {"responses": [view.labels[r.name] for r in responses]},
        "note" if only else "warn",
        mends=only_way(("responses", only, "primary"), True) if only else None,
    )


def several_primary(view: View) -> Iterator[Found]:
    """Several responses are to decide: it is easy to pick the one that came out well."""
    primary = [r.name for r in view.study.responses if r.primary]
    if len(primary) > 1:
        others = tuple((("responses", name, "primary"), False) for name in primary[1:])
        yield Found(
            ("primary",),
            {"responses": [view.labels[name] for name in primary]},
            mends=lambda: iter((Mend(others),)),
        )


def no_failed_rule(view: View) -> Iterator[Found]:
    """It isn't said when an item counts as made but not working."""
    yield from _unsaid(view, [r for r in view.study.responses if r.failed is None])


def no_worthwhile(view: View) -> Iterator[Found]:
    """It isn't said how big a difference would matter."""
    if view.plan.factors:
        yield from _unsaid(view, [r for r in view.study.responses if r.worthwhile is None])


def no_spread(view: View) -> Iterator[Found]:
    """It isn't said how much like items differ."""
    if view.plan.factors:
        yield from _unsaid(view, [r for r in view.study.responses if r.spread is None])


def _unsaid(view: View, responses: list[Response]) -> Iterator[Found]:
    if responses:
        names = [r.name for r in responses]
        yield Found(tuple(names), {"responses": [view.labels[n] for n in names], "names": names})


def no_group_spread(view: View) -> Iterator[Found]:
    """It isn't said how much the units of some factor differ, so the chances are too good."""
    applied = {unit for unit in view.unit.values() if unit is not None}
    for response in view.study.responses:
        if response.spread is None:
            continue
        missing = sorted(applied - set(response.spread.groups))
        if missing:
            yield Found(
                (response.name,),
                {
                    "response": view.labels[response.name],
                    "name": response.name,
                    "groups": [view.labels[name] for name in missing],
                    "group_names": missing,
                },
            )


def best_of_many(view: View) -> Iterator[Found]:
    """Several readings are taken and one number is wanted: the best one will be picked."""
    steps = " ".join(step.text for step in view.study.steps if step.stage == "measure")
    for response in view.study.responses:
        one_of = response.reducer == "value" and response.readings > 1
        name = response.name
        if one_of:
            yield Found(
                (name,),
                {
                    "response": view.labels[name],
                    "readings": response.readings,
                    "name": name,
                    "told": False,
                },
                mends=only_way(("responses", name, "reducer"), "mean"),
            )
    if takes_the_best(steps):
        yield Found(("steps",), {"response": "", "readings": 0, "name": "", "told": True})


def rough_readings(view: View) -> Iterator[Found]:
    """The doubt of a reading is larger than the spread of the items: reading more often pays."""
    for response in view.study.responses:
        spread = response.spread
        if spread is None or spread.readings is None or response.reducer == "value":
            continue
        if spread.readings <= ROUGH * spread.items * math.sqrt(response.readings):
            continue
        needed = math.ceil((spread.readings / spread.items / ROUGH) ** 2)
        name = response.name
        yield Found(
            (name,),
            {
                "response": view.labels[name],
                "readings": response.readings,
                "needed": needed if needed <= MOST_READINGS else None,
            },
            mends=only_way(("responses", name, "readings"), needed)
            if needed <= MOST_READINGS
            else None,
        )


# ---- what was hoped for --------------------------------------------------------------------------


def expected_small(view: View) -> Iterator[Found]:
    """What is hoped for lies so near what would matter that the answer mostly stays open."""
    for response in view.study.responses:
        least, hoped = response.worthwhile, response.expected
        if least is None or hoped is None:
            continue
        ratio = response.compare == "ratio"
        near = math.log(hoped) < 2 * math.log(least) if ratio else hoped < 2 * least
        if near:
            yield Found(
                (response.name,),
                {
                    "response": view.labels[response.name],
                    "unit": response.unit,
                    "ratio": ratio,
                    "worthwhile": least,
                    "expected": hoped,
                    "half": math.sqrt(hoped) if ratio else hoped / 2,
                    "double": least**2 if ratio else least * 2,
                },
            )


def no_verdict(view: View) -> Iterator[Found]:
    """Often no clear answer, though a larger plan would give one."""
    for response in view.study.responses:
        weak = _weak(view, response)
        times = {name: _times(view, response, name) for name in weak}
        for unit in dict.fromkeys(view.unit[name] for name in weak):
            known = {n: t for n, t in times.items() if t is not None and view.unit[n] == unit}
            if known:
                guess = max(known.values())
                facts = _weak_facts(view, response, {name: weak[name] for name in known})
                yield Found(
                    (response.name, *known),
                    facts | {"names": list(known), "unit": unit},
                    mends=partial(_all_sizes, view, unit) if guess < math.inf else None,
                    settled=partial(_are_clear, response=response, factors=tuple(known)),
                    guess=guess * view.units.count(unit) if guess < math.inf else None,
                )


def _all_sizes(view: View, unit: str | None) -> Iterator[Mend]:
    return iter(every_size(view, unit))


def _are_clear(view: View, response: Response, factors: tuple[str, ...]) -> bool:
    """Return whether a plan gives clear answers on some factors often enough."""
    return all(
        clear_chance(view.study, view.ready, response, name) >= CHANCE_WANTED for name in factors
    )


def margin_unreachable(view: View) -> Iterator[Found]:
    """No clear answer even with ten times as many: the margin is too small for this spread."""
    for response in view.study.responses:
        weak = _weak(view, response)
        hopeless = {n: value for n, value in weak.items() if _times(view, response, n) is None}
        if hopeless:
            yield Found(
                (response.name, *hopeless),
                _weak_facts(view, response, hopeless) | {"times": MOST_TIMES},
            )


def _weak_facts(view: View, response: Response, weak: dict[str, float]) -> dict[str, object]:
    units = [view.unit_label(name) or view.study.item_name for name in weak]
    return {
        "response": view.labels[response.name],
        "factors": {view.labels[name]: value for name, value in weak.items()},
        "units": list(dict.fromkeys(units)),
    }


def _weak(view: View, response: Response) -> dict[str, float]:
    """Return the factors whose clear answer is not likely, with its best chance."""
    best: dict[str, float] = {}
    for chance in view.plan.verdict_chances:
        if chance.response == response.name:
            best[chance.factor] = max(best.get(chance.factor, 0.0), chance.clear)
    return {name: value for name, value in best.items() if value < CHANCE_WANTED}


def _times(view: View, response: Response, factor: str) -> float | None:
    """Return about how many times as many units would do; None: not even ten times.

    Infinite where nobody knows: a lopsided plan whose larger form can't be drawn at once. All
    variances are divided by the number, the degrees of freedom stay: rather too many.
    """
    key = (response.name, factor)
    if key not in view.times_needed:
        view.times_needed[key] = _searched_times(view, response, factor)
    return view.times_needed[key]


def _searched_times(view: View, response: Response, factor: str) -> float | None:
    chance = clear_chances_by_size(view.study, view.ready, response, factor)
    low, high = 1.0, float(MOST_TIMES)
    if chance(high) < CHANCE_WANTED:
        if _is_reached(view, response, factor):
            return high
        return math.inf if _is_open(view, factor) else None
    while high / low > 1.2:
        middle = math.sqrt(low * high)
        low, high = (low, middle) if chance(middle) >= CHANCE_WANTED else (middle, high)
    return high


def _is_reached(view: View, response: Response, factor: str) -> bool:
    """Return whether the plan ten times as large gives a clear answer often enough."""
    if view.units.n * MOST_TIMES > MOST_ROWS:
        return False
    return _are_clear(view.larger(view.unit[factor], MOST_TIMES), response, (factor,))


def _is_open(view: View, factor: str) -> bool:
    """Return whether a plan ten times as large might be better than this one ten times over."""
    if not view.lopsided:
        return False
    if view.units.n * MOST_TIMES > MOST_ROWS:
        return True
    return view.larger(view.unit[factor], MOST_TIMES).anew is None


# ---- what was not written down -------------------------------------------------------------------


def no_prediction(view: View) -> Iterator[Found]:
    """It isn't said what is expected to come out."""
    if view.plan.factors and not view.study.prediction.strip():
        yield Found(("prediction",), {})


def nothing_same(view: View) -> Iterator[Found]:
    """It isn't said what all items have in common."""
    if view.plan.factors and not view.study.same:
        yield Found(("same",), {})
