"""Outside judges of web pages: the Nu Html Checker, and axe-core in Chromium.

Both are npm packages, pinned in ``.ci/package.json`` and installed by ``.ci/run``. The Nu Html
Checker (the validator of the W3C) holds a page to the HTML standard and its rules for ARIA;
axe-core to what a machine can see of WCAG 2.2 A and AA, and to good practice.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

MODULES = Path(__file__).resolve().parent.parent / ".ci" / "node_modules"
NU = MODULES / "vnu-jar" / "build" / "dist" / "vnu.jar"
AXE = MODULES / "axe-core" / "axe.min.js"
CHROMIUM = ("chromium", "chromium-browser", "google-chrome")

_WCAG = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
_PICTURE = re.compile(r"data:image/svg\+xml;base64,[^\"]+")
_POINT = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw=="


def nu_messages(*pages: Path) -> list[str]:
    """Return all that the Nu Html Checker has to say of pages: errors and warnings."""
    told = subprocess.run(
        ["java", "-jar", NU, "--format", "json", "--exit-zero-always", *pages],
        capture_output=True, text=True, check=True, timeout=300,
    )  # fmt: skip
    found = json.loads(told.stderr)["messages"]
    return [f"{Path(m['url']).name}:{m.get('lastLine')}: {m['message']}" for m in found]


def in_chromium(page: str, script: str, width: int = 1000) -> Any:
    """Return what a script finds in a page; it calls ``tell`` with something that JSON can hold."""
    end = (
        "<script>function tell(what) { document.documentElement.innerHTML = '';"
        " document.documentElement.setAttribute('data-told', JSON.stringify(what)); }</script>"
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "page.html")
        path.write_text(page.replace("</body>", f"{end}{script}</body>"), encoding="utf-8")
        dumped = subprocess.run(
            [
                next(name for name in CHROMIUM if shutil.which(name)),
                "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                "--disable-background-networking", "--disable-component-update", "--disable-sync",
                "--enable-blink-features=ComputedAccessibilityInfo",
                f"--window-size={width},1000", f"--user-data-dir={folder}/profile",
                "--virtual-time-budget=60000", "--dump-dom", path.as_uri(),
            ],
            capture_output=True, text=True, check=True, timeout=300,
        ).stdout  # fmt: skip
    told = re.search(r'data-told="([^"]*)"', dumped)
    assert told, f"the script told nothing: {dumped[:300]}"
    return json.loads(told[1].replace("&quot;", '"').replace("&lt;", "<").replace("&amp;", "&"))


def axe_violations(page: str, width: int = 1000) -> Mapping[str, list[str]]:
    """Return every rule of axe-core that a page breaks, with the places.

    All that opens is opened. A dot stands for each picture, for axe-core can't look into one.
    """
    found = in_chromium(
        _PICTURE.sub(_POINT, page),
        f'<script src="{AXE.as_uri()}"></script><script>'
        "document.querySelectorAll('details').forEach(one => { one.open = true; });"
        f"axe.run(document, {{resultTypes: ['violations'], runOnly: {list(_WCAG)}}}).then(told =>"
        " tell({rules: told.passes.length, broken: told.violations.map(one =>"
        " [one.id, one.nodes.map(node => node.target.join(' '))])}),"
        " error => tell({rules: 0, broken: [['error', [String(error)]]]}));</script>",
        width,
    )
    assert found["rules"] > 10, found  # it did look
    return dict(found["broken"])
