"""Jobs, their artifacts, fonts and idempotency keys.

Stores of before the first migration have these tables already; they are left as they are.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    if sa.inspect(op.get_bind()).has_table("jobs"):
        return
    op.create_table(
        "jobs",
        sa.Column("seq", _SERIAL, autoincrement=True, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("request", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("engine_version", sa.Text, nullable=False),
        sa.Column("document", sa.Text),
        sa.Column("headline", sa.Text),
        sa.Column("failure", sa.Text),
        sa.PrimaryKeyConstraint("seq", name="pk_jobs"),
        sa.UniqueConstraint("id", name="uq_jobs_id"),
        sa.CheckConstraint(
            "state IN ('queued', 'running', 'done', 'failed')", name=op.f("ck_jobs_state")
        ),
        sa.CheckConstraint(
            "(state = 'done') = (document IS NOT NULL AND headline IS NOT NULL)",
            name=op.f("ck_jobs_done"),
        ),
        sa.CheckConstraint(
            "(state = 'failed') = (failure IS NOT NULL)", name=op.f("ck_jobs_failed")
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("jobs_by_kind", "jobs", ["kind", "seq"])
    op.create_table(
        "artifacts",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("path", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("job", "path", name="pk_artifacts"),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], ondelete="CASCADE", name="fk_artifacts_job"),
        sa.CheckConstraint("length(digest) = 32", name=op.f("ck_artifacts_digest")),
        sa.CheckConstraint("size >= 0", name=op.f("ck_artifacts_size")),
    )
    op.create_table(
        "fonts",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("description", sa.Text, nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_fonts"),
        sa.CheckConstraint("length(digest) = 32", name=op.f("ck_fonts_digest")),
        sa.CheckConstraint("size > 0", name=op.f("ck_fonts_size")),
    )
    op.create_table(
        "keys",
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("fingerprint", sa.Text, nullable=False),
        sa.Column("job", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_keys"),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], ondelete="CASCADE", name="fk_keys_job"),
    )
