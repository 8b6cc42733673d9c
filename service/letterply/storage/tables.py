"""The tables of the store. What states there may be, and what belongs to each, is in the schema.

Changes go through `migrations`: a test compares what the migrations make with what stands here.
"""

from __future__ import annotations

import sqlalchemy as sa

__all__ = [
    "api_keys",
    "artifacts",
    "belongs",
    "fonts",
    "holdings",
    "jobs",
    "keys",
    "metadata",
    "offer_replies",
    "offers",
    "order_events",
    "orders",
    "owner_column",
    "request_counts",
    "run_keys",
    "runs",
    "shop_versions",
    "shops",
    "stock_commits",
    "webhook_calls",
    "webhooks",
    "workers",
]

metadata = sa.MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)


def owner_column(*, primary_key: bool = False) -> sa.Column[str]:
    """Return the column of a table whose rows belong to one owner each."""
    return sa.Column(
        "owner", sa.Text, nullable=False, server_default="house", primary_key=primary_key
    )


def belongs(table: sa.Table, owner: str) -> sa.ColumnElement[bool]:
    """Return the condition that rows of such a table are an owner's."""
    return table.c.owner == owner


_Serial = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

jobs = sa.Table(
    "jobs",
    metadata,
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    sa.Column("id", sa.Text, nullable=False, unique=True),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("state", sa.Text, nullable=False),
    sa.Column("request", sa.Text, nullable=False),
    sa.Column("created_at", sa.Text, nullable=False),
    sa.Column("engine_version", sa.Text, nullable=False),
    sa.Column("document", sa.Text),
    sa.Column("headline", sa.Text),
    sa.Column("failure", sa.Text),
    sa.Column("answer", sa.Text),
    sa.CheckConstraint("state IN ('queued', 'running', 'done', 'failed')", name="state"),
    sa.CheckConstraint(
        "(state = 'done') = (document IS NOT NULL AND headline IS NOT NULL)", name="done"
    ),
    sa.CheckConstraint("(state = 'failed') = (failure IS NOT NULL)", name="failed"),
    sqlite_autoincrement=True,
)
sa.Index("jobs_by_kind", jobs.c.kind, jobs.c.seq)

