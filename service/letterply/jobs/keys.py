"""Idempotency keys: the same request under the same key is one job, another request a conflict."""

from __future__ import annotations

from collections.abc import Iterable

from letterply.errors import Conflict
from letterply.storage import KeyRecord, Store

__all__ = ["Keys"]


class Keys:
    """The keys of jobs that run; those of jobs that are kept are in the store."""

    def __init__(self) -> None:
        self._running: dict[str, KeyRecord] = {}

    def note(self, use: KeyRecord) -> None:
        """Remember the key of a job that runs."""
        self._running[use.key] = use

    def forget(self, uses: Iterable[KeyRecord]) -> None:
        """Forget keys: their job has ended."""
        for use in uses:
            self._running.pop(use.key, None)

    def known(self, use: KeyRecord, store: Store) -> KeyRecord | None:
        """Return the earlier use of a key, None when it is new.

        Raises:
            Conflict: `idempotency-key-reused` (it was another request).

        """
        known = self._running.get(use.key) or store.key(use.key)
        if known is not None and known.fingerprint != use.fingerprint:
            raise Conflict(
                "This idempotency key was used with another request.",
                code="idempotency-key-reused",
                expected="a new key for a new request",
            )
        return known
