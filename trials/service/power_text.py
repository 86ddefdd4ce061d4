"""What a study can find, and how many it needs, as lines to read on a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trials.design.howmany import Curve, SizePoint
from trials.design.simulation import Share, SimulatedTest, SimulatedVerdict, Simulation
from trials.design.values import AuditFinding, Detectable, Plan
from trials.render.table import Cell, Column, Table, to_text
from trials.report.power_plot import chance_labels, told_curves, unit_label
from trials.study import Response, Study, labels_of
from trials.words.judging import never_sentence, shown_size, size_text, term_label
from trials.words.naming import version_name
from trials.words.numbers import capital, count, listing, plural

BAR = 10  # signs of a bar: one for every tenth of the repeats


def found_lines(study: Study, plan: Plan, detectable: Sequence[Detectable]) -> list[str]:
    """Return a table for each response: what shows, and how often, at the present size."""
    lines: list[str] = []
    for response in study.responses:
        rows = [row for row in detectable if row.response == response.name]
        if rows:
            lines += ["", *to_text(_found(study, plan, response, rows))]
    return lines


def _found(study: Study, plan: Plan, response: Response, rows: Sequence[Detectable]) -> Table:
    labels = labels_of(study)
    ratio = response.compare == "ratio"
    sizes = [x for x in (response.worthwhile, response.expected) if x is not None]
    power = {
        (row.term, row.difference, row.spread): row.power
        for row in plan.power
        if row.response == response.name
    }
    columns = [
        Column("changed"),
        Column("shows 8 times in 10"),
        Column("9 times in 10"),
        *(
            Column(f"{size_text(size, ratio=ratio, unit=response.unit)} shows", kind="percent")
            for size in sizes
        ),
    ]
    uneven = bool(plan.groups) and bool(sizes)
    if uneven:
        columns += [Column("groups half as different", kind="percent"),
                    Column("twice as different", kind="percent")]  # fmt: skip
    cells: list[tuple[Cell, ...]] = []
    for row in rows:
        if row.spread != "given":
            continue
        own: list[Cell] = [
            term_label(row.term, labels),
            shown_size(row.at_80, ratio=ratio, unit=response.unit),
            shown_size(row.at_90, ratio=ratio, unit=response.unit),
            *(power.get((row.term, size, "given")) for size in sizes),
        ]
        if uneven:
            own += [power.get((row.term, sizes[-1], how)) for how in ("half", "twice")]
        cells.append(tuple(own))
    crossed = any(":" in row.term for row in rows)
    notes = [
        "Shows: the difference stands out from chance, in so many of 100 repeats of the study."
        + (" A line with × is about whether one thing depends on the other." if crossed else "")
    ]
    if uneven:
        last = size_text(sizes[-1], ratio=ratio, unit=response.unit)
        notes.append(
            f"Last two columns: {last}, if groups differ half or twice as much as you think."
        )
    label = response.label or response.name
    caption = f"What differences in {label} would show"
    return Table(f"found_{response.name}", caption, tuple(columns), tuple(cells), tuple(notes))


def how_many_lines(study: Study, curves: Sequence[Curve]) -> list[str]:
    """Return how many are needed: tables for the main response, a sentence for each other."""
    main = told_curves(study, curves)
    lines: list[str] = []
    for curve in main:
        lines += ["", *_curve_lines(study, curve)]
    others = [curve for curve in curves if curve not in main]
    for response in study.responses:
        own = [curve for curve in others if curve.response == response.name]
        if own:
            lines += ["", f"How many, for {response.label or response.name} (tables: --json):"]
            for curve in own:
                told = " ".join(_answers(study, curve))
                lines.append(f"  {capital(labels_of(study)[curve.factor])}: {told}")
    return lines


def clear_findings(plan: Plan) -> tuple[AuditFinding, ...]:
    """Return the findings of the fair-test check that say how many give a clear answer."""
    return tuple(
        found for found in plan.audit if found.code == "no_verdict" and "needed" in found.facts
    )


def clear_lines(study: Study, plan: Plan) -> list[str]:
    """Return how many give a clear answer in 8 of 10 repeats, as the fair-test check says too."""
    labels = labels_of(study)
    lines = []
    for found in clear_findings(plan):
        facts = found.facts
        things = study.item_name if facts["unit"] is None else labels[facts["unit"]]
        made = (
            "" if facts["unit"] is None else f" ({count(facts['items'], study.item_name)} in all)"
        )
        about = listing([labels[name] for name in facts["names"]])
        lines.append(
            f"For a clear answer about {about} in {facts['response']}, 8 times in 10: plan "
            f"{count(facts['needed'], things)} or more{made}."
        )
    return ["", *lines] if lines else []


def _curve_lines(study: Study, curve: Curve) -> list[str]:
    response = study.response(curve.response)
    chances = chance_labels(response)
    units, items = unit_label(study, curve), plural(study.item_name)
    columns = [Column("a version", f"{units} a version")]
    if curve.unit is not None:
        columns.append(Column("units", f"{units} in all", kind="count"))
    columns.append(Column("items", f"{items} in all", kind="count"))
    columns += [Column(name, _short(name, text), kind="percent") for name, text in chances.items()]
    columns += [Column("shows 8 times in 10"), Column("", _bar_heading(chances))]
    rows = tuple(_row(curve, point, response, chances) for point in curve.points)
    title = f"{capital(labels_of(study)[curve.factor])}: how many {units} a version?"
    return [*to_text(Table(f"how_many_{curve.factor}", title, tuple(columns), rows)),
            *_answers(study, curve)]  # fmt: skip


def _bar_heading(chances: Mapping[str, str]) -> str:
    return next(iter(chances.values()), "")


def _short(name: str, text: str) -> str:
    """Return a heading for a table: the verdicts by their words."""
    return {"expected_settled": "'mattered'", "none_settled": "'no difference'"}.get(name, text)


def _row(
    curve: Curve, point: SizePoint, response: Response, chances: Mapping[str, str]
) -> tuple[Cell, ...]:
    now = " (now)" if point.times == 1.0 else ""
    cells: list[Cell] = [f"{point.per_level:.3g}{now}"]
    if curve.unit is not None:
        cells.append(point.units)
    cells.append(point.items)
    cells += [getattr(point, name) for name in chances]
    cells.append(shown_size(point.at_80, ratio=response.compare == "ratio", unit=response.unit))
    first = next(iter(chances), None)
    cells.append("" if first is None else bar(getattr(point, first)))
    return tuple(cells)


def bar(chance: float | None) -> str:
    """Return a chance as a bar of ten signs.

    Examples
    --------
    >>> bar(0.72), bar(None)
    ('#######...', '')
    """
    if chance is None:
        return ""
    full = round(BAR * chance)
    return "#" * full + "." * (BAR - full)


def _answers(study: Study, curve: Curve) -> list[str]:
    """Return from how many on each chance is enough, in sentences."""
    units = unit_label(study, curve)
    out = []
    response = study.response(curve.response)
    for name, text in chance_labels(response).items():
        point = curve.first(name)
        if _is_never(curve, name):
            unmade = curve.unmade if name == "none_settled" else ()
            pairs = [_told_pair(study, pair) for pair in unmade]
            out.append(never_sentence(text, pairs, study.item_name))
        elif point is None:
            most = f"{curve.points[-1].per_level:.3g} {units} a version are too few"
            out.append(f"{capital(text)}: {most}.")
        else:
            out.append(
                f"{capital(text)}: 8 times in 10 from {point.per_level:.3g} {units} a version on "
                f"({point.items} {plural(study.item_name)} in all)."
            )
    if curve.unit is not None:
        group = labels_of(study)[curve.unit]
        out.append(
            f"More {plural(study.item_name)} in the same {units} help little: this is set for a "
            f"whole {group}, so {units} count."
        )
    return out


def _is_never(curve: Curve, chance: str) -> bool:
    """Return whether no size at all gives an answer, and not only none of those looked at."""
    values = [getattr(point, chance) for point in curve.points]
    if any(values):
        return False
    return all(value is None for value in values) or (
        chance == "none_settled" and bool(curve.unmade)
    )


def _told_pair(study: Study, pair: Mapping[str, str]) -> tuple[str, str]:
    """Return two versions that are never made together, each with its variable."""
    labels = labels_of(study)
    one, other = (
        f"{labels[name]}: {version_name(level, study.factor(name).unit)}"
        for name, level in pair.items()
    )
    return one, other


def simulation_lines(study: Study, simulation: Simulation) -> list[str]:
    """Return what came out of the simulated studies beside what was calculated."""
    lines: list[str] = []
    for response in study.responses:
        tests = [test for test in simulation.tests if test.response == response.name]
        verdicts = [one for one in simulation.verdicts if one.response == response.name]
        if tests:
            lines += ["", *to_text(_tests_table(study, response, tests, simulation.studies))]
        if verdicts:
            lines += ["", *to_text(_verdicts_table(study, response, verdicts))]
    if lines:
        lines += [
            "",
            f"Each of the {simulation.studies} studies was made up by chance (seed "
            f"{simulation.seed}) from this plan and the spread you gave, then analysed like a real "
            "one. Another seed moves a share by about the number after ±.",
        ]
    return lines


def _tests_table(
    study: Study, response: Response, tests: Sequence[SimulatedTest], studies: int
) -> Table:
    labels = labels_of(study)
    columns = (
        Column("changed"),
        Column("if the true difference is"),
        Column("calculated", kind="percent", decimals=1),
        Column("simulated"),
    )
    rows = tuple(
        (
            term_label(test.term, labels),
            _truth(response, test.truth, test.difference),
            test.found.calculated,
            _simulated(test.found),
        )
        for test in tests
    )
    label = response.label or response.name
    caption = f"In how many of 100 repeats a difference in {label} shows: {studies} simulated"
    return Table(f"simulated_{response.name}", caption, columns, rows, (), 2)


def _verdicts_table(
    study: Study, response: Response, verdicts: Sequence[SimulatedVerdict]
) -> Table:
    labels = labels_of(study)
    columns = (
        Column("changed"),
        Column("if the true difference is"),
        Column("mattered", kind="percent", decimals=1),
        Column("simulated"),
        Column("no practical difference", kind="percent", decimals=1),
        Column("simulated too", "simulated"),
    )
    rows = tuple(
        (
            labels[one.factor],
            _truth(response, one.truth, one.difference),
            one.mattered.calculated,
            _simulated(one.mattered),
            one.no_practical_difference.calculated,
            _simulated(one.no_practical_difference),
        )
        for one in verdicts
    )
    label = response.label or response.name
    return Table(
        f"simulated_verdicts_{response.name}", f"The answers about {label}", columns, rows, (), 2
    )


def _truth(response: Response, truth: str, difference: float) -> str:
    if truth == "zero":
        return "none"
    return size_text(difference, ratio=response.compare == "ratio", unit=response.unit)


def _simulated(share: Share) -> str:
    return f"{100 * share.simulated:.1f} ± {100 * share.error:.1f}"
