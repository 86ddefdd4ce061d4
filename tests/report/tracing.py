"""Where every number of a printed page comes from: a tracer that knows nothing of the program.

It reads the committed files of a demo (findings.json, plan.json, study.toml and what the class
handed in) and nothing of the package. A page is cut into rows of tables and clauses of prose. The
numbers of a row or a clause must all be, at the digits shown, numbers of *one* record: one mean,
one comparison, one item, one verdict. So a number that is a little wrong finds no record, though
some other record may hold it.
"""

from __future__ import annotations

import csv
import json
import math
import re
import statistics
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import openpyxl
import pypdf

from .traced_page import CODE, Line, any_shows, clauses, flat, numbers, shows

ROOT = Path(__file__).parents[2]
# what was put right by hand: the item, the reading, its number as written and as it is right
CORRECTED = {"cells": ("YT3", 2, 135.0, 0.135), "planes": ("DMY", 2, 1030.0, 10.3)}
# decisions and the items that they are about, and how often the work departed from the plan
DECIDED = {"cells": (2, 3, 1), "planes": (1, 1, 0)}
T = TypeVar("T")
# a class and a size of paper, as the makers named them
NAMED = {"cells": {"9b"}, "planes": {"A4"}}
ROWS = {"cells": 5, "planes": 4}  # of tiles on the board, the most in one column
STUDY: ContextVar[str] = ContextVar("study", default="cells")


@contextmanager
def tracing(study: str) -> Iterator[None]:
    """Read the pages of this study within the block."""
    before = STUDY.set(study)
    try:
        yield
    finally:
        STUDY.reset(before)


def kept() -> Path:
    """Return the folder of what the demo made of the study."""
    return ROOT / "reports" / STUDY.get()


def _demo() -> Path:
    return ROOT / "study_demo" / STUDY.get()


def each_once(make: Callable[[], T]) -> Callable[[], T]:
    """Work out once for each study what stays the same."""
    made: dict[str, T] = {}

    def told() -> T:
        if STUDY.get() not in made:
            made[STUDY.get()] = make()
        return made[STUDY.get()]

    return told


@each_once
def sources() -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    """Return the findings, the plan and the study as they stand in the files."""
    findings = json.loads((kept() / "findings.json").read_text("utf-8"))
    plan = json.loads((kept() / "plan.json").read_text("utf-8"))
    return findings, plan, tomllib.loads((kept() / "study.toml").read_text("utf-8"))


@dataclass(frozen=True)
class Reading:
    """One reading as handed in, put right as the report says it was."""

    item: str
    number: int
    numbers: tuple[float, ...]  # voltage, short-circuit current, load voltage, light; or one
    clock: str
    file: str
    row: int


@each_once
def handed_in() -> dict[tuple[str, int], Reading]:
    """Return what the class handed in, by item and reading.

    What was put right by hand is told in the report: of the cells a reading in millivolts, and two
    labels that were exchanged; of the planes a distance in centimetres.
    """
    found = _cells_handed_in() if STUDY.get() == "cells" else _throws()
    item, number, written, right = CORRECTED[STUDY.get()]
    one = found[item, number]
    assert one.numbers.count(written) == 1
    put = tuple(right if value == written else value for value in one.numbers)
    return found | {(item, number): replace(one, numbers=put)}


def _throws() -> dict[tuple[str, int], Reading]:
    lines = (_demo() / "measured" / "throws.csv").read_text("utf-8-sig").splitlines()
    rows = list(csv.reader(lines))
    return {
        (item, int(number)): Reading(item, int(number), (float(value),), "", "throws.csv", at)
        for at, (item, number, value) in enumerate(rows[1:], 2)
    }


def _cells_handed_in() -> dict[tuple[str, int], Reading]:
    measured = _demo() / "measured"
    rows = (measured / "team-rowan.csv").read_text("utf-8-sig").splitlines()
    found = [
        ("team-rowan.csv", at, row)
        for at, row in enumerate(csv.reader(rows, delimiter=";"), 1)
        if at > 1
    ]
    book = openpyxl.load_workbook(measured / "entry-workbook.xlsx", data_only=True)
    for sheet in list(book)[1:]:
        for at, cells in enumerate(sheet.iter_rows(min_row=4, values_only=True), 4):
            if cells[0] and cells[2] is not None:
                found.append(("entry-workbook.xlsx", at, [str(cell) for cell in cells]))
    out = {}
    for file, at, row in found:
        item = {"NRM": "WRT", "WRT": "NRM"}.get(row[0], row[0])
        values = [float(cell.replace(",", ".")) for cell in row[2:6]]
        out[item, int(row[1])] = Reading(item, int(row[1]), tuple(values), row[6], file, at)
    return out


