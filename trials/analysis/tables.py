"""An existing table, with no study behind it: rows are the smallest units."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

import trials
from trials.analysis.adjusting import covariate_notes
from trials.analysis.centring import Centred, as_text, exact_numbers, numbers
from trials.analysis.data import Data, on_scale
from trials.analysis.findings import Findings, ResponseFindings, SetAside
from trials.analysis.run import analyse
from trials.analysis.shuffle_intervals import table_intervals
from trials.analysis.shuffling import permute_terms
from trials.digest import digest
from trials.errors import AnalysisError, RequestError
from trials.model import Layout, Structure, make_layout
from trials.study.options import Options

if TYPE_CHECKING:
    import pandas as pd

MOST_LEVELS = 40


def analyse_table(
    frame: pd.DataFrame, structure: Structure, options: Options | None = None
) -> Findings:
    """Analyse one response of a table whose rows are the smallest units, or readings of items.

    Parameters
    ----------
    frame : one row a unit; numbers may be text, and keep all their digits if they are.
    structure : factors, groups, and what each factor is applied to.
    options : see :class:`trials.Options`.

    Raises
    ------
    AnalysisError : a column is missing, a value is no number, or nothing can be compared.

    Examples
    --------
    >>> import pandas as pd, trials
    >>> rows = pd.DataFrame({"feed": list("aaabbb"), "gain": ["1", "2", "3", "4", "5", "6"]})
    >>> found = trials.analyse_table(rows, trials.Structure(["feed"]), trials.Options(resamples=0))
    >>> found.responses[0].effects[0].f
    13.5
    """
    options = options or Options()
    columns = {str(name): as_text(frame[name]) for name in frame.columns}
    response = options.response or _only_column_left(columns, structure, options)
    _require(columns, [response, *options.covariates])
    places = _file_lines(frame)
    _refuse_two_roles(response, _labels(structure, options), options)
    data = _data(columns, places, structure, response, options)
    return Findings(
        program_version=trials.__version__,
        plan_digest=None,
        record_digest=digest(columns),
        responses=(
            _with_cautions(
                analyse(data, permute_terms(data), intervals=table_intervals(data)), data
            ),
        ),
    )


def _with_cautions(found: ResponseFindings, data: Data) -> ResponseFindings:
    """Return findings that say what to be careful about with what was adjusted for."""
    notes = (*found.method.notes, *covariate_notes(data.layout))
    return found.model_copy(update={"method": found.method.model_copy(update={"notes": notes})})


def _data(
    columns: dict[str, list[str]],
    places: list[int],
    structure: Structure,
    response: str,
    options: Options,
) -> Data:
    """Return the rows that hold a value, ready for analysis; ``places`` are lines of the file."""
    readings = numbers(columns[response], response, places)
    covariates = {name: numbers(columns[name], name, places) for name in options.covariates}
    labels = _labels(structure, options)
    _require(columns, labels)
    use = _rows_to_use(response, readings, *covariates.values())
    written, comma = _as_numbers(columns, structure, places, use)
    kept = [columns[response][row] for row in use]
    centred = numbers(kept, response, [places[row] for row in use])
    layout = make_layout(
        structure,
        {name: [columns[name][row] for row in use] for name in labels} | written,
        covariates={name: c.plain[use] for name, c in covariates.items()},
        random=options.random,
        item=options.item,
    )
    _check_controls(layout, options)
    _check_levels(layout)
    return Data(
        name=response,
        unit="",
        layout=layout,
        y=on_scale(centred, options.compare, response, tuple(f"line {places[r]}" for r in use)),
        centred=replace(centred, decimal_comma=centred.decimal_comma or comma),
        items=_items(columns, options, use),
        options=options,
        scale=options.compare,
        better=options.better or "high",
        n_readings=len(use),
        set_aside=tuple(
            SetAside(item=f"row {row + 1}", reason="missing")
            for row in sorted(set(range(len(readings.missing))) - set(use))
        ),
    )


def _rows_to_use(response: str, readings: Centred, *others: Centred) -> list[int]:
    """Return the rows in which none of the numbers is missing."""
    needed = (readings, *others)
    rows = range(len(readings.missing))
    use = [row for row in rows if not any(column.missing[row] for column in needed)]
    if not use:
        raise AnalysisError(
            "No row has a measured value.",
            code="table.nothing_measured",
            where=f"column {response}",
            do="Check that the right column was named.",
        )
    return use


def _as_numbers(
    columns: dict[str, list[str]], structure: Structure, places: list[int], use: list[int]
) -> tuple[dict[str, list[str]], bool]:
    """Return the labels of each quantity that was changed, one text a number, and if 0,5 was met.

    The text is the first that was met for that number: "1" and "1.0" are one version.
    """
    out, commas = {}, False
    for factor in structure.factors:
        if factor.kind != "quantity":
            continue
        cells, comma = exact_numbers(columns[factor.name], factor.name, places)
        commas = commas or comma
        first: dict[Decimal, str] = {}
        for row in use:
            value = cells[row]
            if value is None:
                raise AnalysisError(
                    "A quantity that was changed has no number in a row that was measured.",
                    code="table.label_empty",
                    where=f"column {factor.name}, line {places[row]}",
                    found=columns[factor.name][row] or "nothing",
                    do="Fill in the number, or take the row out and say why.",
                )
            text = columns[factor.name][row].replace("\u2212", "-")
            first.setdefault(value, text.replace(",", ".") if comma else text)
        out[factor.name] = [first[value] for row in use if (value := cells[row]) is not None]
    return out, commas


def _file_lines(frame: pd.DataFrame) -> list[int]:
    """Return the line of each row in its file, as a person counts them."""
    lines = frame.attrs.get("lines")
    return list(lines) if lines is not None else [row + 2 for row in range(len(frame))]


def _refuse_two_roles(response: str, labels: list[str], options: Options) -> None:
    if response in labels or response in options.covariates:
        raise RequestError(
            "One column can't be the measured value and something else as well.",
            code="table.two_roles",
            found=response,
            do="Name another column for one of the two.",
        )
    twice = [name for name in options.covariates if name in labels]
    if twice:
        raise RequestError(
            "What was changed, or what belongs together, can't be adjusted for as well.",
            code="table.two_roles",
            found=", ".join(twice),
            do="Name it once, with --factor, --group, --item or --covariate.",
        )


def _labels(structure: Structure, options: Options) -> list[str]:
    names = [f.name for f in structure.factors]
    names += [part for g in structure.groups for part in g.parts]
    names += [options.item] if options.item else []
    return list(dict.fromkeys(names))


def _require(columns: dict[str, list[str]], names: list[str]) -> None:
    missing = [name for name in names if name not in columns]
    if missing:
        raise AnalysisError(
            "The table has no such column.",
            code="table.column_missing",
            found=", ".join(missing),
            allowed=", ".join(columns),
            do="Use the name exactly as it stands in the first line of the table.",
        )


def _only_column_left(columns: dict[str, list[str]], structure: Structure, options: Options) -> str:
    used = {*_labels(structure, options), *options.covariates}
    left = [name for name in columns if name not in used]
    if len(left) == 1:
        return left[0]
    raise RequestError(
        "It isn't clear which column holds the measured values.",
        code="table.no_response",
        found=", ".join(left) or "no column left",
        do="Name the column with --response (in Python: Options(response=...)).",
    )


def _items(columns: dict[str, list[str]], options: Options, use: list[int]) -> tuple[str, ...]:
    if options.item is not None:
        return tuple(columns[options.item][row] for row in use)
    return tuple(f"row {row + 1}" for row in use)


def _check_levels(layout: Layout) -> None:
    for name, coded in layout.factors.items():
        if len(coded.levels) > MOST_LEVELS:
            raise AnalysisError(
                "A factor has too many versions to compare each with each.",
                code="table.too_many_levels",
                where=f"column {name}",
                found=f"{len(coded.levels)} different labels in {layout.n} rows",
                allowed=f"at most {MOST_LEVELS}",
                do="If the column numbers the things that were made, it is no factor: leave it "
                "out, or name it with --item. A measured quantity is named with --number.",
            )


def _check_controls(layout: Layout, options: Options) -> None:
    for factor, level in options.control:
        if factor not in layout.factors:
            raise AnalysisError(
                "A control is given for something that is not a factor.",
                code="table.control_of_no_factor",
                found=factor,
                allowed=", ".join(layout.factors),
                do="Use --control FACTOR=LEVEL with a factor named by --factor.",
            )
        if level not in layout.factors[factor].levels:
            raise AnalysisError(
                "The control is not among the levels of its factor.",
                code="table.unknown_control",
                where=f"factor {factor}",
                found=level,
                allowed=", ".join(layout.factors[factor].levels),
                do="Write the level exactly as it stands in the table.",
            )
