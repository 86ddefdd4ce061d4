"""Make the invented throws of a demo of paper planes from the truth in its truth.toml.

Run it with the program installed:

    python study_demo/planes/make_measurements.py [EXAMPLE]

It draws the plan of ../EXAMPLE (the planes of this folder, if none is named), lets invented pupils
throw each plane, and writes the table that they hand in to its folder measured/.
"""

from __future__ import annotations

import csv
import io
import sys
import tomllib
from pathlib import Path
from typing import Any

from trials.design.draw import draw
from trials.design.values import Plan
from trials.files import write_bytes
from trials.ingest import workbook_layout as layout
from trials.randomness import stream
from trials.study import Study, read_study

PLANES = Path(__file__).resolve().parent


def read_toml(name: str, folder: Path = PLANES) -> dict[str, Any]:
    """Return one of the files of an example."""
    with (folder / name).open("rb") as file:
        return tomllib.load(file)


def throws(study: Study, plan: Plan, truth: dict[str, Any]) -> list[tuple[str, int, str]]:
    """Return code, number of the throw and distance in m as written down, in order of throwing."""
    spread, readings = truth["spread"], study.responses[0].readings
    lines = []
    for row in sorted(plan.rows, key=lambda row: row.measure):
        rng = stream(truth["seed"], f"plane {row.item}")
        far = sum(truth["distance"][name][level] for name, level in row.factors.items())
        far += spread["item"] * rng.normal()
        for reading in range(1, readings + 1):
            distance = far + spread["reading"] * rng.normal()
            lines.append((row.item, reading, f"{distance:.1f}"))
    slipped = stream(truth["seed"], "slips").choice(
        len(lines), truth["trouble"]["slips"], replace=False
    )
    for place in slipped:
        item, reading, distance = lines[place]
        lines[place] = (item, reading, f"{float(distance) * 100:.0f}")
    return lines


def hand_in(study: Study, plan: Plan, folder: Path = PLANES) -> dict[str, bytes]:
    """Return what the pupils hand in for their plan: file name -> content."""
    out = io.StringIO(newline="")
    table = csv.writer(out)
    table.writerow(layout.headings_of(study)[:3])
    table.writerows(throws(study, plan, read_toml("truth.toml", folder)))
    return {"throws.csv": out.getvalue().encode()}


def main() -> None:
    """Write the file."""
    folder = PLANES.parent / sys.argv[1] if len(sys.argv) > 1 else PLANES
    study = read_study(folder / "study.toml")
    plan = draw(study, seed=read_toml("course.toml", folder)["seed"])
    for name, content in hand_in(study, plan, folder).items():
        write_bytes(folder / "measured" / name, content)


if __name__ == "__main__":
    main()
