"""Backups: a store out into a folder, and from a folder into an empty store of any kind.

A backup is a folder with the rows of each table as lines of JSON, and blobs and answers as a store
in a folder has them: SQLite or PostgreSQL, folder or bucket make no difference to it. Taken beside
writers, it is the state of one moment: rows are read in one transaction, and what they name never
changes. Ids stay as they are. What the queues of orders remember is left out: an order that was
open is begun anew by a worker and finds what was made.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from letterply import __version__
from letterply.errors import LetterplyError
from letterply.storage import tables
from letterply.storage.blobs import BlobFolder, make_private, private_file
from letterply.storage.clock import utc_now
from letterply.storage.database import newest_layout
from letterply.storage.runs import await_forgotten
from letterply.storage.store import Store
from letterply.storage.sweeping import bytes_in_use
from letterply.storage.vault import FolderVault, open_vault

__all__ = ["BackupFacts", "backup", "restore"]

_FACTS = "backup.json"
_LEFT_OUT = ("workers", "runs", "run_keys", "request_counts")
_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class BackupFacts:
    """What a backup holds: rows by table, how many blobs and answers, and blobs that were lost."""

    rows: dict[str, int]
    blobs: int
    answers: int
    lost: tuple[str, ...] = ()


def backup(store: Store, folder: Path) -> BackupFacts:
    """Copy a store into a new or empty folder.

    Raises:
        LetterplyError: `folder-not-empty`; what the store raises when it cannot be read.

    """
    if folder.exists() and any(folder.iterdir()):
        raise LetterplyError(
            f"The folder {folder} is not empty.", code="folder-not-empty", expected="a new folder"
        )
    make_private(folder)
    make_private(folder / "tables")
    rows = store.database.snapshot(lambda db: _write_tables(db, folder))
    vault, copied, copied_answers = open_vault(store.place), BlobFolder(folder), FolderVault(folder)
    answers = 0
    for key, _ in list(vault.keys()):
        sealed = vault.answer_bytes(key)
        if sealed is not None:
            copied_answers.keep_answer(key, sealed)
            answers += 1
    lost = []
    used = sorted(bytes_in_use(store, vault))
    for name in used:
        try:
            copied.put({"it": store.blobs.read(name)})
        except LetterplyError as error:
            if error.code != "artifact-damaged":
                raise
            lost.append(name)
    facts = BackupFacts(rows, len(used) - len(lost), answers, tuple(lost))
    about = {"version": __version__, "layout": newest_layout(), "made_at": utc_now(), "rows": rows}
    with private_file(folder / _FACTS) as out:  # last: a backup without it was cut off
        out.write(json.dumps(about, indent=1).encode())
    return facts


def restore(folder: Path, store: Store) -> BackupFacts:
    """Fill an empty store from a backup.

    Raises:
        LetterplyError: `not-a-backup`; `store-layout`, it was made by another version;
            `store-not-empty`.

    """
    about = _about(folder)
    if store.database.read(_any_row):
        raise LetterplyError(
            "There is something in the store already.",
            code="store-not-empty",
            expected="a new data folder and database",
        )
    kept, kept_answers = BlobFolder(folder), FolderVault(folder)
    blobs = answers = 0
    for name in kept.stored_before(float("inf")):
        store.blobs.put({"it": kept.read(name)})
        blobs += 1
    vault = open_vault(store.place)
    for key, _ in list(kept_answers.keys()):
        vault.keep_answer(key, kept_answers.answer_bytes(key) or b"")
        answers += 1
    store.database.write(lambda db: _read_tables(db, folder))
    return BackupFacts(about["rows"], blobs, answers)


def _about(folder: Path) -> dict[str, Any]:
    try:
        about: dict[str, Any] = json.loads((folder / _FACTS).read_bytes())
    except (OSError, ValueError) as exc:
        raise LetterplyError(f"There is no whole backup in {folder}.", code="not-a-backup") from exc
    if about["layout"] != newest_layout():
        raise LetterplyError(
            f"The backup was made by version {about['version']}, whose tables are others.",
            code="store-layout",
            expected=f"restore it with version {about['version']}, then `letterply migrate`",
        )
    return about


def _tables() -> Iterator[sa.Table]:
    """Yield the tables, each after those that it refers to."""
    for table in tables.metadata.sorted_tables:
        if table.name not in _LEFT_OUT:
            yield table


def _any_row(db: sa.Connection) -> bool:
    return any(db.execute(sa.select(t).limit(1)).first() is not None for t in _tables())


def _write_tables(db: sa.Connection, folder: Path) -> dict[str, int]:
    counts = {}
    for table in _tables():
        order = list(table.primary_key.columns)
        with private_file(folder / "tables" / f"{table.name}.jsonl") as out:
            number = 0
            for row in db.execute(sa.select(table).order_by(*order)).mappings():
                out.write(json.dumps(dict(row), ensure_ascii=False).encode() + b"\n")
                number += 1
        counts[table.name] = number
    return counts


def _read_tables(db: sa.Connection, folder: Path) -> None:
    for table in _tables():
        file = folder / "tables" / f"{table.name}.jsonl"
        waiting: list[dict[str, Any]] = []
        with file.open("rb") as lines:
            for line in lines:
                waiting.append(json.loads(line))
                if len(waiting) == _AT_ONCE:
                    db.execute(sa.insert(table), waiting)
                    waiting = []
        if waiting:
            db.execute(sa.insert(table), waiting)
        if "seq" in table.c and db.dialect.name == "postgresql":
            # The next number follows the last one, which was not handed out here.
            last = f"(SELECT max(seq) FROM {table.name})"
            db.execute(
                sa.text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'seq'), {last})"
                    f" WHERE {last} IS NOT NULL"
                )
            )
    await_forgotten(db)
    o = tables.orders
    closed = ("done", "failed", "cancelled")
    db.execute(sa.update(o).where(o.c.phase.not_in(closed)).values(generation=0))
