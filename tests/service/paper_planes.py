"""An invented study of paper planes by three teams, for what happens when something is missing."""

from __future__ import annotations

from pathlib import Path

from tests.command_line import CommandLine

STUDY = """format_version = 1
title = "Which paper plane flies further?"
question = "Does a narrow dart fly further than a broad glider?"
note = "Invented data."
item_name = "plane"

[factors.shape]
label = "shape"
levels = ["dart", "glider"]
{applied}
[groups.team]
label = "team"
count = 3
members = ["alder", "birch", "cedar"]
role = "maker"
{session}
[responses.distance]
label = "distance flown"
unit = "m"
reducer = "value"
worthwhile = 1
[responses.distance.spread]
items = 1
{groups}
[limits]
items = 24
"""
TWO = '[groups.session]\nlabel = "session"\ncount = 2\n'


def planned_study(folder: Path, **parts: str) -> CommandLine:
    """Plan the study as 'air' in a folder; without sessions, unless ``parts`` say other lines."""
    line = CommandLine(folder)
    (folder / "air").mkdir(parents=True)
    text = STUDY.format(**{"applied": "", "session": "", "groups": ""} | parts)
    (folder / "air" / "study.toml").write_text(text, encoding="utf-8")
    line.run("plan", "air", "--seed", "3")
    return line