@dataclass(frozen=True)
class Record:
    """What one thing of the study is known by: its numbers and the names that belong to it."""

    kind: str
    numbers: tuple[float, ...]
    names: frozenset[str]


def _record(kind: str, *nodes: Any) -> Record:
    words: set[str] = set()
    for text in _strings(nodes):
        words |= {text, *re.split(r"[:/]", text)}
    return Record(kind, tuple(flat(list(nodes))), frozenset(words))


def _strings(node: Any) -> Iterator[str]:
    if isinstance(node, str):
        yield node
    elif isinstance(node, dict):
        for key, one in node.items():
            yield str(key)
            yield from _strings(one)
    elif isinstance(node, list | tuple):
        for one in node:
            yield from _strings(one)


@each_once
def records() -> tuple[Record, ...]:
    """Return every record of the study that a row or a clause may tell of."""
    findings, plan, study = sources()
    out = [_record("skeleton", row) for row in plan["skeleton"]]
    out += [
        _record(
            "reading",
            [one.item, one.number, *one.numbers, one.row, *one.clock.split(":")],
            one.file,
            re.split(r"[-.]", one.file),
        )
        for one in handed_in().values()
    ]
    out += [_record("correction", *CORRECTED[STUDY.get()])]
    out += [_record("step", one.get("minutes"), one.get("waiting")) for one in study["steps"]]
    search = plan["search"]
    out += [_record("search", search["starts"], math.floor(100 * search["efficiency"]) / 100)]
    out += [
        _record("chance of luck", [1, round(1 / p)], p)
        for p in plan["shuffle"]["smallest_p"].values()
    ]
    out += [_record("promise", one) for one in plan["verdict_chances"]]
    out += [_record("promise", one) for one in plan["detectable"]]
    for found in findings["responses"]:
        out += _of_response(found)
    out += [_record("settings", one.get("settings")) for one in study["responses"].values()]
    out += _who_did()
    out += _design()
    return tuple(out)


def _of_response(found: dict[str, Any]) -> Iterator[Record]:
    turned = _turned(found["scale"] == "ratio")
    lists = {
        "effects": "effect", "variance_components": "variance", "means": "mean", "trends": "trend",
        "comparisons": "comparison", "contenders": "contender", "recipes": "recipe",
    }  # fmt: skip
    for key, kind in lists.items():
        yield from (_record(kind, one) for one in found[key])
    yield from (_record("comparison", turned(one)) for one in found["comparisons"])
    best = found["best_recipe"]
    yield _record("best", best, len(found["recipes"]), _by_itself(found))
    yield _record("alike", found.get("failed_alike"))
    yield _record("noise", found["reading_share"])
    for one in found["verdicts"]:
        told = {key: value for key, value in one.items() if key != "sentence"}
        yield _record("verdict", told, _more(found, one))
        yield _record("verdict", turned(told), _more(found, one))
    for place, one in enumerate(found["failures"]):
        for level, made in one["made"].items():
            p = [one["p"], one["p_as_worst"]]
            yield _record("failure", [level, made, one["failed"].get(level, 0), *p, place])
    yield from _levels(found)
    yield from _diagnosed(found)
    yield from _items(found)
    if (teams := found["repeatability"]) is not None:
        yield from (_record("team", team) for team in teams["teams"])
        yield _record("teams", teams | {"teams": []}, found["n_items"])
    else:
        yield _record("confidence", 0.95)


def _by_itself(found: dict[str, Any]) -> list[Any]:
    """Return the best recipe's interval as it stands in the table of recipes."""
    best = found["best_recipe"]["levels"]
    return [one["interval"] for one in found["recipes"] if one["levels"] == best]


