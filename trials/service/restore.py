"""``trials restore``: a study made again from a package, with its record as it was."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from trials.digest import digest
from trials.errors import FileError, TrialsError
from trials.files import as_typed, read_bytes, whole_folder, write_bytes
from trials.record import Store
from trials.record.dump import Dumped, fill
from trials.record.schema import NAMES
from trials.service.export import DESCRIPTION, FORMAT, MARK
from trials.words.numbers import count
from trials.workspace import Workspace, read_plan


@dataclass(frozen=True)
class Restored:
    """The new study folder, and what its record holds."""

    folder: Path
    readings: int
    files: int
    digest: str

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {
            "folder": str(self.folder),
            "readings": self.readings,
            "files": self.files,
            "record_digest": self.digest,
        }

    def text(self) -> list[str]:
        """Return what was made and what comes next."""
        return [
            f"Made again: {self.folder}, with {count(self.readings, 'reading')} from "
            f"{count(self.files, 'file')}. It says the same as the study that was exported.",
            f"Next: trials analyse {as_typed(self.folder)}",
        ]


def restore_study(package: Path, folder: Path) -> Restored:
    """Make a study again from a package; all of it, or nothing.

    Parameters
    ----------
    package : the folder of the package, or its datapackage.json.
    folder : where the study is to be; it must not exist yet, or be empty.

    Raises
    ------
    FileError : no package, one that was changed since it was written, or ``folder`` is in use.
    RecordError : it was written by a newer version of the program.
    """
    if package.name == DESCRIPTION:
        package = package.parent
    described = _described(package)
    ours = described[MARK]
    files = _checked(package, described)
    _refuse_taken(folder)
    with whole_folder(folder) as new:
        for path in files:
            if path.parts[0] == "study":
                write_bytes(new.joinpath(*path.parts[1:]), read_bytes(package / path))
        here = Workspace(new)
        fill(
            here.record,
            Dumped(int(ours["record_format"]), ours["record_numbers"]),
            {name: _lines(package, name) for name in NAMES},
            lambda name: read_bytes(package / _inside(f"files/{name}", package)),
        )
        with Store.open(here.record) as store:
            store.recheck()
            state = store.state()
            kept = store.files()
        if (state.digest(), read_plan(here).digest()) != (
            ours["record_digest"], ours["plan_digest"]
        ):  # fmt: skip
            raise _changed(package, "it does not make the study that was exported")
    return Restored(folder, len(state.rows), len(kept), state.digest())


def _lines(package: Path, name: str) -> Iterator[str]:
    path = package / "record" / f"{name}.jsonl"
    with path.open(encoding="utf-8", newline="\n") as lines:
        yield from lines


def _described(package: Path) -> dict[str, Any]:
    """Return datapackage.json, if it is one of ours and as it was written."""
    try:
        described = json.loads(read_bytes(package / DESCRIPTION))
        ours = described[MARK]
        said = ours.pop("digest")
        version = ours["format"]
    except (FileError, ValueError, TypeError, KeyError, AttributeError):
        raise FileError(
            "This is no package that a study can be made from.",
            code="restore.no_package",
            where=str(package),
            allowed=f"a folder written by trials export, with {DESCRIPTION} in it",
            do="Make one with: trials export FOLDER",
        ) from None
    if digest(described) != said:
        raise _changed(package, DESCRIPTION)
    if version != FORMAT:
        raise FileError(
            "This package was written by another version of the program.",
            code="restore.version",
            where=str(package),
            found=f"format {version}",
            allowed=f"format {FORMAT}",
            do="Use the newest version of the program.",
        )
    checked: dict[str, Any] = described
    return checked


def _checked(package: Path, described: dict[str, Any]) -> list[PurePosixPath]:
    """Return the paths of all files of a package, each compared with its check code."""
    paths = []
    for one in (*described["resources"], *described[MARK]["files"]):
        path = _inside(one["path"], package)
        if f"sha256:{_sha256(package / path)}" != one["hash"]:
            raise _changed(package, str(path))
        paths.append(path)
    return paths


def _sha256(path: Path) -> str:
    sha = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while part := file.read(1 << 20):
                sha.update(part)
    except OSError:
        return "gone"
    return sha.hexdigest()


def _inside(path: str, package: Path) -> PurePosixPath:
    """Return a path that can't lead out of the package."""
    inside = PurePosixPath(path)
    if inside.is_absolute() or ".." in inside.parts or "\\" in path or ":" in path:
        raise _changed(package, path)
    return inside


def _changed(package: Path, what: str) -> TrialsError:
    return FileError(
        "This package is not as it was written, so nothing was made from it.",
        code="restore.changed",
        where=str(package),
        found=what,
        allowed="every file exactly as trials export wrote it",
        do="Get the package again from where it came from, or export the study again.",
    )


def _refuse_taken(folder: Path) -> None:
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return
    has = Workspace(folder).record.exists()
    raise FileError(
        "There is a study with a record in this folder already."
        if has
        else "This folder is in use already.",
        code="restore.record_there" if has else "restore.taken",
        where=str(folder),
        allowed="a folder that does not exist yet, or that is empty",
        do="Name another folder: trials restore PACKAGE NEW-FOLDER",
    )
