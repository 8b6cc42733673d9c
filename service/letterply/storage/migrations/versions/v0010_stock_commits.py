"""What orders and plans took out of a shop's stock, and what came back."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Make the table."""
    serial = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    op.create_table(
        "stock_commits",
        sa.Column("seq", serial, primary_key=True, autoincrement=True),
        sa.Column("owner", sa.Text, nullable=False, server_default="house"),
        sa.Column("shop", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("moved", sa.Text, nullable=False),
        sa.Column("version", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("undone_at", sa.Text),
        sa.CheckConstraint("kind IN ('order', 'plan')", name=op.f("ck_stock_commits_kind")),
        sqlite_autoincrement=True,
    )
    op.create_index("commits_by_shop", "stock_commits", ["owner", "shop", "seq"])
    standing = sa.text("undone_at IS NULL")
    op.create_index(
        "one_commit_standing", "stock_commits", ["owner", "kind", "subject"], unique=True,
        sqlite_where=standing, postgresql_where=standing,
    )  # fmt: skip