def _turned(ratio: bool) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """Return how a comparison is told the other way round: 1/x of a ratio, -x of a difference."""
    turn = {
        "ratio", "difference", "largest_difference", "interval", "interval_adjusted",
        "interval_randomisation",
    }  # fmt: skip

    def other(x: Any) -> Any:
        if isinstance(x, list):
            return [other(one) for one in x]
        return x if x is None else 1 / x if ratio else -x

    return lambda one: {key: other(x) if key in turn else x for key, x in one.items()}


def _more(found: dict[str, Any], verdict: dict[str, Any]) -> list[float]:
    """Return how many more of each kind would settle it: what is needed in all, less what is."""
    need = verdict["to_settle"]
    if need is None:
        return []
    plan = sources()[1]
    levels = next(f["levels"] for f in plan["factors"] if f["name"] == verdict["factor"])
    now = found["n_items"]
    if need["group"] != "residual":
        now = len({tuple(row["groups"].items())[0:2] for row in plan["rows"]})
    more = float(-((now - need["count"]) // len(levels)))
    if need["group"] == "residual":
        return [more]
    return [more, more * len(levels) * len(plan["rows"]) / now]  # and the items that these hold


def _levels(found: dict[str, Any]) -> Iterator[Record]:
    """Each version of each variable: mean and range of doubt, extremes, number, failed ones."""
    for one in found["means"]:
        if len(one["levels"]) == 1:
            (factor, level), *_ = one["levels"].items()
            values = [p["value"] for p in found["points"] if p["factors"][factor] == str(level)]
            failed = next(f for f in found["failures"] if f["factor"] == factor)["failed"]
            sd = found["diagnostics"]["spread"][factor]["levels"][str(level)]
            more = [min(values), max(values), failed.get(str(level), 0), sd]
            yield _record("level", level, one["n"], one["mean"], one["interval"], more)


def _diagnosed(found: dict[str, Any]) -> Iterator[Record]:
    told = found["diagnostics"]
    yield _record("shape", told["residual_df"], told["normal_shape"])
    yield from (_record("unusual", one) for one in told["largest"])
    for factor, one in told["influence"]["factors"].items():
        for left in one["ranges"]:
            yield _record("left out", left, one["a"], one["b"], one["estimate"])
        yield _record("left out", factor, one["a"], one["b"], one["estimate"])
    totals = {
        one["kind"]: one["left_out"]
        for f in told["influence"]["factors"].values()
        for one in f["ranges"]
    }
    moves = told["influence"]["moves"]
    by_kind = [[one for one in moves if one["left_out"]["kind"] == kind] for kind in totals]
    yield from (_record("moves", mine, len(mine)) for mine in by_kind if mine)
    yield _record("moves", [len(mine) for mine in by_kind], list(totals.values()))
    for factor, one in told["spread"].items():
        p = (told["equal_spread"][factor] or {}).get("p")
        for level, sd in one["levels"].items():
            yield _record("spread", level, sd, one["ratio"], p)
    yield from (_record("drift", one) for one in told["drift"].values())
    for kind, one in told["groups"].items():
        members = [[member, left] for member, left in one["members"].items()]
        yield _record("group", kind, one["n"], one["sd"], one["largest"])
        yield _record("group", kind, one["n"], members)
        yield from (_record("member", *member) for member in members)
    for key in ("welch", "games_howell"):  # two versions, each with a spread of its own
        yield _record("own spread", told.get(key))
    for place, pair in enumerate(told.get("games_howell") or (), 1):
        yield from (_record("end", place, end) for end in enumerate(pair["interval"], 1))
    for key in ("residual", "leftover"):
        values = [point[key] for point in found["points"]]
        above = sum(value > 0 for value in values)
        yield _record("residuals", min(values), max(values), len(values), above)


def _items(found: dict[str, Any]) -> Iterator[Record]:
    plan, study = sources()[1:]
    points = {point["item"]: point for point in found["points"]}
    settings = study["responses"][found["name"]].get("settings", {})
    for row in plan["rows"]:
        item = row["item"]
        mine = [one for (of, _), one in handed_in().items() if of == item]
        if not mine:
            yield _record("item", row, 0)
            continue
        values = [_value(one, settings) for one in mine]
        known = [len(mine), _uncertainty(mine, values, settings)]
        around = []
        if mine[0].clock:
            hours, minutes = mine[0].clock.split(":")
            light = statistics.fmean(one.numbers[3] for one in mine)
            around = [light, int(hours) + int(minutes) / 60]
        value = points.get(item, statistics.fmean(values))
        yield _record("item", row, value, known, around)


def _value(one: Reading, settings: dict[str, Any]) -> float:
    """Return one reading's value: the voltage, or P = V^2 / (R A) at the reference light."""
    if settings.get("quantity") != "power_per_area":
        return one.numbers[0]
    _, _, load, light = one.numbers
    watts = load**2 / settings["load_ohm"] / settings["area_cm2"]
    return float(1e6 * watts * settings["reference_light"] / light)


def _uncertainty(mine: list[Reading], values: list[float], settings: dict[str, Any]) -> float:
    """Return the standard uncertainty of the mean of readings.

    Type A by JCGM 100:2008, 4.2.3; for the power also the last digit of the voltmeter, 1 mV, as a
    rectangular distribution (F.2.2.1), carried over by the slope of P = V^2 / (R A).
    """
    spread: float = statistics.stdev(values) / math.sqrt(len(values))
    if settings.get("quantity") != "power_per_area":
        return spread
    slopes = [_slope(one, settings) for one in mine]
    return math.hypot(spread, statistics.fmean(slopes) * 0.001 / math.sqrt(12))


def _slope(one: Reading, settings: dict[str, Any]) -> float:
    watts = 2 * one.numbers[2] / settings["load_ohm"] / settings["area_cm2"]
    return float(1e6 * watts * settings["reference_light"] / one.numbers[3])


def _design() -> Iterator[Record]:
    """How many of what each version is on, and what a plan like this can see."""
    _, plan, study = sources()
    for factor in plan["factors"]:
        level, name = str(factor["levels"][0]), factor["name"]
        mine = [row for row in plan["rows"] if str(row["factors"][name]) == level]
        firings = {(row["groups"].get("session"), row["groups"].get("firing")) for row in mine}
        kinds = [len(one["levels"]) for one in plan["factors"]]
        yield _record(
            "design", kinds, [len(factor["levels"]), len(mine), len(firings)], len(plan["rows"])
        )
    sizes = [len(group["members"]) for group in plan["groups"]]
    yield _record("design", sizes, [len(one["levels"]) for one in plan["factors"]])
    on = {len(plan["rows"]) // len(one["levels"]) for one in plan["factors"]}
    yield _record("design", sorted(on), max(sizes, default=0) // 2, len(plan["rows"]))
    yield _record(
        "detectable",
        [
            one["at_80"]
            for one in plan["detectable"]
            if one["spread"] == "given" and one["response"] == next(iter(study["responses"]))
        ],
    )
    yield _record("versions", [one["levels"] for one in plan["factors"]], study["limits"]["items"])
    # what fairs of the international kind allow (ISEF display rules, 30 x 48 x 108 inches in cm),
    # tiles of A4 (ISO 216) in rows with 1 cm between them and at both ends, a table 91 cm high
    rows = ROWS[STUDY.get()]
    high = rows * 29.7 + (rows + 1) * 1.0
    tiles = len(pypdf.PdfReader(kept() / "report" / "board.pdf").pages) - 1  # but for how to hang
    yield _record("board", [tiles, 21, 29.7, rows, high, 91, 91 + high], [76, 122, 274])
    yield _record("decisions", *DECIDED[STUDY.get()])


def _who_did() -> Iterator[Record]:
    findings, plan, _ = sources()
    if not plan["groups"]:
        return
    found = findings["responses"][0]
    lost = {one["item"]: one["reason"].partition(":")[0] for one in found["set_aside"]}
    teams = {row["item"]: row["groups"]["team"] for row in plan["rows"]}
    settled = {"linden": 1, "willow": 1}  # the labels exchanged, and the reading in millivolts
    for team in sorted(set(teams.values())):
        mine = [item for item, of in teams.items() if of == team]
        gone = [lost[item] for item in mine if item in lost]
        count = sum(teams[item] == team for item, _ in handed_in())
        counts = [len(mine), len(mine) - len(gone), gone.count("failed"), gone.count("lost"), count]
        yield _record("who did what", team, *counts, settled.get(team, 0), 0)


# Numbers that the page says in fixed words: what is said is true whatever the study found.
FIXED = (
    "about 19 of 20 studies", "about 95 of 100 studies", "fewer than 1 of 1000 repeats",
    "in 8 of 10 such checks", "then about 8 of 10 such studies",
    "SHA-256", "their level is 5 %, that of the intervals", "runs from 1/d to d",
    "fewer than 6 members", "add less than 1 %", "0, 1 or 4 times as much as items",
    "3 of each, the least",
    "before the cut at 0",
    # the works that are cited, checked against their title pages' data (from memory)
    "Patterson and Thompson 1971, Biometrika 58, 545-554",
    "Kenward and Roger (1997, Biometrics 53, 983-997)",
    "Kramer 1956, Biometrics 12, 307-310",
    "J. C. Hsu (1984, Ann. Statist. 12, 1136-1144)", "An end of exactly 0", "An end of exactly 1",
    "Lang and Altman 2013, Science Editors' Handbook",
)  # fmt: skip


def traced(line: Line) -> list[tuple[str, bool]]:
    """Return every number of a row or a block, and whether it was traced."""
    out = []
    text, known = _without_known(line.text.replace("\u00a0", " "))
    out += [(token, True) for token in known]
    percent = [cell for head, cell in zip(line.heads, line.cells, strict=False) if "%" in head]
    parts = [text] if line.cells else clauses(text)
    for part in parts:
        out += _of_clause(part, {number for cell in percent for number in numbers(cell)})
    return out


@each_once
def _known() -> tuple[str, ...]:
    """Return what is printed as it was written: by the study's makers, or in fixed words."""
    findings, plan, study = sources()
    written = [text for text in _strings(study) if re.search(r"\d", text) and " " in text]
    lost = [one["reason"] for one in findings["responses"][0]["set_aside"]]
    lost += [plan["locked"], told_on(), f"trials {findings['program_version']}"]
    lost += [f"version {plan['program_version']}", f"--seed {plan['seed']}", f"seed {plan['seed']}"]
    lost += [f"{len(plan['seeds_tried'])} seed tried"]
    pieces = [text.rstrip(".") for text in [*written, *lost, plan["family"]]]
    return tuple(sorted({*FIXED, *pieces}, key=len, reverse=True))


def told_on() -> str:
    """Return the day on which the demo is reported."""
    return str(tomllib.loads((_demo() / "course.toml").read_text("utf-8"))["told"])


def _without_known(text: str) -> tuple[str, list[str]]:
    """Take out of a text what is known word by word, and the names of versions and units."""
    out: list[str] = []
    for piece in _known():
        while (at := text.lower().find(piece.lower())) >= 0:
            out += numbers(piece)
            text = text[:at] + "~" + text[at + len(piece) :]
    for pattern in (r"\b(?:10|40) min\b", r"\b1 coating pass\b", r"\b2 coating passes\b"):
        out += [token for hit in re.findall(pattern, text) for token in numbers(hit)]
        text = re.sub(pattern, "~", text)
    return text, out


@each_once
def _names() -> re.Pattern[str]:
    plan = sources()[1]
    found = {row["item"] for row in plan["rows"]}
    for factor in plan["factors"]:
        found |= {level for level in factor["levels"] if not level.isdigit()}
    for group in plan["groups"]:
        found |= {re.split(r"[:/]", member)[-1] for member in group["members"]}
    return re.compile(r"\b(" + "|".join(sorted(found)) + r")\b")


def _of_clause(text: str, percent: set[str]) -> list[tuple[str, bool]]:
    repeats = {k: float(n) for k, n in re.findall(r"(\d+) (?:of|in) (10+)\b", text)}
    text = re.sub(r"(\d+) (?:of|in) 10+\b", r"\1", text)
    tokens = numbers(text)
    if not tokens:
        return []
    fair = [token for token in tokens if not _counted(token, text)]
    names = set(_names().findall(text))
    less = set(re.findall(r"(\d+(?:\.\d+)?)(?= \S{1,8} less)", text))
    share = percent | set(re.findall(r"(\d+(?:\.\d+)?)(?= ?%)", text))

    def holds(record: Record, token: str) -> bool:
        if re.search(rf"< ?{re.escape(token)}", text):
            return any(0 <= x < float(token) for x in record.numbers)
        times = 100 if token in share else repeats.get(token, 1)
        values = [times * x for x in record.numbers]
        return any_shows(f"-{token}" if token in less else token, values)

    for record in records():
        if names <= record.names and all(holds(record, token) for token in fair):
            return [(token, True) for token in tokens]
    return [(token, token not in fair) for token in tokens]


@each_once
def counts() -> dict[str, tuple[str, float]]:
    """Return what is counted over the whole study: the words after the number, and the number."""
    findings, plan, study = sources()
    found = findings["responses"][0]
    rows = plan["rows"]
    recipes = {tuple(sorted(row["factors"].items())) for row in rows}
    layouts, items = plan["shuffle"]["size"], f"{study['item_name']}s"
    readings = next(iter(study["responses"].values()))["readings"]
    return {
        "planned": (rf"{items} planned|planned|{items}", len(rows)),
        "worked": (rf"{items} that worked|{items}|gave a value|items", found["n_items"]),
        "failed": (r"failed", found["n_failed"]),
        "lost": (r"(was )?lost", found["n_lost"]),
        "made and tested": (rf"{items} made and tested", len(rows) - found["n_lost"]),
        "readings": (r"readings of \d+", found["n_readings"]),
        "readings of each": (r"readings of each", readings),
        "recipes": (r"recipes", len(recipes)),
        "pairs": (r"pairs", math.comb(len(plan["factors"]), 2)),
        "kept the same": (r"things the same", len(study["same"])),
        "layouts": (r"layouts", float(f"{layouts:.2e}")),
        "millions of layouts": (r"million layouts", float(f"{layouts / 1e6:.3g}")),
    }


def _counted(token: str, text: str) -> bool:
    """Whether a number is one of :func:`counts`, with the word that belongs to it behind it."""
    return any(
        shows(token, value) and re.search(rf"(?<![\d.]){re.escape(token)} ({word})", text)
        for word, value in counts().values()
    )


def known_codes() -> set[str]:
    """Return every word with digits in it that is a name: of items, groups, signs and hazards."""
    findings, plan, study = sources()
    out = {row["item"] for row in plan["rows"]}
    for group in plan["groups"]:
        out |= {part for member in group["members"] for part in re.split(r"[:/]", member)}
    for step in study["steps"]:
        for one in step.get("cautions", []):
            out |= {*one.get("iso7010", []), *one.get("ghs", [])}
    course = tomllib.loads((_demo() / "course.toml").read_text("utf-8"))
    out |= {text for text in _strings(course) if CODE.fullmatch(text)}  # who settled a question
    digests = (plan["digest"], findings["record_digest"], plan["study_digest"])
    return out | {digest[:8] for digest in digests} | NAMED[STUDY.get()]


def codes(text: str) -> list[str]:
    return CODE.findall(text)


def paper_lines(text: str) -> Iterator[Line]:
    """Give the rows and the prose of a page on paper, lines of prose joined again."""
    prose: list[str] = []
    percent = False
    for line in text.replace("\u00a0", " ").splitlines():
        if "making (" in line:
            percent = "(%)" in line
        cells = tuple(line.split())
        if re.search(r"(?: (?:[\d.]+|–)){3,}\s*$", f" {line}"):
            yield Line(" ".join(" ".join(prose).split()))
            heads = ("", "", *("(%)" if percent else "" for _ in cells[2:]))
            yield Line(line, "row", heads, cells)
            prose = []
        else:
            prose.append(line)
    yield Line(" ".join(" ".join(prose).split()))


def without_list_numbers(text: str) -> tuple[str, list[tuple[str, bool]]]:
    """Take the numbers of lists off the lines; each must be 1 or one more than the one before."""
    out, last, lines = [], 0, []
    for line in text.splitlines():
        hit = re.match(r"(?:• Page )?(\d+)(?:[.:] |$)", line)
        if hit:
            out.append((hit[1], int(hit[1]) in (1, 2, last + 1)))
            last = int(hit[1])
        lines.append(f". {line[hit.end() :]}" if hit else line)
    return "\n".join(lines), out
