"""Times as the store writes them: ISO 8601, UTC, with milliseconds; they sort as they follow."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

__all__ = ["utc_ago", "utc_now", "utc_text"]


def utc_text(when: datetime) -> str:
    """Return a time as it is stored.

    >>> utc_text(datetime(2026, 5, 1, 12, tzinfo=UTC))
    '2026-05-01T12:00:00.000Z'

    """
    text = when.astimezone(UTC).isoformat(timespec="milliseconds")
    return text.replace("+00:00", "Z")


def utc_now() -> str:
    """Return the time now."""
    return utc_text(datetime.now(UTC))


def utc_ago(seconds: float) -> str:
    """Return the time so many seconds ago."""
    return utc_text(datetime.now(UTC) - timedelta(seconds=seconds))
