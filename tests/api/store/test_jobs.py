"""Accepted work, on both databases: taken in once, run by one at a time, lost by nobody, erased for good."""

from __future__ import annotations

import datetime as dt
import json
import threading
from pathlib import Path

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.orm.exc import DetachedInstanceError

from api.store import PLAN, Full, JobStore, KeyUsedOtherwise, NewJob, State, Store
from api.store.nouns import Ending, Room
from tests.api.conftest import ROOM

SECRET = "client-9f3e-with-a-bad-knee"


def new(client: str = "client", request: str = "{}", **more: str) -> NewJob:
    return NewJob(PLAN, client, request, **more)  # type: ignore[arg-type]


def accepted(jobs: JobStore, tenant: str = "gym", **more: str) -> str:
    return jobs.accept(tenant, [new(**more)], ROOM).jobs[0].id


def state(jobs: JobStore, job_id: str, tenant: str = "gym") -> State:
    found = jobs.revision(tenant, job_id)
    assert found is not None
    return found[1]


def test_the_migrations_make_what_the_models_say(store: Store) -> None:
    """Alembic's own comparison finds nothing to change; migrating again changes nothing."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from api.store.models import Base

    store.migrate()
    with store.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
    assert set(inspect(store.engine).get_table_names()) == {"jobs", "repeats", "keys", "alembic_version"}


def test_what_was_stored_before_gets_its_title_and_week(store_url: str) -> None:
    brief = {"title": "Before", "week": {"start": "2026-11-30"}}
    row = {"tenant": "gym", "kind": PLAN, "client": "c", "state": "done", "created_at": dt.datetime.now(dt.UTC)}
    counts = dict.fromkeys(("revision", "attempt", "losses", "beat"), 1) | {"stop_asked": False}
    requests = {"a" * 32: {"brief": brief, "seconds": 1.0}, "b" * 32: {}}
    store = Store(store_url)
    store.migrate("first_tables")
    with store.engine.begin() as connection:
        names = [*row, *counts, "id", "request"]
        insert = text(f"INSERT INTO jobs ({', '.join(names)}) VALUES ({', '.join(f':{name}' for name in names)})")
        for job_id, request in requests.items():
            connection.execute(insert, row | counts | {"id": job_id, "request": json.dumps(request)})
    store.migrate()
    found = {job.id: (job.title, job.week) for job in JobStore(store).page("gym", limit=9)}
    assert found == {"a" * 32: ("Before", dt.date(2026, 11, 30)), "b" * 32: (None, None)}
    store.close()


def test_a_sqlite_file_is_its_owners_alone(tmp_path: Path) -> None:
    store = Store(f"sqlite:///{tmp_path}/private.sqlite3")
    store.migrate()
    JobStore(store).accept("gym", [new()], ROOM)
    modes = {path.name: oct(path.stat().st_mode & 0o777) for path in tmp_path.glob("private*")}
    store.close()
    assert set(modes.values()) == {"0o600"}, modes
    assert len(modes) == 3  # the file, its log and the log's index


def test_work_goes_from_queued_to_done_with_a_revision_at_each_change(jobs: JobStore) -> None:
    job_id = accepted(jobs)
    assert jobs.revision("gym", job_id) == (1, State.QUEUED)
    claim = jobs.claim_next()
    assert claim == (job_id, 1)
    assert jobs.claim_next() is None
    assert jobs.beat(*claim, {"tier": 1}) is False
    assert jobs.beat(*claim, None) is False
    assert jobs.end(*claim, Ending(State.DONE, "proved best", "{}"))
    found = jobs.find("gym", job_id)
    assert found is not None
    assert (found.state, found.answer, found.status) == ("done", "{}", "proved best")
    assert found.revision == 4  # accepted, claimed, one progress, ended
    assert found.created_at <= found.started_at <= found.ended_at  # type: ignore[operator]
    assert found.created_at.utcoffset() == dt.timedelta(0)


def test_only_the_latest_attempt_may_write(jobs: JobStore) -> None:
    job_id = accepted(jobs)
    first = jobs.claim_next()
    assert first is not None
    assert jobs.lost(*first, "{}")
    second = jobs.claim_next()
    assert second == (job_id, 2)
    assert jobs.beat(*first, None) is None
    assert jobs.end(*first, Ending(State.DONE, answer="of the first")) is False
    assert jobs.load(*first) is None
    assert jobs.end(*second, Ending(State.DONE, answer="of the second"))
    assert jobs.end(*second, Ending(State.DONE, answer="again")) is False
    found = jobs.find("gym", job_id)
    assert found is not None
    assert found.answer == "of the second"


def test_what_is_lost_is_run_again_once(jobs: JobStore) -> None:
    job_id = accepted(jobs)
    for _ in range(2):
        claim = jobs.claim_next()
        assert claim is not None
        assert jobs.lost(*claim, '{"type": "/problems/worker-lost"}')
    assert jobs.claim_next() is None
    found = jobs.find("gym", job_id)
    assert found is not None
    assert (found.state, found.problem) == ("failed", '{"type": "/problems/worker-lost"}')


def test_what_is_handed_back_is_no_loss(jobs: JobStore) -> None:
    job_id = accepted(jobs)
    for attempt in range(1, 5):
        claim = jobs.claim_next()
        assert claim == (job_id, attempt)
        assert jobs.give_back(*claim)
    assert state(jobs, job_id) is State.QUEUED


def test_stopping(jobs: JobStore) -> None:
    queued = accepted(jobs)
    assert jobs.ask_stop("other", queued) is None
    stopped = jobs.ask_stop("gym", queued)
    assert stopped is not None
    assert stopped.state == "stopped"
    running = accepted(jobs)
    claim = jobs.claim_next()
    assert claim == (running, 1)
    assert jobs.ask_stop("gym", running) is not None
    assert jobs.beat(*claim, None) is True
    # Its worker is lost before it has heard of it: it is not run again.
    assert jobs.lost(*claim, "{}")
    assert state(jobs, running) is State.STOPPED
    assert jobs.claim_next() is None


def test_a_key_begins_one_thing(jobs: JobStore) -> None:
    first = jobs.accept("gym", [new()], ROOM, repeat=("k", "f"))
    again = jobs.accept("gym", [new()], ROOM, repeat=("k", "f"))
    assert (again.repeated, again.jobs[0].id) == (True, first.jobs[0].id)
    with pytest.raises(KeyUsedOtherwise):
        jobs.accept("gym", [new()], ROOM, repeat=("k", "other"))
    elsewhere = jobs.accept("another", [new()], ROOM, repeat=("k", "other"))
    assert not elsewhere.repeated


def test_many_at_once_with_one_key_begin_one_thing(jobs: JobStore) -> None:
    ids: list[str] = []
    threads = [
        threading.Thread(target=lambda: ids.append(jobs.accept("gym", [new()], ROOM, repeat=("k", "f")).jobs[0].id))
        for _ in range(12)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(ids) == 12
    assert len(set(ids)) == 1


def test_many_claimants_get_each_job_once(jobs: JobStore) -> None:
    expected = {accepted(jobs) for _ in range(30)}
    claimed: list[str] = []

    def claim() -> None:
        while (found := jobs.claim_next()) is not None:
            claimed.append(found[0])

    threads = [threading.Thread(target=claim) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(claimed) == sorted(expected)


def test_the_tenant_with_least_running_comes_next(jobs: JobStore) -> None:
    crowd = [accepted(jobs, "crowd") for _ in range(3)]
    single = accepted(jobs, "single")
    order = [claim[0] for claim in (jobs.claim_next(), jobs.claim_next(), jobs.claim_next()) if claim]
    assert order == [crowd[0], single, crowd[1]]


def test_there_is_room_for_so_much(jobs: JobStore) -> None:
    room = Room(waiting=3, waiting_per_tenant=2, stored_per_tenant=4)
    jobs.accept("gym", [new(), new()], room)
    with pytest.raises(Full):
        jobs.accept("gym", [new()], room)
    jobs.accept("another", [new()], room)
    with pytest.raises(Full):
        jobs.accept("third", [new()], room)
    for _ in range(3):
        claim = jobs.claim_next()
        assert claim is not None
        jobs.end(*claim, Ending(State.DONE, answer="{}"))
    jobs.accept("gym", [new(), new()], room)
    with pytest.raises(Full) as full:
        jobs.accept("gym", [new(answer="{}")], room)
    assert full.value.stored
    with pytest.raises(Full):  # all or none
        jobs.accept("another", [new(), new(), new(), new()], Room(3, 3, 100))
    assert len(jobs.page("another", limit=10)) == 1


def test_erasing_takes_everything_of_a_client_and_nothing_else(jobs: JobStore, store: Store) -> None:
    plan = jobs.accept("gym", [new("one")], ROOM, repeat=("k", "f")).jobs[0].id
    question = jobs.accept("gym", [NewJob("why", "one", "{}", plan_id=plan)], ROOM).jobs[0].id
    kept = accepted(jobs, client="two")
    other = jobs.accept("another", [new("one")], ROOM).jobs[0].id
    assert jobs.erase("gym", client="one") == 2
    assert jobs.find("gym", plan) is jobs.find("gym", question) is None
    assert jobs.find("gym", kept) is not None
    assert jobs.find("another", other) is not None
    # The idempotency record has gone too: the key is new again.
    assert not jobs.accept("gym", [new("one")], ROOM, repeat=("k", "another")).repeated
    assert jobs.erase("gym") == 2
    assert jobs.page("gym", limit=5) == []


def test_erasing_a_plan_takes_its_questions(jobs: JobStore) -> None:
    plan, kept = accepted(jobs), accepted(jobs)
    question = jobs.accept("gym", [NewJob("why", "client", "{}", plan_id=plan)], ROOM).jobs[0].id
    assert jobs.erase("another", job_id=plan) == 0
    assert jobs.erase("gym", job_id=plan) == 2
    assert jobs.find("gym", question) is None
    assert jobs.find("gym", kept) is not None


def test_a_run_whose_job_is_erased_is_told_so(jobs: JobStore) -> None:
    accepted(jobs)
    claim = jobs.claim_next()
    assert claim is not None
    jobs.erase("gym")
    assert jobs.beat(*claim, {"tier": 1}) is None
    assert jobs.end(*claim, Ending(State.DONE, answer="{}")) is False


def test_what_is_past_its_time_goes_and_what_runs_stays(jobs: JobStore) -> None:
    accepted(jobs)
    claim = jobs.claim_next()
    assert claim is not None
    jobs.end(*claim, Ending(State.DONE, answer="{}"))
    queued = accepted(jobs)
    later = dt.datetime.now(dt.UTC) + dt.timedelta(seconds=1)
    assert jobs.erase_older(later - dt.timedelta(days=1)) == 0
    assert jobs.erase_older(later) == 1
    assert [job.id for job in jobs.page("gym", limit=5)] == [queued]


def test_erased_text_is_no_longer_in_the_files(jobs: JobStore, store: Store, tmp_path: Path) -> None:
    """A SQLite database is read byte by byte: with secure_delete and an emptied log nothing of a brief is left."""
    if not store.is_sqlite:
        _erased_rows_are_vacuumed(jobs, store)
        return
    text = f'{{"story": "{SECRET * 500}"}}'
    for _ in range(5):
        jobs.accept("gym", [new(SECRET, request=text)], ROOM)
    kept = accepted(jobs)

    def bytes_of_all() -> bytes:
        return b"".join(path.read_bytes() for path in tmp_path.iterdir())

    assert SECRET.encode() in bytes_of_all()
    assert jobs.erase("gym", client=SECRET) == 5
    assert SECRET.encode() not in bytes_of_all()
    assert jobs.find("gym", kept) is not None


def _erased_rows_are_vacuumed(jobs: JobStore, store: Store) -> None:
    """PostgreSQL says that no dead row is left in the table."""
    for _ in range(5):
        jobs.accept("gym", [new(SECRET)], ROOM)
    assert jobs.erase("gym", client=SECRET) == 5
    with store.engine.connect() as connection:
        connection.exec_driver_sql("CREATE EXTENSION IF NOT EXISTS pgstattuple")
        assert connection.exec_driver_sql("SELECT dead_tuple_count FROM pgstattuple('jobs')").scalar() == 0


def test_a_page_holds_no_documents(jobs: JobStore) -> None:
    accepted(jobs)
    (head,) = jobs.page("gym", limit=5)
    with pytest.raises(DetachedInstanceError):
        _ = head.request


def test_any_text_is_kept_as_it_is(jobs: JobStore) -> None:
    text = "Zoë 💪 \u202e \t 'quoted' \"double\" \\ %s {} é"
    job_id = accepted(jobs, client=text, request=text)
    found = jobs.find("gym", job_id)
    assert found is not None
    assert (found.client, found.request) == (text, text)
    assert [job.id for job in jobs.page("gym", limit=5, client=text)] == [job_id]
