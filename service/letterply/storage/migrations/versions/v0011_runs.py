"""Jobs under way, and what services count: known to all processes on one database."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Make the tables; what was accepted and is not finished waits for whoever is free."""
    serial = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    op.create_table(
        "runs",
        sa.Column("seq", serial, primary_key=True, autoincrement=True),
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("owner", sa.Text, nullable=False),
        sa.Column("worker", sa.Text),
        sa.Column("started", sa.Boolean, nullable=False, server_default=sa.false()),
        sa.Column("attempt", sa.Integer, nullable=False, server_default="1"),
        sa.Column("progress", sa.Text),
        sa.UniqueConstraint("job", name="uq_runs_job"),
        sa.CheckConstraint("worker IS NOT NULL OR NOT started", name=op.f("ck_runs_started")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "run_keys",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("fingerprint", sa.Text, nullable=False),
        sa.Column("job", sa.Text, nullable=False),
        sa.ForeignKeyConstraint(
            ["job"], ["runs.job"], ondelete="CASCADE", name="fk_run_keys_job_runs"
        ),
    )
    op.create_table(
        "request_counts",
        sa.Column("worker", sa.Text, primary_key=True),
        sa.Column("owner", sa.Text, primary_key=True),
        sa.Column("count", sa.BigInteger, nullable=False),
        sa.Column("told_at", sa.Float, nullable=False),
    )
    op.add_column("workers", sa.Column("process", sa.Text, nullable=False, server_default=""))
    op.execute(
        "INSERT INTO runs (job, kind, owner) SELECT j.id, j.kind, coalesce((SELECT h.owner FROM"
        " holdings h WHERE h.kind = j.kind AND h.id = j.id ORDER BY h.seq LIMIT 1), 'house')"
        " FROM jobs j WHERE j.state IN ('queued', 'running') AND j.kind <> 'order' ORDER BY j.seq"
    )
