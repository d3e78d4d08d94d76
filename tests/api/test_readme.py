"""The round trips in the README, run as they stand there, with curl and with Python."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

from icalendar import Calendar

from tests.api.running import ROOT, running

ADDRESS = "localhost:8765"


def blocks(language: str) -> list[str]:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text[text.index("## Over HTTP") :]
    return re.findall(rf"```{language}\n(.*?)```", section, re.DOTALL)


def test_the_round_trips_work_as_written(tmp_path: Path) -> None:
    assert shutil.which("curl"), "this test needs curl: apt-get install curl"
    with running(f"sqlite:///{tmp_path}/store.sqlite3") as server:
        here = f"localhost:{server.port}"
        shell = blocks("sh")[0].replace(ADDRESS, here)
        assert "8765" not in shell
        subprocess.run(["bash", "-euo", "pipefail", "-c", shell], cwd=tmp_path, check=True, timeout=120)
        assert len(Calendar.from_ical((tmp_path / "week.ics").read_bytes()).walk("VEVENT")) == 4
        program = blocks("python")[0].replace("127.0.0.1:8765", f"127.0.0.1:{server.port}")
        done = subprocess.run(
            [sys.executable, "-c", program], cwd=tmp_path, check=True, timeout=120, capture_output=True, text=True
        )
        assert done.stdout.startswith("proved best ['2027-01-11T")
