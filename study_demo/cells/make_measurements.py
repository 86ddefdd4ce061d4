"""Make the invented measurements of the demo from the truth in truth.toml.

Run it with the program installed:

    python study_demo/cells/make_measurements.py [FOLDER]

It draws the demo's plan, lets an invented class build and measure the cells, and writes what the
class would hand in to FOLDER (measured/ beside this file, if none is named): one entry workbook,
and the table of the one team that keeps its own.
"""

from __future__ import annotations

import io
import math
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from trials.design.draw import draw
from trials.design.values import Plan, PlanRow
from trials.files import write_bytes
from trials.ingest import workbook_layout as layout
from trials.randomness import stream
from trials.sheets import make_sheets
from trials.study import Study, read_study

HERE = Path(__file__).resolve().parent
READINGS = 3


@dataclass(frozen=True)
class Cell:
    """One cell as it really is."""

    row: PlanRow
    power: float  # µW/cm² at the reference light
    voltage: float  # V, nothing connected
    works: bool = True


@dataclass(frozen=True)
class Line:
    """One line that a team writes down: text as written."""

    label: str  # the code on the cell
    session: str
    team: str
    reading: int
    voltage: str
    current: str
    load_voltage: str
    light: str
    time: str
    worked: bool

    def cells(self) -> list[str]:
        """Return the line as the columns of the entry workbook want it."""
        worked = "yes" if self.worked else "no"
        measured = [self.voltage, self.current, self.load_voltage, self.light]
        return [self.label, str(self.reading), *measured, self.time, worked]


@dataclass(frozen=True)
class Handed:
    """What the class hands in, and what went wrong on the way."""

    lines: tuple[Line, ...]
    lost: tuple[str, ...]
    failed: tuple[str, ...]
    swapped: tuple[tuple[str, str], ...]
    slips: tuple[tuple[str, int], ...]  # code and number of the reading


def read_truth(path: Path = HERE / "truth.toml") -> dict[str, Any]:
    """Return the truth."""
    with path.open("rb") as file:
        return tomllib.load(file)


def build(plan: Plan, truth: dict[str, Any]) -> list[Cell]:
    """Return all cells of the plan as they turn out."""
    power, voltage = truth["power"], truth["voltage"]
    luck = {
        name: {
            (group.name, member): stream(truth["seed"], f"{name} {group.name} {member}").normal()
            for group in plan.groups
            for member in group.members
        }
        for name in ("power", "voltage")
    }
    own = stream(truth["seed"], "cells").normal(size=(len(plan.rows), 2))
    cells = []
    for row, (luck_power, luck_voltage) in zip(_by_code(plan), own, strict=True):
        strength = math.log(power["typical"] * true_ratio(power, row.factors))
        strength += power["spread"]["item"] * luck_power
        volts = voltage["typical"] + voltage["spread"]["item"] * luck_voltage
        for factor, level in row.factors.items():
            volts += voltage["effects"][factor][level]
        for member in row.groups.items():
            strength += power["spread"][member[0]] * luck["power"][member]
            volts += voltage["spread"][member[0]] * luck["voltage"][member]
        cells.append(Cell(row, math.exp(strength), volts))
    return cells


def true_ratio(power: dict[str, Any], factors: dict[str, str]) -> float:
    """Return by how much a recipe multiplies the typical power."""
    times = math.prod(float(power["effects"][f][level]) for f, level in factors.items())
    for extra in power["together"]:
        if all(
            factors.get(factor) == level for factor, level in extra.items() if factor != "times"
        ):
            times *= float(extra["times"])
    return times


def measure(study: Study, plan: Plan, truth: dict[str, Any]) -> Handed:
    """Return what the class writes down, with everything that goes wrong."""
    trouble = truth["trouble"]
    rng = stream(truth["seed"], "trouble")
    cells = {cell.row.item: cell for cell in build(plan, truth)}
    drawn = [str(code) for code in rng.permutation(sorted(cells))]
    neat = [code for code in drawn if _team(cells[code]) != trouble["commas_team"]]
    failed = drawn[: trouble["failed"]]
    rest = [code for code in neat if code not in failed]
    lost = rest[: trouble["lost"]]
    rest = rest[trouble["lost"] :]
    swapped = list(_pairs(rest, cells))[: trouble["swapped"]]
    used = {code for pair in swapped for code in pair}
    slips = [(code, 2) for code in rest if code not in used][: trouble["slips"]]
    for code in failed:
        cells[code] = replace(cells[code], power=0.0, voltage=0.0, works=False)
    labels = {a: b for pair in swapped for a, b in (pair, pair[::-1])}
    bench = _Bench(study, truth)
    lines: list[Line] = []
    for session in sorted({cell.row.groups["session"] for cell in cells.values()}):
        queue = [c for c in cells.values() if c.row.groups["session"] == session]
        queue = [c for c in sorted(queue, key=lambda c: c.row.measure) if c.row.item not in lost]
        for place, cell in enumerate(queue):
            label = labels.get(cell.row.item, cell.row.item)
            lines += bench.read(cell, label, place / max(1, len(queue) - 1), place)
    lines = [_slipped(line) if (line.label, line.reading) in slips else line for line in lines]
    return Handed(tuple(lines), tuple(lost), tuple(failed), tuple(swapped), tuple(slips))


