"""For every kind of question about readings: files that raise it, and nothing else of its kind.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from tests.ingest.bench import (
    CELL_HEADINGS,
    CODES,
    cell_row,
    cell_rows,
    cells,
    changed,
    csv_bytes,
    plan_of,
    plants,
    table,
)
from trials.design.values import Plan
from trials.record import Store
from trials.study.values import Response, Study

ALL = ("item", "reading", *CELL_HEADINGS)
MANY = tuple(f"X{n:02d}" for n in range(1, 25))  # codes of a larger plan


@dataclass(frozen=True)
class Case:
    """A study with its plan, files handed in one after the other, and what happens before them."""

    study: Study
    plan: Plan
    files: tuple[tuple[str, bytes], ...]
    before: Callable[[Store], None] | None = None


def of_cells(rows: Sequence[Sequence[str]], headings: Sequence[str] = ALL) -> Case:
    """Return one file of the study of cells."""
    return Case(cells(), plan_of(cells()), (("a.csv", table(rows, headings).encode()),))


def of_plants(
    rows: Sequence[Sequence[str]], headings: Sequence[str], codes: Sequence[str] = CODES
) -> Case:
    """Return one file of the study of plants."""
    plan = plan_of(plants(), codes)
    return Case(plants(), plan, (("a.csv", table(rows, headings).encode()),))


def beside(texts: Mapping[str, str], heading: str, readings: int = 2) -> Case:
    """Return readings of cells with one more column, filled in for some items."""
    rows = [[*row, texts.get(row[0], "")] for row in cell_rows(readings=readings)]
    return of_cells(rows, (*ALL, heading))


def timed(times: Sequence[str]) -> Case:
    """Return the readings of the first session with times."""
    rows = [[*row, time] for row, time in zip(cell_rows(CODES[:6]), times, strict=True)]
    return of_cells(rows, (*ALL, "time"))


def heights(exchanged: tuple[str, str] | None = None) -> list[list[str]]:
    """Return one height for each of 24 pots: full food makes five times as tall."""
    rows = []
    for n, code in enumerate(MANY):
        spread = (-3, 1, 4, 0, -2, 3, -1, 2)[n % 8] + n % 5
        rows.append([code, f"{(50, 250)[(n // 2) % 2] * (1 + spread / 100):.1f}", str(4 + n % 3)])
    if exchanged is not None:
        at = [MANY.index(code) for code in exchanged]
        first, second = (rows[k][1] for k in at)
        rows[at[0]][1], rows[at[1]][1] = second, first
    return rows


def _moved(moved: Mapping[str, str]) -> Case:
    rows = [[*row, moved.get(row[0], "1" if row[0] in CODES[:6] else "2")] for row in cell_rows()]
    return of_cells(rows, (*ALL, "session"))


def _copy(code: str, source: str) -> Case:
    rows = [row for row in cell_rows() if row[0] != code]
    return of_cells([*rows, *([code, *row[1:]] for row in cell_rows([source]))])


def _run() -> Case:
    """Readings 2 and 3 of one cell are readings 1 and 2 of another; the first is its own."""
    rows = [row for row in cell_rows(readings=3) if row[0] != "PR38"]
    copy = [["PR38", str(n + 1), *cell_row("BD27", n)[2:]] for n in (1, 2)]
    return of_cells([*rows, cell_row("PR38", 1), *copy])


def _filled() -> Case:
    rows = cell_rows()
    return of_cells(
        [[*r[:2], "0.431" if 4 <= k < 12 else r[2], *r[3:]] for k, r in enumerate(rows)]
    )


def _gone() -> Case:
    one = of_cells(cell_rows())
    return Case(one.study, one.plan, (*one.files, ("a.csv", csv_bytes(cell_rows(CODES[1:])))))


def _copied_file() -> Case:
    first = ("first.csv", csv_bytes(changed(cell_rows(), "DG41", 1, 2, "0.41")))
    one = of_cells(cell_rows())
    return Case(one.study, one.plan, (first, *one.files))


def _lost(store: Store) -> None:
    store.lose(["DG41"], why="dropped", by="T1")


def _unusual_result() -> Case:
    power = cells().response("power").model_copy(update={"high": 50.0})
    study = cells().model_copy(update={"responses": (power, cells().responses[1])})
    return Case(study, plan_of(study), (("a.csv", csv_bytes(cell_rows(["PR38"]))),))


def _rising() -> Case:
    lasting = Response(
        name="lasting", unit="day", reducer="half_life", primary=True, readings=6,
        settings={"column": "voltage", "column_unit": "V"},
    )  # fmt: skip
    study = cells().model_copy(update={"responses": (lasting,)})
    rows = [["DG41", str(n), str(n), f"{0.30 + 0.02 * n:.2f}"] for n in range(1, 7)]
    text = table(rows, ["item", "reading", "age (day)", "voltage (V)"])
    return Case(study, plan_of(study), (("a.csv", text.encode()),))


def _implausible() -> Case:
    height = plants().responses[0].model_copy(update={"high": None})
    study = plants().model_copy(update={"responses": (height,)})
    rows = [[code, str(100 + k)] for k, code in enumerate(CODES)]
    rows[4][1] = "4000000"
    text = table(rows, ["pot", "height (mm)"])
    return Case(study, plan_of(study), (("a.csv", text.encode()),))


def _early() -> Case:
    one = beside({"DG41": "2030-05-03 10:15"}, "time")
    plan = one.plan.model_copy(update={"locked": "2030-05-05"})
    return Case(one.study, plan, one.files)


def _fill_factor(load: str, voc: str, isc: str) -> Case:
    rows = changed(cell_rows(), "DG41", 1, 2, voc)
    return of_cells(changed(changed(rows, "DG41", 1, 3, isc), "DG41", 1, 4, load))


@cache
def cases() -> Mapping[str, Case]:
    """Return for each code of a question files that raise it."""
    rows = cell_rows()
    named = [[*row] for row in rows]
    plain = _implausible()
    lost = of_cells(rows)
    return {
        "no_item": of_cells([["", *r[1:]] if r[0] == "DG41" else r for r in named]),
        "unknown_item": of_cells([["DG4I", *r[1:]] if r[0] == "DG41" else r for r in named]),
        "other_group": _moved({"BD27": "2"}),
        "swapped": _moved({"BD27": "2", "JL79": "1"}),
        "labels_exchanged": of_plants(
            heights(("X09", "X15")), ["pot", "height (mm)", "leaves"], MANY
        ),
        "lost_with_readings": Case(lost.study, lost.plan, lost.files, _lost),
        "readings_gone": _gone(),
        "newer_copy": _copied_file(),
        "entered_twice": of_cells([*rows, *cell_rows(["DG41"])]),
        "read_twice": of_cells([*rows, ["DG41", *cell_row("FH58")[1:]]]),
        "copied": _copy("PR38", "BD27"),
        "copied_run": _run(),
        "filled_down": _filled(),
        "heading": of_cells(rows, (*ALL[:2], "open circuit volts (V)", *ALL[3:])),
        "not_a_number": of_cells(changed(rows, "DG41", 1, 2, "0.4 or so")),
        "other_unit": of_cells(changed(rows, "DG41", 1, 2, "0.409 mA")),
        "decimal_mark": _two_ways(),
        "worked_unclear": beside({"DG41": "so so"}, "did it work?", 1),
        "impossible": of_cells(changed(rows, "DG41", 1, 5, "0")),
        "negative": of_cells(changed(rows, "DG41", 1, 2, "-0.409")),
        "unusual": of_cells(changed(rows, "DG41", 1, 2, "0.95")),
        "crossed": of_cells(
            changed(changed(cell_rows(readings=3), "DG41", 2, 2, "1.14"), "DG41", 2, 3, "0.409")
        ),
        "unusual_result": _unusual_result(),
        "slip": of_cells(changed(rows, "DG41", 1, 2, "409")),
        "implausible": plain,
        "digits": of_cells(changed(cell_rows(readings=3), "JL79", 2, 2, "0.242")),
        "missing": of_cells(changed(rows, "DG41", 2, 5, "")),
        "missing_column": of_cells([row[:5] for row in rows], ALL[:5]),
        "missing_condition": _optional_light(),
        "condition_jump": of_cells(changed(rows, "DG41", 2, 5, "590")),
        "condition_constant": of_cells([[*row[:5], "814"] for row in rows]),
        "no_time": beside({"DG41": "25:70"}, "time"),
        "time_back": timed(["12:40", "12:43", "12:47", "12:51", "12:55", "1:05", "1:09", "1:12",
                            "1:16", "1:20", "1:24", "1:28"]),
        "too_early": _early(),
        "deviation": beside({"DG41": "heated twice"}, "note"),
        "several_values": of_plants(
            [["BD27", "1", "100", "5"], ["BD27", "2", "101", "6"]],
            ["pot", "reading", "height (mm)", "leaves"],
        ),
        "rising": _rising(),
        "more_than_light": _small_area(),
        "load_above_open": _fill_factor("0.55", "0.409", "1.18"),
        "ammeter_above_open": _through_the_ammeter(),
        "current_above_short": _fill_factor("0.295", "0.409", "0.60"),
        "fill_factor_above_one": _fill_factor("0.317", "0.309", "0.93"),
        "fill_factor_above_ideal": _fill_factor("0.300", "0.310", "0.95"),
    }  # fmt: skip


def _optional_light() -> Case:
    """Light that the study can do without: most rows have it, those of one cell have not."""
    opened = Response(
        name="open", unit="V", reducer="iv_point", primary=True, readings=2,
        settings={"quantity": "voc", "reference_light": 800.0},
    )  # fmt: skip
    study = cells().model_copy(update={"responses": (opened,)})
    rows = [[*row[:3], "" if row[0] == "DG41" else row[5]] for row in cell_rows()]
    text = table(rows, ("item", "reading", CELL_HEADINGS[0], CELL_HEADINGS[3]))
    return Case(study, plan_of(study), (("a.csv", text.encode()),))


def _small_area() -> Case:
    """A cell said to be so small that one reading is more than the light on it."""
    power = cells().response("power")
    power = power.model_copy(update={"settings": {**power.settings, "area_cm2": 0.02}})
    study = cells().model_copy(update={"responses": (power, cells().responses[1])})
    rows = changed(changed(cell_rows(), "DG41", 1, 2, "0.790"), "DG41", 1, 4, "0.780")
    return Case(study, plan_of(study), (("a.csv", csv_bytes(rows)),))


def _through_the_ammeter() -> Case:
    """A current that would take more voltage in the ammeter than the cell has."""
    power = cells().response("power")
    power = power.model_copy(update={"settings": {**power.settings, "ammeter_ohm": 300.0}})
    study = cells().model_copy(update={"responses": (power, cells().responses[1])})
    rows = changed(cell_rows(readings=1), "DG41", 1, 3, "1.42")
    return Case(study, plan_of(study), (("a.csv", csv_bytes(rows)),))


def _two_ways() -> Case:
    rows = changed(cell_rows(), "DG41", 1, 3, "1 201")
    text = table(rows, delimiter=";", decimal=",").replace("1 201", "1.201")
    return Case(cells(), plan_of(cells()), (("a.csv", text.encode()),))
