"""The house rules that a machine can check; each says in its message what to do."""

from __future__ import annotations

import ast
import datetime
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from trials.classroom.lessons import schedule, timetable_of
from trials.design.draw import sketch
from trials.service.new import new as make_study
from trials.study import read_study
from trials.workspace import open_workspace, save_plan

ROOT = Path(__file__).resolve().parent.parent
HOUSE = ROOT / "trials"
SOURCES = sorted(HOUSE.rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
GENERAL_ROOMS = ("model", "design", "record", "classroom", "analysis")
TRADE_WORDS = re.compile(r"[Dd]ye|[Vv]olt|[Ss]olar|[Ee]lectr")
HEAVY = frozenset(
    [
        "numpy",
        "pandas",
        "scipy",
        "statsmodels",
        "pingouin",
        "seaborn",
        "matplotlib",
        "ortools",
        "openpyxl",
        "typst",
        "pint",
        "pydantic",
        "uncertainties",
        "jinja2",
        "tree_sitter",
        "pyDOE3",
        "sqlite3",
    ]
)


def _named(path: Path) -> str:
    return str(path.relative_to(ROOT))


@cache
def _found() -> tuple[tuple[Path, ast.FunctionDef | ast.AsyncFunctionDef | ast.Call], ...]:
    """Return the functions of all sources and where they print; they are read once for all."""
    return tuple(
        (path, node)
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        or (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "print"
        )
    )


def test_general_rooms_know_no_trade_word() -> None:
    found = [
        f"{_named(path)}:{number}: {line.strip()}"
        for room in GENERAL_ROOMS
        for path in sorted((HOUSE / room).rglob("*"))
        if path.suffix in (".py", ".toml", ".json", ".txt")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if TRADE_WORDS.search(line)
    ]
    assert not found, "move these to reduction/electrical, words or study_demo:\n" + "\n".join(
        found
    )


def test_files_are_short() -> None:
    long = {
        _named(path): lines
        for path, most in [*((p, 600) for p in SOURCES), *((p, 800) for p in TESTS)]
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > most
    }
    assert not long, f"split these: {long}"


def test_functions_are_short_and_take_few_parameters() -> None:
    found = []
    for path, node in _found():
        if isinstance(node, ast.Call):
            continue
        lines = (node.end_lineno or node.lineno) - node.lineno + 1
        docstring = ast.get_docstring(node, clean=False)
        lines -= len(docstring.splitlines()) if docstring else 0
        names = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        parameters = [name.arg for name in names if name.arg not in ("self", "cls")]
        if lines > 60 or len(parameters) > 8:
            found.append(
                f"{_named(path)}:{node.lineno} {node.name}: {lines} lines, "
                f"{len(parameters)} parameters"
            )
    assert not found, "split these, or group options in a value:\n" + "\n".join(found)


def test_library_code_does_not_print() -> None:
    found = [
        f"{_named(path)}:{node.lineno}" for path, node in _found() if isinstance(node, ast.Call)
    ]
    assert not found


def test_no_machine_path_or_address_of_a_registry_in_committed_text() -> None:
    marks = re.compile(
        "|".join(("/wo" + "rk/", "/tm" + "p/w", "py" + r"pi\.org", "pythonho" + "sted"))
    )
    found = [
        _named(path)
        for folder in ("trials", "tests", "study_demo", ".ci")
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in (".py", ".toml", ".txt", ".md", ".csv", ".typ", ".html", "")
        and path.is_file()
        and marks.search(path.read_text(encoding="utf-8", errors="replace"))
    ]
    assert not found


def _loaded_by(*arguments: str) -> set[str]:
    """Return the names of all modules that a start of the program loads, and the top one of each.

    Modules of the program itself by their whole names, those of libraries by their top ones.
    """
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "trials", *arguments],
        capture_output=True,
        text=True,
        check=True,
    )
    lines = [line for line in done.stderr.splitlines() if line.startswith("import time:")]
    assert len(lines) > 50, "python's import times were not understood"
    names = {line.rsplit("|", 1)[1].strip() for line in lines}
    return {name if name.startswith("trials.") else name.split(".")[0] for name in names}


def test_help_loads_nothing_heavy() -> None:
    assert not _loaded_by("--help") & HEAVY


@pytest.mark.parametrize("verb", ["plan", "analyse"])
def test_help_of_a_verb_loads_nothing_heavy_but_what_typer_reads_arguments_with(verb: str) -> None:
    assert not _loaded_by(verb, "--help") & (HEAVY - {"pydantic"})


def test_sheets_load_what_typesets_them_and_neither_search_nor_model(tmp_path: Path) -> None:
    """The ready class, with lessons, materials in stock and spares; numpy is openpyxl's."""
    here = open_workspace(make_study(tmp_path / "class", example="lessons").folder)
    study = read_study(here.study)
    plan = sketch(study, counted=False)
    found = timetable_of(study, schedule(study, plan, advise=False))
    assert found is not None
    plan = plan.model_copy(update={"timetable": found})
    save_plan(here, plan, measured=False, today=datetime.date(2026, 3, 2))
    loaded = _loaded_by("sheets", str(here.folder))
    assert (here.sheets / "lesson.pdf").exists()
    assert {"typst", "openpyxl", "trials.sheets.materials"} <= loaded
    assert loaded & HEAVY <= {"typst", "openpyxl", "numpy", "pydantic", "sqlite3", "tree_sitter"}
    rooms = ("trials.model", "trials.analysis", "trials.design.search", "trials.design.shuffle")
    assert not [name for name in loaded if name.startswith(rooms)]


def test_help_takes_under_three_tenths_of_a_second_of_processor_time() -> None:
    code = (
        "import os, subprocess, sys\n"
        "subprocess.run([sys.executable, '-m', 'trials', '--help'], stdout=subprocess.DEVNULL)\n"
        "times = os.times()\n"
        "print(times.children_user + times.children_system)\n"
    )
    seconds = [
        float(subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout)
        for _ in range(3)
    ]
    assert min(seconds) < 0.3


def test_importing_the_package_loads_nothing() -> None:
    code = "import sys, trials; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not set(loaded) & (HEAVY | {"typer", "rich"})
