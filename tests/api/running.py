"""A server in a process of its own, as ``weekwright serve`` starts it, to be asked over a real socket and killed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx2 as httpx

ROOT = Path(__file__).resolve().parents[2]
_START_SECONDS = 60


@dataclass
class Running:
    process: subprocess.Popen[str]
    url: str = ""
    log: list[dict[str, Any]] = field(default_factory=list)
    """Every log line; lines that are no JSON stand under ``raw``."""
    _listening: threading.Event = field(default_factory=threading.Event)

    def client(self, **more: Any) -> httpx.Client:
        return httpx.Client(base_url=self.url, **({"timeout": 60} | more))

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

    def read_log(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            try:
                entry = json.loads(line)
            except ValueError:
                entry = {"raw": line}
            self.log.append(entry)
            if entry.get("message") == "listening":
                self.url = f"http://127.0.0.1:{entry['port']}"
                self._listening.set()
        self._listening.set()

    def wait_until_up(self) -> None:
        self._listening.wait(_START_SECONDS)
        assert self.url, f"the server does not come up: {self.log[-5:]}"


@contextmanager
def running(store: str, **settings: Any) -> Iterator[Running]:
    """A server with a store; it is killed at the end if it still runs."""
    asked = {"store": store, "port": 0, "workers": 1, "requests_per_minute": 1_000_000, "beat_seconds": 0.1} | settings
    environment = os.environ | {f"WEEKWRIGHT_{name.upper()}": str(value) for name, value in asked.items()}
    process = subprocess.Popen(
        [sys.executable, "-m", "api", "serve"],
        cwd=ROOT,
        env=environment | {"PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE,
        text=True,
    )
    found = Running(process)
    reader = threading.Thread(target=found.read_log, daemon=True)
    reader.start()
    try:
        found.wait_until_up()
        yield found
    finally:
        if process.poll() is None:
            found.kill()
        reader.join(10)
        assert process.stderr is not None
        process.stderr.close()
