"""Checks of responses: numbers that make sense, one main response, a reducer that exists."""

from __future__ import annotations

import math

from trials.errors import StudyError
from trials.study.messages import Places, key_text, meant, shorten
from trials.study.positions import Path
from trials.study.values import Response, Spread, Study

MOST_READINGS = 100
_LARGEST_CV = 3.0  # 300 %; more is a percentage written without dividing by 100

_SMALLEST, _LARGEST = 1e-30, 1e30  # of a margin or a spread
_MOST_APART = 1e6  # a spread over that between items


def check_responses(study: Study, places: Places) -> None:
    """Refuse responses that can't be measured, compared or planned for.

    Raises
    ------
    StudyError : the first fault.
    """
    if not study.responses:
        raise places.error(
            ("responses",),
            "Nothing is measured in this study.",
            code="no_response",
            found="no [responses.NAME]",
            allowed="one response or more",
            do='Add [responses.NAME] and under it: unit = "m"',
        )
    for response in study.responses:
        base = ("responses", response.name)
        _check_reducer(response, base, places)
        _check_margins(response, base, places)
        if response.spread is not None:
            _check_spread(study, response, response.spread, places)
        _check_sizes(response, base, places)
        _check_ranges(response, base, places)
    _check_columns(study, places)
    _check_primary(study, places)


def _check_primary(study: Study, places: Places) -> None:
    primary = [response.name for response in study.responses if response.primary]
    if len(primary) == 1 or len(study.responses) == 1:
        return
    if primary:
        raise places.error(
            ("responses", primary[1], "primary"),
            "Two responses are marked as the main one.",
            code="several_primary",
            found=", ".join(shorten(name) for name in primary),
            allowed="primary = true at one response",
            do="Decide now, before measuring, which one answers the question.",
        )
    raise places.error(
        ("responses",),
        "None of the responses is marked as the main one.",
        code="no_primary",
        found=", ".join(shorten(response.name) for response in study.responses),
        allowed="primary = true at one response",
        do="Decide now, before measuring, which one answers the question; "
        "write primary = true under it.",
    )


def _check_reducer(response: Response, base: Path, places: Places) -> None:
    from trials.reduction import REDUCERS, setting_problems

    if response.reducer not in REDUCERS:
        raise places.error(
            (*base, "reducer"),
            "There is no such way of turning readings into one value.",
            code="unknown_reducer",
            found=shorten(response.reducer),
            allowed=", ".join(REDUCERS),
            do=meant(response.reducer, REDUCERS, "For the average of several readings write mean."),
        )
    known = tuple(setting.name for setting in REDUCERS[response.reducer].settings)
    for problem in setting_problems(response):
        unknown = problem.setting not in known
        do = meant(problem.setting, known, "Delete it.") if unknown else problem.do
        raise places.error(
            (*base, "settings", problem.setting),
            f"The reducer '{response.reducer}' knows no such setting."
            if unknown
            else f"The setting '{shorten(problem.setting)}' can't be used as it is.",
            code="setting",
            found=shorten(problem.setting if unknown else problem.found) or "nothing",
            allowed=problem.allowed,
            do=do,
        )


def _check_columns(study: Study, places: Places) -> None:
    """Refuse responses that want to read one column in two ways."""
    from trials.reduction import columns_of

    try:
        columns_of(study.responses)
    except StudyError as problem:
        raise StudyError(
            problem.what,
            code=problem.code,
            where=", ".join(part for part in (places.where, problem.where) if part),
            found=problem.found,
            allowed=problem.allowed,
            do=problem.do,
        ) from None


def _check_margins(response: Response, base: Path, places: Places) -> None:
    ratio = response.compare == "ratio"
    least = 1.0 if ratio else 0.0
    for key, value in (("worthwhile", response.worthwhile), ("expected", response.expected)):
        if value is None or value > least:
            continue
        raise places.error(
            (*base, key),
            f"'{key}' can't be this.",
            code=key,
            found=_number(value),
            allowed="a ratio above 1, such as 1.3 for 'by 30 %'" if ratio else "a number above 0",
            do=_margin_remedy(value, ratio),
        )
    if response.worthwhile and response.expected and response.expected < response.worthwhile:
        raise places.error(
            (*base, "expected"),
            "You expect less than what you would care about.",
            code="expected_below_worthwhile",
            found=f"expected {_number(response.expected)}, "
            f"worthwhile {_number(response.worthwhile)}",
            allowed="expected larger than worthwhile, best twice as large",
            do="Swap the two if they were mixed up; else lower worthwhile or raise expected.",
        )


