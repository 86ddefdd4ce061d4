"""Make the invented throws of the demo's planes from the truth in truth.toml.

Run it with the program installed:

    python study_demo/planes/make_measurements.py [FOLDER]

It draws the demo's plan, lets two invented pupils throw each plane, and writes the table that they
hand in to FOLDER (measured/ beside this file, if none is named).
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

HERE = Path(__file__).resolve().parent


def read_toml(name: str) -> dict[str, Any]:
    """Return one of the files beside this one."""
    with (HERE / name).open("rb") as file:
        return tomllib.load(file)


def throws(study: Study, plan: Plan, truth: dict[str, Any]) -> list[tuple[str, int, str]]:
    """Return code, number of the throw and distance in m as written down, in order of throwing."""
    spread, readings = truth["spread"], study.response("distance").readings
    lines = []
    for row in sorted(plan.rows, key=lambda row: row.measure):
        rng = stream(truth["seed"], f"plane {row.item}")
        far = truth["distance"][row.factors["shape"]] + spread["item"] * rng.normal()
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


def hand_in(study: Study, plan: Plan) -> dict[str, bytes]:
    """Return what the pupils hand in for their plan: file name -> content."""
    out = io.StringIO(newline="")
    table = csv.writer(out)
    table.writerow(layout.headings_of(study)[:3])
    table.writerows(throws(study, plan, read_toml("truth.toml")))
    return {"throws.csv": out.getvalue().encode()}


def main() -> None:
    """Write the file."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "measured"
    study = read_study(HERE / "study.toml")
    plan = draw(study, seed=read_toml("course.toml")["seed"])
    for name, content in hand_in(study, plan).items():
        write_bytes(folder / name, content)


if __name__ == "__main__":
    main()
