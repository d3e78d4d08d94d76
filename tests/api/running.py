"""A server in a process of its own, as ``weekwright serve`` starts it, to be asked over a real socket and killed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx2 as httpx

ROOT = Path(__file__).resolve().parents[2]
_START_SECONDS = 60


@dataclass
class Running:
    process: subprocess.Popen[bytes]
    log_file: Path
    """A file, not a pipe: a reader that falls behind would hold the server up."""
    url: str = ""

    def client(self, **more: Any) -> httpx.Client:
        return httpx.Client(base_url=self.url, **({"timeout": 60} | more))

    @property
    def log(self) -> list[dict[str, Any]]:
        """Every log line so far; lines that are no JSON stand under ``raw``."""
        return [_entry(line) for line in self.log_file.read_text(encoding="utf-8").splitlines()]

    @property
    def port(self) -> int:
        return int(self.url.rpartition(":")[2])

    def kill(self) -> None:
        """kill -9: nothing is told, nothing is put in order."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)

    def end(self, seconds: float = 30) -> int:
        """Ask it to end, as a service manager does, and wait."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(seconds)

    def wait_until_up(self) -> None:
        deadline = time.monotonic() + _START_SECONDS
        while not self.url:
            assert self.process.poll() is None, f"the server has ended: {self.log[-5:]}"
            assert time.monotonic() < deadline, f"the server does not come up: {self.log[-5:]}"
            ports = [entry["port"] for entry in self.log if entry.get("message") == "listening"]
            self.url = f"http://127.0.0.1:{ports[0]}" if ports else ""
            time.sleep(0.05)


def _entry(line: str) -> dict[str, Any]:
    try:
        found: dict[str, Any] = json.loads(line)
    except ValueError:
        return {"raw": line}
    return found


@contextmanager
def running(store: str, *, installed: Path | None = None, **settings: Any) -> Iterator[Running]:
    """A server with a store; it is killed at the end if it still runs.

    Args:
        installed: the command of an installation, to be run by itself; left out: this checkout.
    """
    asked = {"store": store, "port": 0, "workers": 1, "requests_per_minute": 1_000_000, "beat_seconds": 0.1} | settings
    environment = os.environ | {f"WEEKWRIGHT_{name.upper()}": str(value) for name, value in asked.items()}
    with tempfile.TemporaryDirectory(prefix="weekwright-server-") as folder:
        log_file = Path(folder) / "log"
        with log_file.open("wb") as log:
            process = subprocess.Popen(
                [installed, "serve"] if installed else [sys.executable, "-m", "api", "serve"],
                cwd=folder if installed else ROOT,
                env=environment | {"PYTHONPATH": "" if installed else str(ROOT)},
                stderr=log,
            )
        found = Running(process, log_file)
        try:
            found.wait_until_up()
            yield found
        finally:
            if process.poll() is None:
                found.kill()
