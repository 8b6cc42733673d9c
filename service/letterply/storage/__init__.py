"""Where things are kept: a database, and bytes by their digest.

In: jobs, artifacts, fonts, drawings, answers of tasks. Out: the same again, whole, or an error that
says that they are not; SQLite and a folder, or PostgreSQL and a bucket.
"""

from letterply.storage import tables
from letterply.storage.access import SCOPES, AccessKey, AccessKeys, digest_of_secret
from letterply.storage.away import (
    LONGEST_PAUSE_S,
    SHORTEST_PAUSE_S,
    full_is_busy,
    is_away,
    while_away,
)
from letterply.storage.backup import BackupFacts, backup, restore
from letterply.storage.bucket import probe_bucket
from letterply.storage.clock import utc_now, utc_text
from letterply.storage.commits import Along, Commit, CommitBook
from letterply.storage.database import (
    FROZEN_S,
    Database,
    database_now,
    layout_of,
    newest_layout,
    sqlite_url,
)
from letterply.storage.folders import shrink_folder
from letterply.storage.identity import canonical_json, digest
from letterply.storage.job_rows import insert_waiting, mark_done, mark_failed
from letterply.storage.owners import HOUSE, Allowance, Usage, hold, holders, is_owner
from letterply.storage.places import vault_place
from letterply.storage.rates import exchange_counts
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
from letterply.storage.runs import Begun, KnownWorker, OpenRun, RunLost, Runs, Wanted, key_reused
from letterply.storage.shops import ShopRecord, ShopShelf
from letterply.storage.store import Store
from letterply.storage.sweeping import SweepRules, Swept, sweep
from letterply.storage.vault import PatientVault, Vault, open_vault
from letterply.storage.webhooks import (
    EVENT_TYPES,
    RETRY_S,
    DueCall,
    Webhook,
    WebhookCall,
    Webhooks,
    announce,
)

__all__ = [
    "EVENT_TYPES",
    "FAULTS",
    "FROZEN_S",
    "HOUSE",
    "LONGEST_PAUSE_S",
    "RETRY_S",
    "SCOPES",
    "SHORTEST_PAUSE_S",
    "AccessKey",
    "AccessKeys",
    "Allowance",
    "Along",
    "Artifact",
    "BackupFacts",
    "Begun",
    "Commit",
    "CommitBook",
    "Database",
    "DueCall",
    "Finished",
    "JobRecord",
    "JobState",
    "KeyRecord",
    "KnownWorker",
    "OpenRun",
    "PatientVault",
    "RunLost",
    "Runs",
    "ShopRecord",
    "ShopShelf",
    "Store",
    "SweepRules",
    "Swept",
    "Upload",
    "UploadKind",
    "Usage",
    "Vault",
    "Wanted",
    "Webhook",
    "WebhookCall",
    "Webhooks",
    "announce",
    "backup",
    "canonical_json",
    "database_now",
    "digest",
    "digest_of_secret",
    "error_from_facts",
    "exchange_counts",
    "facts_of_error",
    "full_is_busy",
    "hold",
    "holders",
    "insert_waiting",
    "is_away",
    "is_owner",
    "key_reused",
    "layout_of",
    "mark_done",
    "mark_failed",
    "newest_layout",
    "open_vault",
    "probe_bucket",
    "restore",
    "shrink_folder",
    "sqlite_url",
    "sweep",
    "tables",
    "utc_now",
    "utc_text",
    "vault_place",
    "while_away",
]