def _margin_remedy(value: float, ratio: bool) -> str:
    if ratio and 0 < value < 1:
        return f"For 'by {_number(100 * value)} %' write {_number(1 + value)}."
    if value < 0:
        return f"Write it without the minus sign: {_number(-value)}."
    return "Write the smallest difference that would change what you do."


def _check_spread(study: Study, response: Response, spread: Spread, places: Places) -> None:
    base: Path = ("responses", response.name, "spread")
    ratio = response.compare == "ratio"
    numbers: list[tuple[Path, float]] = [((*base, "items"), spread.items)]
    if spread.readings is not None:
        numbers.append(((*base, "readings"), spread.readings))
    names = tuple(group.name for group in study.groups)
    for group, value in spread.groups.items():
        if group not in names:
            raise places.error(
                (*base, "groups", group),
                "A spread is given for a group that isn't there.",
                code="unknown_group",
                found=shorten(group),
                allowed=", ".join(names) or "no group has been named",
                do=meant(group, names, "Delete it, or mend the name."),
            )
        numbers.append(((*base, "groups", group), value))
    for path, value in numbers:
        zero_allowed = path[-1] != "items"
        if value < 0 or (value == 0 and not zero_allowed) or (ratio and value > _LARGEST_CV):
            percent = ratio and value > _LARGEST_CV
            raise places.error(
                path,
                f"The spread '{key_text(path[3:])}' can't be this.",
                code="spread",
                found=_number(value),
                allowed=("a share of the mean" if ratio else "a standard deviation")
                + (" of 0 or more" if zero_allowed else " above 0"),
                do=f"For {_number(value)} % write {_number(value / 100)}."
                if percent
                else "Write how much things made alike differ.",
            )


def _check_sizes(response: Response, base: Path, places: Places) -> None:
    """Refuse sizes that can't be computed with, alone or together."""
    sizes: list[tuple[Path, float]] = [
        ((*base, key), value)
        for key, value in (("worthwhile", response.worthwhile), ("expected", response.expected))
        if value is not None
    ]
    if response.spread is not None:
        sizes.append(((*base, "spread", "items"), response.spread.items))
    for path, value in sizes:
        if not _SMALLEST <= value <= _LARGEST:
            raise places.error(
                path,
                f"'{key_text(path[2:])}' has a size that can't be computed with.",
                code="size",
                found=_number(value),
                allowed=f"a size from {_SMALLEST:g} to {_LARGEST:g}",
                do="Correct it, or use a unit that suits the size of what is measured.",
            )
    if response.spread is not None:
        _check_apart(response.spread, (*base, "spread"), places)


def _check_apart(spread: Spread, base: Path, places: Places) -> None:
    """Refuse a spread so much larger than that between items that nothing could be told."""
    others: list[tuple[Path, float]] = [
        ((*base, "groups", group), value) for group, value in spread.groups.items()
    ]
    if spread.readings is not None:
        others.append(((*base, "readings"), spread.readings))
    for path, value in others:
        if value > _MOST_APART * spread.items:
            raise places.error(
                path,
                "Two spreads are so far apart that one of them must be wrong.",
                code="spreads_apart",
                found=f"{key_text(path[3:])} {_number(value)}, items {_number(spread.items)}",
                allowed=f"at most {_MOST_APART:,.0f} times that between items",
                do="Check the unit of both.",
            )


def _check_ranges(response: Response, base: Path, places: Places) -> None:
    if not 1 <= response.readings <= MOST_READINGS:
        raise places.error(
            (*base, "readings"),
            "The number of readings can't be this.",
            code="bad_number",
            found=str(response.readings),
            allowed=f"a whole number from 1 to {MOST_READINGS}",
            do="Write how often each item is read.",
        )
    low, high = response.low, response.high
    if low is not None and high is not None and low >= high:
        raise places.error(
            (*base, "high"),
            "The largest believable value is not above the smallest.",
            code="range",
            found=f"low {_number(low)}, high {_number(high)}",
            allowed="high larger than low",
            do="Swap the two, or mend the one that is wrong.",
        )
    failed = response.failed
    if failed is not None and high is not None and failed.below > high:
        raise places.error(
            (*base, "failed", "below"),
            "By this rule every item would have failed.",
            code="failed_rule",
            found=f"failed below {_number(failed.below)}, largest believable {_number(high)}",
            allowed="a number below 'high'",
            do="Check the unit of both numbers.",
        )
    if response.compare == "ratio" and low is not None and low < 0:
        raise places.error(
            (*base, "low"),
            "Ratios need values above 0, and the smallest believable value is below.",
            code="ratio_below_zero",
            found=_number(low),
            allowed="0 or more",
            do='Write compare = "difference", or low = 0.',
        )


def _number(value: float) -> str:
    if not math.isfinite(value):
        return str(value)
    return f"{value:.12g}"
