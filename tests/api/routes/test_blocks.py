"""Blocks through the server: asked for, followed, taken away, logged; the answers are the library's own."""

from __future__ import annotations

import base64
import csv
import io
import json
import time
from typing import Any
from xml.etree import ElementTree

import pytest
from icalendar import Calendar
from starlette.testclient import TestClient

from scheduler.blocks.build import plan_block
from scheduler.briefs import brief_of
from scheduler.domain.block import Block, BlockSettings
from scheduler.domain.log import LogReport
from tests.api.conftest import Start, wait_for
from tests.blocks.small import SMALL

WAIT = {"Prefer": "wait=60"}
SETTINGS = {"weeks": 2, "easy_weeks": 1}
ASKED = {"brief": SMALL, "block": SETTINGS}
TIMES = {"weeks": {"__all__": {"plan": {"timings"}}}}


@pytest.fixture(scope="module")
def client(start: Start) -> TestClient:
    return start(most_wait_seconds=60)


@pytest.fixture(scope="module")
def path(client: TestClient) -> str:
    answer = client.post("/v1/blocks", json=ASKED, headers=WAIT)
    assert answer.status_code == 201, answer.text
    location: str = answer.headers["location"]
    return location


@pytest.fixture(scope="module")
def block(client: TestClient, path: str) -> Block:
    return Block.model_validate(client.get(path).json()["block"])


def test_a_block_is_the_librarys_own(client: TestClient, path: str, block: Block) -> None:
    found = client.get(path).json()
    assert (found["state"], found["status"], found["explanation"]) == ("done", "proved best", None)
    assert block.holds
    own = plan_block(brief_of(SMALL), BlockSettings(**SETTINGS))
    assert block.model_dump(exclude=TIMES) == own.model_dump(exclude=TIMES)


def test_it_is_listed_and_is_no_plan(client: TestClient, path: str) -> None:
    listed = client.get("/v1/blocks", params={"client": "client 90"}).json()
    assert path in [each["links"]["self"] for each in listed["blocks"]]
    assert client.get("/v1/blocks", params={"client": "nobody"}).json()["blocks"] == []
    assert client.get("/v1/plans").json()["plans"] == []
    number = path.rpartition("/")[2]
    assert client.get(f"/v1/plans/{number}").status_code == 404
    assert client.get(f"/v1/answers/{number}").status_code == 404


def test_pages_of_blocks_lead_on(client: TestClient) -> None:
    for title in ("a", "b"):
        asked = {"brief": SMALL | {"title": title}, "block": {"weeks": 1, "easy_weeks": 0}}
        client.post("/v1/blocks", json=asked, headers=WAIT)
    first = client.get("/v1/blocks", params={"limit": 1, "client": "client 90"}).json()
    second = client.get(first["next"]).json()
    assert first["blocks"][0]["id"] != second["blocks"][0]["id"]
    assert first["blocks"][0]["created_at"] >= second["blocks"][0]["created_at"]


def test_events_tell_of_every_week(client: TestClient) -> None:
    location = client.post("/v1/blocks", json=ASKED).headers["location"]
    with client.stream("GET", f"{location}/events") as answer:
        parts = "".join(answer.iter_text()).split("\n\n")
    told = [json.loads(line[6:]) for part in parts for line in part.splitlines() if line.startswith("data: ")]
    weeks = [event["progress"]["week"] for event in told if event["progress"]]
    assert weeks == sorted(weeks)
    assert all(event["progress"]["of"] == 3 for event in told if event["progress"])
    assert told[-1]["state"] == "done"


