"""Who draws what shows an order: the lane of short questions, and workers of jobs while idle."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from letterply.orders.codec import Facts
from letterply.orders.pipeline.task_requests import TaskRequest
from letterply.orders.pipeline.tasks import Task, run_task
from letterply.storage import open_vault
from letterply.workers import ComputePool

__all__ = ["DrawingHands"]


class DrawingHands:
    """Runs the tasks that draw.

    Args:
        place: of the vault.
        lane: where they go.
        idle: helps while it has nothing else to do.

    """

    def __init__(self, place: str, lane: ComputePool, idle: ComputePool | None) -> None:
        self._place, self._lane, self._idle = place, lane, idle
        self._vault = open_vault(place)

    async def run(self, requests: Sequence[TaskRequest]) -> list[Facts]:
        """Return the answers of tasks, computed unless the vault has them.

        They go through the pool a few at a time, so that others' questions come in between.
        """
        waiting = enumerate(requests)
        answers: dict[int, Facts] = {}

        async def work(pool: ComputePool) -> None:
            for at, request in waiting:
                task = await asyncio.to_thread(Task.of, request, self._vault, {})
                answers[at] = await pool.run(run_task, self._place, task.kind, task.key, task.args)

        hands = [self._lane] * self._lane.workers
        if self._idle is not None and self._idle.under_way == 0:
            hands += [self._idle] * self._idle.workers
        await asyncio.gather(*(work(hand) for hand in hands[: len(requests)]))
        return [answers[at] for at in range(len(requests))]
