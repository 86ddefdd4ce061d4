"""Where the example studies are: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

from trials.errors import FileError
from trials.study.messages import meant, shorten

_STUDY = "study.toml"


def example_names() -> tuple[str, ...]:
    """Return the names of the examples, in alphabetical order.

    Examples
    --------
    >>> example_names()
    ('cells', 'classes', 'greenhouse', 'lessons', 'planes', 'tea')
    """
    home = _home()
    if home is None:
        return ()
    return tuple(sorted(path.parent.name for path in home.glob(f"*/{_STUDY}")))


def example_folder(name: str) -> Path:
    """Return the folder of the example called ``name``.

    Raises
    ------
    FileError : there is none of that name; the names are listed.

    Examples
    --------
    >>> (example_folder("planes") / "study.toml").is_file()
    True
    """
    names = example_names()
    home = _home()
    if home is None or name not in names:
        raise FileError(
            "There is no example of that name.",
            code="example.unknown",
            found=shorten(name),
            allowed=", ".join(names) or "no examples came with this installation",
            do=meant(name, names, "Choose one of these, for instance: --example planes")
            if names
            else "Install the program again.",
        )
    return home / name


def _home() -> Path | None:
    package = Path(__file__).resolve().parent.parent
    for home in (package / "_study_demo", package.parent / "study_demo"):
        if home.is_dir():
            return home
    return None
