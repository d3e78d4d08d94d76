"""The catalogue that comes with the program: it loads, by the quick parser, and is hashed over the bytes on disk."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

import scheduler.data
from scheduler import data, documents
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import InputError

FOLDER = Path(scheduler.data.__file__).parent


def _forget() -> None:
    data._texts.cache_clear()
    data.load_catalogue.cache_clear()
    data.catalogue_sha256.cache_clear()


@pytest.fixture
def _fresh() -> Iterator[None]:
    _forget()
    yield
    _forget()


def test_the_catalogue_loads_once() -> None:
    catalogue = data.load_catalogue()
    assert catalogue is data.load_catalogue()
    for part in data.PARTS:
        assert getattr(catalogue, part), f"{part}.yaml holds no row"


def test_every_file_and_every_part_is_read() -> None:
    # The guidelines are no part of the catalogue: only an audit reads them.
    assert {path.stem for path in FOLDER.glob("*.yaml")} - {"guidelines"} == set(data.PARTS)
    assert set(data.PARTS) == set(Catalogue.model_fields)


def test_yaml_is_parsed_in_c() -> None:
    """The catalogue is read at every start of the command."""
    assert documents._LOADER is yaml.CSafeLoader


def test_sha256_is_that_of_the_files_one_after_another() -> None:
    digest = hashlib.sha256()
    for part in ("muscles", "groups", "patterns", "equipment", "exercises", "kinds", "places", "evidence", "cautions"):
        digest.update((FOLDER / f"{part}.yaml").read_bytes())
    assert data.catalogue_sha256() == digest.hexdigest()


@pytest.mark.usefixtures("_fresh")
@pytest.mark.parametrize(
    ("part", "text", "message"),
    [
        ("muscles", b"lats: {name: Lats, group: back, size: huge}", "muscles.lats.size: "),
        ("exercises", b"row:\n  name: a\n  name: b\n", "exercises.yaml, line 3, column 3: "),
        ("kinds", b"", "kinds.yaml: the document is empty"),
    ],
)
def test_a_wrong_edit_names_its_file(monkeypatch: pytest.MonkeyPatch, part: str, text: bytes, message: str) -> None:
    texts = data._texts() | {part: text}
    monkeypatch.setattr(data, "_texts", lambda: texts)
    with pytest.raises(InputError) as caught:
        data.load_catalogue()
    assert message in str(caught.value)
    monkeypatch.undo()
