"""The peers of the benchmark answer the same question, on small briefs."""

from __future__ import annotations

from scheduler.domain.brief import Brief
from scheduler.planning import instance_of
from scheduler.rules import TIER_NAMES
from scheduler.week.model import Week
from tests.benchmarks.compare import disagreements
from tests.benchmarks.peers import PEERS, core, solve_with, unmerged

SMALL = Brief.model_validate(
    {
        "week": {"start": "2026-11-30"},
        "places": {"gym": {"base": "full_gym"}},
        "openings": [{"day": ["mon", "wed", "thu"], "start": "18:00", "end": "18:45", "place": "gym"}],
        "kinds": {"upper": {"base": "upper_small", "per_week": 2, "minutes": {"least": 20, "most": 40}}},
        "sessions": 2,
        "prescription": {"sets_per_exercise": 3},
        "goals": {"lats": {"aim": 9, "priority": 1}, "pectorals": {"aim": 9}, "biceps": {"aim": 12}},
        "exercises": {
            "only": [
                *("lat_pulldown", "pull_up", "weighted_pull_up", "machine_row", "seated_cable_row"),
                *("machine_chest_press", "barbell_bench_press", "dumbbell_curl", "ez_bar_curl", "preacher_curl"),
                "back_extension",
            ],
            "favourites": ["machine_row", "dumbbell_curl"],
        },
    }
)


def test_all_peers_find_the_same_values() -> None:
    job = {"cap_seconds": 60.0}
    found = {peer: solve_with(peer, SMALL, job) | {"case": peer} for peer in PEERS if peer != "core_highs"}
    assert len(found) >= 6
    for peer, record in found.items():
        assert record["proved"], peer
        assert [t["name"] for t in record["tiers"]] == list(TIER_NAMES.values()), peer
        assert not list(disagreements([(found["highs_classes"], record)]))
    # The aims are out of reach in twice 40 minutes, so the values are no zeros.
    assert found["plain"]["tiers"][0]["value"] > 0


def test_an_impossible_week_is_impossible_for_all() -> None:
    brief = SMALL.model_copy(update={"sessions": SMALL.sessions.model_copy(update={"least": 3, "most": 3})})
    for peer in ("plain", "highs", "scip", "cbc"):
        assert solve_with(peer, brief, {"cap_seconds": 60.0})["status"] == "impossible", peer


def test_plain_merges_nothing_and_tightens_nothing() -> None:
    merged = Week(instance_of(SMALL))
    with unmerged():
        plain = Week(instance_of(SMALL))
    assert len(merged.classes) < len(plain.classes) == len(SMALL.exercises.only or ())
    assert merged.covers
    assert not plain.covers


def test_the_independent_programme_takes_the_core_of_a_brief() -> None:
    job = {"cap_seconds": 60.0}
    found = solve_with("core_highs", core(SMALL), job)
    assert found["status"] == "proved best"
    plain = solve_with("plain", core(SMALL), job)
    assert plain["tiers"][0]["value"] == found["tiers"][0]["value"] > 0
