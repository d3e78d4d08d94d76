"""The command ``weekwright`` as it is installed: the library's commands, and those of the server.

The library does not know of the server, so its group is completed here. Heavy imports happen inside the commands.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from scheduler.cli import main
from scheduler.cli.shared import EXIT_BAD_INPUT

if TYPE_CHECKING:
    from api.settings import Settings
    from api.store import KeyStore

_FILE = click.Path(path_type=Path, exists=True, dir_okay=False)
_settings_file = click.option("--settings", "file", type=_FILE, help="A file of WEEKWRIGHT_NAME=value lines.")
_store = click.option("--store", help="SQLAlchemy URL of the store; left out: the setting.")


@main.command()
@_settings_file
@click.option("--host", help="Address to listen on; other machines need a key.")
@click.option("--port", type=click.IntRange(0, 65535), help="Port to listen on.")
@click.option("--workers", type=click.IntRange(1), help="Weeks solved at one time.")
@_store
@click.option("--show-settings", is_flag=True, help="Print all settings, without secrets, and end.")
def serve(file: Path | None, show_settings: bool, **changes: Any) -> None:
    """Serve the JSON API. Every option and more is a setting: WEEKWRIGHT_PORT=9000, or a line of a file."""
    settings = _settings(file, **changes)
    if show_settings:
        click.echo(json.dumps(settings.shown(), indent=2))
        return
    from api.service import NoKeys
    from api.serving import serve as run
    from api.store import StoreUnavailable

    try:
        run(settings)
    except NoKeys as error:
        _fail(str(error))
    except StoreUnavailable as error:
        _fail(f"the store cannot be used ({error}); see WEEKWRIGHT_STORE")


@main.group()
def keys() -> None:
    """Make, list and revoke the keys of the JSON API."""


@keys.command()
@click.argument("tenant")
@click.option("--scope", "scopes", type=click.Choice(["read", "write", "erase", "metrics"]), multiple=True)
@click.option("--days", type=click.IntRange(1, 3650), default=365, show_default=True, help="Days until it expires.")
@click.option("--note", default="", help="What it is for.")
@_settings_file
@_store
def create(*, tenant: str, scopes: tuple[str, ...], days: int, note: str, file: Path | None, store: str | None) -> None:
    """Make a key for TENANT, say a gym, and print it: this once only. Without --scope it may read and write."""
    import datetime as dt

    from api.store.keys import TENANT, Scope

    if not TENANT.fullmatch(tenant):
        _fail(f"{tenant!r} is no name of a tenant: up to 100 letters, digits, '.', '_' and '-'")
    chosen = [Scope(name) for name in scopes or ("read", "write")]
    expires = dt.datetime.now(dt.UTC) + dt.timedelta(days=days)
    key, token = _keys(file, store).create(tenant, chosen, expires_at=expires, note=note[:200])
    click.echo(f"key {key.id} of {tenant}: {key.scopes}; expires {expires:%Y-%m-%d}. It is shown only now:", err=True)
    click.echo(token)


@keys.command("list")
@_settings_file
@_store
def list_keys(file: Path | None, store: str | None) -> None:
    """List all keys, without their secrets."""
    from api.store.keys import is_active

    for key in _keys(file, store).all():
        state = "revoked" if key.revoked_at else "active" if is_active(key) else "expired"
        until = f"{key.expires_at:%Y-%m-%d}" if key.expires_at else "never"
        click.echo(f"{key.id}  {state:<8} {key.tenant}  {key.scopes}  expires {until}  {key.note}".rstrip())


@keys.command()
@click.argument("key_id", metavar="KEY")
@_settings_file
@_store
def revoke(key_id: str, file: Path | None, store: str | None) -> None:
    """Revoke KEY, by the id that list shows: it is refused from now on."""
    if not _keys(file, store).revoke(key_id):
        _fail(f"there is no key {key_id}; see: weekwright keys list")
    click.echo(f"{key_id} is revoked")


def _keys(file: Path | None, url: str | None) -> KeyStore:
    from api.store import KeyStore, Store, StoreUnavailable

    store = Store(_settings(file, store=url).store_url)
    try:
        store.migrate()
    except StoreUnavailable as error:
        _fail(f"the store cannot be used ({error}); see WEEKWRIGHT_STORE")
    return KeyStore(store)


def _settings(file: Path | None, **changes: Any) -> Settings:
    from pydantic import ValidationError

    from api.settings import read_settings

    try:
        return read_settings(file, **changes)
    except ValidationError as error:
        for detail in error.errors(include_url=False, include_input=False):
            click.echo(f"WEEKWRIGHT_{'_'.join(map(str, detail['loc'])).upper()}: {detail['msg']}", err=True)
        sys.exit(EXIT_BAD_INPUT)


def _fail(message: str) -> None:
    click.echo(message, err=True)
    sys.exit(EXIT_BAD_INPUT)


__all__ = ["main"]
