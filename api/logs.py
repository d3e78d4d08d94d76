"""Structured logs: one JSON object a line. Briefs and secrets stay out: no bodies, no queries, no error messages."""

from __future__ import annotations

import json
import logging
import sys
import traceback
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

REQUEST_ID: ContextVar[str | None] = ContextVar("request_id", default=None)


class JsonLines(logging.Formatter):
    """Of an exception only its type and where it was raised are kept: its message may quote a document."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if (request_id := REQUEST_ID.get()) is not None:
            line["request_id"] = request_id
        line |= getattr(record, "fields", {})
        if record.exc_info and record.exc_info[1] is not None:
            line["error"] = type(record.exc_info[1]).__name__
            frames = traceback.extract_tb(record.exc_info[2])
            line["at"] = [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames[-8:]]
        return json.dumps(line, ensure_ascii=False)


def set_up(level: int = logging.INFO) -> None:
    """Send all logs to standard error as JSON lines."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(level)
    for name in ("uvicorn", "uvicorn.error", "uvicorn.access"):
        logger = logging.getLogger(name)
        logger.handlers.clear()
        logger.propagate = name != "uvicorn.access"
    for name in ("alembic", "distributed", "httpx"):
        logging.getLogger(name).setLevel(logging.WARNING)
