"""Offers to customers, and what the customers answered."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Make the tables."""
    serial = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    op.create_table(
        "offers",
        sa.Column("seq", serial, nullable=False, autoincrement=True),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("token_digest", sa.Text, nullable=False),
        sa.Column("version", sa.Text, nullable=False),
        sa.Column("content", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("ends_at", sa.Text, nullable=False),
        sa.Column("withdrawn_at", sa.Text),
        sa.PrimaryKeyConstraint("seq", name="pk_offers"),
        sa.UniqueConstraint("id", name="uq_offers_id"),
        sa.UniqueConstraint("token_digest", name="uq_offers_token_digest"),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], ondelete="CASCADE", name="fk_offers_job"),
        sa.CheckConstraint("length(token_digest) = 64", name=op.f("ck_offers_token")),
        sa.CheckConstraint("length(version) = 32", name=op.f("ck_offers_version")),
        sa.CheckConstraint("ends_at > created_at", name=op.f("ck_offers_term")),
        sqlite_autoincrement=True,
    )
    op.create_index("offers_by_job", "offers", ["job", "seq"])
    op.create_index("offers_by_version", "offers", ["version", "seq"])
    op.create_table(
        "offer_replies",
        sa.Column("offer", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("version", sa.Text, nullable=False),
        sa.Column("given_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("offer", "number", name="pk_offer_replies"),
        sa.ForeignKeyConstraint(
            ["offer"], ["offers.id"], ondelete="CASCADE", name="fk_offer_replies_offer"
        ),
        sa.CheckConstraint("kind IN ('yes', 'wish')", name=op.f("ck_offer_replies_kind")),
        sa.CheckConstraint("number > 0", name=op.f("ck_offer_replies_number")),
        sa.CheckConstraint("length(name) > 0", name=op.f("ck_offer_replies_name")),
        sa.CheckConstraint("kind = 'yes' OR length(text) > 0", name=op.f("ck_offer_replies_wish")),
    )
    one_yes = sa.text("kind = 'yes'")
    op.create_index(
        "one_yes_an_offer",
        "offer_replies",
        ["offer"],
        unique=True,
        sqlite_where=one_yes,
        postgresql_where=one_yes,
    )
