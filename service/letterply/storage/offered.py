"""What customers are shown: an offer holds the job that it shows until it is withdrawn or ends.

One with a yes does, too: until its end the customer may look at what they agreed to.
"""

from __future__ import annotations

import sqlalchemy as sa

from letterply.errors import Conflict
from letterply.storage import tables
from letterply.storage.clock import utc_now

__all__ = ["require_not_shown", "still_shown"]


def still_shown() -> sa.ColumnElement[bool]:
    """Return the condition that a customer can look at an offer now."""
    f = tables.offers.c
    return sa.and_(f.withdrawn_at.is_(None), f.ends_at > utc_now())


def require_not_shown(db: sa.Connection, owner: str, job: str) -> None:
    """Raise `Conflict` (`offer-open`) while an offer of the owner's shows the job."""
    # An offer that is being made is waited for; the job stays until this transaction ends.
    db.execute(sa.select(tables.jobs.c.id).where(tables.jobs.c.id == job).with_for_update())
    f, r = tables.offers.c, tables.offer_replies.c
    agreed = sa.exists().where(r.offer == f.id, r.kind == "yes")
    wanted = sa.select(f.id, f.ends_at, agreed).where(
        tables.belongs(tables.offers, owner), f.job == job, still_shown()
    )
    shown = db.execute(wanted.order_by(f.seq)).all()
    if not shown:
        return
    id_, ends_at, final = next((row for row in shown if row[2]), shown[0])
    said = "has said yes to" if final else "is shown"
    raise Conflict(
        f"A customer {said} this by the offer {id_}, until {ends_at}.",
        code="offer-open",
        expected="the same after its end" if final else f"POST /v1/offers/{id_}/withdraw first",
        data={"offers": [row[0] for row in shown], "ends_at": max(row[1] for row in shown)},
    )
