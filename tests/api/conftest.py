"""Stores and servers for the tests of the API: everything about the store runs on SQLite and on PostgreSQL."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine
from starlette.testclient import TestClient

from api import demo
from api.app import create_app
from api.settings import Settings
from api.store import JobStore, KeyStore, Store
from api.store.nouns import Room
from tests.api import postgresql
from tests.benchmarks.briefs import case

ROOM = Room(waiting=100, waiting_per_tenant=100, stored_per_tenant=1000)
HERE = ("127.0.0.1", 50_000)


@pytest.fixture(scope="session")
def postgres() -> Iterator[postgresql.Server]:
    with postgresql.server() as found:
        yield found


def emptied(url: str) -> str:
    """The URL, with nothing in the database any more."""
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
    engine.dispose()
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Of an empty database, of each sort in turn."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/store.sqlite3"
    found: postgresql.Server = request.getfixturevalue("postgres")
    return emptied(found.url)


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    found = Store(store_url)
    found.migrate()
    yield found
    found.close()


@pytest.fixture
def jobs(store: Store) -> JobStore:
    return JobStore(store)


@pytest.fixture
def keys(store: Store) -> KeyStore:
    return KeyStore(store)


Start = Callable[..., TestClient]


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Start]:
    """Starts a server in this process, with settings of its own; solving happens in real worker processes."""
    with ExitStack() as stack:

        def started(**settings: Any) -> TestClient:
            url = f"sqlite:///{tmp_path_factory.mktemp('store')}/store.sqlite3"
            asked = {"store": url, "workers": 1, "beat_seconds": 0.1, "requests_per_minute": 1_000_000} | settings
            app = create_app(Settings(**asked))
            client = TestClient(app, base_url="http://127.0.0.1", client=HERE, raise_server_exceptions=False)
            return stack.enter_context(client)

        yield started


def wait_for(client: TestClient, path: str, *, seconds: float = 60, **headers: str) -> dict[str, Any]:
    """The resource once it has ended."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        found: dict[str, Any] = client.get(path, headers=headers).json()
        if found["state"] not in ("queued", "running"):
            return found
        time.sleep(0.05)
    raise AssertionError(f"{path} did not end: {found['state']}")


@pytest.fixture(scope="module")
def client(start: Start) -> TestClient:
    return start()


@pytest.fixture(scope="session")
def brief() -> dict[str, Any]:
    """A brief that is solved within a second."""
    return demo.brief("pinned_solid")


@pytest.fixture(scope="session")
def slow_brief() -> dict[str, Any]:
    """A brief whose proof takes long enough to be stopped in the middle: the benchmark's that none has proved yet."""
    found: dict[str, Any] = case("many_openings", 8, exercises=120).brief.model_dump(mode="json", exclude_unset=True)
    return found


@pytest.fixture(scope="session")
def impossible() -> dict[str, Any]:
    """A small week that cannot be: without squat or hinge it lacks the trunk extension that stands in for them."""
    return {
        "title": "Small week",
        "week": {"start": "2026-11-30", "zone": "Europe/Berlin"},
        "lifter": {"name": "client 90"},
        "places": {"gym": {"base": "full_gym"}},
        "openings": [{"day": ["mon", "wed", "thu"], "start": "18:00", "end": "20:00", "place": "gym"}],
        "kinds": {
            "pull": {
                "patterns": ["vertical_pull", "horizontal_pull"],
                "per_week": 2,
                "sets": {"least": 4, "most": 8},
                "minutes": {"least": 20, "most": 60},
            }
        },
        "sessions": 2,
        "goals": {"lats": {"least": 4, "aim": 8, "most": 14}},
        "exercises": {"only": ["lat_pulldown", "seated_cable_row", "chest_supported_row"]},
    }
