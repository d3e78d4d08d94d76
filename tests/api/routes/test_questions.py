"""Questions on a plan and on a brief: the answers are the library's own."""

from __future__ import annotations

import json
from typing import Any, get_args

import pytest
from starlette.testclient import TestClient

from api.questions import ComparedTier
from scheduler import check
from scheduler.briefs import brief_of
from scheduler.domain.answers import Explanation, Shortfall
from scheduler.domain.plan import Plan
from scheduler.domain.variants import Alternatives, Audit, Replanned, Sweep, WhatIf, WhyNot
from scheduler.rules import SAME_WORK_FROM, TIER_NAMES
from tests.api.conftest import Start, wait_for

WAIT = {"Prefer": "wait=60"}


@pytest.fixture(scope="module")
def client(start: Start) -> TestClient:
    return start(most_wait_seconds=60)


@pytest.fixture(scope="module")
def plan(client: TestClient, brief: dict[str, Any]) -> str:
    path: str = client.post("/v1/plans", json=brief, headers=WAIT).headers["location"]
    return path


def ask(client: TestClient, path: str, body: dict[str, Any], **headers: str) -> Any:
    answer = client.post(path, json=body, headers=WAIT | headers)
    assert answer.status_code == 201, answer.text
    found = answer.json()
    assert found["state"] == "done", found
    assert client.get(answer.headers["location"]).json() == found
    return found["answer"]


def test_why_names_a_conflict_and_mends_that_work(client: TestClient, impossible: dict[str, Any]) -> None:
    found = Explanation.model_validate(
        ask(client, "/v1/questions/why", {"brief": impossible, "conflicts": 1, "mends": 1})
    )
    assert found.possible is False
    assert found.conflicts[0].members
    # The mend, taken as the merge patch that it is, makes the week possible: solved anew through the server.
    what = ask(client, "/v1/questions/what-if", {"brief": impossible, "patches": {"mended": found.mends[0].patch}})
    assert WhatIf.model_validate(what).variants[0].plan.sessions


def test_why_a_wish_falls_short(client: TestClient, plan: str) -> None:
    rules = client.get(plan).json()["plan"]["rules"]
    wish = next(f["switch"] for r in rules for f in r["findings"] if f["mode"] == "wish" and not r["measure"])
    found = Shortfall.model_validate(ask(client, f"{plan}/why", {"wish": wish}))
    assert found.switch == wish
    unknown = client.post(f"{plan}/why", json={"wish": "no:such:wish"})
    assert (unknown.status_code, unknown.json()["faults"][0]["pointer"]) == (422, "#/wish")


def test_why_not_in_words_and_in_parts(client: TestClient, plan: str) -> None:
    asked = client.get(plan).json()["plan"]
    session = asked["sessions"][0]
    found = WhyNot.model_validate(ask(client, f"{plan}/why-not", {"demand": {"kind": session["kind"]}}))
    assert found.possibility.value == "it is so already"
    nonsense = client.post(f"{plan}/why-not", json={"demand": "zzz on thu"})
    assert nonsense.status_code == 422
    assert nonsense.json()["faults"][0]["pointer"] == "#/demand"
    assert client.post(f"{plan}/why-not", json={"demand": "999 sets of lat_pulldown"}).status_code == 422


def test_what_if_takes_a_bare_merge_patch(client: TestClient, plan: str) -> None:
    answer = client.post(
        f"{plan}/what-if",
        content=b'{"title": "Changed"}',
        headers=WAIT | {"Content-Type": "application/merge-patch+json"},  # RFC 7396
    )
    assert answer.status_code == 201, answer.text
    found = WhatIf.model_validate(answer.json()["answer"])
    assert [variant.name for variant in found.variants] == ["changes"]
    assert found.variants[0].plan.title == "Changed"
    assert found.variants[0].difference.is_empty  # a title moves nothing
    wrong = client.post(f"{plan}/what-if", json={"patches": {"a": {"week": {"start": "tomorrow"}}}})
    assert wrong.status_code == 422
    assert wrong.json()["faults"][0]["pointer"] == "#/patches/a/week/start"


@pytest.mark.parametrize(
    ("patch", "pointer"),
    [
        ({"goals": {"latz": {"aim": 3}}}, "#/goals/latz"),
        ({"goals": {"lats": {"aim": "x"}}}, "#/goals/lats/aim"),
        ({"week": None}, "#/week"),
    ],
)
def test_a_fault_of_a_bare_merge_patch_points_into_the_patch(
    client: TestClient, plan: str, patch: dict[str, Any], pointer: str
) -> None:
    headers = {"Content-Type": "application/merge-patch+json"}
    answer = client.post(f"{plan}/what-if", content=json.dumps(patch), headers=headers)
    assert (answer.status_code, answer.json()["faults"][0]["pointer"]) == (422, pointer)
    assert "patches.changes" not in answer.text


@pytest.mark.parametrize("path", ["/v1/blocks", "/v1/questions/why", "/v1/questions/what-if"])
def test_a_brief_that_is_not_put_in_its_place_is_told(client: TestClient, brief: dict[str, Any], path: str) -> None:
    answer = client.post(path, json=brief)
    (fault,) = answer.json()["faults"]
    assert (answer.status_code, fault["pointer"], fault["problem"]) == (422, "#/brief", "the brief is missing")
    assert '{"brief"' in fault["advice"]
    assert "demo" in client.post(path, json={}).json()["faults"][0]["advice"]


