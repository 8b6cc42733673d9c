"""Webhooks: addresses that are told what happened, and the calls to them."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"

_SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "webhooks",
        sa.Column("seq", _SERIAL, autoincrement=True, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("owner", sa.Text, nullable=False, server_default="house"),
        sa.Column("url", sa.Text, nullable=False),
        sa.Column("events", sa.Text, nullable=False),
        sa.Column("secret", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_webhooks"),
        sa.UniqueConstraint("id", name="uq_webhooks_id"),
        sqlite_autoincrement=True,
    )
    op.create_index("webhooks_by_owner", "webhooks", ["owner", "seq"])
    op.create_table(
        "webhook_calls",
        sa.Column("seq", _SERIAL, autoincrement=True, nullable=False),
        sa.Column("webhook", sa.Text, nullable=False),
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
        sa.PrimaryKeyConstraint("seq", name="pk_webhook_calls"),
        sa.UniqueConstraint("webhook", "event", name="uq_webhook_calls_webhook"),
        sa.ForeignKeyConstraint(
            ["webhook"],
            ["webhooks.id"],
            ondelete="CASCADE",
            name="fk_webhook_calls_webhook_webhooks",
        ),
        sa.CheckConstraint(
            "state IN ('waiting', 'delivered', 'given-up')", name=op.f("ck_webhook_calls_state")
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("webhook_calls_by_time", "webhook_calls", ["state", "next_at"])