artifacts = sa.Table(
    "artifacts",
    metadata,
    sa.Column("job", sa.ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("path", sa.Text, primary_key=True),
    # Empty as long as a file that is made later was not asked for.
    sa.Column("digest", sa.Text),
    sa.Column("size", sa.BigInteger),
    sa.Column("later", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.CheckConstraint("length(digest) = 32", name="digest"),
    sa.CheckConstraint("size >= 0", name="size"),
    sa.CheckConstraint("later OR digest IS NOT NULL", name="made"),
    sa.CheckConstraint("(digest IS NULL) = (size IS NULL)", name="whole"),
)


def _uploads(name: str) -> sa.Table:
    return sa.Table(
        name,
        metadata,
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("description", sa.Text, nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.CheckConstraint("length(digest) = 32", name="digest"),
        sa.CheckConstraint("size > 0", name="size"),
    )


fonts = _uploads("fonts")
artworks = _uploads("artworks")

keys = sa.Table(
    "keys",
    metadata,
    sa.Column("key", sa.Text, primary_key=True),
    sa.Column("fingerprint", sa.Text, nullable=False),
    sa.Column("job", sa.ForeignKey("jobs.id", ondelete="CASCADE"), nullable=False),
)

orders = sa.Table(
    "orders",
    metadata,
    # One row an order, beside its row in `jobs`: where its current attempt stands.
    sa.Column("job", sa.ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("attempt", sa.Integer, nullable=False),
    sa.Column("content", sa.Text, nullable=False),
    sa.Column("phase", sa.Text, nullable=False),
    sa.Column("stopped", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("lines", sa.Integer, nullable=False),
    sa.Column("designs", sa.Integer, nullable=False),
    sa.Column("tasks_total", sa.Integer, nullable=False),
    sa.Column("tasks_done", sa.Integer, nullable=False),
    sa.Column("last_event", sa.Integer, nullable=False),
    sa.Column("began_at", sa.Float, nullable=False),
    sa.Column("phase_at", sa.Float, nullable=False),
    sa.Column("layout", sa.Text),
    sa.Column("generation", sa.Integer, nullable=False, server_default="1"),
    sa.CheckConstraint(
        "phase IN ('waiting', 'lines', 'pools', 'sheets', 'papers', 'done', 'failed', 'cancelled')",
        name="phase",
    ),
    sa.CheckConstraint("tasks_done >= 0 AND tasks_total >= tasks_done", name="tasks"),
)

order_events = sa.Table(
    "order_events",
    metadata,
    # Numbered without gaps within an order and attempt; a subject is told of once a kind.
    sa.Column("job", sa.ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("attempt", sa.Integer, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("subject", sa.Text, nullable=False),
    sa.Column("data", sa.Text, nullable=False),
    sa.UniqueConstraint("job", "attempt", "kind", "subject", name="uq_order_events_subject"),
)

shops = sa.Table(
    "shops",
    metadata,
    owner_column(primary_key=True),
    sa.Column("name", sa.Text, primary_key=True),
    # Digests of the document in normal form, and as it was written.
    sa.Column("version", sa.Text, nullable=False),
    sa.Column("written", sa.Text, nullable=False),
    sa.Column("usual", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("created_at", sa.Text, nullable=False),
    sa.Column("changed_at", sa.Text, nullable=False),
    sa.CheckConstraint("length(version) = 32", name="version"),
)
sa.Index(
    "one_usual_shop", shops.c.owner, unique=True,
    sqlite_where=sa.text("usual"), postgresql_where=sa.text("usual"),
)  # fmt: skip

shop_versions = sa.Table(
    "shop_versions",
    metadata,
    # Stay when a shop changes or goes: what was made in it names its version.
    owner_column(primary_key=True),
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("version", sa.Text, primary_key=True),
    sa.Column("catalogue", sa.Text),  # digest of its own catalogue file, where it has one
    sa.Column("created_at", sa.Text, nullable=False),
)

stock_commits = sa.Table(
    "stock_commits",
    metadata,
    # What went out of a shop's stock and what came back, for an order or a plan, once as long as
    # it is not undone.
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    owner_column(),
    sa.Column("shop", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("subject", sa.Text, nullable=False),
    sa.Column("moved", sa.Text, nullable=False),
    sa.Column("version", sa.Text, nullable=False),  # of the shop, as it was then
    sa.Column("created_at", sa.Text, nullable=False),
    sa.Column("undone_at", sa.Text),
    sa.CheckConstraint("kind IN ('order', 'plan')", name="kind"),
    sqlite_autoincrement=True,
)
sa.Index("commits_by_shop", stock_commits.c.owner, stock_commits.c.shop, stock_commits.c.seq)
sa.Index(
    "one_commit_standing", stock_commits.c.owner, stock_commits.c.kind, stock_commits.c.subject,
    unique=True, sqlite_where=sa.text("undone_at IS NULL"),
    postgresql_where=sa.text("undone_at IS NULL"),
)  # fmt: skip

workers = sa.Table(
    "workers",
    metadata,
    # Who is at work; a beat that is too old means that it is not.
    sa.Column("id", sa.Text, primary_key=True),
    sa.Column("beat_at", sa.Float, nullable=False),
    # Of the workflows that it works on; 0 where it computes single jobs alone.
    sa.Column("generation", sa.Integer, nullable=False, server_default="1"),
    # Which process of which machine it is (`letterply.workers.process_mark`), where that is known.
    sa.Column("process", sa.Text, nullable=False, server_default=""),
    # What it computes with; empty of a release that does not tell.
    sa.Column("engine_version", sa.Text, nullable=False, server_default=""),
)

runs = sa.Table(
    "runs",
    metadata,
    # Single jobs under way: each is computed by one worker, or waits for any; gone when it is over.
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    sa.Column("job", sa.Text, nullable=False, unique=True),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("owner", sa.Text, nullable=False),  # who asked first
    sa.Column("worker", sa.Text),
    sa.Column("started", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("attempt", sa.Integer, nullable=False, server_default="1"),
    sa.Column("progress", sa.Text),
    sa.CheckConstraint("worker IS NOT NULL OR NOT started", name="started"),
    sqlite_autoincrement=True,
)

run_keys = sa.Table(
    "run_keys",
    metadata,
    # Idempotency keys of jobs under way; they are kept in `keys` once there is something to keep.
    sa.Column("key", sa.Text, primary_key=True),
    sa.Column("fingerprint", sa.Text, nullable=False),
    sa.Column("job", sa.ForeignKey("runs.job", ondelete="CASCADE"), nullable=False),
)

request_counts = sa.Table(
    "request_counts",
    metadata,
    # How many requests of an owner a service has counted since it started.
    sa.Column("worker", sa.Text, primary_key=True),
    sa.Column("owner", sa.Text, primary_key=True),
    sa.Column("count", sa.BigInteger, nullable=False),
    sa.Column("told_at", sa.Float, nullable=False),
)

holdings = sa.Table(
    "holdings",
    metadata,
    # Whose a thing is that is kept once by its content; `kind` of a job is its own kind.
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    sa.Column("owner", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("id", sa.Text, nullable=False),
    sa.Column("created_at", sa.Text, nullable=False),
    sa.UniqueConstraint("owner", "kind", "id", name="uq_holdings_owner"),
    sqlite_autoincrement=True,
)
sa.Index("holdings_by_owner", holdings.c.owner, holdings.c.kind, holdings.c.seq)
sa.Index("holdings_by_thing", holdings.c.kind, holdings.c.id)

api_keys = sa.Table(
    "api_keys",
    metadata,
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    sa.Column("id", sa.Text, nullable=False, unique=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("owner", sa.Text, nullable=False),
    sa.Column("scopes", sa.Text, nullable=False),
    # Of the secret, which is not kept.
    sa.Column("digest", sa.Text, nullable=False, unique=True),
    sa.Column("created_at", sa.Text, nullable=False),
    sa.Column("expires_at", sa.Text),
    sa.Column("revoked_at", sa.Text),
    sqlite_autoincrement=True,
)

offers = sa.Table(
    "offers",
    metadata,
    # What a customer is shown, as it was when it was offered, behind a link whose token is known
    # here by its digest alone.
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    sa.Column("id", sa.Text, nullable=False, unique=True),
    sa.Column("job", sa.ForeignKey("jobs.id", ondelete="CASCADE"), nullable=False),
    sa.Column("token_digest", sa.Text, nullable=False, unique=True),
    sa.Column("version", sa.Text, nullable=False),
    sa.Column("content", sa.Text, nullable=False),
    sa.Column("created_at", sa.Text, nullable=False),
    sa.Column("ends_at", sa.Text, nullable=False),
    sa.Column("withdrawn_at", sa.Text),
    owner_column(),
    sa.CheckConstraint("length(token_digest) = 64", name="token"),
    sa.CheckConstraint("length(version) = 32", name="version"),
    sa.CheckConstraint("ends_at > created_at", name="term"),
    sqlite_autoincrement=True,
)
sa.Index("offers_by_job", offers.c.job, offers.c.seq)
sa.Index("offers_by_version", offers.c.version, offers.c.seq)

offer_replies = sa.Table(
    "offer_replies",
    metadata,
    # Numbered without gaps within an offer; a yes is final, so there is one at most.
    sa.Column("offer", sa.ForeignKey("offers.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("version", sa.Text, nullable=False),
    sa.Column("given_at", sa.Text, nullable=False),
    sa.CheckConstraint("kind IN ('yes', 'wish')", name="kind"),
    sa.CheckConstraint("number > 0", name="number"),
    sa.CheckConstraint("length(name) > 0", name="name"),
    sa.CheckConstraint("kind = 'yes' OR length(text) > 0", name="wish"),
)
sa.Index(
    "one_yes_an_offer",
    offer_replies.c.offer,
    unique=True,
    sqlite_where=sa.text("kind = 'yes'"),
    postgresql_where=sa.text("kind = 'yes'"),
)

webhooks = sa.Table(
    "webhooks",
    metadata,
    # Addresses of makers' own that are told what happened; `events` are apart by blanks.
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    sa.Column("id", sa.Text, nullable=False, unique=True),
    owner_column(),
    sa.Column("url", sa.Text, nullable=False),
    sa.Column("events", sa.Text, nullable=False),
    # As it is, for calls are signed with it; only `derived` where the operator has a key for that.
    sa.Column("secret", sa.Text, nullable=False),
    sa.Column("created_at", sa.Text, nullable=False),
    sqlite_autoincrement=True,
)
sa.Index("webhooks_by_owner", webhooks.c.owner, webhooks.c.seq)

webhook_calls = sa.Table(
    "webhook_calls",
    metadata,
    # One row an event and address, written with what it tells of; times by the database's clock.
    sa.Column("seq", _Serial, primary_key=True, autoincrement=True),
    sa.Column("webhook", sa.ForeignKey("webhooks.id", ondelete="CASCADE"), nullable=False),
    sa.Column("event", sa.Text, nullable=False),
    sa.Column("type", sa.Text, nullable=False),
    sa.Column("body", sa.Text, nullable=False),
    sa.Column("state", sa.Text, nullable=False, server_default="waiting"),
    sa.Column("tries", sa.Integer, nullable=False, server_default="0"),
    sa.Column("next_at", sa.Float, nullable=False),
    sa.Column("until", sa.Float, nullable=False),
    sa.Column("status", sa.Integer),
    sa.Column("said", sa.Text),
    sa.Column("created_at", sa.Text, nullable=False),
    sa.Column("tried_at", sa.Text),
    sa.UniqueConstraint("webhook", "event", name="uq_webhook_calls_webhook"),
    sa.CheckConstraint("state IN ('waiting', 'delivered', 'given-up')", name="state"),
    sqlite_autoincrement=True,
)
sa.Index("webhook_calls_by_time", webhook_calls.c.state, webhook_calls.c.next_at)
