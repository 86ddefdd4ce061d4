"""The part for judges and teachers: method, checks, full tables, where everything came from."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any

from trials.analysis.findings import Comparison, Effect, Mean, ResponseFindings
from trials.render.blocks import Block, Bullets, Paragraph, Section
from trials.render.table import Cell, Column, Table
from trials.report import plots
from trials.report.story import Story, short_code, slug
from trials.words.methods import MethodFacts, method_sentences, note_text
from trials.words.numbers import capital, count, listing, number, plural, significant

_DF_NAMES = MappingProxyType(
    {
        "strata": "the strata",
        "kenward-roger": "Kenward and Roger",
        "satterthwaite": "Satterthwaite",
        "residual": "the residual",
    }
)


def method_section(story: Story) -> Section:
    """Return how it was done: design, record and analysis."""
    blocks: list[Block] = [
        Paragraph(" ".join(_design(story)), "Design"),
        Paragraph(" ".join(_record(story)), "Record"),
    ]
    for found in story.responses:
        text = " ".join(method_sentences(_method_facts(story, found)))
        blocks.append(Paragraph(text, f"Analysis of {story.response_label(found.name)}"))
        notes = tuple(dict.fromkeys(_notes(story, found)))
        if notes:
            blocks.append(Bullets(notes))
    blocks.append(Paragraph(_verdict_rule(), "Verdicts"))
    blocks.append(Paragraph(" ".join(_origin(story)), "Where it came from"))
    return Section("method", "How it was done", tuple(blocks))


def _design(story: Story) -> list[str]:
    plan, study = story.plan, story.study
    recipes = len({tuple(sorted(row.factors.items())) for row in plan.rows})
    parts = [
        f"{story.factor_label(factor.name)} ({len(factor.levels)} versions, applied to "
        f"each {story.unit_group(factor.name) or story.item})"
        for factor in study.factors
    ]
    groups = [
        f"{count(len(group.members), story.group_label(group.path))}"
        + (f" within {story.group_label(group.within)}" if group.within else "")
        for group in plan.groups
    ]
    sentences = [
        f"{capital(plan.family)}: {listing(parts)}; {count(recipes, 'recipe')} on "
        f"{count(len(plan.rows), story.item)}.",
        f"Groups: {listing(groups)}." if groups else f"No groups: each {story.item} on its own.",
        "The order of making and, apart from it, the order of measuring were drawn by chance.",
    ]
    if plan.shuffle.size is not None:
        bound = "" if plan.shuffle.exact else "at least "
        sentences.append(
            f"The layout was drawn from {bound}{significant(plan.shuffle.size, 3)} layouts with "
            f"equal chance (seed {plan.seed}; {count(len(plan.seeds_tried), 'seed')} tried)."
        )
    else:
        sentences.append(f"Seed {plan.seed}; {count(len(plan.seeds_tried), 'seed')} tried.")
    if plan.locked:
        sentences.append(f"The plan was locked on {plan.locked}, before any result was known.")
    return sentences


def _record(story: Story) -> list[str]:
    sentences = []
    for found in story.responses:
        label = story.response_label(found.name)
        sentences.append(
            f"{capital(label)}: {count(found.n_readings, 'reading')} of "
            f"{count(found.n_items, story.item)} that worked; {found.n_failed} failed, "
            f"{found.n_lost} lost. Readings of one {story.item} were averaged and never count as "
            "replicates."
        )
        rule = story.study.response(found.name).failed
        if rule is not None and rule.text:
            sentences.append(f"Failed means, set beforehand: {rule.text}")
    n = len(story.measured.corrections)
    sentences.append(f"{capital(count(n, 'value'))} corrected or set aside by hand.")
    return sentences


def _method_facts(story: Story, found: ResponseFindings) -> MethodFacts:
    method = found.method
    tested = tuple(
        (story.term_label(effect.term), _stratum(story, effect))
        for effect in found.effects
        if effect.stratum is not None
    )
    return MethodFacts(
        estimator=method.estimator,
        df=method.df,
        sums=method.sums,
        bounded=method.bounded,
        scale=found.scale,
        confidence=story.study.analysis.confidence,
        adjustments=tuple(dict.fromkeys(one.adjustment for one in found.comparisons)),
        tested_on=tested,
        item=story.item,
    )


def _stratum(story: Story, effect: Effect) -> str:
    """Return the unit that a term was tested on: "firing within session"."""
    if effect.stratum is None:
        return ""
    strata = (effect.stratum,) if isinstance(effect.stratum, str) else effect.stratum
    return " and ".join(_path(story, path) for path in strata)


def _path(story: Story, path: str) -> str:
    return " within ".join(story.group_label(part) for part in reversed(path.split("/")))


def _notes(story: Story, found: ResponseFindings) -> list[str]:
    labels = story.labels()
    told = [f"{capital(note_text(note, labels))}." for note in found.method.notes]
    for effect in found.effects:
        told += [
            f"{capital(story.term_label(effect.term))}: {note_text(note, labels)}."
            for note in effect.notes
        ]
    return told


def _verdict_rule() -> str:
    return (
        "With d the smallest difference worth caring about, declared beforehand, and the "
        "simultaneous intervals of all pairs: 'mattered' if some interval lies wholly beyond d on "
        "either side; 'made no practical difference' if every interval lies inside, also within "
        "each version of every variable it may interact with; else 'not settled'. On the ratio "
        "scale the band runs from 1/d to d."
    )


def _origin(story: Story) -> list[str]:
    findings = story.findings
    return [
        f"Plan check code {short_code(story.plan.digest())}, record check code "
        f"{short_code(findings.record_digest)}, study check code "
        f"{short_code(story.study.digest())} (first letters of SHA-256 digests).",
        f"Analysed with trials {findings.program_version}; report made by trials {story.version} "
        f"on {story.today.isoformat()}.",
    ]


def checks_section(story: Story) -> Section:
    """Return the check figures and what the diagnostics say."""
    blocks: list[Block] = []
    for found in story.responses:
        figure = plots.leftovers(story, found)
        if figure is not None:
            blocks.append(figure)
        table = _diagnostics(story, found)
        if table is not None:
            blocks.append(table)
    if not blocks:
        blocks.append(Paragraph("Nothing was fitted, so there is nothing to check."))
    return Section("checks", "Checks of the model", tuple(blocks))


def _diagnostics(story: Story, found: ResponseFindings) -> Table | None:
    rows = tuple(_flat(found.diagnostics))
    if not rows:
        return None
    columns = (Column("what"), Column("value", kind="significant", digits=4))
    caption = f"Diagnostics of {story.response_label(found.name)}, shown and never used as gates"
    return Table(f"{slug(found.name)}-diagnostics", caption, columns, rows)


def _flat(value: Any, path: str = "") -> list[tuple[Cell, ...]]:
    """Return nested diagnostics as rows of a name and a number or word."""
    if isinstance(value, dict):
        return [
            row
            for key, inner in value.items()
            for row in _flat(inner, f"{path}, {key}" if path else str(key))
        ]
    if isinstance(value, list | tuple):
        return [row for i, inner in enumerate(value, 1) for row in _flat(inner, f"{path} {i}")]
    name = path.replace("_", " ")
    if isinstance(value, bool):
        return [(name, "yes" if value else "no")]
    return [(name, value if isinstance(value, int | float | str) else None)]


def tables_section(story: Story) -> Section:
    """Return every number: effects, averages, comparisons, components, items."""
    inner = [_response_tables(story, found) for found in story.responses]
    everything = Section(
        "items",
        f"All {plural(story.item)}",
        tuple(items_table(story, response.name) for response in story.study.responses),
    )
    return Section("tables", "Full tables", (), (*inner, everything))


def _response_tables(story: Story, found: ResponseFindings) -> Section:
    blocks: list[Block] = [_effects(story, found)]
    if found.variance_components:
        blocks.append(_components(story, found))
    blocks += [_means(story, found), _comparisons(story, found)]
    if found.failures:
        blocks.append(_failures(story, found))
    label = story.response_label(found.name)
    return Section(f"{slug(found.name)}-tables", capital(label), tuple(blocks))


def _effects(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("term"),
        Column("stratum", "tested on"),
        Column("num_df", "df", kind="count"),
        Column("den_df", "den. df", kind="significant", digits=4),
        Column("f", "F", kind="significant", digits=4),
        Column("p", kind="p"),
        Column("p_randomisation", "p, shuffle", kind="p"),
        Column("partial_omega_sq", "partial ω²", kind="number", decimals=3),
        Column("partial_eta_sq", "partial η²", kind="number", decimals=3),
        Column("eta_from", "η² from", kind="number", decimals=3),
        Column("eta_to", "η² to", kind="number", decimals=3),
    )
    rows = tuple(
        (
            story.term_label(effect.term),
            _stratum(story, effect),
            effect.num_df,
            effect.den_df,
            effect.f,
            effect.p,
            effect.p_randomisation if effect.p_randomisation is not None
            else effect.p_permutation,
            effect.partial_omega_sq,
            effect.partial_eta_sq,
            *(effect.partial_eta_sq_interval or (None, None)),
        )
        for effect in found.effects
    )  # fmt: skip
    exact = [story.term_label(e.term) for e in found.effects if e.exact]
    approximate = [
        story.term_label(e.term)
        for e in found.effects
        if not e.exact and (e.p_randomisation is not None or e.p_permutation is not None)
    ]
    notes = [f"Type {found.method.sums} tests; df by {_DF_NAMES[found.method.df]}."]
    if exact:
        notes.append(
            f"p, shuffle: the plan's own shuffle, exact for {listing(exact)} under 'no effect, "
            "interactions included'."
        )
    if approximate:
        notes.append(
            f"p, shuffle: approximate for {listing(approximate)} (Freedman and Lane 1983)."
        )
    name = f"{slug(found.name)}-effects"
    return Table(name, "Effects", columns, rows, tuple(notes))


def _components(story: Story, found: ResponseFindings) -> Table:
    unit = "" if found.scale == "ratio" else f"({found.unit})²" if found.unit else ""
    columns = (
        Column("group", "between"),
        Column("variance", unit=unit, kind="significant", digits=4),
        Column("unbounded", "before the cut at 0", unit, "significant", 4),
        Column("at_boundary", "at boundary"),
    )
    rows = tuple(
        (
            plural(_path(story, c.group)) if "/" not in c.group else _path(story, c.group),
            c.variance,
            c.unbounded,
            "yes" if c.at_boundary else "no",
        )
        for c in found.variance_components
    )
    notes = ("Variances of the natural log.",) if found.scale == "ratio" else ()
    return Table(f"{slug(found.name)}-components", "Variance components", columns, rows, notes)


def _means(story: Story, found: ResponseFindings) -> Table:
    mean = "geometric mean" if found.scale == "ratio" else "mean"
    log = " (log)" if found.scale == "ratio" else ""
    columns = (
        Column("term"),
        Column("levels"),
        Column("n", kind="count"),
        Column("mean", mean, found.unit, "significant", 4),
        Column("se", f"se{log}", "" if log else found.unit, "significant", 3),
        Column("df", kind="significant", digits=3),
        Column("from", unit=found.unit, kind="significant", digits=4),
        Column("to", unit=found.unit, kind="significant", digits=4),
    )
    rows = tuple(
        (
            story.term_label(m.term),
            _levels(story, m),
            m.n,
            m.mean,
            m.se,
            m.df,
            *m.interval,
        )
        for m in found.means
    )
    note = (
        f"{number(100 * story.study.analysis.confidence, 2).rstrip('0').rstrip('.')} % intervals, "
        "not adjusted for several means; equally weighted over the other variables."
    )
    return Table(f"{slug(found.name)}-means", "Means", columns, rows, (note,), heads=2)


def _levels(story: Story, mean: Mean) -> str:
    return ", ".join(story.short_level(f, level) for f, level in mean.levels.items())


def _comparisons(story: Story, found: ResponseFindings) -> Table:
    ratio = found.scale == "ratio"
    unit = "" if ratio else found.unit
    columns = (
        Column("a", "version"),
        Column("b", "minus" if not ratio else "over"),
        Column("estimate", "ratio" if ratio else "difference", unit, "significant", 4),
        Column("from", unit=unit, kind="significant", digits=4),
        Column("to", unit=unit, kind="significant", digits=4),
        Column("se", "se (log)" if ratio else "se", unit, "significant", 3),
        Column("df", kind="significant", digits=3),
        Column("p", kind="p"),
        Column("p_adjusted", "p adj.", kind="p"),
        Column("adjustment", "adj."),
        Column("hedges_g", "Hedges g", kind="number", decimals=2),
        Column("g_from", "g from", kind="number", decimals=2),
        Column("g_to", "g to", kind="number", decimals=2),
    )
    rows = tuple(_comparison_row(story, found, one) for one in found.comparisons)
    notes = (
        "From and to: simultaneous intervals within each family of pairs. Hedges g is "
        "standardised by the spread from the variable's unit down to the item.",
    )
    return Table(f"{slug(found.name)}-comparisons", "Comparisons", columns, rows, notes, heads=2)


def _comparison_row(story: Story, found: ResponseFindings, one: Comparison) -> tuple[Cell, ...]:
    def name(levels: dict[str, str]) -> str:
        return ", ".join(story.level(f, level) for f, level in levels.items())

    return (
        name(one.a),
        name(one.b),
        one.ratio if found.scale == "ratio" else one.difference,
        *one.interval_adjusted,
        one.se,
        one.df,
        one.p,
        one.p_adjusted,
        one.adjustment.capitalize(),
        one.hedges_g,
        *(one.hedges_g_interval or (None, None)),
    )


def _failures(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("variable"),
        Column("version"),
        Column("made", kind="count"),
        Column("failed", kind="count"),
        Column("p", kind="p"),
    )
    rows = tuple(
        (
            story.factor_label(table.factor),
            story.short_level(table.factor, level),
            made,
            table.failed.get(level, 0),
            table.p,
        )
        for table in found.failures
        for level, made in table.made.items()
    )
    name = f"{slug(found.name)}-failures"
    note = "p: exact test that respects the groups of the plan."
    return Table(name, "Failed items by version", columns, rows, (note,), heads=2)


def items_table(story: Story, response: str) -> Table:
    """Return every item of the plan with its value of one response."""
    plan = story.plan
    unit = story.study.response(response).unit
    columns = (
        Column("item", story.item),
        Column("run", "made", kind="count"),
        *(Column(group.name, story.group_label(group.path)) for group in plan.groups),
        *(
            Column(f.name, story.factor_label(f.name), "" if f.unit == "1" else f.unit)
            for f in plan.factors
        ),
        Column("readings", "readings", kind="count"),
        Column("value", "value", unit, "significant", 4),
        Column("uncertainty", "±", unit, "significant", 2),
        Column("status"),
    )
    values = story.statuses(response)
    rows: list[tuple[Cell, ...]] = []
    for row in sorted(plan.rows, key=lambda r: r.run):
        value = values.get(row.item)
        rows.append(
            (
                row.item,
                row.run,
                *(row.groups[group.name] for group in plan.groups),
                *(row.factors[factor.name] for factor in plan.factors),
                value.readings if value else 0,
                value.value if value else None,
                value.uncertainty if value else None,
                value.status if value else "unmeasured",
            )
        )
    label = story.response_label(response)
    note = "±: standard uncertainty of the value from its readings and meters, where known."
    return Table(f"{slug(response)}-items", capital(label), columns, tuple(rows), (note,))
