"""States of orders and of their lines, and what is told of them on the way."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from letterply.orders.codec import Facts, value_of

__all__ = ["FINAL_PHASES", "EventKind", "LineState", "OrderEvent", "OrderPhase", "OrderState"]


class OrderPhase(StrEnum):
    """Where an order is: it waits, its tasks run stage by stage, then nothing more happens."""

    WAITING = "waiting"
    LINES = "lines"
    POOLS = "pools"
    SHEETS = "sheets"
    PAPERS = "papers"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"


FINAL_PHASES = frozenset((OrderPhase.DONE, OrderPhase.FAILED, OrderPhase.CANCELLED))

_SHARE = {
    OrderPhase.WAITING: 0.0,
    OrderPhase.LINES: 0.55,
    OrderPhase.POOLS: 0.05,
    OrderPhase.SHEETS: 0.35,
    OrderPhase.PAPERS: 0.05,
}
"""Of the time of an order, what each phase takes, about; the phases in their order."""


class LineState(StrEnum):
    """What has become of a line."""

    WAITING = "waiting"
    MADE = "made"
    FAILED = "failed"


class EventKind(StrEnum):
    """What happened to an order: an attempt, a phase of it or a task of that, or its end."""

    ACCEPTED = "accepted"
    PHASE = "phase"
    TASK = "task"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True)
class OrderEvent:
    """Something that happened to an order.

    Attributes:
        number: from 1, without gaps.
        kind: what it is; those of its end are the last.
        data: what there is to say, JSON values.

    """

    number: int
    kind: EventKind
    data: Facts

    @property
    def line_states(self) -> dict[int, LineState]:
        """What has become of the lines that a task was about, by number."""
        if self.kind is not EventKind.TASK:
            return {}
        ended = value_of(_TaskEnd, self.data)
        return dict.fromkeys(ended.lines, LineState.MADE if ended.ok else LineState.FAILED)


@dataclass(frozen=True, slots=True)
class _TaskEnd:
    """What an event tells of a task that has ended."""

    ok: bool
    lines: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class OrderState:
    """Where an order stands.

    Attributes:
        id, attempt: of the order, and which one it is, from 1.
        content: digest of its request in the vault.
        phase: waiting, a stage of the pipeline, or one of `FINAL_PHASES`.
        stopped: True once it was cancelled.
        lines: how many lines it has.
        designs: how many of them differ.
        tasks_total, tasks_done: of the current phase.
        last_event: number of the latest event.
        began_at, phase_at: when the attempt and its phase began, seconds, this host's clock.
        layout: digest of where its parts lie, once it is done.
        generation: of the workflows that the attempt was begun with.

    """

    id: str
    attempt: int
    content: str
    phase: OrderPhase
    stopped: bool
    lines: int
    designs: int
    tasks_total: int
    tasks_done: int
    last_event: int
    began_at: float
    phase_at: float
    layout: str | None
    generation: int

    @property
    def final(self) -> bool:
        """Whether nothing more happens."""
        return self.phase in FINAL_PHASES

    @property
    def share(self) -> float:
        """How much of it is done, 0 to 1, by estimate."""
        if self.final:
            return 1.0 if self.phase is OrderPhase.DONE else 0.0
        phases = list(_SHARE)
        before = sum(_SHARE[p] for p in phases[: phases.index(self.phase)])
        part = self.tasks_done / self.tasks_total if self.tasks_total else 0.0
        return before + _SHARE[self.phase] * part

    def remaining_s(self, now: float) -> float | None:
        """Return how long it still takes, by what it took so far; None until that can be told."""
        if self.final:
            return 0.0
        share = self.share
        return (now - self.began_at) * (1 - share) / share if share > 0.02 else None
