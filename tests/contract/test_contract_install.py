"""README's commands, and the wheel in an environment of its own."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
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


@pytest.mark.needs("package-index")
def test_the_wheel_alone_does_the_whole_demo(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", tmp_path, ROOT],
        check=True,
        capture_output=True,
    )
    (wheel,) = tmp_path.glob("*.whl")
    venv.create(tmp_path / "fresh", with_pip=False)  # the pip that we have fills it
    scripts = tmp_path / "fresh" / ("Scripts" if sys.platform == "win32" else "bin")
    pins = ROOT / ".ci" / "constraints.txt"
    python = next(scripts.glob("python*"))
    pip: list[str | Path] = [sys.executable, "-m", "pip", "--python", python, "install", "-q"]
    # what the demo doesn't import need not be compiled
    subprocess.run([*pip, "--no-compile", "-c", pins, wheel], check=True)
    done = subprocess.run(
        [scripts / "trials", "demo", "there", "--json"],
        cwd=tmp_path,
        check=True,
        capture_output=True,
        text=True,
    )
    assert json.loads(done.stdout)["folder"] == "there"
    assert done.stderr == ""
    assert (tmp_path / "there" / "report" / "report.html").is_file()
