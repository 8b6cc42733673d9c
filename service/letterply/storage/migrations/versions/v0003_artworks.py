"""Drawings that were uploaded.

Some stores of before the migrations have the table already; it is left as it is.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table."""
    if sa.inspect(op.get_bind()).has_table("artworks"):
        return
    op.create_table(
        "artworks",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("description", sa.Text, nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_artworks"),
        sa.CheckConstraint("length(digest) = 32", name=op.f("ck_artworks_digest")),
        sa.CheckConstraint("size > 0", name=op.f("ck_artworks_size")),
    )
