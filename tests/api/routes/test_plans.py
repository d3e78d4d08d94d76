"""Asking for a plan, waiting for it, following and stopping it."""

from __future__ import annotations

import base64
import csv
import datetime as dt
import io
import json
import time
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar
from starlette.testclient import TestClient

from api import demo
from scheduler import check
from scheduler.domain.plan import Plan
from tests.api.conftest import Start, wait_for

WAIT = {"Prefer": "wait=30"}
SCENARIOS = Path("scenarios")


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
    found = wait_for(client, answer.headers["location"])
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
    path = answer.headers["location"]
    for form in ("text/calendar", "text/csv"):
        nothing = client.get(path, headers={"Accept": form})
        assert (nothing.status_code, nothing.json()["type"]) == (409, "/problems/no-answer"), (
            "not a calendar of nothing"
        )
    assert client.get(path, headers={"Accept": "text/html"}).status_code == 200, "the page says why"
    assert client.get("/v1/plans/that-is-no-name").status_code == 404


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


def test_stopping_a_queued_plan_ends_it_at_once(client: TestClient, slow_brief: dict[str, Any]) -> None:
    ahead = client.post("/v1/plans", json=slow_brief).headers["location"]
    path = client.post("/v1/plans", json=slow_brief).headers["location"]
    answer = client.delete(path)
    assert (answer.status_code, answer.json()["state"]) == (200, "stopped")
    assert client.get(path).json()["plan"] is None
    assert client.delete(ahead).status_code in (200, 202)
    assert wait_for(client, ahead)["state"] == "stopped"


def test_stopping_a_running_plan_gives_the_best_week_so_far(client: TestClient, slow_brief: dict[str, Any]) -> None:
    path = client.post("/v1/plans", json=slow_brief).headers["location"]
    deadline = time.monotonic() + 60
    # From the second tier on there is a week that can be kept.
    while (client.get(path).json()["progress"] or {"tier": 0})["tier"] < 2:
        assert time.monotonic() < deadline
        time.sleep(0.02)
    client.delete(path)
    found = wait_for(client, path)
    assert (found["state"], found["status"]) == ("stopped", "stopped")
    plan = Plan.model_validate(found["plan"])
    assert plan.sessions
    assert check(plan.brief, plan.sessions).holds


def test_progress_says_tier_best_and_bound(client: TestClient, slow_brief: dict[str, Any]) -> None:
    path = client.post("/v1/plans", json=slow_brief).headers["location"]
    seen = []
    with client.stream("GET", f"{path}/events") as answer:
        for line in answer.iter_lines():
            if line.startswith("data: "):
                data = json.loads(line.removeprefix("data: "))
                seen.append(data["progress"])
                if data["progress"] and data["progress"]["tier"] > 2:
                    client.delete(path)
    told = [progress for progress in seen if progress]
    assert all(progress["bound"] <= progress["best"] for progress in told)  # both bound the same least cost
    assert [progress["tier"] for progress in told] == sorted(progress["tier"] for progress in told)
    assert told[-1]["tier"] > 1


def test_a_repeated_request_begins_nothing_new(client: TestClient, brief: dict[str, Any]) -> None:
    headers = {"Idempotency-Key": '"first-of-december"'}
    first = client.post("/v1/plans", json=brief, headers=headers)
    again = client.post("/v1/plans", json=brief, headers=headers | WAIT)
    assert again.headers["location"] == first.headers["location"]
    assert again.json()["id"] == first.json()["id"]
    # The same key with another body: 422, draft-ietf-httpapi-idempotency-key-header section 2.7.
    other = client.post("/v1/plans", json=brief | {"title": "Another"}, headers=headers)
    assert (other.status_code, other.json()["type"]) == (422, "/problems/key-used-otherwise")
    bare = client.post("/v1/plans", json=brief, headers={"Idempotency-Key": "no-quotes"})
    assert bare.status_code == 400


