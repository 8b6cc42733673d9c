"""Owners: who holds what, and the keys that open it. What was there belongs to the house."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

_SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_HELD = (
    "INSERT INTO holdings (owner, kind, id, created_at) "
    "SELECT 'house', {kind}, id, created_at FROM {table} ORDER BY {order}"
)


def upgrade() -> None:
    """Make the tables, and give the house what there is."""
    op.create_table(
        "holdings",
        sa.Column("seq", _SERIAL, autoincrement=True, nullable=False),
        sa.Column("owner", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_holdings"),
        sa.UniqueConstraint("owner", "kind", "id", name="uq_holdings_owner"),
        sqlite_autoincrement=True,
    )
    op.create_index("holdings_by_owner", "holdings", ["owner", "kind", "seq"])
    op.create_index("holdings_by_thing", "holdings", ["kind", "id"])
    op.create_table(
        "api_keys",
        sa.Column("seq", _SERIAL, autoincrement=True, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("owner", sa.Text, nullable=False),
        sa.Column("scopes", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("expires_at", sa.Text),
        sa.Column("revoked_at", sa.Text),
        sa.PrimaryKeyConstraint("seq", name="pk_api_keys"),
        sa.UniqueConstraint("id", name="uq_api_keys_id"),
        sa.UniqueConstraint("digest", name="uq_api_keys_digest"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("offers") as offers:
        offers.add_column(sa.Column("owner", sa.Text, nullable=False, server_default="house"))
    op.execute(_HELD.format(kind="kind", table="jobs", order="seq"))
    for kind in ("font", "artwork"):
        op.execute(_HELD.format(kind=f"'{kind}'", table=f"{kind}s", order="created_at, id"))
    # Idempotency keys begin with whose they are; without API keys that was nobody.
    op.execute("UPDATE keys SET key = 'house' || key WHERE substr(key, 1, 1) = '\n'")
