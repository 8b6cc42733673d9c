"""The store: artifacts by content, an index of jobs in a database.

Nothing is half stored: artifacts are written and flushed first, then one transaction writes the
job, its list of artifacts and its keys. What the states may be, and what belongs to each, is in
the schema (`letterply.storage.tables`). The database is a file in the store's folder (SQLite,
write-ahead log, local disk) or a PostgreSQL server; several processes may use either.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from contextlib import AbstractContextManager
from copy import copy
from dataclasses import replace
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from letterply.errors import NotFound
from letterply.storage import tables
from letterply.storage.access import AccessKeys
from letterply.storage.blobs import BlobFolder, Blobs, make_private, whole_file
from letterply.storage.bucket import BlobBucket
from letterply.storage.clock import utc_now
from letterply.storage.database import Database, sqlite_url
from letterply.storage.job_rows import as_text, insert_waiting, mark_done, mark_failed
from letterply.storage.offered import require_not_shown
from letterply.storage.owners import HOUSE, Usage, hold, holders, insert, let_go, require, usage
from letterply.storage.places import vault_place
from letterply.storage.records import (
    Artifact,
    Finished,
    JobRecord,
    JobState,
    KeyRecord,
    Upload,
    UploadKind,
)
from letterply.storage.runs import RunLost, await_anyone, end_run, keep_keys, lock_run, progress_of

__all__ = ["Store"]

_JOB = tuple(
    tables.jobs.c[name]
    for name in (
        "id", "kind", "state", "request", "created_at", "engine_version", "document", "headline",
        "failure", "answer",
    )
)  # fmt: skip
# Made once: these are asked all the time.
_WHICH: sa.BindParameter[str] = sa.bindparam("which")
_WHOSE: sa.BindParameter[str] = sa.bindparam("whose")
_J, _A, _H = tables.jobs.c, tables.artifacts.c, tables.holdings.c
_JOB_BY_ID = sa.select(*_JOB).where(_J.id == _WHICH)
_JOB_OF_OWNER = _JOB_BY_ID.where(
    sa.exists().where(_H.owner == _WHOSE, _H.kind == _J.kind, _H.id == _J.id)
)
_ITS_ARTIFACTS = sa.select(_A.path, _A.digest, _A.size, _A.later).where(_A.job == _WHICH)
_WAITING = ("queued", "running")
_UPLOADS = {UploadKind.FONT: tables.fonts, UploadKind.ARTWORK: tables.artworks}
_UPLOAD = ("id", "digest", "name", "description", "size", "created_at")
_OWN = {
    kind: sa.select(*(table.c[name] for name in _UPLOAD)).join(
        tables.holdings, sa.and_(_H.id == table.c.id, _H.kind == kind, _H.owner == _WHOSE)
    )
    for kind, table in _UPLOADS.items()
}
_BY_NAME = {k: s.order_by(_UPLOADS[k].c.name, _UPLOADS[k].c.id) for k, s in _OWN.items()}


class Store:
    """A store in a folder, its index there too or on a server. Any thread may call it.

    What is asked for by its id or in lists is what one owner holds (`letterply.storage.owners`).

    Args:
        root: folder of the artifacts.
        database_url: of the index; None for a file in the folder.
        bucket_url: of an object store for the artifacts; None for the folder.

    """

    def __init__(
        self, root: Path, database_url: str | None = None, bucket_url: str | None = None
    ) -> None:
        make_private(root)
        self.owner = HOUSE
        self.root = root
        self.place = vault_place(root, bucket_url)
        self.blobs: Blobs = BlobBucket(bucket_url, root) if bucket_url else BlobFolder(root)
        self.database = Database(database_url or sqlite_url(root / "index.sqlite"))
        self.access = AccessKeys(self.database)

    def of(self, owner: str) -> Store:
        """Return the same store as one owner sees it."""
        theirs = copy(self)
        theirs.owner = owner
        return theirs

    def usage(self) -> Usage:
        """Return what the owner has."""
        return self.database.read(lambda db: usage(db, self.owner))

    def job(self, job_id: str) -> JobRecord:
        """Return a job of the owner; raises `NotFound` (`job-not-found`)."""
        return self.database.read(lambda db: _job(db, job_id, self.owner))

    def require(self, kind: str, id_: str, what: str | None = None) -> None:
        """Raise `NotFound` (of `what`, or the kind) unless the owner holds the thing."""
        self.database.read(lambda db: require(db, self.owner, kind, id_, what))

    def hold(self, kind: str, id_: str) -> bool:
        """Let the owner hold a thing that is kept; tell whether that is new."""

        def keep(db: sa.Connection) -> bool:
            new = self.owner not in holders(db, kind, id_)
            hold(db, (self.owner,), kind, id_)
            return new

        return self.database.write(keep)

    def holders(self, kind: str, id_: str) -> tuple[str, ...]:
        """Return who holds a thing, the first one first."""
        return self.database.read(lambda db: holders(db, kind, id_))

    def let_go(self, kind: str, id_: str) -> bool:
        """End the owner's holding of a job, font or drawing; tell whether it is gone with it.

        Its bytes stay until they are swept. Raises `NotFound`, and `Conflict` (`offer-open`) while
        an offer shows it.
        """

        def end(db: sa.Connection) -> bool:
            lock_run(db, id_)
            if kind not in _UPLOADS:
                require(db, self.owner, kind, id_)
                require_not_shown(db, self.owner, id_)
            last = let_go(db, self.owner, kind, id_)
            if last:
                table = _UPLOADS[UploadKind(kind)] if kind in _UPLOADS else tables.jobs
                db.execute(sa.delete(table).where(table.c.id == id_))
                # Whoever is at it finds that it is wanted no more.
                db.execute(sa.delete(tables.runs).where(tables.runs.c.job == id_))
            return last

        return self.database.write(end)

    def job_of_any(self, job_id: str) -> JobRecord:
        """Return a job, whoever holds it; raises `NotFound` (`job-not-found`)."""
        return self.database.read(lambda db: _job(db, job_id))

    def jobs(
        self, kind: str, *, limit: int, after: str | None = None
    ) -> tuple[tuple[JobRecord, ...], bool]:
        """Return up to `limit` jobs of a kind that the owner holds, and whether there are more.

        The newest come first: those that the owner asked for last.
        """
        h = tables.holdings.c
        seq, mine = h.seq, sa.and_(h.owner == self.owner, h.kind == kind)
        both = tables.holdings.join(tables.jobs, tables.jobs.c.id == h.id)

        def look(db: sa.Connection) -> list[Any]:
            wanted = sa.select(*_JOB).select_from(both).where(mine)
            if after is not None:
                before = db.execute(sa.select(seq).where(mine, h.id == after)).scalar_one_or_none()
                if before is None:
                    raise NotFound("job", after)
                wanted = wanted.where(seq < before)
            return list(db.execute(wanted.order_by(seq.desc()).limit(limit + 1)).all())

        rows = self.database.read(look)
        return tuple(_job_from(row) for row in rows[:limit]), len(rows) > limit

    def is_whole(self, job: JobRecord) -> bool:
        """Tell whether all that was made of a job is in its place, byte for byte."""
        made = [job.answer, *(a.digest for a in job.artifacts)]
        return all(self.blobs.holds(digest) for digest in made if digest is not None)

    def keep_waiting(self, job_id: str, kind: str, request: Mapping[str, Any]) -> None:
        """Keep a job that is not finished, and its keys; a job that is done stays as it is.

        One that is not under way waits for any worker.
        """

        def keep(db: sa.Connection) -> None:
            lock_run(db, job_id)
            insert_waiting(db, job_id, kind, request)
            hold(db, (self.owner,), kind, job_id)
            if _state(db, job_id) != JobState.DONE:
                await_anyone(db, job_id, kind, self.owner)
            keep_keys(db, job_id)

        self.database.write(keep)

    def save_done(
        self,
        job_id: str,
        kind: str,
        request: Mapping[str, Any],
        finished: Finished,
        keys: Iterable[KeyRecord] = (),
        *,
        worker: str | None = None,
    ) -> JobRecord:
        """Store all artifacts, then the job, its keys and who holds it in one transaction.

        Whoever had it kept holds it, or else the owner of this store. It ends the run of a worker.

        Raises:
            RunLost: the run is not that worker's any more; nothing is stored.

        """
        digests = self.blobs.put(finished.artifacts)
        files = [Artifact(p, digests[p], len(d)) for p, d in finished.artifacts.items()]
        files += [Artifact(path, None, None, later=True) for path in finished.later]
        answer = None if finished.answer is None else self.keep_file(finished.answer)[0]
        uses = tuple(keys)

        def save(db: sa.Connection) -> None:
            lock_run(db, job_id)
            kept = _state(db, job_id) in _WAITING
            insert_waiting(db, job_id, kind, request)
            if not kept:
                hold(db, (self.owner,), kind, job_id)
            mark_done(db, job_id, finished.document, finished.headline, files, answer)
            for key in uses:
                _insert_key(db, key)
            if worker is not None:
                keep_keys(db, job_id)
                if not end_run(db, job_id, worker):
                    raise RunLost(job_id)

        self.database.write(save)
        return self.job_of_any(job_id)

    def save_made(self, job_id: str, files: Mapping[str, bytes]) -> JobRecord:
        """Store files of a job that were made later."""
        digests = self.blobs.put(files)
        c = tables.artifacts.c

        def save(db: sa.Connection) -> None:
            for path, digest in digests.items():
                row = sa.update(tables.artifacts).where(c.job == job_id, c.path == path, c.later)
                db.execute(row.values(digest=digest, size=len(files[path])))

        self.database.write(save)
        return self.job_of_any(job_id)

    def save_failed(self, job_id: str, failure: Mapping[str, Any]) -> None:
        """Mark a kept job as failed that no worker has; one that is done stays as it is."""

        def fail(db: sa.Connection) -> None:
            c = tables.runs.c
            db.execute(sa.delete(tables.runs).where(c.job == job_id, c.worker.is_(None)))
            mark_failed(db, job_id, failure)

        self.database.write(fail)

    def read(self, artifact: Artifact) -> bytes:
        """Return the bytes of an artifact that was made, checked; raises `artifact-damaged`."""
        if artifact.digest is None:
            raise ValueError(f"{artifact.path} was not made")
        return self.blobs.read(artifact.digest)

    def read_answer(self, job: JobRecord) -> bytes:
        """Return what files are made from later, checked; raises `artifact-damaged`."""
        if job.answer is None:
            raise ValueError(f"{job.id} keeps no answer")
        return self.blobs.read(job.answer)

    def key(self, key: str) -> KeyRecord | None:
        """Return what an idempotency key was used for, or None."""
        c = tables.keys.c
        wanted = sa.select(c.key, c.fingerprint, c.job).where(c.key == key)
        row = self.database.read(lambda db: db.execute(wanted).one_or_none())
        return KeyRecord(*row) if row else None

    def key_in_use(self, key: str) -> tuple[KeyRecord | None, bool]:
        """Return what an idempotency key is or was used for, and whether that is under way."""
        c = tables.run_keys.c
        wanted = sa.select(c.key, c.fingerprint, c.job).where(c.key == key)
        row = self.database.read(lambda db: db.execute(wanted).one_or_none())
        return (KeyRecord(*row), True) if row else (self.key(key), False)

    def save_key(self, key: KeyRecord) -> None:
        """Store a key for a job that is already kept."""
        self.database.write(lambda db: _insert_key(db, key))

    def uploads(
        self, kind: UploadKind, *, limit: int, after: str | None = None
    ) -> tuple[tuple[Upload, ...], bool]:
        """Return up to `limit` files of the owner's by name, and whether there are more."""
        table = _UPLOADS[kind]
        c = table.c
        wanted, facts = _BY_NAME[kind].limit(limit + 1), {"whose": self.owner}
        if after is not None:
            last = self.upload(kind, after)
            at = sa.tuple_(sa.literal(last.name), sa.literal(last.id))
            wanted = wanted.where(sa.tuple_(c.name, c.id) > at)
        rows = self.database.read(lambda db: db.execute(wanted, facts).all())
        return tuple(_upload_from(row) for row in rows[:limit]), len(rows) > limit

    def upload(self, kind: UploadKind, id_: str) -> Upload:
        """Return a file of the owner's.

        Raises `NotFound` (`font-not-found`, `artwork-not-found`).
        """
        wanted = _OWN[kind].where(_UPLOADS[kind].c.id == id_)
        row = self.database.read(lambda db: db.execute(wanted, {"whose": self.owner}).one_or_none())
        if row is None:
            raise NotFound(kind, id_)
        return _upload_from(row)

    def add_upload(
        self, kind: UploadKind, id_: str, data: bytes, name: str, description: Mapping[str, Any]
    ) -> Upload:
        """Store a file; storing the same one again changes nothing."""
        digest, _ = self.keep_file(data)
        facts = {
            "id": id_,
            "digest": digest,
            "name": name,
            "description": as_text(description),
            "size": len(data),
            "created_at": utc_now(),
        }

        def add(db: sa.Connection) -> None:
            db.execute(insert(db, _UPLOADS[kind]).values(facts).on_conflict_do_nothing())
            hold(db, (self.owner,), kind, id_)

        self.database.write(add)
        return self.upload(kind, id_)

    def path_of(self, digest: str) -> Path:
        """Return where the file with this digest lies, whole; raises `artifact-damaged`."""
        return whole_file(self.blobs, digest)

    def set_aside(self, data: bytes) -> AbstractContextManager[Path]:
        """Give a file with these bytes that is gone when the context ends."""
        return self.blobs.set_aside(data)

    def keep_file(self, data: bytes) -> tuple[str, Path]:
        """Store bytes by their digest; return digest and place."""
        name = self.blobs.put({"file": data})["file"]
        return name, self.blobs.path(name)

    def close(self) -> None:
        """Close the index."""
        self.database.close()


