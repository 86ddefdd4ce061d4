"""Findings as lines to read on a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence

from trials.analysis.findings import (
    Comparison,
    Crossing,
    Findings,
    Levels,
    ResponseFindings,
    is_bent,
)
from trials.render.table import Column, Table, to_text
from trials.report.made import as_made_told, largest_pairs
from trials.words.checks import Names, member_name, sensitivity_sentences
from trials.words.comparing import Pair, gap_with_range
from trials.words.crossing import CrossFacts, crossing_sentence, distinct
from trials.words.extending import AFTER_LOOKING
from trials.words.further import (
    best_sentence,
    confirming_sentence,
    noise_sentence,
    step_text,
    trend_sentence,
)
from trials.words.methods import DEGREES_SHORT, ESTIMATORS_SHORT, drawn_sentence, note_text
from trials.words.naming import version_name
from trials.words.numbers import capital, count, listing, significant, with_unit
from trials.words.practice import WHERE_THE_LINE, WHERE_TO_PASTE, from_line
from trials.words.sentences import missing_sentence

HOW = "How it was worked out"
CAREFUL = ("adjusted_for", "differs_with", "settled_by")  # what stands beside the answers
MOST_ROWS = 8  # rows left out that are named


def findings_lines(findings: Findings, folder: str = "practice") -> list[str]:
    """Return what was found, response by response: the answers first, the tests last.

    ``folder``: name of the study folder, by which a study refers to a practice run.
    """
    if findings.practice:
        return _practice_lines(findings, folder)
    lines: list[str] = []
    for response in findings.responses:
        lines += ["", *_response_lines(response)]
    return lines[1:]


def _response_lines(response: ResponseFindings) -> list[str]:
    unit = f" ({response.unit})" if response.unit else ""
    lines = [f"{capital(response.name)}{unit}: {_counts(response)}"]
    lines += [f"  {text}" for text in _missing(response)]
    lines += [f"  {verdict.sentence}" for verdict in response.verdicts]
    lines += [f"  {verdict.sentence}" for verdict in response.other_verdicts]
    if "after_looking" in response.method.notes:
        lines += [f"  {AFTER_LOOKING}"]
        lines += [f"  New part alone: {verdict.sentence}" for verdict in response.new_part]
    lines += [f"  {verdict.sentence}" for verdict in response.moved_verdicts]
    if response.as_made is not None:
        pairs = largest_pairs(response, response.as_made.comparisons)
        gaps = [gap_with_range(_pair(one, response)) for _, one in pairs]
        lines += [f"  {as_made_told(response, response.as_made, gaps)}"]
    lines += [f"  {text}" for text in _hangs_on(response)]
    lines += [f"  {text}" for text in _pairs_told(response)]
    if not response.verdicts:
        facts = [_cross_facts(one, response) for one in response.crossings]
        lines += [f"  {crossing_sentence(one)}" for one in distinct(facts)]
    lines += [f"  {text}" for text in _further(response)]
    lines += [f"  Careful: {note_text(note)}." for note in response.method.notes
              if note.startswith(CAREFUL)]  # fmt: skip
    lines += [f"  Can't be worked out here: {what}" for what in response.not_estimable]
    lines += [f"  {text}" for text in _left_out(response)]
    lines += ["", f"  {HOW}:"]
    lines += [
        f"  {capital(note_text(note))}."
        for note in response.method.notes
        if not note.startswith(("open_questions", *CAREFUL))  # told above
    ]
    lines += [f"  {line}".rstrip() for line in to_text(_tests(response), 96)]
    return lines


def _hangs_on(response: ResponseFindings) -> tuple[str, ...]:
    """Return every single change that would give another answer, by the names in the findings."""
    if not response.verdicts:
        return ()
    members: dict[str, list[str]] = {}
    for point in response.points:
        for path, member in point.groups.items():
            members.setdefault(path, []).append(member)

    def kind(path: str) -> str:
        return path.rpartition("/")[2]

    def named(path: str, member: str) -> str:
        return f"{kind(path)} {member_name(member, members.get(path, ()))}"

    return sensitivity_sentences(response.diagnostics, Names(str, kind, named))


def _left_out(response: ResponseFindings) -> list[str]:
    """Return which rows of a table gave no value and were left out; a plan's items are told apart.

    Those of a plan have codes, and their own words in the report.
    """
    rows = [one.item for one in response.set_aside if one.item.startswith("row ")]
    if not rows:
        return []
    first = listing(rows[:MOST_ROWS]) + (" and more" if len(rows) > MOST_ROWS else "")
    return [f"Left out, for want of a value: {count(len(rows), 'row')} ({first})."]


def _further(response: ResponseFindings) -> list[str]:
    """Return the trends of quantities, the best recipe, and what the readings add to the noise."""
    lines = []
    for one in response.trends:
        estimate = one.ratio if response.scale == "ratio" else one.slope
        if one.degree == 1 and not one.levels and estimate is not None:
            step = step_text(one.term, one.unit, one.scale)
            lines.append(
                trend_sentence(
                    step, estimate, one.interval, response.scale, response.unit,
                    bends=is_bent(
                        [t for t in response.trends if t.term == one.term], response.scale
                    ),
                )
            )  # fmt: skip
    best = response.best_recipe
    if best is not None and best.mean is not None:
        average = with_unit(significant(best.mean), response.unit)
        lines.append(best_sentence(_levels(best.levels), _levels(best.runner_up), average, "item"))
        if best.fresh is not None and best.fresh > 3 and best.fresh_for is not None:
            lines.append(
                confirming_sentence(
                    best.fresh, best.fresh_for, response.scale, response.unit, "item"
                )
            )
    noise = response.reading_share
    if noise is not None:
        lines.append(noise_sentence(noise.share, noise.share_interval, "item"))
    return lines


def _missing(response: ResponseFindings) -> list[str]:
    """Return what is to be said of every version that gave no value at all."""
    return [
        missing_sentence(
            version_name(one.level, variable=one.factor),
            one.factor,
            "item",
            one.planned,
            (one.failed, one.lost),
        )
        for one in response.missing_levels
    ]


def _practice_lines(findings: Findings, folder: str) -> list[str]:
    """Return what a practice run was made for, with the lines for the study file."""
    from trials.report.practice_told import Names, told

    lines: list[str] = []
    pasted: list[str] = []
    for found in findings.practice:
        one = told(found, Names("item", found.response, ""))
        unit = f" ({found.unit})" if found.unit else ""
        lines += [f"{capital(found.response)}{unit}:"]
        lines += [f"  {sentence}" for sentence in one.sentences]
        lines.append("")
        pasted += one.lines
    if not pasted:
        return lines[:-1]
    lines += [WHERE_THE_LINE, f"  {from_line(folder)}", WHERE_TO_PASTE]
    return [*lines, *(f"  {line}" for line in pasted)]


def _counts(response: ResponseFindings) -> str:
    parts = [f"{count(response.n_items, 'item')} compared"]
    if response.n_failed:
        parts.append(f"{response.n_failed} failed")
    if response.n_lost:
        parts.append(f"{response.n_lost} lost")
    return ", ".join(parts)


def _pairs_told(response: ResponseFindings) -> list[str]:
    """Return the pairs to be told: all with a control, else the largest where nothing is judged.

    With a control the answer still rests on all pairs; they stand before those with the control,
    whose ranges of doubt are smaller because they are fewer.
    """
    control = [one for one in response.comparisons if one.adjustment == "dunnett"]
    with_control = {one.term for one in control}
    told = []
    judged = [one for one in response.judged_pairs if one.term in with_control]
    if judged and response.verdicts:
        told += ["Pairs that the answer rests on:", *_gaps(response, judged)]
    if control:
        told += ["Each version against the control alone:", *_gaps(response, control)]
    if not response.verdicts:
        told += [f"{capital(gap)}." for gap in _largest_gaps(response, with_control)]
    return told


def _gaps(response: ResponseFindings, pairs: Sequence[Comparison]) -> list[str]:
    sized = (one for one in pairs if _size(one) is not None)
    return [f"  {capital(gap_with_range(_pair(one, response)))}." for one in sized]


def _largest_gaps(response: ResponseFindings, told: set[str]) -> list[str]:
    """Return the largest difference of each single factor not ``told``, with its interval."""
    largest: dict[str, tuple[float, Comparison]] = {}
    for comparison in response.comparisons:
        size = _size(comparison)
        if ":" in comparison.term or len(comparison.a) != 1 or size is None:
            continue
        if comparison.term in told:
            continue
        if comparison.term not in largest or size > largest[comparison.term][0]:
            largest[comparison.term] = (size, comparison)
    return [gap_with_range(_pair(comparison, response)) for _, comparison in largest.values()]


def _size(comparison: Comparison) -> float | None:
    if comparison.ratio is not None:
        return abs(math.log(comparison.ratio)) if comparison.ratio > 0 else None
    return None if comparison.difference is None else abs(comparison.difference)


def _pair(comparison: Comparison, response: ResponseFindings) -> Pair:
    ratio = response.scale == "ratio"
    return Pair(
        _levels(comparison.a),
        _levels(comparison.b),
        comparison.ratio if ratio else comparison.difference,
        comparison.interval_adjusted,
        response.scale,
        "" if ratio else response.unit,
    )


def _cross_facts(crossing: Crossing, response: ResponseFindings) -> CrossFacts:
    """Return a crossing by the names in the table, with nothing said of what is worth caring."""
    within = crossing.within

    def pair(one: Comparison) -> Pair:
        own = {crossing.factor: one.a[crossing.factor]}, {crossing.factor: one.b[crossing.factor]}
        return _pair(one.model_copy(update={"a": own[0], "b": own[1]}), response)

    return CrossFacts(
        factor=crossing.factor,
        within=within,
        at_one=_levels({within: crossing.one.a[within]}),
        at_other=_levels({within: crossing.other.a[within]}),
        one=pair(crossing.one),
        other=pair(crossing.other),
        turns=crossing.turns,
        caused=False,
        failed=response.n_failed > 0,
    )


def _levels(levels: Levels) -> str:
    return ", ".join(f"{factor} {level}" for factor, level in levels.items())


def _tests(response: ResponseFindings) -> Table:
    columns = (
        Column("what"),
        Column("df", kind="count"),
        Column("df below", kind="significant"),
        Column("F", kind="significant"),
        Column("p", kind="p"),
        Column("p by shuffling", kind="p"),
    )
    rows = tuple(
        (
            effect.term,
            effect.num_df,
            effect.den_df,
            effect.f,
            effect.p,
            effect.p_randomisation if effect.p_randomisation is not None else effect.p_permutation,
        )
        for effect in response.effects
    )
    method = response.method
    caption = f"Tests ({ESTIMATORS_SHORT[method.estimator]}; df: {DEGREES_SHORT[method.df]})"
    drawn = drawn_sentence([effect.p_shuffle_error for effect in response.effects])
    return Table("tests", caption, columns, rows, (drawn,) if drawn else ())