def test_exports_come_by_content_negotiation(client: TestClient, brief: dict[str, Any]) -> None:
    path = client.post("/v1/plans", json=brief, headers=WAIT).headers["location"]
    sessions = client.get(path).json()["plan"]["sessions"]
    calendar = client.get(path, headers={"Accept": "text/calendar"})
    assert calendar.headers["content-type"].startswith("text/calendar")
    assert len(Calendar.from_ical(calendar.content).walk("VEVENT")) == len(sessions)  # read by another library
    table = client.get(path, headers={"Accept": "text/csv"})
    rows = list(csv.DictReader(io.StringIO(table.text)))
    assert len(rows) == sum(len(session["entries"]) for session in sessions)
    page = client.get(path, headers={"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"})  # as browsers ask
    assert page.text.lower().startswith("<!doctype html>")
    assert "script-src" not in page.headers["content-security-policy"]
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert client.get(path, headers={"Accept": "image/png"}).status_code == 406
    again = client.get(path, headers={"Accept": "text/calendar", "If-None-Match": calendar.headers["etag"]})
    assert again.status_code == 304


def test_a_plan_that_is_not_there_yet_cannot_be_exported(client: TestClient, slow_brief: dict[str, Any]) -> None:
    path = client.post("/v1/plans", json=slow_brief).headers["location"]
    answer = client.get(path, headers={"Accept": "text/calendar"})
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/not-ready")
    client.delete(path)


def test_a_plan_that_was_stopped_while_it_waited_is_not_worth_waiting_for(
    client: TestClient, slow_brief: dict[str, Any]
) -> None:
    """A client that waits on "not-ready" would wait for ever."""
    before = [client.post("/v1/plans", json=slow_brief).headers["location"] for _ in range(3)]
    path = client.post("/v1/plans", json=slow_brief).headers["location"]
    client.delete(path)
    answer = client.get(path, headers={"Accept": "text/calendar"})
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/no-answer")
    for each in before:
        client.delete(each)


def test_a_tenant_keeps_so_much_and_no_more(start: Start, brief: dict[str, Any]) -> None:
    client = start(most_stored=1)
    path = client.post("/v1/plans", json=brief, headers=WAIT).headers["location"]
    answer = client.post("/v1/plans", json=brief)
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/too-much-stored")
    assert client.get(path).status_code == 200  # nothing is erased to make room
    client.post("/v1/erasures", json={"plan": path[-32:]})
    assert client.post("/v1/plans", json=brief).status_code == 202


def test_a_full_queue_says_when_to_come_again(start: Start, slow_brief: dict[str, Any]) -> None:
    client = start(most_waiting=1)
    paths = []
    answer = client.post("/v1/plans", json=slow_brief)
    while answer.status_code == 202:
        paths.append(answer.headers["location"])
        assert len(paths) <= 2  # one runs, one waits
        answer = client.post("/v1/plans", json=slow_brief, headers={"Idempotency-Key": f'"{len(paths)}"'})
    assert (answer.status_code, answer.json()["type"]) == (429, "/problems/queue-full")
    assert int(answer.headers["retry-after"]) >= 1
    # What was accepted before is still found by its key, however full the queue is.
    if len(paths) > 1:
        again = client.post("/v1/plans", json=slow_brief, headers={"Idempotency-Key": '"1"'})
        assert again.headers["location"] == paths[1]
    for path in paths:
        client.delete(path)


def test_plans_are_listed_newest_first_page_by_page(start: Start, brief: dict[str, Any]) -> None:
    client = start()
    made = []
    for number in range(5):
        who = brief | {"lifter": {"name": f"client {number % 2}"}}
        made.append(client.post("/v1/plans", json=who, headers=WAIT).json()["id"])
    listed: list[str] = []
    path: str | None = "/v1/plans?limit=2"
    while path:
        page = client.get(path).json()
        assert len(page["plans"]) <= 2
        listed += [plan["id"] for plan in page["plans"]]
        path = page["next"]
    assert listed == made[::-1]
    odd = client.get("/v1/plans", params={"client": "client 1"}).json()["plans"]
    assert [plan["id"] for plan in odd] == [made[3], made[1]]


