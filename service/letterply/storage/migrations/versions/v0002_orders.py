"""Orders: where each stands, what has happened to it, and who is at work."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "orders",
        sa.Column("job", sa.Text, nullable=False),
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
        sa.PrimaryKeyConstraint("job", name="pk_orders"),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], ondelete="CASCADE", name="fk_orders_job"),
        sa.CheckConstraint(
            "phase IN ('waiting', 'lines', 'pools', 'sheets', 'papers', 'done', 'failed',"
            " 'cancelled')",
            name=op.f("ck_orders_phase"),
        ),
        sa.CheckConstraint(
            "tasks_done >= 0 AND tasks_total >= tasks_done", name=op.f("ck_orders_tasks")
        ),
    )
    op.create_table(
        "order_events",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("attempt", sa.Integer, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("data", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("job", "number", name="pk_order_events"),
        sa.ForeignKeyConstraint(
            ["job"], ["jobs.id"], ondelete="CASCADE", name="fk_order_events_job"
        ),
        sa.UniqueConstraint("job", "attempt", "kind", "subject", name="uq_order_events_subject"),
    )
    op.create_table(
        "workers",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("beat_at", sa.Float, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_workers"),
    )
