"""Who may come in: keys, scopes, tenants; the open server on its own machine."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest
from fastapi.routing import APIRoute, iter_route_contexts
from starlette.testclient import TestClient

from api.app import create_app
from api.service import NoKeys, Service
from api.settings import Settings
from api.store.keys import Scope
from tests.api.conftest import HERE, Start, wait_for
from tests.blocks.small import SMALL

WAIT = {"Prefer": "wait=30"}
PAGE = {"/", "/page/{name:path}"}
"""Files that are the same for everyone: they hold nobody's data, and a browser fetches them without a key."""


def service_of(client: TestClient) -> Service:
    service: Service = client.app.state.service  # type: ignore[attr-defined]
    return service


def routes(client: TestClient) -> list[Any]:
    """Every route of the server, those of included routers too."""
    every = iter_route_contexts(client.app.routes)  # type: ignore[attr-defined]
    return [route for route in every if isinstance(route.original_route, APIRoute)]


def bearer(client: TestClient, tenant: str, *scopes: Scope, **more: Any) -> dict[str, str]:
    _, token = service_of(client).keys.create(tenant, scopes or tuple(Scope), **more)
    return {"Authorization": f"Bearer {token}"}


def test_every_route_is_found_by_reflection(client: TestClient) -> None:
    """The walk over the routes sees what the OpenAPI document lists, and beside it only the files of the page."""
    documented = client.get("/v1/openapi.json").json()["paths"]
    assert {route.path for route in routes(client)} - PAGE == set(documented)
    assert len(documented) > 30


def test_no_tenant_sees_another_route_by_route(start: Start, brief: dict[str, Any]) -> None:
    client = start()
    owner, stranger = bearer(client, "gym"), bearer(client, "another-gym")
    plan = client.post("/v1/plans", json=brief, headers=owner | WAIT).json()["id"]
    sweep = {"vary": [{"path": "title", "values": ["a"]}]}
    answer = client.post(f"/v1/plans/{plan}/tradeoff", json=sweep, headers=owner)
    answer_id = answer.json()["id"]
    batch = client.post("/v1/batches", content="{}", headers=owner | {"Content-Type": "application/x-ndjson"}).headers[
        "location"
    ]
    block = client.post("/v1/blocks", json={"brief": SMALL, "block": {"weeks": 1, "easy_weeks": 0}}, headers=owner)
    ids = {
        "plan_id": plan,
        "answer_id": answer_id,
        "batch_id": batch.rpartition("/")[2],
        "block_id": block.json()["id"],
    }
    wait_for(client, f"/v1/answers/{answer_id}", **owner)
    wait_for(client, f"/v1/blocks/{ids['block_id']}", **owner)
    bodies: dict[str, Any] = {
        "why-not": {"demand": "mon"},
        "what-if": {"patches": {"a": {"title": "b"}}},
        "tradeoff": sweep,
        "logs": {"log": {"week": SMALL["week"]["start"]}},
    }
    looked = 0
    for route in routes(client):
        names = set(re.findall(r"{(\w+)}", route.path)) & set(ids)
        if not names:
            continue
        path = route.path.format(**ids)
        query = {"base": plan} if path.endswith("/difference") else {}
        for method in route.methods:
            body = bodies.get(path.rpartition("/")[2], {}) if method == "POST" else None
            theirs = client.request(method, path, json=body, params=query, headers=stranger)
            nothing = client.request(
                method,
                re.sub("|".join(ids.values()), "0" * 32, path),
                json=body,
                params=dict.fromkeys(query, "0" * 32),
                headers=stranger,
            )
            assert theirs.status_code == 404, f"{method} {path}: {theirs.status_code}"
            # Nothing tells a stranger that it exists: the answer is that of an id that was never given out.
            mine = theirs.json() | {"request_id": ""}
            assert mine == nothing.json() | {"request_id": ""}
            looked += 1
    assert looked >= 18
    assert client.get("/v1/blocks", headers=stranger).json()["blocks"] == []
    assert client.get("/v1/plans", headers=stranger).json()["plans"] == []
    assert client.get("/v1/plans", params={"before": plan}, headers=stranger).status_code == 404
    assert client.post("/v1/erasures", json={"plan": plan}, headers=stranger).json() == {"erased": 0}
    assert client.post("/v1/erasures", json={"everything": True}, headers=stranger).json() == {"erased": 0}
    assert client.get(f"/v1/plans/{plan}", headers=owner).status_code == 200


def test_one_tenants_idempotency_key_is_not_anothers(start: Start, brief: dict[str, Any]) -> None:
    client = start()
    key = {"Idempotency-Key": '"same"'}
    first = client.post("/v1/plans", json=brief, headers=bearer(client, "gym") | key)
    other = client.post("/v1/plans", json=brief | {"title": "x"}, headers=bearer(client, "another") | key)
    assert other.status_code == 202
    assert other.headers["location"] != first.headers["location"]


