"""A batch from end to end: read, leave out what is answered, solve the rest, store every answer as it comes."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pydantic_core import PydanticSerializationError

from scheduler.batch.answers import answers_at
from scheduler.batch.runners import Runner, local
from scheduler.batch.solving import BAD_BRIEF, line
from scheduler.batch.tasks import Source, Task, sources, task_of
from scheduler.domain.errors import InputError
from scheduler.week.solver import Limits

Tell = Callable[[int, int], None]
"""Called with the number of briefs that have an answer, and of all."""


@dataclass
class Summary:
    """What a batch came to.

    Attributes:
        asked: number of briefs.
        before: how many had their answer before this run.
        statuses: what this run answered, by status.
    """

    asked: int
    before: int = 0
    statuses: Counter[str] = field(default_factory=Counter)


def solve_batch(
    paths: Iterable[Path],
    out: Path,
    *,
    runner: Runner | None = None,
    limits: Limits | None = None,
    tell: Tell | None = None,
) -> Summary:
    """Solve many briefs and put every answer into OUT.

    A brief whose answer is in OUT already is left out, unless the brief, the limits or the program has changed since.
    Faults are tried again. Answers are stored as they come; ``number`` says where each belongs.

    Args:
        paths: files, folders, NDJSON files.
        out: a file that ends with .ndjson, or a folder.
        runner: where to solve; left out: one process for each core.

    Raises:
        InputError: paths, OUT or the cluster cannot be used. A bad brief raises nothing: it has its faults in OUT.
    """
    limits = limits or Limits()
    asked = sources(paths, out)
    by_name = {source.name: source for source in asked}
    answers = answers_at(out, asked)
    summary = Summary(len(asked))

    def done(source: Source, text: str) -> None:
        answers.add(source, text)
        summary.statuses[json.loads(text)["status"]] += 1
        show()

    def show() -> None:
        if tell is not None:
            tell(summary.before + summary.statuses.total(), summary.asked)

    def to_solve() -> Iterator[Task]:
        for source in asked:
            try:
                task = task_of(source, limits)
            except InputError as error:
                done(source, line(source.name, source.number, BAD_BRIEF, faults=error.faults))
                continue
            except PydanticSerializationError as error:
                # A Ctrl-C amid pydantic's work comes out as an error of its own.
                if "KeyboardInterrupt" in str(error):
                    raise KeyboardInterrupt from None
                raise
            if answers.has(source, task.key):
                summary.before += 1
                show()
            else:
                yield task

    try:
        for task, text in (runner or local())(to_solve()):
            done(by_name[task.name], text)
    finally:
        answers.close()
    return summary
