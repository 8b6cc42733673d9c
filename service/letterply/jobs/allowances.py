"""Allowances: what an owner may use, held against what it uses; refused before anything is done."""

from __future__ import annotations

from letterply.errors import OverAllowance
from letterply.storage import Allowance, Store

__all__ = ["check_room", "check_turn"]


def check_room(allowance: Allowance, store: Store) -> None:
    """Raise `OverAllowance` (`owner-full`) when an owner's store has no room left."""
    most = allowance.stored_bytes
    if most is not None and store.usage().stored_bytes >= most:
        raise OverAllowance(
            f"What is kept for {store.owner!r} takes all of the {most} bytes that it may.",
            code="owner-full",
            expected="the same request once something was deleted",
            data={"limit_bytes": most},
        )


def check_turn(allowance: Allowance, owner: str, count: int, what: str) -> None:
    """Raise `OverAllowance` (`owner-busy`) when so many jobs or orders are as many as may be."""
    most = allowance.jobs_under_way
    if most is not None and count >= most:
        raise OverAllowance(
            f"{owner!r} has {most} {what} under way, as many as it may.",
            code="owner-busy",
            expected="the same request once one of them is done",
            data={"limit": most},
        )
