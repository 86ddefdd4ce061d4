"""README's commands, and the wheel in an environment of its own."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from zipfile import ZipFile

import pytest

from tests.command_line import ROOT
from tests.installed import build_wheel, install_wheel
from tests.sizes import LONG

SMALLEST = ("--example", "planes")
README = (ROOT / "README.md").read_text(encoding="utf-8")


def fenced_commands() -> list[str]:
    return [block.strip() for block in re.findall(r"^```\w*\n(.*?)^```$", README, re.M | re.S)]


def test_the_first_two_fenced_commands_are_one_line_each() -> None:
    first, second = fenced_commands()[:2]
    assert "\n" not in first
    assert "\n" not in second
    for command in (first, second):
        assert command.startswith("python3 -m venv ")
        assert "-c .ci/constraints.txt" in command
    assert first.endswith("trials demo")
    assert second.endswith("pytest")


def test_the_windows_form_stands_beside_each() -> None:
    after = README.split("```sh")[1:3]
    for text in after:
        assert "On Windows" in text.split("```")[1][:60]


def test_every_dependency_is_pinned_and_no_address_is_named() -> None:
    pins = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8")
    lines = [line for line in pins.splitlines() if not line.startswith("#")]
    pinned = {re.sub(r"[-_.]+", "-", line.split("==")[0]).lower() for line in lines}
    assert all(re.fullmatch(r"[A-Za-z0-9_.\-]+==[^\s@/]+", line) for line in lines)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert set(project["optional-dependencies"]) == {"test"}
    wanted = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    names = {re.sub(r"[-_.]+", "-", re.split(r"[<>=\[; ]", name)[0]).lower() for name in wanted}
    assert names <= pinned


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_wheel(tmp_path_factory.mktemp("built"))


@pytest.fixture(scope="module")
def python(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the Python of an environment that holds the wheel and what it asks for."""
    return install_wheel(wheel, tmp_path_factory.mktemp("fresh") / "fresh", fetched=LONG)


@pytest.mark.long
def test_the_wheel_alone_does_the_whole_demo(python: Path, tmp_path: Path) -> None:
    """In ``.ci/long`` that of README, fetched by pip; elsewhere that of the smallest example."""
    done = subprocess.run(
        [python.with_name("trials"), "demo", "there", "--json", *(() if LONG else SMALLEST)],
        cwd=tmp_path,
        env={name: value for name, value in os.environ.items() if name != "PYTHONPATH"},
        check=True,
        capture_output=True,
        text=True,
    )
    assert json.loads(done.stdout)["folder"] == "there"
    assert done.stderr == ""
    assert (tmp_path / "there" / "report" / "report.html").is_file()


def test_the_wheel_holds_the_whole_program_and_all_examples(wheel: Path) -> None:
    with ZipFile(wheel) as packed:
        held = set(packed.namelist())
    for folder, inside in (("trials", "trials"), ("study_demo", "trials/_study_demo")):
        files = {
            f"{inside}/{path.relative_to(ROOT / folder).as_posix()}"
            for path in (ROOT / folder).rglob("*")
            if path.is_file() and "__pycache__" not in path.parts
        }
        assert len(files) > 10
        assert files <= held


def test_whatever_the_program_imports_comes_with_its_wheel(python: Path) -> None:
    """Also what it imports late, which the smallest example doesn't need."""
    found = {name for path in (ROOT / "trials").rglob("*.py") for name in _imported(path)}
    wanted = sorted(found - sys.stdlib_module_names)
    assert {"numpy", "ortools", "statsmodels", "segno"} <= set(wanted)
    code = (
        "import importlib.util, sys\n"
        "print(*(n for n in sys.argv[1:] if importlib.util.find_spec(n) is None))"
    )
    done = subprocess.run(
        [python, "-I", "-c", code, *wanted], check=True, capture_output=True, text=True
    )
    assert done.stdout.split() == []


def _imported(path: Path) -> Iterator[str]:
    """Give the top names of what a file imports anywhere in it."""
    for node in ast.walk(ast.parse(path.read_bytes())):
        if isinstance(node, ast.Import):
            yield from (one.name.partition(".")[0] for one in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield str(node.module).partition(".")[0]
