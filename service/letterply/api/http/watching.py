"""Watching: what happens in lanes, jobs and rooms, as metrics and, where wanted, as traces."""

from __future__ import annotations

from collections.abc import Mapping

from letterply.api.http.metrics import Metrics
from letterply.api.http.traces import Tracer
from letterply.jobs import JobService
from letterply.orders import OrderService
from letterply.workers import ComputePool

__all__ = ["Watching"]


class Watching:
    """Told of what is over, asks for what is under way.

    Args:
        metrics: where it is counted.
        tracer: where jobs are told as spans; None for nowhere.

    """

    def __init__(self, metrics: Metrics, tracer: Tracer | None = None) -> None:
        self.metrics = metrics
        self._tracer = tracer

    def watch(
        self, lanes: Mapping[str, ComputePool], jobs: JobService, orders: OrderService
    ) -> None:
        """Show how it stands in each lane, whenever somebody asks."""
        watch = self.metrics.watch
        watch(
            "letterply_jobs_under_way",
            "Jobs of this service, queued or running.",
            lambda: jobs.under_way,
        )
        watch("letterply_jobs_waiting", "Jobs no worker is at.", jobs.running.runs.waiting)
        watch("letterply_orders_open", "Orders that are open.", orders.book.count_open)
        watch("letterply_tasks_waiting", "Tasks of orders no worker has.", orders.tasks_waiting)
        watch(
            "letterply_pool_restarts_total",
            "Worker pools replaced.",
            lambda: sum(lane.restarts for lane in lanes.values()),
        )
        for name, lane in lanes.items():
            self._watch_lane(name, lane)

    def _watch_lane(self, name: str, lane: ComputePool) -> None:
        watch = self.metrics.watch
        watch("letterply_lane_workers", "Workers of a lane.", lambda: lane.workers, lane=name)
        watch("letterply_lane_running", "Tasks with a worker.", lambda: lane.running, lane=name)
        watch("letterply_lane_waiting", "Tasks that wait.", lambda: lane.waiting, lane=name)

    def job_over(self, kind: str, outcome: str, seconds: float) -> None:
        """Note that a job is over."""
        self.metrics.count("letterply_jobs_total", "Jobs computed.", kind=kind, outcome=outcome)
        self.metrics.observe("letterply_job_seconds", "Time to compute a job.", seconds, kind=kind)
        if self._tracer is not None:
            self._tracer.tell(f"job {kind}", seconds, {"letterply.outcome": outcome})

    def phase_over(self, phase: str, seconds: float) -> None:
        """Note that a job has left a room: its layers are made, its checks, a plan, a proof."""
        self.metrics.observe(
            "letterply_room_seconds", "Time of a job in a room.", seconds, room=phase
        )

    def close(self) -> None:
        """Send what was not sent yet."""
        if self._tracer is not None:
            self._tracer.close()
