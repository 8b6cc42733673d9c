"""The engine waits for a server that is away, whatever the driver says of it."""

import pytest
import sqlalchemy as sa
from dbos._utils import retriable_postgres_exception

from letterply.orders.engine.engine import mark_lost_server


@pytest.mark.parametrize("marked", [False, True])
def test_a_server_that_is_away_counts_as_a_lost_connection(tmp_path, marked):
    """Without the mark the engine takes it for a fault of the workflow, and leaves that open."""
    engine = sa.create_engine(f"postgresql+psycopg://knot@/boats?host={tmp_path}")
    if marked:
        sa.event.listen(engine, "handle_error", mark_lost_server)
    with pytest.raises(sa.exc.OperationalError) as caught:
        engine.connect()
    assert retriable_postgres_exception(caught.value) is marked
    engine.dispose()
