"""Logs: one JSON object a line on standard error, with the id of the request it belongs to."""

from __future__ import annotations

import json
import logging
from datetime import UTC, datetime

__all__ = ["JsonFormatter", "set_up_logging"]

_ORDINARY = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "color_message"}


class JsonFormatter(logging.Formatter):
    """Writes a record, with whatever was passed as `extra`, as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        line = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        line |= {k: v for k, v in vars(record).items() if k not in _ORDINARY}
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


def set_up_logging(level: str = "info") -> None:
    """Send all logs of the process to standard error as JSON."""
    handler = logging.StreamHandler()
    handler.setFormatter(JsonFormatter())
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)
    for noisy in ("uvicorn.access", "alembic", "fontTools", "httpx", "numba"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
