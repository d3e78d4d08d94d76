"""The catalogue as plain YAML that a coach can read and correct, one file a noun, and the reading of it."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files

from scheduler.documents import in_file, parse_text, validate
from scheduler.domain.catalogue import Catalogue
from scheduler.domain.errors import InputError

PARTS = ("muscles", "groups", "patterns", "equipment", "exercises", "kinds", "places", "evidence", "cautions")
"""The files, in the order in which they are read and hashed."""


@cache
def _texts() -> dict[str, bytes]:
    package = files(__name__)
    return {part: package.joinpath(f"{part}.yaml").read_bytes() for part in PARTS}


@cache
def load_catalogue() -> Catalogue:
    """The catalogue that comes with the program, read once. Raises InputError where a file has been edited wrongly.

    A fault in a file's text carries ``exercises.yaml, line 12, column 3``; a fault in a row carries
    ``exercises.barbell_row.reps``, whose first word is the file.
    """
    data: dict[str, object] = {}
    for part, text in _texts().items():
        try:
            data[part] = parse_text(text, source=f"{part}.yaml")
        except InputError as error:
            raise in_file(f"{part}.yaml", error) from None
    return validate(Catalogue, data)


@cache
def catalogue_sha256() -> str:
    """SHA-256 over the bytes of all catalogue files in the order of :data:`PARTS`, in hexadecimal."""
    return hashlib.sha256(b"".join(_texts().values())).hexdigest()
