"""Where the example studies are: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

from trials.errors import FileError
from trials.study.messages import meant, shorten

STUDY = "study.toml"
COURSE = "course.toml"  # how an invented class went through its study


def example_names() -> tuple[str, ...]:
    """Return the names of the examples, in alphabetical order.

    Examples
    --------
    >>> example_names()
    ('aviones', 'cells', 'classes', 'greenhouse', 'lessons', 'planes', 'tea')
    """
    return _names(STUDY)


def measured_names() -> tuple[str, ...]:
    """Return the names of the examples that an invented class has measured: those to demonstrate.

    Examples
    --------
    >>> measured_names()
    ('aviones', 'cells', 'planes')
    """
    return _names(COURSE)


def example_folder(name: str, *, measured: bool = False) -> Path:
    """Return the folder of the example called ``name``; with ``measured`` one to demonstrate.

    Raises
    ------
    FileError : there is none of that name, or it has no measurements; the names are listed.

    Examples
    --------
    >>> (example_folder("planes") / "study.toml").is_file()
    True
    """
    names = measured_names() if measured else example_names()
    home = _home()
    if home is None or name not in names:
        raise FileError(
            f"There is no example of that name{' with measurements' if measured else ''}.",
            code="example.unknown",
            found=shorten(name),
            allowed=", ".join(names) or "no examples came with this installation",
            do=meant(name, names, "Choose one of these, for instance: --example planes")
            if names
            else "Install the program again.",
        )
    return home / name


def _names(file: str) -> tuple[str, ...]:
    home = _home()
    if home is None:
        return ()
    return tuple(sorted(path.parent.name for path in home.glob(f"*/{file}")))


def _home() -> Path | None:
    package = Path(__file__).resolve().parent.parent
    for home in (package / "_study_demo", package.parent / "study_demo"):
        if home.is_dir():
            return home
    return None
