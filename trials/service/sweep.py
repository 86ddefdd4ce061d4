"""``trials sweep``: the electrical parameters of one cell's curve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.errors import IngestError, RequestError
from trials.files import read_bytes
from trials.ingest.points import PointTable, read_points
from trials.ingest.slips import unit_of_slip
from trials.quantities import nice
from trials.reduction.electrical.budget import FLAT
from trials.reduction.electrical.curve import SERIES
from trials.reduction.electrical.curve_fit import KNOWN, MIDDLE
from trials.reduction.electrical.draws import drawn_uncertainty
from trials.reduction.electrical.iv_sweep import CURRENT, RESISTANCE, VOLTAGE
from trials.reduction.electrical.light import Light, Meter, light_of
from trials.reduction.electrical.parameters import (
    UNITS,
    Area,
    Corrected,
    Moved,
    Parameters,
    Quantity,
    parameters,
)
from trials.reduction.electrical.sweep import Meters, Raw, sweep_of
from trials.render.table import Column, Table, to_text
from trials.words.sweep import (
    KINDS,
    NAMES,
    beforehand_text,
    best_point_text,
    corrected_text,
    heading_text,
    source_text,
)

MOST_BYTES = 2_000_000
AREA_ERROR = 0.05  # limits of error of an area, where none is given (common practice, no source)
DRAWS_SEED = 1


@dataclass(frozen=True)
class SweepRequest:
    """A sweep file and what is known besides; in the units that the options name."""

    file: Path
    item: str = ""
    area: float | None = None
    area_error: float | None = None
    light_error: float | None = None
    irradiance: float | None = None
    lux: float | None = None
    reference_cell: bool = False
    lamp: bool = False
    voltage_error: float | None = None
    current_error: float | None = None
    voltage_digits: int = 0
    current_digits: int = 0
    load_error: float | None = None
    ammeter_ohm: float | None = None
    draws: int = 0


@dataclass(frozen=True)
class SweepTold:
    """What a sweep told."""

    name: str
    points: int
    found: Parameters
    drawn: dict[str, float]
    notes: tuple[str, ...]
    stated: frozenset[str]  # sources whose limits of error were given, not assumed

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        found = self.found
        corrected = found.corrected
        return {
            "sweep": self.name,
            "points": self.points,
            "bracketed": found.bracketed,
            **{name: _quantity(one) for name, one in found.quantities.items()},
            "corrected": None if corrected is None else _corrected_dict(corrected),
            "best_point": None
            if found.best_point is None
            else {
                "voltage": {"value": found.best_point[0], "unit": "V"},
                "current": {"value": found.best_point[1], "unit": "mA"},
            },
            "hysteresis": None
            if found.hysteresis is None
            else {"value": found.hysteresis.value, "unit": "%", "u": found.hysteresis.u},
            "drawn_u": {name: {"value": u, "unit": UNITS[name]} for name, u in self.drawn.items()},
            "warnings": [{"code": one.code, "text": one.text} for one in found.warnings],
            "notes": list(self.notes),
        }

    def text(self) -> list[str]:
        """Return the parameters, the budget of the power, and what limits them."""
        bracketed = self.found.bracketed if self.found.fit is not None else None
        lines = [heading_text(self.name, self.points, bracketed=bracketed), ""]
        told = [(name, one) for name, one in self.found.quantities.items() if one is not None]
        if found_best := self.found.best_point:
            lines += [best_point_text(*found_best), ""]
        if told:
            lines += [*to_text(_table(told, self.drawn)), ""]
        if self.found.corrected is not None:
            lines += [_corrected(self.found.corrected), ""]
        power = self.found.quantities["efficiency"] or self.found.quantities["pmax"]
        if power is not None:
            lines += [*to_text(_budget_table(power, self.found, self.stated)), ""]
        lines += [one.text for one in self.found.warnings]
        return [*lines, *self.notes]


def read_sweep(request: SweepRequest) -> SweepTold:
    """Read a sweep file and return its electrical parameters.

    Raises
    ------
    FileError, IngestError : the file can't be read, or not as points of one cell.
    RequestError : the options can't be meant.
    """
    content = read_bytes(request.file, MOST_BYTES)
    _refuse_options(request)
    columns = (VOLTAGE, CURRENT, RESISTANCE)
    table = read_points(content, request.file.name, columns, item=request.item)
    _refuse_impossible(table, request.file.name)
    raw, notes = _raw(table, request.file.name)
    meters = Meters(
        voltage_step=_step(table, VOLTAGE.name),
        current_step=_step(table, CURRENT.name),
        voltage_error=request.voltage_error or 0.0,
        current_error=request.current_error or 0.0,
        ammeter_ohm=request.ammeter_ohm,
        voltage_digits=request.voltage_digits,
        current_digits=request.current_digits,
        load_error=request.load_error or 0.0,
    )
    area_error = AREA_ERROR if request.area_error is None else request.area_error / 100
    area = None if request.area is None else Area(request.area, area_error / FLAT)
    sweep = sweep_of(raw, meters)
    found = parameters(sweep, meters, area, _light(request))
    drawn = drawn_uncertainty(sweep, found, request.draws, DRAWS_SEED) if request.draws else {}
    name = table.item or request.file.stem
    stated = {"area"} if request.area_error is not None else set()
    if request.light_error is not None and request.lux is None:
        stated |= {"pyranometer", "reference cell"}
    notes = [*table.notes, *notes]
    return SweepTold(name, len(raw.voltage), found, drawn, tuple(notes), frozenset(stated))


def _refuse_options(request: SweepRequest) -> None:
    """Refuse numbers that can't be meant.

    Raises
    ------
    RequestError : a number that is not above zero, light told twice, or a single draw.
    """
    for flag, value in (
        ("--area", request.area),
        ("--area-error", request.area_error),
        ("--light-error", request.light_error),
        ("--irradiance", request.irradiance),
        ("--lux", request.lux),
        ("--ammeter", request.ammeter_ohm),
        ("--voltage-error", request.voltage_error),
        ("--current-error", request.current_error),
        ("--load-error", request.load_error),
    ):
        if value is not None and not 0 < value < float("inf"):
            raise RequestError(
                "A number can't be meant.",
                code="options.value",
                where=flag,
                found=f"{value:g}",
                allowed="a number above 0",
                do="Give a number above 0, or leave the option out.",
            )
    if request.irradiance is not None and request.lux is not None:
        raise RequestError(
            "The light is told twice.",
            code="options.light_twice",
            where="--irradiance, --lux",
            do="Give the one that was measured.",
        )
    if request.draws == 1 or request.draws < 0:
        raise RequestError(
            "A spread needs at least two draws.",
            code="options.value",
            where="--draws",
            found=str(request.draws),
            allowed="2 or more; 200 is plenty",
            do="Give a larger number, or leave the option out.",
        )


def _refuse_impossible(table: PointTable, name: str) -> None:
    """Refuse numbers that no cell gives, and ask whether the unit is another.

    Raises
    ------
    IngestError : a number beyond what is possible.
    """
    for column in (VOLTAGE, CURRENT, RESISTANCE):
        most = column.possible[1] or column.believable[1]
        if most is None:
            continue
        for row, line in zip(table.rows, table.lines, strict=True):
            value = row.get(column.name)
            if value is not None and value.is_finite() and abs(value) > most:
                smaller = unit_of_slip(column.unit, 3)
                raise IngestError(
                    "A number is far beyond what a single cell gives.",
                    code="ingest.impossible",
                    where=f"{name}, line {line}, {column.name}",
                    found=f"{value:f} {column.unit}",
                    allowed=f"up to {most} {column.unit}",
                    do=f"If it is in {smaller}, write '{column.name} ({smaller})' above it.",
                )


def _raw(table: PointTable, name: str) -> tuple[Raw, list[str]]:
    """Return the points that are complete; current where it was read, else the load."""
    by = CURRENT.name if any(CURRENT.name in row for row in table.rows) else RESISTANCE.name
    full = [row for row in table.rows if VOLTAGE.name in row and by in row]
    if not full:
        raise IngestError(
            "No row has both a voltage and a current or a load.",
            code="ingest.no_points",
            where=name,
            found=f"{len(table.rows)} rows with a number",
            allowed=f"{VOLTAGE.header} with {CURRENT.header} or {RESISTANCE.header}",
            do="Fill in both columns and try again.",
        )
    left = len(table.rows) - len(full)
    notes = [f"{left} of {len(table.rows)} rows are incomplete and were left out."] if left else []
    voltage = tuple(float(row[VOLTAGE.name]) for row in full)
    others = tuple(float(row[by]) for row in full)
    if by == CURRENT.name:
        return Raw(voltage, current=others), notes
    return Raw(voltage, load=others), notes


def _step(table: PointTable, column: str) -> float:
    """Return the smallest step that a column's numbers show, in the column's unit."""
    exponents = [
        exponent
        for row in table.rows
        if column in row and isinstance(exponent := row[column].as_tuple().exponent, int)
    ]
    return float(10 ** min(exponents)) if exponents and min(exponents) > -9 else 0.0


def _light(request: SweepRequest) -> Light | None:
    if request.lux is not None:
        return light_of(request.lux, "lux meter", error=_share(request), lamp=request.lamp)
    if request.irradiance is None:
        return None
    meter: Meter = "reference cell" if request.reference_cell else "pyranometer"
    return light_of(request.irradiance, meter, error=_share(request), lamp=request.lamp)


def _share(request: SweepRequest) -> float | None:
    return None if request.light_error is None else request.light_error / 100


def _quantity(one: Quantity | None) -> dict[str, Any] | None:
    if one is None:
        return None
    df = one.budget.df
    return {
        "value": one.value,
        "unit": one.unit,
        "u": one.u,
        "df": None if df == float("inf") else df,
        "interval": list(one.interval),
    }


def _corrected_dict(corrected: Corrected) -> dict[str, Any]:
    """Return the corrected values, those of procedure 2 first, for they move the voltage too."""
    units = {"voc": "V", "isc": "mA", "pmax": "mW"}

    def told(moved: Moved) -> dict[str, Any]:
        return {name: {"value": getattr(moved, name), "unit": u} for name, u in units.items()}

    return {
        "irradiance": {"value": corrected.irradiance, "unit": "W/m^2"},
        "procedure": "IEC 60891, procedure 2",
        **told(corrected.procedure_2),
        "procedure_1": told(corrected.procedure_1),
    }


def _corrected(corrected: Corrected) -> str:
    two = corrected.procedure_2
    return corrected_text(
        corrected.irradiance, two.voc, two.isc, two.pmax, corrected.procedure_1.pmax
    )


def _table(told: Sequence[tuple[str, Quantity]], drawn: Mapping[str, float]) -> Table:
    columns = [
        Column("quantity"),
        Column("value", kind="significant", digits=3),
        Column("from", kind="significant", digits=3),
        Column("to", kind="significant", digits=3),
        Column("unit"),
        Column("u", "standard uncertainty", kind="significant", digits=2),
    ]
    if drawn:
        columns.append(Column("drawn", "the same by drawing", kind="significant", digits=2))
    rows = tuple(
        (
            NAMES[name],
            one.value,
            *one.interval,
            "" if one.unit == "1" else nice(one.unit),
            one.u,
            *([drawn.get(name)] if drawn else []),
        )
        for name, one in told
    )
    return Table("sweep", "What the curve tells, with 95 % intervals", tuple(columns), rows)


def _budget_table(one: Quantity, found: Parameters, stated: frozenset[str]) -> Table:
    """Return where the uncertainty of the efficiency, or else of the power, comes from."""
    name = "efficiency" if found.quantities["efficiency"] is one else "pmax"
    columns = (
        Column("source"),
        Column("kind"),
        Column("alone", "alone it gives", "%", "significant", 2),
    )
    rows = tuple(
        (source_text(line.source.name, stated), KINDS[line.source.kind], 100 * line.part)
        for line in one.budget.lines
    )
    total = ("all together", "", 100 * one.budget.relative)
    note = "Standard uncertainties, by the guide JCGM 100:2008; they add as squares."
    known = list(zip(MIDDLE[SERIES:].tolist(), KNOWN[SERIES:].tolist(), strict=True))
    caption = f"Where the uncertainty of the {NAMES[name]} comes from"
    return Table("budget", caption, columns, (*rows, total), (note, beforehand_text(known)))
