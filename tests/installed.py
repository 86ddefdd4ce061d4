"""The program as its wheel brings it, in an environment with what the wheel asks for and no more.

In ``.ci/long`` pip fetches that, as it does for a person. Fetching and unpacking takes a minute, so
elsewhere the same distributions are linked in from where the tests run: what is asked for, what
that asks for in turn, and nothing else. pip says whether it is all there, in versions that fit.
"""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.command_line import ROOT

PINS = ROOT / ".ci" / "constraints.txt"
_PIP = (sys.executable, "-m", "pip", "--disable-pip-version-check")


def build_wheel(folder: Path) -> Path:
    """Build the wheel into a folder and return it."""
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT],
        check=True,
        capture_output=True,
    )
    (wheel,) = folder.glob("*.whl")
    return wheel


def install_wheel(wheel: Path, folder: Path, *, fetched: bool) -> Path:
    """Install a wheel in a new environment and return the environment's Python."""
    venv.create(folder, with_pip=False)  # the pip that we have fills it
    python = next((folder / ("Scripts" if sys.platform == "win32" else "bin")).glob("python*"))
    # what the program doesn't import need not be compiled
    pip: list[str | Path] = [*_PIP, "--python", python]
    install: list[str | Path] = [*pip, "install", "-q", "--no-compile"]
    if fetched:
        subprocess.run([*install, "-c", PINS, wheel], check=True)
    else:
        subprocess.run([*install, "--no-deps", "--no-index", wheel], check=True)
        home = Path(_told(python, "import sysconfig; print(sysconfig.get_path('purelib'))"))
        needed = _needed(next(home.glob("trials-*.dist-info")))
        for one in needed.values():
            _link(one, home)
    subprocess.run([*pip, "check"], check=True, capture_output=True)
    return python


def _told(python: Path, code: str) -> str:
    done = subprocess.run([python, "-c", code], check=True, capture_output=True, text=True)
    return done.stdout.strip()


def _needed(information: Path) -> dict[str, Distribution]:
    """Return what a distribution asks for, and what that asks for, by name."""
    found: dict[str, Distribution] = {}
    left = [(text, "") for text in Distribution.at(information).requires or ()]
    while left:
        text, extra = left.pop()
        asked = Requirement(text)
        name = canonicalize_name(asked.name)
        if asked.marker is not None and not asked.marker.evaluate({"extra": extra}):
            continue
        if name in found and not asked.extras:
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:  # pip check tells of it
            continue
        for wanted in ("", *asked.extras):
            left += [(inner, wanted) for inner in found[name].requires or ()]
    return found


def _link(one: Distribution, home: Path) -> None:
    """Link what a distribution laid beside the others, but not its scripts."""
    tops = {path.parts[0] for path in one.files or ()} - {"..", "__pycache__"}
    for top in sorted(tops):
        if not (home / top).exists():
            os.symlink(str(one.locate_file(top)), home / top)