def test_one_calendar_one_sheet_one_table_one_picture(client: TestClient, path: str, block: Block) -> None:
    calendar = Calendar.from_ical(client.get(path, headers={"Accept": "text/calendar"}).content)
    starts = sorted(event["dtstart"].dt for event in calendar.walk("VEVENT"))
    assert starts == sorted(s.start for week in block.weeks for s in week.plan.sessions)
    sheet = client.get(path, headers={"Accept": "text/html"})
    assert "default-src 'none'" in sheet.headers["content-security-policy"]
    assert all(e.name in sheet.text for w in block.weeks for s in w.plan.sessions for e in s.entries)
    rows = list(csv.DictReader(io.StringIO(client.get(path, headers={"Accept": "text/csv"}).text)))
    assert len(rows) == len(block.weeks) * len(block.rows)
    picture = client.get(path, headers={"Accept": "image/svg+xml"})
    assert picture.headers["content-type"].startswith("image/svg+xml")
    assert ElementTree.fromstring(picture.content).tag == "{http://www.w3.org/2000/svg}svg"
    assert client.get(path, headers={"Accept": "image/gif"}).status_code == 406
    same = client.get(path, headers={"Accept": "text/csv", "If-None-Match": sheet.headers["etag"]})
    assert same.status_code == 200  # another form is another version, RFC 9110 section 8.8.3
    assert client.get(path, headers={"Accept": "text/html", "If-None-Match": sheet.headers["etag"]}).status_code == 304


def test_the_same_request_again_begins_nothing_new(client: TestClient) -> None:
    key = {"Idempotency-Key": '"block-1"'}
    one, two = (client.post("/v1/blocks", json=ASKED, headers=key) for _ in range(2))
    assert one.headers["location"] == two.headers["location"]
    assert two.headers["idempotent-replayed"] == "true"
    other = client.post("/v1/blocks", json={"brief": SMALL, "block": {"weeks": 1}}, headers=key)
    assert other.json()["type"] == "/problems/key-used-otherwise"
    client.delete(one.headers["location"])


def test_a_running_block_can_be_stopped_and_keeps_its_weeks(client: TestClient) -> None:
    asked = {"brief": SMALL, "block": {"weeks": 26, "easy_weeks": 5}}
    location = client.post("/v1/blocks", json=asked).headers["location"]
    deadline = time.monotonic() + 60
    while (client.get(location).json()["progress"] or {"week": 0})["week"] < 2:
        assert time.monotonic() < deadline
        time.sleep(0.02)
    client.delete(location)
    found = wait_for(client, location)
    assert found["state"] == "stopped"
    assert 2 <= len([w for w in found["block"]["weeks"] if w["plan"]["sessions"]]) < 31


def test_an_impossible_week_ends_the_block_and_says_why(client: TestClient) -> None:
    shut = {"openings": [{"day": "mon", "start": "18:00", "end": "20:00", "place": "gym"}]}
    asked = {"brief": SMALL, "block": SETTINGS | {"patches": {"2": shut}}}
    found = client.post("/v1/blocks", json=asked, headers=WAIT).json()
    assert (found["state"], found["status"]) == ("done", "impossible")
    assert [week["plan"]["status"] for week in found["block"]["weeks"]] == ["proved best", "impossible"]
    assert found["explanation"]["conflicts"][0]["members"]


def test_calendars_are_read_for_every_week_of_the_block(client: TestClient) -> None:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//example//test//EN", "BEGIN:VEVENT", "UID:a@example.org"]
    lines += ["DTSTAMP:20261101T000000Z", "DTSTART:20261130T180000Z", "DTEND:20261130T200000Z"]
    text = "\r\n".join([*lines, "RRULE:FREQ=WEEKLY", "SUMMARY:meeting", "END:VEVENT", "END:VCALENDAR", ""])
    url = "data:text/calendar;base64," + base64.b64encode(text.encode()).decode()
    asked = {"brief": SMALL | {"calendars": [url]}, "block": {"weeks": 2, "easy_weeks": 0}}
    found = client.post("/v1/blocks", json=asked, headers=WAIT).json()
    assert len({time["start"][:10] for time in found["block"]["brief"]["busy"]} & {"2026-11-30", "2026-12-07"}) == 2


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({"block": SETTINGS}, "#/brief"),
        ({"brief": SMALL | {"openings": []}}, "#/brief/openings"),
        ({"brief": SMALL, "block": {"weeks": 99}}, "#/block/weeks"),
        ({"brief": SMALL, "block": {"main": ["no_such_lift"]}}, "#/block/main"),
        ({"brief": SMALL, "block": {"patches": {"99": {}}}}, "#/block/patches/99"),
        ({"brief": SMALL, "block": {"patches": {"2": {"nonsense": 1}}}}, "#/block/patches/2"),
        ({"brief": SMALL, "weeks": 3}, "#/weeks"),
    ],
)
def test_faults_carry_the_pointer_of_their_place(client: TestClient, asked: dict[str, Any], pointer: str) -> None:
    answer = client.post("/v1/blocks", json=asked)
    assert answer.status_code == 422, answer.text
    assert answer.json()["faults"][0]["pointer"].startswith(pointer)


