"""Requests made up from the OpenAPI document, against a running server on each database.

No answer may be a fault of the server, of an undocumented status, or unlike its schema; what breaks the schema is
refused. ``WEEKWRIGHT_CASES=100`` sends many thousand requests; without it some hundred are sent.

Two of the fuzzer's checks do not fit: a brief that fits its schema may still ask for a muscle that does not exist, and
DELETE stops a search and gives what it found, so that it can still be read afterwards.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

from api.store import KeyStore, Store
from api.store.keys import Scope
from tests.api.running import ROOT, running

CASES = os.environ.get("WEEKWRIGHT_CASES")
CONFIGURATION = """
[checks.negative_data_rejection]
expected-statuses = ["400", "401", "403", "404", "405", "406", "408", "409", "413", "415", "421", "422", "429"]
"""
"""A body that is too large (413) is refused as well."""


def test_no_request_breaks_the_contract(store_url: str, tmp_path: Path) -> None:
    store = Store(store_url)
    store.migrate()
    _, token = KeyStore(store).create("gym", tuple(Scope))
    store.close()
    (tmp_path / "schemathesis.toml").write_text(CONFIGURATION)
    phases = ["examples", *(["coverage"] if CASES else []), "fuzzing", "stateful"]
    with running(store_url, solve_seconds=1, most_solve_seconds=2, most_wait_seconds=1) as server:
        done = subprocess.run(
            [
                *(str(Path(sys.executable).parent / "schemathesis"), "run", f"{server.url}/v1/openapi.json"),
                *("-H", f"Authorization: Bearer {token}", "--seed", "1", "--continue-on-failure"),
                *("--max-examples", CASES or "5", "--phases", ",".join(phases)),
                # Faults are looked for, not speed: on a busy machine a batch of briefs took longer than the usual ten.
                *("--request-timeout", "60"),
                *("--exclude-checks", "positive_data_acceptance,use_after_free"),
            ],
            cwd=tmp_path,
            env=os.environ
            | {"SCHEMATHESIS_HOOKS": "tests.api.schemathesis_hooks", "PYTHONPATH": str(ROOT), "NO_COLOR": "1"},
            capture_output=True,
            text=True,
            check=False,
        )
        errors = [line for line in server.log if line.get("level") == "error" or "raw" in line]
    assert done.returncode == 0, done.stdout[-6000:]
    assert errors == []
    sent = re.search(r"(\d+) generated", done.stdout)
    assert sent is not None
    assert int(sent[1]) > 200, done.stdout[-2000:]
    print(sent[0])
