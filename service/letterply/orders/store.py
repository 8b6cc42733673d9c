"""The embedded store: artifacts in a folder, an index in SQLite. All SQL of the house is here.

Nothing is half stored: artifacts are written and flushed first, then one transaction writes the
job, its list of artifacts and its keys. What the states may be, and what belongs to each, is in
the schema. Several processes may use one folder on a local disk (write-ahead log); each process
uses one connection, one thread at a time.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from letterply import ENGINE_VERSION
from letterply.errors import LetterplyError, NotFound
from letterply.orders.blobs import BlobFolder
from letterply.orders.identity import canonical_json
from letterply.orders.records import (
    Artifact,
    ArtworkRecord,
    Finished,
    FontRecord,
    JobRecord,
    JobState,
    KeyRecord,
)

__all__ = ["FolderStore"]

_SCHEMA_VERSION = 1
_SCHEMA = """
CREATE TABLE jobs (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('queued', 'running', 'done', 'failed')),
    request TEXT NOT NULL,
    created_at TEXT NOT NULL,
    engine_version TEXT NOT NULL,
    document TEXT,
    headline TEXT,
    failure TEXT,
    CHECK ((state = 'done') = (document IS NOT NULL AND headline IS NOT NULL)),
    CHECK ((state = 'failed') = (failure IS NOT NULL))
);
CREATE INDEX jobs_by_kind ON jobs (kind, seq);
CREATE TABLE artifacts (
    job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    path TEXT NOT NULL,
    digest TEXT NOT NULL CHECK (length(digest) = 32),
    size INTEGER NOT NULL CHECK (size >= 0),
    PRIMARY KEY (job, path)
) WITHOUT ROWID;
CREATE TABLE fonts (
    id TEXT PRIMARY KEY,
    digest TEXT NOT NULL CHECK (length(digest) = 32),
    name TEXT NOT NULL,
    description TEXT NOT NULL,
    size INTEGER NOT NULL CHECK (size > 0),
    created_at TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE keys (
    key TEXT PRIMARY KEY,
    fingerprint TEXT NOT NULL,
    job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE
) WITHOUT ROWID;
"""

_LATER = """
CREATE TABLE IF NOT EXISTS artworks (
    id TEXT PRIMARY KEY,
    digest TEXT NOT NULL CHECK (length(digest) = 32),
    name TEXT NOT NULL,
    description TEXT NOT NULL,
    size INTEGER NOT NULL CHECK (size > 0),
    created_at TEXT NOT NULL
) WITHOUT ROWID;
"""
"""Tables that came later and change none of the others: a store of before gets them."""

_JOB = "id, kind, state, request, created_at, engine_version, document, headline, failure"
_FONT = "id, digest, name, description, size, created_at"
_BUSY_TIMEOUT_MS = 10_000


class FolderStore:
    """A store in one folder of a local disk (see `letterply.orders.records.Store`)."""

    def __init__(self, root: Path) -> None:
        root.mkdir(parents=True, exist_ok=True)
        self._blobs = BlobFolder(root)
        self._lock = threading.RLock()
        self._db = sqlite3.connect(
            root / "index.sqlite", isolation_level=None, check_same_thread=False
        )
        try:
            self._db.execute(f"PRAGMA busy_timeout = {_BUSY_TIMEOUT_MS}")
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = FULL")
            self._db.execute("PRAGMA foreign_keys = ON")
            self._prepare()
        except BaseException:
            self._db.close()
            raise

    def job(self, job_id: str) -> JobRecord:
        """Return a job; raises `NotFound` (`job-not-found`)."""
        with self._lock:
            row = self._db.execute(f"SELECT {_JOB} FROM jobs WHERE id = ?", (job_id,)).fetchone()
            if row is None:
                raise NotFound("job", job_id)
            artifacts = self._db.execute(
                "SELECT path, digest, size FROM artifacts WHERE job = ? ORDER BY path", (job_id,)
            ).fetchall()
        return _job_from(row, tuple(Artifact(*found) for found in artifacts))

    def jobs(
        self, kind: str, *, limit: int, after: str | None = None
    ) -> tuple[tuple[JobRecord, ...], bool]:
        """Return up to `limit` jobs of a kind, newest first, and whether there are more."""
        with self._lock:
            before = None
            if after is not None:
                found = self._db.execute("SELECT seq FROM jobs WHERE id = ?", (after,)).fetchone()
                if found is None:
                    raise NotFound("job", after)
                before = found[0]
            rows = self._db.execute(
                f"SELECT {_JOB} FROM jobs WHERE kind = ? AND (? IS NULL OR seq < ?)"
                " ORDER BY seq DESC LIMIT ?",
                (kind, before, before, limit + 1),
            ).fetchall()
        return tuple(_job_from(row) for row in rows[:limit]), len(rows) > limit

    def unfinished(self) -> tuple[JobRecord, ...]:
        """Return all jobs that are queued or running, oldest first."""
        with self._lock:
            rows = self._db.execute(
                f"SELECT {_JOB} FROM jobs WHERE state IN ('queued', 'running') ORDER BY seq"
            ).fetchall()
        return tuple(_job_from(row) for row in rows)

    def is_whole(self, job: JobRecord) -> bool:
        """Tell whether every artifact of a job is in its place with its size."""
        return all(self._blobs.holds(a.digest, a.size) for a in job.artifacts)

    def keep_waiting(
        self, job_id: str, kind: str, request: Mapping[str, Any], key: KeyRecord | None = None
    ) -> None:
        """Keep a job that is not finished; a job that is done stays as it is."""
        with self._transaction() as db:
            db.execute(
                "INSERT INTO jobs (id, kind, state, request, created_at, engine_version)"
                " VALUES (?, ?, 'queued', ?, ?, ?) ON CONFLICT (id) DO UPDATE"
                " SET state = 'queued', failure = NULL WHERE state = 'failed'",
                (job_id, kind, _canonical(request), _now(), ENGINE_VERSION),
            )
            if key is not None:
                _insert_key(db, key)

    def save_done(
        self,
        job_id: str,
        kind: str,
        request: Mapping[str, Any],
        finished: Finished,
        keys: Iterable[KeyRecord] = (),
    ) -> JobRecord:
        """Store all artifacts, then the job and its keys in one transaction."""
        digests = self._blobs.put(finished.artifacts)
        headline = _text(finished.headline)
        with self._transaction() as db:
            db.execute(
                "INSERT INTO jobs (id, kind, state, request, created_at, engine_version,"
                " document, headline) VALUES (?, ?, 'done', ?, ?, ?, ?, ?)"
                " ON CONFLICT (id) DO UPDATE SET state = 'done', failure = NULL,"
                " document = excluded.document, headline = excluded.headline",
                (
                    job_id,
                    kind,
                    _canonical(request),
                    _now(),
                    ENGINE_VERSION,
                    finished.document,
                    headline,
                ),
            )
            db.execute("DELETE FROM artifacts WHERE job = ?", (job_id,))
            db.executemany(
                "INSERT INTO artifacts (job, path, digest, size) VALUES (?, ?, ?, ?)",
                [(job_id, p, digests[p], len(data)) for p, data in finished.artifacts.items()],
            )
            for key in keys:
                _insert_key(db, key)
        return self.job(job_id)

    def save_failed(self, job_id: str, failure: Mapping[str, Any]) -> None:
        """Mark a kept job as failed; a job that is done, or not kept, stays as it is."""
        with self._transaction() as db:
            db.execute(
                "UPDATE jobs SET state = 'failed', failure = ?"
                " WHERE id = ? AND state IN ('queued', 'running')",
                (_text(failure), job_id),
            )

    def read(self, artifact: Artifact) -> bytes:
        """Return the bytes of an artifact, checked; raises `artifact-damaged`."""
        return self._blobs.read(artifact.digest)

    def key(self, key: str) -> KeyRecord | None:
        """Return what an idempotency key was used for, or None."""
        with self._lock:
            row = self._db.execute(
                "SELECT key, fingerprint, job FROM keys WHERE key = ?", (key,)
            ).fetchone()
        return KeyRecord(*row) if row else None

    def save_key(self, key: KeyRecord) -> None:
        """Store a key for a job that is already kept."""
        with self._transaction() as db:
            _insert_key(db, key)

    def fonts(self, *, limit: int, after: str | None = None) -> tuple[tuple[FontRecord, ...], bool]:
        """Return up to `limit` fonts by name, and whether there are more."""
        name = self.font(after).name if after is not None else None
        rows = self._uploads("fonts", limit, name, after)
        return tuple(_font_from(row) for row in rows[:limit]), len(rows) > limit

    def font(self, font_id: str) -> FontRecord:
        """Return a font; raises `NotFound` (`font-not-found`)."""
        row = self._upload("fonts", font_id)
        if row is None:
            raise NotFound("font", font_id)
        return _font_from(row)

    def artworks(
        self, *, limit: int, after: str | None = None
    ) -> tuple[tuple[ArtworkRecord, ...], bool]:
        """Return up to `limit` drawings by name, and whether there are more."""
        name = self.artwork(after).name if after is not None else None
        rows = self._uploads("artworks", limit, name, after)
        return tuple(_artwork_from(row) for row in rows[:limit]), len(rows) > limit

    def artwork(self, artwork_id: str) -> ArtworkRecord:
        """Return a drawing; raises `NotFound` (`artwork-not-found`)."""
        row = self._upload("artworks", artwork_id)
        if row is None:
            raise NotFound("artwork", artwork_id)
        return _artwork_from(row)

    def path_of(self, digest: str) -> Path:
        """Return where the file with this digest lies."""
        return self._blobs.path(digest)

    def set_aside(self, data: bytes) -> AbstractContextManager[Path]:
        """Give a file with these bytes that is gone when the context ends."""
        return self._blobs.set_aside(data)

    def add_font(
        self, font_id: str, data: bytes, name: str, description: Mapping[str, Any]
    ) -> FontRecord:
        """Store a font; storing the same one again changes nothing."""
        self._add_upload("fonts", font_id, data, name, description)
        return self.font(font_id)

    def add_artwork(
        self, artwork_id: str, data: bytes, name: str, description: Mapping[str, Any]
    ) -> ArtworkRecord:
        """Store a drawing; storing the same one again changes nothing."""
        self._add_upload("artworks", artwork_id, data, name, description)
        return self.artwork(artwork_id)

    def keep_file(self, data: bytes) -> tuple[str, Path]:
        """Store bytes by their digest; return digest and place."""
        name = self._blobs.put({"file": data})["file"]
        return name, self._blobs.path(name)

    def close(self) -> None:
        """Close the index."""
        with self._lock:
            self._db.close()

    def _uploads(
        self, table: str, limit: int, name: str | None, after: str | None
    ) -> list[tuple[Any, ...]]:
        """Return one row more than the limit, by name."""
        with self._lock:
            return self._db.execute(
                f"SELECT {_FONT} FROM {table}"
                " WHERE ? IS NULL OR (name, id) > (?, ?) ORDER BY name, id LIMIT ?",
                (name, name, after, limit + 1),
            ).fetchall()

    def _upload(self, table: str, id_: str) -> tuple[Any, ...] | None:
        with self._lock:
            row: tuple[Any, ...] | None = self._db.execute(
                f"SELECT {_FONT} FROM {table} WHERE id = ?", (id_,)
            ).fetchone()
        return row

    def _add_upload(
        self, table: str, id_: str, data: bytes, name: str, description: Mapping[str, Any]
    ) -> None:
        digest, _ = self.keep_file(data)
        with self._transaction() as db:
            db.execute(
                f"INSERT INTO {table} ({_FONT}) VALUES (?, ?, ?, ?, ?, ?)"
                " ON CONFLICT (id) DO NOTHING",
                (id_, digest, name, _text(description), len(data), _now()),
            )

    def _prepare(self) -> None:
        with self._transaction() as db:
            (version,) = db.execute("PRAGMA user_version").fetchone()
            if version == 0:
                for statement in _SCHEMA.split(";"):
                    db.execute(statement)
                db.execute(f"PRAGMA user_version = {_SCHEMA_VERSION}")
            elif version != _SCHEMA_VERSION:
                raise LetterplyError(
                    f"The store has layout {version}; this version reads {_SCHEMA_VERSION}.",
                    code="store-layout",
                    data={"found": version, "expected": _SCHEMA_VERSION},
                )
            db.execute(_LATER)

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        with self._lock:
            # IMMEDIATE: wait for other writers here, not in the middle of the work.
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
            except BaseException:
                self._db.execute("ROLLBACK")
                raise
            self._db.execute("COMMIT")


def _insert_key(db: sqlite3.Connection, key: KeyRecord) -> None:
    db.execute(
        "INSERT INTO keys (key, fingerprint, job) VALUES (?, ?, ?) ON CONFLICT (key) DO NOTHING",
        (key.key, key.fingerprint, key.job),
    )


def _job_from(row: tuple[Any, ...], artifacts: tuple[Artifact, ...] = ()) -> JobRecord:
    job_id, kind, state, request, created_at, version, document, headline, failure = row
    return JobRecord(
        id=job_id,
        kind=kind,
        state=JobState(state),
        request=json.loads(request),
        created_at=created_at,
        engine_version=version,
        document=document,
        artifacts=artifacts,
        headline=json.loads(headline) if headline else None,
        failure=json.loads(failure) if failure else None,
    )


def _font_from(row: tuple[Any, ...]) -> FontRecord:
    font_id, digest, name, description, size, created_at = row
    return FontRecord(font_id, digest, name, json.loads(description), size, created_at)


def _artwork_from(row: tuple[Any, ...]) -> ArtworkRecord:
    artwork_id, digest, name, description, size, created_at = row
    return ArtworkRecord(artwork_id, digest, name, json.loads(description), size, created_at)


def _canonical(value: Mapping[str, Any]) -> str:
    return canonical_json(dict(value)).decode()


def _text(value: Mapping[str, Any]) -> str:
    # In the order in which it came: people read it again.
    return json.dumps(dict(value), ensure_ascii=False)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