def _job(db: sa.Connection, job_id: str, owner: str | None = None) -> JobRecord:
    """Return a job; of one owner only what they hold."""
    wanted = _JOB_BY_ID if owner is None else _JOB_OF_OWNER
    row = db.execute(wanted, {"which": job_id, "whose": owner}).one_or_none()
    if row is None:
        raise NotFound("job", job_id)
    found = db.execute(_ITS_ARTIFACTS, {"which": job_id}).all()
    artifacts = sorted((Artifact(*f) for f in found), key=lambda f: f.path)
    record = _job_from(row, tuple(artifacts))
    if record.state is JobState.RUNNING:
        record = replace(record, progress=progress_of(db, job_id))
    return record


def _state(db: sa.Connection, job_id: str) -> str | None:
    return db.execute(sa.select(tables.jobs.c.state).where(tables.jobs.c.id == job_id)).scalar()


def _insert_key(db: sa.Connection, key: KeyRecord) -> None:
    facts = {"key": key.key, "fingerprint": key.fingerprint, "job": key.job}
    db.execute(insert(db, tables.keys).values(facts).on_conflict_do_nothing())


def _job_from(row: Any, artifacts: tuple[Artifact, ...] = ()) -> JobRecord:
    job_id, kind, state, request, created_at, version, document, headline, failure, answer = row
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
        answer=answer,
    )


def _upload_from(row: Any) -> Upload:
    id_, digest, name, description, size, created_at = row
    return Upload(id_, digest, name, json.loads(description), size, created_at)
