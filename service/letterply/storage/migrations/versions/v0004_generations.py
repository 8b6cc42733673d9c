"""Which generation of the workflows an order was begun with, and a worker has."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the columns; all that is there is of the first generation."""
    for table in ("orders", "workers"):
        column = sa.Column("generation", sa.Integer, nullable=False, server_default="1")
        op.add_column(table, column)
