"""Ctrl-C at any moment: words, exit code 130, and nothing that stands in the way afterwards."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from tests.command_line import ROOT, CommandLine


@pytest.mark.skipif(sys.platform == "win32", reason="Windows sends Ctrl-C to whole consoles")
def test_stopping_the_demo_and_starting_it_again(afresh: CommandLine) -> None:
    stopped = 0
    for seconds in (0.3, 1.5, 4.0, 7.0):
        with subprocess.Popen(
            [sys.executable, "-m", "trials", "demo", "here"],
            cwd=afresh.folder,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as demo:
            time.sleep(seconds)
            demo.send_signal(signal.SIGINT)
            _, told = demo.communicate(timeout=60)
        assert demo.returncode in (0, 130), told
        if demo.returncode == 130:
            stopped += 1
            assert "Traceback" not in told
            assert "Stopped. Nothing was lost" in told
        left = [path for path in afresh.folder.rglob("*") if path.name.startswith(".trials.lock")]
        assert len(left) <= 1  # the empty lock file may stay; it holds nothing
    assert stopped >= 2
    afresh.run("demo", "here")
    assert json.loads((afresh.folder / "here" / "findings.json").read_bytes())["responses"]
    assert (afresh.folder / "here" / "report" / "report.html").is_file()