class _Bench:
    """The lamp and the meters."""

    def __init__(self, study: Study, truth: dict[str, Any]) -> None:
        settings = study.response("power").settings
        self.load = float(settings["load_ohm"])
        self.area = float(settings["area_cm2"])
        self.reference = float(settings["reference_light"])
        self.truth = truth
        self.rng = stream(truth["seed"], "bench")

    def read(self, cell: Cell, label: str, gone: float, place: int) -> Iterator[Line]:
        """Yield the three readings of one cell; ``gone`` is the share of the session gone by."""
        bench = self.truth["bench"]
        first = datetime.strptime(bench["first_reading"], "%H:%M")
        at = first + timedelta(minutes=place * bench["minutes_apart"])
        for reading in range(1, READINGS + 1):
            light = bench["light_at_start"] + gone * (
                bench["light_at_end"] - bench["light_at_start"]
            )
            light *= 1 + bench["light_jitter"] * self.rng.normal()
            volts, milliamps, load_volts = self._meters(cell, light)
            yield Line(
                label=label,
                session=cell.row.groups["session"],
                team=_team(cell),
                reading=reading,
                voltage=f"{volts:.3f}",
                current=f"{milliamps:.2f}",
                load_voltage=f"{load_volts:.3f}",
                light=f"{light:.0f}",
                time=f"{at:%H:%M}",
                worked=cell.works,
            )

    def _meters(self, cell: Cell, light: float) -> tuple[float, float, float]:
        noise = self.rng.normal(size=3)
        if not cell.works:
            return abs(noise[0]) * 0.001, abs(noise[1]) * 0.003, abs(noise[2]) * 0.0004
        power = cell.power * math.exp(self.truth["power"]["spread"]["reading"] * noise[0])
        watts = power * 1e-6 * self.area * light / self.reference
        load_volts = math.sqrt(watts * self.load)
        volts = cell.voltage + self.truth["voltage"]["spread"]["reading"] * noise[1]
        shape = self.truth["bench"]["shape_volts"]
        share = 1 - math.expm1(load_volts / shape) / math.expm1(volts / shape)
        if share < 0.2:
            raise ValueError(f"cell {cell.row.item} would be beyond its own open-circuit voltage")
        amps = load_volts / self.load / share * (1 + 0.005 * noise[2])
        return volts, amps * 1000, load_volts


def _pairs(codes: list[str], cells: dict[str, Cell]) -> Iterator[tuple[str, str]]:
    """Yield pairs of one team's cells that belong to different sessions."""
    for at, one in enumerate(codes):
        for other in codes[at + 1 :]:
            a, b = cells[one].row.groups, cells[other].row.groups
            if a["team"] == b["team"] and a["session"] != b["session"]:
                yield one, other


def _slipped(line: Line) -> Line:
    return replace(line, load_voltage=f"{float(line.load_voltage) * 1000:.0f}")


def _team(cell: Cell) -> str:
    return cell.row.groups["team"]


def _by_code(plan: Plan) -> list[PlanRow]:
    return sorted(plan.rows, key=lambda row: row.item)


def own_table(handed: Handed, headings: tuple[str, ...], team: str) -> bytes:
    """Return the table of the team that keeps its own: semicolons and decimal commas."""
    rows = [";".join(headings)]
    rows += [
        ";".join(cell.replace(".", ",") for cell in line.cells())
        for line in handed.lines
        if line.team == team
    ]
    return ("\r\n".join(rows) + "\r\n").encode("cp1252")


def filled_workbook(empty: bytes, handed: Handed, own: str) -> bytes:
    """Return the entry workbook as the other teams fill it in.

    A label that the sheet of a session does not know goes to one of its spare lines.
    """
    book = load_workbook(io.BytesIO(empty))
    for title in book.sheetnames[1:]:
        page = book[title]
        said = {str(row[0].value): str(row[1].value) for row in page.iter_rows(max_row=6)}
        rows = list(page.iter_rows())
        heading = next(i for i, row in enumerate(rows) if row[0].value == layout.ITEM)
        body = rows[heading + 1 :]
        places = {(str(row[0].value), str(row[1].value)): row for row in body if row[0].value}
        spare = iter([row for row in body if not row[0].value])
        for line in handed.lines:
            if (line.session, line.team) != (said["session"], said["team"]) or line.team == own:
                continue
            row = places.get((line.label, str(line.reading))) or next(spare)
            for cell, text in zip(row, line.cells(), strict=False):
                cell.value = _typed(text)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _typed(text: str) -> str | float:
    """Return what a spreadsheet makes of typed text: a number where it is one."""
    try:
        return float(text)
    except ValueError:
        return text


def hand_in(study: Study, plan: Plan) -> tuple[Handed, dict[str, bytes]]:
    """Return what the class hands in for its plan: file name -> content."""
    truth = read_truth()
    handed = measure(study, plan, truth)
    own = truth["trouble"]["commas_team"]
    empty = make_sheets(study, plan).files["entry-workbook.xlsx"]
    return handed, {
        "entry-workbook.xlsx": filled_workbook(empty, handed, own),
        f"team-{own}.csv": own_table(handed, layout.headings_of(study)[:-1], own),
    }


def main() -> None:
    """Write the files, and say what went wrong on the way."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "measured"
    with (HERE / "course.toml").open("rb") as file:
        course = tomllib.load(file)
    study = read_study(HERE / "study.toml")
    handed, files = hand_in(study, draw(study, seed=course["seed"]))
    for name, content in files.items():
        write_bytes(folder / name, content)
    sys.stdout.write(
        f"lost {handed.lost}, failed {handed.failed}, swapped {handed.swapped}, "
        f"slips {handed.slips}\n"
    )


if __name__ == "__main__":
    main()
