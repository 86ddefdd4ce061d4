"""What a long check found, kept with commit and date."""

from __future__ import annotations

import datetime
import json
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def keep_evidence(name: str, found: object) -> None:
    """Write what a check found to reports/evidence/NAME.json."""
    commit = subprocess.run(
        ["git", "rev-parse", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.strip()
    kept = {
        "check": name,
        "commit": commit,
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(),
        "found": found,
    }
    path = ROOT / "reports" / "evidence" / f"{name}.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(kept, indent=1, sort_keys=True) + "\n", encoding="utf-8")
