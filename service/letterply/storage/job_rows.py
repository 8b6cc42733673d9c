"""Rows of jobs, written within a transaction that the caller holds."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from letterply import ENGINE_VERSION
from letterply.storage import tables
from letterply.storage.clock import utc_now
from letterply.storage.identity import canonical_json
from letterply.storage.owners import insert
from letterply.storage.records import Artifact

__all__ = ["as_text", "insert_waiting", "mark_done", "mark_failed"]

_WAITING = ("queued", "running")


def insert_waiting(
    db: sa.Connection,
    job_id: str,
    kind: str,
    request: Mapping[str, Any],
    *,
    again: Sequence[str] = ("failed",),
) -> None:
    """Keep a job as queued; one in a state of `again` is queued again, others stay as they are."""
    facts = {
        "id": job_id,
        "kind": kind,
        "state": "queued",
        "request": canonical_json(dict(request)).decode(),
        "created_at": utc_now(),
        "engine_version": ENGINE_VERSION,
    }
    statement = insert(db, tables.jobs).values(facts)
    db.execute(
        statement.on_conflict_do_update(
            index_elements=["id"],
            set_={"state": "queued", "failure": None, "document": None, "headline": None},
            where=tables.jobs.c.state.in_(again),
        )
    )


def mark_done(
    db: sa.Connection,
    job_id: str,
    document: str,
    headline: Mapping[str, Any],
    files: Iterable[Artifact],
    answer: str | None = None,
) -> None:
    """Mark a kept job as done, with its document and files, and what more are made from."""
    db.execute(
        sa.update(tables.jobs)
        .where(tables.jobs.c.id == job_id)
        .values(
            state="done",
            failure=None,
            document=document,
            headline=as_text(headline),
            answer=answer,
        )
    )
    db.execute(sa.delete(tables.artifacts).where(tables.artifacts.c.job == job_id))
    rows = [
        {"job": job_id, "path": f.path, "digest": f.digest, "size": f.size, "later": f.later}
        for f in files
    ]
    if rows:
        db.execute(sa.insert(tables.artifacts), rows)


def mark_failed(db: sa.Connection, job_id: str, failure: Mapping[str, Any]) -> None:
    """Mark a kept job as failed; a job that is done stays as it is."""
    db.execute(
        sa.update(tables.jobs)
        .where(tables.jobs.c.id == job_id, tables.jobs.c.state.in_(_WAITING))
        .values(state="failed", failure=as_text(failure))
    )


def as_text(value: Mapping[str, Any]) -> str:
    """Return a value as JSON, in the order in which it came: people read it again."""
    return json.dumps(dict(value), ensure_ascii=False)
