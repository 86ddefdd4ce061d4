"""Reading and writing files so that nothing is half written and nothing runs by itself."""

from __future__ import annotations

import contextlib
import csv
import io
import os
import re
import shutil
import sys
import tempfile
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from trials.errors import FileError

_BESIDE = ".being-written"
_FORMULA_STARTS = frozenset("=+-@")
_PLAIN_WORD = re.compile(r"[\w.,:+%/-]+\Z")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)


def read_bytes(path: Path, most: int = -1) -> bytes:
    """Return the bytes of ``path``, or its first ``most + 1`` where it is longer than ``most``.

    So a file that is far too large, or never ends, can be refused without filling the memory.

    Raises
    ------
    FileError : the file is missing, is a folder, or may not be read.
    """
    try:
        with path.open("rb") as file:
            return file.read() if most < 0 else file.read(most + 1)
    except FileNotFoundError:
        raise FileError(
            "There is no such file.",
            code="file.missing",
            where=str(path),
            do="Check the spelling of the name and the folder you are in.",
        ) from None
    except OSError as problem:
        raise FileError(
            "The file can't be read.",
            code="file.unreadable",
            where=str(path),
            found=problem.strerror or str(problem),
            do="Check that it is a file and that you may open it.",
        ) from None


def write_bytes(path: Path, content: bytes) -> None:
    """Write ``content`` to ``path``: all of it, or nothing at all.

    The new content is flushed to the disk beside the old file and then takes its place in one step,
    so a killed program or a full disk leaves the old file as it was.

    Raises
    ------
    FileError : the disk is full or the folder may not be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        temporary = Path(name)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(content)
                out.flush()
                os.fsync(out.fileno())
            temporary.chmod(0o666 & ~_umask())
            temporary.replace(path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
    except OSError as problem:
        raise FileError(
            "The file can't be written; what stood there before is unchanged.",
            code="file.unwritable",
            where=str(path),
            found=problem.strerror or str(problem),
            do="Make room on the disk or choose a folder you may write to, then run it again.",
        ) from None


def write_all(folder: Path, files: Mapping[str, bytes], stale: str = "") -> None:
    """Write several files below ``folder``: whatever goes wrong, each is whole, the old or the new.

    All new files are written beside the old ones first; only then does each take its place.

    Parameters
    ----------
    files : content by name below ``folder``, such as "figures/power.svg".
    stale : a folder below ``folder`` from which every other file is taken away at last.

    Raises
    ------
    FileError : the disk is full, or a file can't be replaced.
    """
    beside = folder / _BESIDE
    shutil.rmtree(beside, ignore_errors=True)  # left by a program that was stopped
    try:
        for name, content in files.items():
            write_bytes(beside / name, content)
        for name in files:
            take_place(beside / name, folder / name)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    if stale:
        wanted = {folder / name for name in files}
        for path in sorted((folder / stale).glob("*")):
            if path.is_file() and path not in wanted:
                with contextlib.suppress(OSError):
                    path.unlink()


def take_place(new: Path, old: Path) -> None:
    """Let a written file take the place of another in one step.

    Raises
    ------
    FileError : the old file can't be replaced.
    """
    try:
        old.parent.mkdir(parents=True, exist_ok=True)
        new.replace(old)
    except OSError as problem:
        raise FileError(
            "The file can't be written; what stood there before is unchanged.",
            code="file.unwritable",
            where=str(old),
            found=problem.strerror or str(problem),
            do="Close the programs that show it, then run it again.",
        ) from None


@contextlib.contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """Give a new folder to write into, which then takes the place of ``folder`` in one step.

    Where something goes wrong, ``folder`` is as it was: not there, or the old one.

    Raises
    ------
    FileError : the disk is full, or nothing can be written beside ``folder``.
    """
    folder = folder.absolute()
    beside: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
        new, old = beside / "new", beside / "old"
        new.mkdir()
        yield new
        _flush(new)
        if folder.exists():
            folder.rename(old)
        try:
            new.rename(folder)
        except BaseException:
            if old.exists():
                old.rename(folder)
            raise
    except OSError as problem:
        raise FileError(
            "The folder can't be written; what stood there before is unchanged.",
            code="file.unwritable",
            where=str(folder),
            found=problem.strerror or str(problem),
            do="Make room on the disk or choose a folder you may write to, then run it again.",
        ) from None
    finally:
        if beside is not None:
            shutil.rmtree(beside, ignore_errors=True)


def _flush(folder: Path) -> None:
    """See to it that all files of a folder are on the disk."""
    for path in folder.rglob("*"):
        if path.is_file():
            with path.open("r+b") as file:
                os.fsync(file.fileno())


def write_text(path: Path, content: str) -> None:
    """Write ``content`` as UTF-8 with plain line ends; see :func:`write_bytes`."""
    write_bytes(path, content.encode("utf-8"))


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def safe_cell(text: str) -> str:
    """Return ``text`` so that no spreadsheet takes it for a formula.

    A number keeps its sign; any other text that starts like a formula gets a leading apostrophe,
    also behind blanks, line ends and signs that don't show, and with full-width signs. A carriage
    return becomes a line end: on its own it would begin a new row in some spreadsheets.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("-3.5"), safe_cell("beetroot"), safe_cell("\\n\uff1d1")
    ("'=1+1", '-3.5', 'beetroot', "'\\n\uff1d1")
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    first = next((c for c in text if not c.isspace() and unicodedata.category(c)[0] != "C"), "")
    formula = unicodedata.normalize("NFKC", first)[:1] in _FORMULA_STARTS
    if text[:1] in ("\t", "\n") or (formula and not _NUMBER.fullmatch(text)):
        return "'" + text
    return text


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table as comma-separated text (RFC 4180), safe to open in a spreadsheet.

    Examples
    --------
    >>> csv_text(["item", "note"], [["K7", "=cmd"], ["M2", None]])
    "item,note\\nK7,'=cmd\\nM2,\\n"
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([safe_cell(str(name)) for name in header])
    for row in rows:
        writer.writerow(["" if cell is None else safe_cell(str(cell)) for cell in row])
    return out.getvalue()


