"""Files that are made when somebody asks for them, and what they are made from."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the columns; all files that are there were made."""
    op.add_column("jobs", sa.Column("answer", sa.Text))
    with op.batch_alter_table("artifacts") as table:
        table.add_column(sa.Column("later", sa.Boolean, nullable=False, server_default=sa.false()))
        table.alter_column("digest", existing_type=sa.Text, nullable=True)
        table.alter_column("size", existing_type=sa.BigInteger, nullable=True)
        table.create_check_constraint("made", "later OR digest IS NOT NULL")
        table.create_check_constraint("whole", "(digest IS NULL) = (size IS NULL)")
