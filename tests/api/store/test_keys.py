"""API keys on both databases."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import text

from api.store import KeyStore, Store
from api.store.keys import Scope


def test_a_key_is_recognised_by_its_token_and_kept_only_as_a_hash(keys: KeyStore, store: Store) -> None:
    key, token = keys.create("gym", [Scope.READ, Scope.WRITE])
    found = keys.recognise(token)
    assert found is not None
    assert (found.id, found.tenant, found.scopes.split()) == (key.id, "gym", ["read", "write"])
    secret = token.rpartition(f"{key.id}_")[2]
    assert len(secret) == 43  # 32 bytes in base64url without padding, RFC 4648 section 5
    with store.engine.connect() as connection:
        rows = str(connection.execute(text("SELECT * FROM keys")).all())
    assert key.id in rows
    assert secret not in rows


def test_a_wrong_token_is_nobody(keys: KeyStore) -> None:
    key, token = keys.create("gym", [Scope.READ])
    other, another = keys.create("gym", [Scope.READ])
    swapped = another.replace(other.id, key.id)
    unknown = f"ww_{'0' * 16}_{'A' * 43}"
    for wrong in ("", "x", token[:-1], token + "A", token.upper(), swapped, unknown, "é" * 64):
        assert keys.recognise(wrong) is None, wrong


def test_expired_and_revoked_keys_are_refused(keys: KeyStore) -> None:
    moment = dt.datetime.now(dt.UTC)
    _, past = keys.create("gym", [Scope.READ], expires_at=moment - dt.timedelta(seconds=1))
    _, future = keys.create("gym", [Scope.READ], expires_at=moment + dt.timedelta(days=1))
    assert keys.recognise(past) is None
    found = keys.recognise(future)
    assert found is not None
    assert keys.any_active()
    assert keys.revoke(found.id)
    assert keys.recognise(future) is None
    assert not keys.any_active()
    assert not keys.revoke("none")
    assert len(keys.all()) == 2