def test_a_missing_parameter_is_named(client: TestClient, plan: str) -> None:
    answer = client.get(f"{plan}/difference").json()
    assert answer["detail"] == "Of the request's parameters: base."
    assert [(fault["place"], fault["advice"]) for fault in answer["faults"]] == [("query base", "Add it.")]


def test_a_loss_is_allowed_in_the_tiers_that_tell_weeks_apart(client: TestClient, plan: str) -> None:
    assert list(get_args(ComparedTier)) == [str(tier) for tier in TIER_NAMES if tier < SAME_WORK_FROM]
    refused = client.post(f"{plan}/alternatives", json={"losses": {str(SAME_WORK_FROM): {"amount": 10}}})
    assert refused.status_code == 422


def test_alternatives_and_tradeoff(client: TestClient, plan: str) -> None:
    others = Alternatives.model_validate(ask(client, f"{plan}/alternatives", {"count": 1}))
    assert len(others.alternatives) <= 1
    vary = {"path": "title", "values": ["a", "b"]}
    sweep = Sweep.model_validate(ask(client, f"{plan}/tradeoff", {"vary": [vary]}))
    assert [point.values for point in sweep.points] == [("a",), ("b",)]
    none = client.post(f"{plan}/tradeoff", json={"vary": [{"path": "nowhere.at_all", "values": [1]}]})
    assert none.status_code == 422
    many = {"path": "title", "values": [str(n) for n in range(150)]}
    assert client.post(f"{plan}/tradeoff", json={"vary": [many, many]}).status_code == 422


def test_a_replan_makes_a_plan_of_its_own(client: TestClient, plan: str) -> None:
    session = client.get(plan).json()["plan"]["sessions"][0]
    day = Plan.model_validate(client.get(plan).json()["plan"]).sessions[0].start.strftime("%a").lower()
    answer = client.post(f"{plan}/replan", json={"done": [f"{day} {session['kind']}"]}, headers=WAIT)
    assert answer.status_code == 201, answer.text
    found = answer.json()
    replanned = Replanned.model_validate(found["answer"])
    new = client.get(found["links"]["new_plan"]).json()
    assert Plan.model_validate(new["plan"]) == replanned.plan
    assert found["links"]["new_plan"] in [p["links"]["self"] for p in client.get("/v1/plans").json()["plans"]]
    wrong = client.post(f"{plan}/replan", json={"done": ["someday"]})
    assert (wrong.status_code, wrong.json()["faults"][0]["pointer"]) == (422, "#/done")


def test_a_check_is_refereed_and_kept(client: TestClient, plan: str, brief: dict[str, Any]) -> None:
    made = client.get(plan).json()["plan"]
    answer = client.post("/v1/checks", json=made)
    assert (answer.status_code, answer.json()["status"]) == (201, "holds"), answer.text
    kept = client.get(answer.headers["location"]).json()["plan"]
    assert kept["status"] == "checked"
    assert kept["ledger"] == made["ledger"]
    # Written by hand, with nothing trained: the week's musts are broken, and the library says the same.
    empty = client.post("/v1/checks", json={"brief": brief, "sessions": []})
    assert empty.json()["status"] == "breaks a must"
    assert check(brief_of(brief), ()).holds is False
    strange = client.post("/v1/checks", json={"brief": brief, "sessions": [{"kind": "x"}]})
    assert strange.status_code == 422
    assert strange.json()["faults"][0]["pointer"].startswith("#/sessions/0")
    assert client.post("/v1/checks", json={"brief": "file.yaml", "sessions": []}).status_code == 422


def test_an_audit_names_its_sources(client: TestClient, plan: str) -> None:
    found = Audit.model_validate(client.get(f"{plan}/audit", params={"against": ["who-2020"]}).json())
    assert {finding.guideline for finding in found.findings} == {"who-2020"}
    assert all(finding.source for finding in found.findings)
    assert client.get(f"{plan}/audit", params={"against": ["none"]}).status_code == 422


def test_a_question_about_a_plan_on_its_way_is_told_to_wait(client: TestClient, slow_brief: dict[str, Any]) -> None:
    path = client.post("/v1/plans", json=slow_brief).headers["location"]
    answer = client.post(f"{path}/alternatives", json={})
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/not-ready")
    client.delete(path)
    wait_for(client, path)


def test_a_running_question_can_be_stopped(client: TestClient, slow_brief: dict[str, Any]) -> None:
    body = {"brief": slow_brief, "patches": {"a": {"title": "a"}, "b": {"title": "b"}}}
    path = client.post("/v1/questions/what-if", json=body).headers["location"]
    while client.get(path).json()["state"] == "queued":
        pass
    client.delete(path)
    assert wait_for(client, path, seconds=20)["state"] == "stopped"


def test_a_question_about_a_brief_names_its_faults_inside(client: TestClient, brief: dict[str, Any]) -> None:
    wrong = {"brief": brief | {"openings": []}, "wish": None}
    answer = client.post("/v1/questions/why", json=wrong)
    assert answer.json()["faults"][0]["pointer"] == "#/brief/openings"
    missing = client.post("/v1/questions/why", json={"mends": 1})
    assert missing.json()["faults"][0]["pointer"] == "#/brief"