def test_calendars_may_be_inline(client: TestClient) -> None:
    """A calendar as a data URL (RFC 2397) does the same as the file beside the brief."""
    text = (SCENARIOS / "calendars" / "client_07.ics").read_bytes()
    plain = {k: v for k, v in demo.brief("back_first").items() if k != "busy"}
    url = f"data:text/calendar;base64,{base64.b64encode(text).decode()}"
    answer = client.post("/v1/plans", json=plain | {"calendars": [url]})
    assert answer.status_code == 202, answer.text
    found = client.delete(answer.headers["location"]).json()
    read = client.post(
        "/v1/busy-times?start=2026-11-30&zone=Europe/Berlin", content=text, headers={"Content-Type": "text/calendar"}
    )
    assert read.status_code == 200
    expected = demo.brief("back_first")["busy"]
    assert [dt.datetime.fromisoformat(b["start"]) for b in read.json()["busy"]] == [
        dt.datetime.fromisoformat(b["start"]) for b in expected
    ]
    assert found["state"] in ("stopped", "done", "running")
    broken = client.post("/v1/plans", json=plain | {"calendars": ["data:text/plain,hello"]})
    assert broken.json()["faults"][0]["pointer"] == "#/calendars/0"
    elsewhere = client.post("/v1/plans", json=plain | {"calendars": ["../../etc/passwd"]})
    assert elsewhere.status_code == 422


def test_moments_have_one_form_in_resources_and_lists(client: TestClient, brief: dict[str, Any]) -> None:
    """RFC 3339 with Z, everywhere."""
    found = client.post("/v1/plans", json=brief, headers=WAIT).json()
    (listed,) = client.get("/v1/plans", params={"limit": 1}).json()["plans"]
    for name in ("created_at", "started_at", "ended_at"):
        assert found[name] == listed[name]
        assert found[name].endswith("Z")


def test_lists_say_title_and_week(client: TestClient, brief: dict[str, Any]) -> None:
    named = brief | {"title": "Nora, week of the choir"}
    found = client.post("/v1/plans", json=named, headers=WAIT).json()
    (listed,) = client.get("/v1/plans", params={"limit": 1}).json()["plans"]
    shown = {"title": "Nora, week of the choir", "week": brief["week"]["start"]}
    assert {name: listed[name] for name in shown} == shown
    assert {name: found[name] for name in shown} == shown
    block = client.post("/v1/blocks", json={"brief": named, "block": {"weeks": 1, "easy_weeks": 0}})
    (listed,) = client.get("/v1/blocks", params={"limit": 1}).json()["blocks"]
    assert {name: listed[name] for name in shown} == shown
    client.delete(block.headers["location"])
    lines = client.post("/v1/batches", content="{}", headers={"Content-Type": "application/x-ndjson"})
    (line,) = client.get(lines.headers["location"]).json()["plans"]
    assert (line["title"], line["week"]) == (None, None)


@pytest.mark.parametrize(
    ("title", "plain", "whole"),
    [
        ("Choir and back", "Choir and back", "Choir%20and%20back"),
        ("Rücken: 背", "R_cken _", "R%C3%BCcken%20%E8%83%8C"),
        ('../a"b\r\nSet-Cookie: c', "a b Set-Cookie c", "a%20b%20Set-Cookie%20c"),
        ("", "week", "week"),
    ],
)
def test_a_file_is_named_after_its_title(
    client: TestClient, brief: dict[str, Any], title: str, plain: str, whole: str
) -> None:
    """RFC 6266 section 4.3, with the encoding of RFC 8187 section 3.2."""
    path = client.post("/v1/plans", json=brief | {"title": title}, headers=WAIT).headers["location"]
    found = client.get(path, headers={"Accept": "text/calendar"}).headers["content-disposition"]
    assert found == f"inline; filename=\"{plain}.ics\"; filename*=UTF-8''{whole}.ics"
