"""Where things are kept: a database, and bytes by their digest.

In: jobs, artifacts, fonts, drawings, answers of tasks. Out: the same again, whole, or an error that
says that they are not; SQLite and a folder, or PostgreSQL and a bucket.
"""

from letterply.storage import tables
from letterply.storage.database import FROZEN_S, Database, database_now, sqlite_url
from letterply.storage.identity import canonical_json, digest
from letterply.storage.places import vault_place
from letterply.storage.records import (
    FAULTS,
    Artifact,
    Finished,
    JobRecord,
    JobState,
    KeyRecord,
    Upload,
    UploadKind,
    error_from_facts,
    facts_of_error,
)
from letterply.storage.shops import ShopRecord, ShopShelf
from letterply.storage.store import Store, insert_waiting, mark_done, mark_failed
from letterply.storage.vault import Vault, open_vault

__all__ = [
    "FAULTS",
    "FROZEN_S",
    "Artifact",
    "Database",
    "Finished",
    "JobRecord",
    "JobState",
    "KeyRecord",
    "ShopRecord",
    "ShopShelf",
    "Store",
    "Upload",
    "UploadKind",
    "Vault",
    "canonical_json",
    "database_now",
    "digest",
    "error_from_facts",
    "facts_of_error",
    "insert_waiting",
    "mark_done",
    "mark_failed",
    "open_vault",
    "sqlite_url",
    "tables",
    "vault_place",
]
