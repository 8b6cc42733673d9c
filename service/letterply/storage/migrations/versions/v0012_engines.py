"""Which version of the engine a worker computes with: what others wait for, and how long."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Let workers say it; those of an earlier release do not."""
    column = sa.Column("engine_version", sa.Text, nullable=False, server_default="")
    op.add_column("workers", column)