def test_every_route_but_health_wants_a_key_once_there_is_one(start: Start) -> None:
    client = start()
    assert client.get("/v1").status_code == 200
    key = bearer(client, "gym")
    open_routes = {"/healthz", "/readyz"} | PAGE
    for route in routes(client):
        path = re.sub(r"{\w+}", "0" * 32, route.path)
        for method in route.methods:
            answer = client.request(method, path)
            if route.path in open_routes:
                continue
            assert answer.status_code == 401, f"{method} {path}: {answer.status_code}"
            assert answer.headers["www-authenticate"].startswith("Bearer")  # RFC 9110 section 15.5.2
    for wrong in ("Bearer nonsense", "Basic YTpi", key["Authorization"][:-1], "Bearer"):
        answer = client.get("/v1", headers={"Authorization": wrong})
        assert answer.status_code == 401
        assert 'error="invalid_token"' in answer.headers["www-authenticate"]  # RFC 6750 section 3.1
    assert client.get("/v1", headers=key).status_code == 200


def test_scopes_allow_what_they_name(start: Start, brief: dict[str, Any]) -> None:
    client = start()
    everything = bearer(client, "gym")
    reader = bearer(client, "gym", Scope.READ)
    writer = bearer(client, "gym", Scope.WRITE)
    assert client.get("/v1/plans", headers=reader).status_code == 200
    assert client.post("/v1/plans", json=brief, headers=reader).status_code == 403
    assert client.post("/v1/plans", json=brief, headers=writer).status_code == 202
    assert client.get("/v1/plans", headers=writer).status_code == 403
    assert client.post("/v1/erasures", json={"everything": True}, headers=writer).status_code == 403
    assert client.get("/metrics", headers=reader).status_code == 403
    assert client.get("/metrics", headers=everything).status_code == 200
    about = client.get("/v1/access", headers=reader).json()
    assert (about["tenant"], about["scopes"]) == ("gym", ["read"])


def test_expiry_and_revocation_take_effect_at_once(start: Start) -> None:
    client = start()
    key, token = service_of(client).keys.create("gym", [Scope.READ])
    header = {"Authorization": f"Bearer {token}"}
    assert client.get("/v1", headers=header).status_code == 200
    service_of(client).keys.revoke(key.id)
    assert client.get("/v1", headers=header).status_code == 401
    soon = bearer(client, "gym", expires_at=dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1))
    assert client.get("/v1", headers=soon).status_code == 401


def test_an_open_server_serves_this_machine_only(start: Start) -> None:
    app = start().app
    for address in ("192.0.2.7", "2001:db8::1", "testclient"):  # addresses for documentation, RFC 5737 and 3849
        far = TestClient(app, base_url="http://127.0.0.1", client=(address, 1))
        assert far.get("/v1").status_code == 401
    here = TestClient(app, base_url="http://127.0.0.1", client=HERE)
    assert here.get("/v1").status_code == 200
    # Passed on by a proxy: someone else's request.
    assert here.get("/v1", headers={"X-Forwarded-For": "192.0.2.7"}).status_code == 401
    assert here.get("/v1", headers={"Forwarded": "for=192.0.2.7"}).status_code == 401
    # A page elsewhere whose own name was made to lead here.
    for name in ("evil.example", "evil.example:8765", "127.0.0.1.evil.example"):
        assert here.get("/v1", headers={"Host": name}).status_code == 421
    for name in ("localhost:8765", "127.0.0.1", "[::1]:8765"):
        assert here.get("/v1", headers={"Host": name}).status_code == 200


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "gym.example"])
def test_other_addresses_are_not_served_without_a_key(host: str, tmp_path: Any) -> None:
    settings = Settings(host=host, store=f"sqlite:///{tmp_path}/s.sqlite3", workers=1)
    with pytest.raises(NoKeys, match="keys create"), TestClient(create_app(settings)):
        pass


def test_so_many_streams_for_each_tenant(start: Start, slow_brief: dict[str, Any]) -> None:
    client = start(most_streams=1)
    path = client.post("/v1/plans", json=slow_brief).headers["location"]
    refused: list[int] = []
    with client.stream("GET", f"{path}/events") as answer:
        for line in answer.iter_lines():
            if line.startswith("data: ") and not refused:
                refused.append(client.get(f"{path}/events").status_code)
                client.delete(path)
    assert refused == [429]
    assert client.get(f"{path}/events").status_code == 200  # the first has gone


def test_so_many_requests_a_minute_for_each_key(start: Start) -> None:
    client = start(requests_per_minute=60)
    one, two = bearer(client, "gym"), bearer(client, "gym")
    answers = [client.get("/v1", headers=one) for _ in range(15)]
    assert [a.status_code for a in answers[:10]] == [200] * 10
    refused = next(a for a in answers if a.status_code == 429)
    assert refused.json()["detail"] == "60 a minute are allowed, 10 at once."
    assert int(refused.headers["retry-after"]) >= 1
    assert refused.json()["type"] == "/problems/too-many-requests"
    limits = client.get("/v1/access", headers=two).json()["limits"]
    assert (limits["requests_per_minute"], limits["requests_at_once"]) == (60, 10)
