"""What a batch is asked for: briefs from files, folders and lines of NDJSON, each with a name and a number."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from scheduler.briefs import brief_of, read_brief
from scheduler.data import catalogue_sha256
from scheduler.documents import parse_text
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.planning import brief_sha256, program_version
from scheduler.week.solver import Limits

SUFFIXES = (".yaml", ".yml", ".json")
LINES = ".ndjson"


@dataclass(frozen=True, slots=True)
class Source:
    """Where one brief stands: a file, or a line of one."""

    name: str
    """The path as given; for a line with ``#`` and its number, from 1."""
    number: int
    """Its place among all that were asked for, from 1."""
    path: Path
    offset: int | None = None
    """Of a line: where it begins, in bytes."""
    length: int = 0

    @property
    def stem(self) -> str:
        """The name of its answer in a folder."""
        return self.path.stem if self.offset is None else f"{self.path.stem}-{self.name.rpartition('#')[2]:0>7}"


@dataclass(frozen=True)
class Task:
    """One brief to solve, as it travels to another process: settled calendars and all, in JSON."""

    name: str
    number: int
    brief_json: str
    key: str
    """What would give another answer gives another key: the brief, seed, limits, program and catalogue."""
    limits: Limits


def sources(paths: Iterable[Path], out: Path) -> list[Source]:
    """The briefs of files, of folders (those directly in it, by name) and of NDJSON files, in order, each once.

    Args:
        out: where the answers go: in a folder of briefs they are none themselves.

    Raises:
        InputError: a path does not exist, nothing was asked for, or the answers would lie among the briefs.
    """
    found: dict[str, Source] = {}
    for given in paths:
        if given.resolve() == out.resolve():
            raise InputError.single("--out", f"{out} is among the briefs", "Name another file or folder")
        inside = _in_folder(given, out) if given.is_dir() else [given]
        for path in inside:
            for source in _lines(path) if path.suffix == LINES else [Source(str(path), 0, path)]:
                found.setdefault(source.name, replace(source, number=len(found) + 1))
    if not found:
        raise InputError.single(
            "BRIEFS", "no brief is named", f"Name files ({', '.join(SUFFIXES)}, {LINES}) or folders"
        )
    return list(found.values())


def _in_folder(folder: Path, out: Path) -> list[Path]:
    return sorted(p for p in folder.iterdir() if p.suffix in (*SUFFIXES, LINES) and p.resolve() != out.resolve())


def _lines(path: Path) -> Iterator[Source]:
    try:
        with path.open("rb") as file:
            offset = 0
            for number, line in enumerate(file, 1):
                if line.strip():
                    yield Source(f"{path}#{number}", 0, path, offset, len(line))
                offset += len(line)
    except OSError as error:
        advice = "Check the path and its rights"
        raise InputError.single(str(path), f"the file cannot be read ({error.strerror})", advice) from None


def key_of(brief: Brief, limits: Limits) -> str:
    """SHA-256, in hexadecimal, of all that an answer depends on."""
    parts = (brief_sha256(brief), program_version(), catalogue_sha256(), json.dumps(asdict(limits), sort_keys=True))
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def task_of(source: Source, limits: Limits) -> Task:
    """The brief of a source, read and settled. Raises InputError where it cannot be used."""
    if source.offset is None:
        brief = read_brief(source.path)
    else:
        with source.path.open("rb") as file:
            file.seek(source.offset)
            text = file.read(source.length)
        brief = brief_of(parse_text(text, source=source.name), folder=source.path.parent)
    return Task(source.name, source.number, brief.model_dump_json(), key_of(brief, limits), limits)
