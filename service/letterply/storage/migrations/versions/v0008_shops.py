"""Shops of makers' own, and the versions that they have had."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "shops",
        sa.Column("owner", sa.Text, nullable=False, server_default="house"),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("version", sa.Text, nullable=False),
        sa.Column("written", sa.Text, nullable=False),
        sa.Column("usual", sa.Boolean, nullable=False, server_default=sa.false()),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("owner", "name", name="pk_shops"),
        sa.CheckConstraint("length(version) = 32", name=op.f("ck_shops_version")),
    )
    usual = sa.text("usual")
    op.create_index(
        "one_usual_shop", "shops", ["owner"], unique=True,
        sqlite_where=usual, postgresql_where=usual,
    )  # fmt: skip
    op.create_table(
        "shop_versions",
        sa.Column("owner", sa.Text, nullable=False, server_default="house"),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("version", sa.Text, nullable=False),
        sa.Column("catalogue", sa.Text),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("owner", "name", "version", name="pk_shop_versions"),
    )
