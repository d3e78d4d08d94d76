"""A real PostgreSQL server for tests: a cluster of its own in a temporary folder, on a port of its own."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

_USER = "postgres"
"""PostgreSQL refuses to run as root; Debian's package brings this user."""


@dataclass
class Server:
    programs: Path
    folder: Path
    port: int
    as_user: dict[str, object] = field(default_factory=dict)

    @property
    def url(self) -> str:
        return f"postgresql+psycopg://weekwright@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-l", str(self.folder / "log"), "-w", "start")

    def stop(self) -> None:
        """At once, as if the machine had gone: clients lose their connections."""
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")

    def _run(self, program: str, *arguments: str) -> None:
        done = subprocess.run(
            [self.programs / program, *arguments],
            cwd=self.folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            check=False,
            **self.as_user,  # type: ignore[call-overload]
        )
        if done.returncode:
            raise AssertionError(f"{program}: {done.stderr.decode()}")


def programs() -> Path:
    """Where initdb and pg_ctl are. A missing server is a failure, not a reason to skip."""
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name))
    assert folders, "these tests need a PostgreSQL server: apt-get install postgresql"
    return folders[-1]


@contextmanager
def server() -> Iterator[Server]:
    """A running server; it and its data are gone afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="weekwright-postgresql-"))
    as_user: dict[str, object] = {}
    if os.geteuid() == 0:
        account = pwd.getpwnam(_USER)
        os.chown(folder, account.pw_uid, account.pw_gid)
        as_user = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}
    found = Server(programs(), folder, _free_port(), as_user)
    try:
        found._run("initdb", "-D", str(folder / "data"), "-U", "weekwright", "-A", "trust", "-E", "UTF8", "--no-sync")
        with (folder / "data" / "postgresql.conf").open("a") as file:
            file.write(
                f"port = {found.port}\nlisten_addresses = '127.0.0.1'\nunix_socket_directories = '{folder}'\n"
                "fsync = off\nmax_connections = 200\n"
            )
        found.start()
        yield found
    finally:
        _kill(folder)
        shutil.rmtree(folder, ignore_errors=True)


def _kill(folder: Path) -> None:
    try:
        process = int((folder / "data" / "postmaster.pid").read_text().split()[0])
        os.kill(process, signal.SIGQUIT)
    except (OSError, ValueError, IndexError):
        return
    for _ in range(100):
        if not (folder / "data" / "postmaster.pid").exists():
            return
        time.sleep(0.05)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port
