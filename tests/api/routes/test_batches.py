"""Batches: NDJSON in, NDJSON out as the plans end."""

from __future__ import annotations

import json
from typing import Any

from starlette.testclient import TestClient

from tests.api.conftest import Start

NDJSON = {"Content-Type": "application/x-ndjson"}


def lines_of(text: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in text.splitlines()]


def test_every_line_gets_its_plan_or_its_problem(client: TestClient, brief: dict[str, Any]) -> None:
    body = "\n".join([json.dumps(brief), '{"title": "no week"}', "", json.dumps(brief | {"title": "Second"}), "{"])
    answer = client.post("/v1/batches", content=body, headers=NDJSON)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/x-ndjson"
    found = {plan["line"]: plan for plan in lines_of(answer.text)}
    assert sorted(found) == [1, 2, 4, 5]
    assert [found[n]["state"] for n in (1, 2, 4, 5)] == ["done", "failed", "done", "failed"]
    assert found[4]["plan"]["title"] == "Second"
    assert "#/week" in [fault.get("pointer") for fault in found[2]["problem"]["faults"]]
    whole = client.get(answer.headers["location"]).json()
    assert [plan["line"] for plan in whole["plans"]] == [1, 2, 4, 5]
    again = client.get(answer.headers["location"], headers={"Accept": "application/x-ndjson"})
    assert lines_of(again.text) == sorted(lines_of(answer.text), key=lambda p: p["line"])


def test_a_repeated_batch_begins_nothing_new(client: TestClient, brief: dict[str, Any]) -> None:
    headers = NDJSON | {"Idempotency-Key": '"batch"'}
    first = client.post("/v1/batches", content=json.dumps(brief), headers=headers)
    again = client.post("/v1/batches", content=json.dumps(brief), headers=headers)
    assert again.headers["location"] == first.headers["location"]
    assert again.text == first.text


def test_a_batch_is_taken_whole_or_not_at_all(start: Start, slow_brief: dict[str, Any]) -> None:
    client = start(most_waiting=3, most_waiting_per_tenant=3)
    body = "\n".join([json.dumps(slow_brief)] * 5)
    answer = client.post("/v1/batches", content=body, headers=NDJSON)
    assert (answer.status_code, answer.json()["type"]) == (429, "/problems/queue-full")
    assert int(answer.headers["retry-after"]) >= 1
    assert client.get("/v1/plans").json()["plans"] == []


def test_a_batch_can_be_stopped(start: Start, slow_brief: dict[str, Any]) -> None:
    client = start()
    with client.stream(
        "POST", "/v1/batches", content="\n".join([json.dumps(slow_brief)] * 4), headers=NDJSON
    ) as answer:
        path = answer.headers["location"]
        client.delete(path)
        ended = lines_of("".join(answer.iter_text()))
    assert len(ended) == 4
    assert {plan["state"] for plan in ended} == {"stopped"}


def test_too_many_lines_are_refused(start: Start) -> None:
    client = start(most_batch_lines=2)
    assert client.post("/v1/batches", content="{}\n{}\n{}", headers=NDJSON).status_code == 400
    assert client.post("/v1/batches", content="\n\n", headers=NDJSON).status_code == 400
