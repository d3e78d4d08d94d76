"""The database: a SQLite file or PostgreSQL, one way to read and one way to write."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as NoFreeConnection
from sqlalchemy.orm import Session

_WRITES = "weekwright_writes"
_BUSY_SECONDS = 10
_POOL: dict[str, Any] = {"pool_size": 10, "max_overflow": 40, "pool_timeout": _BUSY_SECONDS}
"""More than the threads that serve requests, so that none waits for a connection."""


class StoreUnavailable(Exception):  # noqa: N818, the name says what is wrong
    """The database cannot be reached, or cannot write just now."""


class Store:
    """A database with the tables of this program. Safe to share between threads, not between processes."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.is_sqlite = make_url(url).get_backend_name() == "sqlite"
        self.engine = _sqlite(url) if self.is_sqlite else _postgresql(url)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that only reads. Raises StoreUnavailable."""
        with self._guarded(), Session(self.engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session in one transaction, committed at the end. Raises StoreUnavailable."""
        engine = self.engine.execution_options(**{_WRITES: True})
        with self._guarded(), Session(engine, expire_on_commit=False) as session, session.begin():
            yield session

    @contextmanager
    def _guarded(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            if _is_passing(error):
                # Statement and parameters stay out of what is raised: they hold briefs.
                raise StoreUnavailable(type(error.orig).__name__) from None
            raise
        except NoFreeConnection:
            raise StoreUnavailable("no free connection") from None

    def migrate(self, version: str = "head") -> None:
        """Bring the tables to this version's shape, or up to that of an older one. Raises StoreUnavailable."""
        from alembic import command
        from alembic.config import Config

        config = Config()
        config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
        with self._guarded(), self.engine.execution_options(**{_WRITES: True}).begin() as connection:
            if not self.is_sqlite:  # two servers that start together
                connection.execute(text("SELECT pg_advisory_xact_lock(7305001)"))
            config.attributes["connection"] = connection
            command.upgrade(config, version)

    def ping(self) -> None:
        """Raises StoreUnavailable."""
        with self.reading() as session:
            session.execute(text("SELECT 1"))

    def forget_deleted(self) -> None:
        """Take what was deleted out of the files as well, as far as the database can."""
        if self.is_sqlite:  # secure_delete has zeroed it in the pages; the log may still hold it
            with self._guarded(), self.engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        else:
            with self._guarded(), self.engine.connect() as connection:
                connection.execution_options(isolation_level="AUTOCOMMIT").exec_driver_sql("VACUUM jobs, repeats")

    def close(self) -> None:
        self.engine.dispose()


def _is_passing(error: DBAPIError) -> bool:
    """Whether the database is away, busy, full or read-only, rather than asked something wrong."""
    return error.connection_invalidated or type(error.orig).__name__ in {
        *("OperationalError", "InterfaceError", "AdminShutdown", "CrashShutdown", "CannotConnectNow", "DiskFull"),
        *("ConnectionTimeout", "TooManyConnections", "DeadlockDetected", "SerializationFailure", "LockNotAvailable"),
        *("IdleInTransactionSessionTimeout", "QueryCanceled", "ReadOnlySqlTransaction"),
    }


def _keep_private(file: str | None) -> None:
    """Make the file before SQLite does, for its owner's eyes only: it holds health data. Its log gets the same mode."""
    if file and file != ":memory:":
        with suppress(OSError):  # what is wrong with it is said when it is opened
            os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


def _sqlite(url: str) -> Engine:
    _keep_private(make_url(url).database)
    engine = create_engine(url, connect_args={"timeout": _BUSY_SECONDS}, hide_parameters=True, **_POOL)

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # this program says itself where a transaction begins
        for pragma in (
            *("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"),
            f"busy_timeout={_BUSY_SECONDS * 1000}",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # A writer takes its turn at the start: one that has read first could no longer wait for another to end.
        writes = connection.get_execution_options().get(_WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _postgresql(url: str) -> Engine:
    return create_engine(
        url,
        pool_pre_ping=True,
        **_POOL,
        connect_args={"connect_timeout": _BUSY_SECONDS},
        hide_parameters=True,
    )
