"""Where a batch puts its answers: an NDJSON file or a folder. What is there already is kept and not solved again."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any, Protocol

from scheduler.batch.tasks import LINES, Source
from scheduler.domain.errors import InputError


class Answers(Protocol):
    """Answers that outlive the run, however it ends: each is with the system when ``add`` returns."""

    def has(self, source: Source, key: str) -> bool:
        """Whether the answer of a brief is there, and was given under this key."""

    def add(self, source: Source, line: str) -> None:
        """Store an answer, in the place of an older one of the same brief."""

    def close(self) -> None: ...


def answers_at(out: Path, asked: list[Source]) -> Answers:
    """A file where OUT ends with .ndjson, else a folder. Raises InputError where OUT cannot be used."""
    try:
        return _File(out, asked) if out.suffix == LINES else _Folder(out, asked)
    except OSError as error:
        raise InputError.single(
            "--out", f"{out} cannot be written ({error.strerror})", "Name another file or folder"
        ) from None


class _File:
    """One line an answer, in the order in which they came."""

    def __init__(self, path: Path, asked: list[Source]) -> None:
        self._path, self._superseded = path, False
        self._keys: dict[str, str] = {}
        path.parent.mkdir(parents=True, exist_ok=True)
        self._tidy(path, {source.name for source in asked})
        self._file: IO[bytes] = path.open("ab")

    def _tidy(self, path: Path, asked: set[str]) -> None:
        """Keep what counts: no torn last line, no faults that this run tries again, the last answer of each brief."""
        if not path.exists():
            return
        kept: dict[str, tuple[int, int]] = {}
        dropped = False
        with path.open("rb") as file:
            offset = 0
            for number, text in enumerate(file, 1):
                torn = not text.endswith(b"\n")
                row = None if torn else _row(text, f"{path}, line {number}")
                if row is not None:
                    name = row["brief"]
                    again = "key" not in row and name in asked
                    dropped = dropped or again or name in kept
                    kept.pop(name, None)
                    self._keys.pop(name, None)
                    if not again:
                        kept[name] = (offset, len(text))
                        self._keys[name] = row.get("key", "")
                dropped = dropped or row is None
                offset += len(text)
            if not dropped:
                return
            new = path.with_name(path.name + ".new")
            with new.open("wb") as copy:
                for start, length in kept.values():
                    file.seek(start)
                    copy.write(file.read(length))
                copy.flush()
                os.fsync(copy.fileno())
        new.replace(path)

    def has(self, source: Source, key: str) -> bool:
        return self._keys.get(source.name) == key

    def add(self, source: Source, line: str) -> None:
        self._superseded = self._superseded or source.name in self._keys
        self._file.write(line.encode() + b"\n")
        self._file.flush()

    def close(self) -> None:
        self._file.close()
        if self._superseded:
            self._tidy(self._path, set())


class _Folder:
    """One file an answer, named after its brief."""

    def __init__(self, path: Path, asked: list[Source]) -> None:
        if path.exists() and not path.is_dir():
            raise InputError.single("--out", f"{path} is a file", f"Name a folder, or a file that ends with {LINES}")
        names: dict[str, Source] = {}
        for source in asked:
            other = names.setdefault(source.stem, source)
            if other is not source:
                raise InputError.single(
                    "BRIEFS",
                    f"{other.name} and {source.name} would both answer in {source.stem}.json",
                    f"Rename one, or write to a file: --out answers{LINES}",
                )
        path.mkdir(parents=True, exist_ok=True)
        self._path = path

    def has(self, source: Source, key: str) -> bool:
        path = self._path / f"{source.stem}.json"
        if not path.exists():
            return False
        row = _row(path.read_bytes(), str(path))
        return row["brief"] == source.name and row.get("key") == key

    def add(self, source: Source, line: str) -> None:
        new = self._path / f"{source.stem}.json.new"
        new.write_text(line + "\n", encoding="utf-8")
        new.replace(new.with_suffix(""))

    def close(self) -> None:
        """Every answer is a closed file already."""


def _row(text: bytes, where: str) -> Mapping[str, Any]:
    """An answer that is there. What is no answer of a batch is refused: better than to write over a person's file."""
    try:
        row = json.loads(text)
    except ValueError:
        row = None
    if not isinstance(row, dict) or not {"brief", "number", "status"} <= set(row):
        raise InputError.single(where, "this is no answer of a batch", "Name another --out, or move the file away")
    return row
