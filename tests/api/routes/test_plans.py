"""Asking for a plan, waiting for it, following and stopping it."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from scheduler import check
from scheduler.domain.plan import Plan

WAIT = {"Prefer": "wait=30"}
SCENARIOS = Path("scenarios")


def wait_for_end(client: TestClient, path: str, seconds: float = 40) -> dict[str, Any]:
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        found: dict[str, Any] = client.get(path).json()
        if found["state"] not in ("queued", "running"):
            return found
        time.sleep(0.05)
    raise AssertionError(f"{path} did not end: {found['state']}")


def test_a_plan_is_there_when_the_client_waits_and_it_holds(client: TestClient, brief: dict[str, Any]) -> None:
    answer = client.post("/v1/plans", json=brief, headers=WAIT)
    assert answer.status_code == 201, answer.text
    assert answer.headers["preference-applied"] == "wait=30"  # RFC 7240 section 3
    found = answer.json()
    assert (found["state"], found["status"]) == ("done", "proved best")
    assert answer.headers["location"] == found["links"]["self"] == f"/v1/plans/{found['id']}"
    plan = Plan.model_validate(found["plan"])
    assert check(plan.brief, plan.sessions).holds  # the library's own referee, without the server


def test_without_a_wait_it_is_accepted_and_found_at_its_location(client: TestClient, brief: dict[str, Any]) -> None:
    answer = client.post("/v1/plans", json=brief)
    assert answer.status_code == 202
    assert answer.json()["state"] in ("queued", "running")
    assert "preference-applied" not in answer.headers
    found = wait_for_end(client, answer.headers["location"])
    assert found["state"] == "done"
    assert found["plan"]["status"] == "proved best"


def test_an_impossible_week_is_an_answer_with_its_conflict(client: TestClient, impossible: dict[str, Any]) -> None:
    answer = client.post("/v1/plans", json=impossible, headers=WAIT)
    assert answer.status_code == 201
    found = answer.json()
    assert found["status"] == "impossible"
    assert found["plan"]["sessions"] == []
    assert found["explanation"]["possible"] is False
    assert found["explanation"]["conflicts"][0]["members"]
    assert found["problem"] is None


def test_yaml_is_read_as_well(client: TestClient) -> None:
    text = (SCENARIOS / "upper_lower_four_days.yaml").read_bytes()
    answer = client.post("/v1/plans", content=text, headers={"Content-Type": "application/yaml"})
    assert answer.status_code == 202, answer.text


def test_a_version_that_the_client_has_is_not_sent_again(client: TestClient, brief: dict[str, Any]) -> None:
    path = client.post("/v1/plans", json=brief, headers=WAIT).headers["location"]
    first = client.get(path)
    again = client.get(path, headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")  # RFC 9110 section 15.4.5
    assert again.headers["etag"] == first.headers["etag"]
    assert client.get(path, headers={"If-None-Match": '"other"'}).status_code == 200


def test_events_tell_the_way_and_end(client: TestClient, brief: dict[str, Any]) -> None:
    path = client.post("/v1/plans", json=brief).headers["location"]
    with client.stream("GET", f"{path}/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        blocks = "".join(answer.iter_text()).split("\n\n")
    events = [dict(line.split(": ", 1) for line in block.splitlines()) for block in blocks if "event:" in block]
    numbers = [int(event["id"]) for event in events]
    assert numbers == sorted(numbers)
    assert events[-1]["event"] == "end"
    assert json.loads(events[-1]["data"])["state"] == "done"
    # A client that has seen the end and comes again is told to stop: 204, as the HTML standard has it (9.2.3).
    assert client.get(f"{path}/events", headers={"Last-Event-ID": str(numbers[-1])}).status_code == 204


def test_faults_carry_the_pointer_of_their_place(client: TestClient, brief: dict[str, Any]) -> None:
    wrong = brief | {"week": {"start": "2026-12-01", "zone": "Europe/Berlin"}, "goals": {"lats": {"aim": "many"}}}
    answer = client.post("/v1/plans", json=wrong)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"  # RFC 9457 section 3
    problem = answer.json()
    assert problem["type"] == "/problems/cannot-be-used"
    assert problem["status"] == 422
    assert {fault["pointer"] for fault in problem["faults"]} == {"#/week/start", "#/goals/lats/aim"}
    assert all(fault["advice"] for fault in problem["faults"])


def test_stopping_a_queued_plan_ends_it_at_once(client: TestClient, brief: dict[str, Any]) -> None:
    ahead = [client.post("/v1/plans", json=brief).headers["location"] for _ in range(3)]
    path = client.post("/v1/plans", json=brief).headers["location"]
    answer = client.delete(path)
    assert (answer.status_code, answer.json()["state"]) == (200, "stopped")
    assert client.get(path).json()["plan"] is None
    for other in ahead:
        assert wait_for_end(client, other)["state"] == "done"