@contextlib.contextmanager
def lock(path: Path, seconds: float = 10.0) -> Iterator[None]:
    """Hold the lock file ``path`` while the block runs, so that two people can't write at once.

    Raises
    ------
    FileError : someone else held it for longer than ``seconds``.
    """
    import time

    deadline = time.monotonic() + seconds
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        opened = path.open("a+b")
    except OSError as problem:
        raise FileError(
            "Nothing can be written in this folder.",
            code="file.unwritable",
            where=str(path.parent),
            found=problem.strerror or str(problem),
            do="Copy the folder to a place where you may write, and work there.",
        ) from None
    with opened as handle:
        while not _try_lock(handle.fileno()):
            if time.monotonic() > deadline:
                raise FileError(
                    "Someone else is changing this study just now.",
                    code="file.locked",
                    where=str(path),
                    do="Wait until the other program is done, then run it again.",
                )
            time.sleep(0.05)
        try:
            yield
        finally:
            _unlock(handle.fileno())


if sys.platform == "win32":
    import msvcrt

    def _try_lock(descriptor: int) -> bool:
        try:
            os.lseek(descriptor, 0, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlock(descriptor: int) -> None:
        os.lseek(descriptor, 0, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _try_lock(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    def _unlock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


def as_typed(path: Path) -> str:
    """Return a path as it has to be typed."""
    return f'"{path}"' if " " in str(path) else str(path)


def word_as_typed(text: str) -> str:
    """Return a word of a command as it has to be typed: in quotes if a shell could misread it.

    Examples
    --------
    >>> word_as_typed("K7"), word_as_typed("14:05"), word_as_typed("x0.1"), word_as_typed("W/m²")
    ('K7', '14:05', 'x0.1', 'W/m²')
    >>> print(word_as_typed("current (mA)"))
    "current (mA)"
    """
    if _PLAIN_WORD.match(text):
        return text
    return f"'{text}'" if '"' in text and "'" not in text else f'"{text}"'
