"""API keys: made, recognised, revoked."""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import re
import secrets
from collections.abc import Iterable
from enum import StrEnum

from sqlalchemy import select

from api.store.engine import Store
from api.store.models import Key
from api.store.nouns import now

_TOKEN = re.compile(r"ww_([0-9a-f]{16})_([A-Za-z0-9_-]{43})")
TENANT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")


class Scope(StrEnum):
    """What a key allows."""

    READ = "read"
    WRITE = "write"
    """Ask for plans and answers, stop them."""
    ERASE = "erase"
    METRICS = "metrics"


class KeyStore:
    def __init__(self, store: Store) -> None:
        self._store = store

    def create(
        self, tenant: str, scopes: Iterable[Scope], *, expires_at: dt.datetime | None = None, note: str = ""
    ) -> tuple[Key, str]:
        """A new key and its token, which can be seen only now."""
        secret = secrets.token_urlsafe(32)
        key = Key(
            id=secrets.token_hex(8),
            tenant=tenant,
            note=note,
            secret_sha256=_hash(secret),
            scopes=" ".join(sorted(scope.value for scope in set(scopes))),
            created_at=now(),
            expires_at=expires_at,
        )
        with self._store.writing() as session:
            session.add(key)
        return key, f"ww_{key.id}_{secret}"

    def recognise(self, token: str) -> Key | None:
        """The key of a token; None for one that is unknown, expired or revoked."""
        match = _TOKEN.fullmatch(token)
        if match is None:
            return None
        with self._store.reading() as session:
            key = session.get(Key, match[1])
        if key is None or not hmac.compare_digest(key.secret_sha256, _hash(match[2])):
            return None
        return key if is_active(key) else None

    def any_active(self) -> bool:
        query = select(Key.id).where(Key.revoked_at.is_(None), (Key.expires_at.is_(None)) | (Key.expires_at > now()))
        with self._store.reading() as session:
            return session.scalar(query.limit(1)) is not None

    def all(self) -> list[Key]:
        """Every key, oldest first."""
        with self._store.reading() as session:
            return list(session.scalars(select(Key).order_by(Key.created_at, Key.id)))

    def revoke(self, key_id: str) -> bool:
        """Whether there was such a key."""
        with self._store.writing() as session:
            key = session.get(Key, key_id)
            if key is None:
                return False
            key.revoked_at = key.revoked_at or now()
        return True


def is_active(key: Key) -> bool:
    return key.revoked_at is None and (key.expires_at is None or key.expires_at > now())


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