# --- logs ---------------------------------------------------------------------------------------------------------


def as_planned(block: Block, number: int) -> dict[str, Any]:
    week = block.weeks[number - 1].plan
    sessions = [{"kind": s.kind, "day": f"{s.start:%a}".lower(), "as_planned": True} for s in week.sessions]
    return {"week": week.brief.week.start.isoformat(), "sessions": sessions}


def test_a_log_makes_a_block_with_the_next_week(client: TestClient, path: str, block: Block) -> None:
    answer = client.post(f"{path}/logs", json={"log": as_planned(block, 1)}, headers=WAIT)
    assert answer.status_code == 201, answer.text
    found = answer.json()
    assert (found["question"], found["links"]["block"]) == ("log", path)
    report = LogReport.model_validate(found["answer"])
    assert (report.week, report.next_week, report.behind) == (1, 2, ())
    after = client.get(found["links"]["new_block"]).json()
    assert after["status"] == "proved best"
    new = Block.model_validate(after["block"])
    # What changes nothing gives the week that was planned; the block that was logged stays as it was.
    assert new.weeks[1].plan.sessions == block.weeks[1].plan.sessions
    assert Block.model_validate(client.get(path).json()["block"]) == block
    assert len(new.logs) == 1
    assert client.get(found["links"]["self"]).json() == found


def test_missed_work_waits_and_is_not_piled_on(client: TestClient, path: str, block: Block) -> None:
    log = as_planned(block, 1)
    log["sessions"] = [s for s in log["sessions"] if s["kind"] != "lower"]
    found = client.post(f"{path}/logs", json={"log": log}, headers=WAIT).json()
    assert any(text.startswith("Quadriceps") for text in found["answer"]["behind"])
    easy = client.post(f"{path}/logs", json={"log": log, "easy": True}, headers=WAIT).json()
    after = Block.model_validate(client.get(easy["links"]["new_block"]).json()["block"])
    assert after.weeks[1].role.value == "easy"


@pytest.mark.parametrize(
    ("log", "pointer"),
    [
        ({"week": "2026-12-07"}, "#/log/week"),
        ({"week": "2026-11-30", "sessions": [{"kind": "swim", "day": "mon", "missed": True}]}, "#/log/sessions/0/kind"),
        ({"week": "2026-11-30", "sessions": [{"kind": "upper", "day": "mon"}]}, "#/log/sessions/0"),
        ({"week": "tomorrow"}, "#/log/week"),
        ({"week": "2026-11-30", "cleared": ["bench"]}, "#/log/cleared"),
    ],
)
def test_a_log_that_cannot_be_used(client: TestClient, path: str, log: dict[str, Any], pointer: str) -> None:
    answer = client.post(f"{path}/logs", json={"log": log})
    assert answer.status_code == 422, answer.text
    assert answer.json()["faults"][0]["pointer"] == pointer


def test_a_block_is_erased_with_its_logs(client: TestClient) -> None:
    asked = {"brief": SMALL | {"title": "gone"}, "block": {"weeks": 1, "easy_weeks": 0}}
    made = client.post("/v1/blocks", json=asked, headers=WAIT).json()
    log = client.post(f"{made['links']['self']}/logs", json={"log": {"week": "2026-11-30"}}, headers=WAIT).json()
    assert client.post("/v1/erasures", json={"block": made["id"]}).json() == {"erased": 2}
    assert client.get(made["links"]["self"]).status_code == 404
    assert client.get(log["links"]["self"]).status_code == 404
