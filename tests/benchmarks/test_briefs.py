"""The generated briefs are valid, the same on every machine, comparable across sizes, and mostly possible."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections import Counter

import pytest

from scheduler.data import load_catalogue
from scheduler.planning import instance_of
from scheduler.rules.settings import rule_settings
from scheduler.week.model import Week
from scheduler.week.solver import Limits, Verdict, search
from tests.benchmarks.briefs import FAMILIES, FAST, FULL, SIZES, case, cases
from tests.benchmarks.catalogues import OWN, with_own_exercises
from tests.benchmarks.measure import names

DIGEST = """
import hashlib
from tests.benchmarks.briefs import cases
print(hashlib.sha256(b"".join(c.brief.model_dump_json().encode() for c in cases(2))).hexdigest())
"""


def test_all_of_the_two_hundred_settle() -> None:
    found = list(cases())
    assert len(found) == FULL * len(FAMILIES) >= 200
    assert len({c.name for c in found}) == len({c.brief.model_dump_json() for c in found}) == len(found)
    assert Counter(c.exercises for c in found) == dict.fromkeys(SIZES, len(found) // len(SIZES))
    for one in found:
        with one.within():
            instance = instance_of(one.brief)
        # A small pool may grow by what pins and records name.
        assert one.exercises <= len(instance.pool) <= one.exercises + 5
        assert 6 <= len(instance.targets) <= 12
        assert 2 <= sum(k.per_week.most for k in instance.kinds.values()) <= 6


def test_a_family_alone_has_the_same_briefs_as_among_all() -> None:
    alone = [c.name for family in FAMILIES for c in cases(3, (family,))]
    assert alone == [c.name for c in cases(3)] == list(names(FAMILIES, range(3)))


def test_a_seed_is_the_same_brief_in_another_process() -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": "7"}
    run = subprocess.run([sys.executable, "-c", DIGEST], env=environment, check=True, capture_output=True, text=True)
    here = hashlib.sha256(b"".join(c.brief.model_dump_json().encode() for c in cases(2))).hexdigest()
    assert run.stdout.strip() == here


@pytest.mark.parametrize("family", FAMILIES)
def test_only_the_pool_differs_between_sizes(family: str) -> None:
    sizes = [case(family, 1, exercises=size) for size in SIZES]
    same = [c.brief.model_copy(update={"exercises": sizes[0].brief.exercises}) for c in sizes]
    assert all(brief == sizes[0].brief for brief in same)
    small, large = sizes[0].brief.exercises, sizes[1].brief.exercises
    assert set(small.only or ()) < set(large.only or ())
    assert small.model_copy(update={"only": None}) == large.model_copy(update={"only": None})


def test_only_the_openings_differ_between_numbers_of_openings() -> None:
    one, two, three = (case("many_openings", 1, openings_a_day=n).brief for n in (1, 2, 3))
    assert [sum(len(o.day) for o in b.openings) for b in (one, two, three)] == [7, 14, 21]
    assert one.openings == two.openings[:2] == three.openings[:2]
    assert one.model_copy(update={"openings": three.openings}) == three


def test_every_pattern_asked_for_has_an_exercise() -> None:
    rows = load_catalogue().exercises
    for one in cases():
        held = {rows[key].pattern for key in one.brief.exercises.only or rows}
        settings = rule_settings(one.brief, load_catalogue())
        assert settings
        kinds = load_catalogue().kinds
        assert held >= {p for k in one.brief.kinds.values() for p in (k.patterns or kinds[str(k.base)].patterns)}


def test_own_exercises_keep_to_the_catalogue() -> None:
    large, base = with_own_exercises(), load_catalogue()
    assert len(large.exercises) == OWN
    assert list(large.exercises)[: len(base.exercises)] == list(base.exercises)
    assert type(large).model_validate(large.model_dump()) == large


def test_most_of_the_daily_briefs_are_possible() -> None:
    """Any week at all: the solver without an objective."""
    verdicts = Counter()
    for one in cases(FAST):
        with one.within():
            week = Week(instance_of(one.brief))
        verdicts[search(week.model, None, Limits(deterministic_seconds=5)).verdict] += 1
    assert verdicts[Verdict.OPTIMAL] >= 0.9 * verdicts.total(), verdicts
