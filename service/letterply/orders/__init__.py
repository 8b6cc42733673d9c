"""Jobs: the whole way through the house, and the store that keeps what came out."""

from letterply.orders.book import OrderEvent, OrderState
from letterply.orders.engine.worker import WorkerPlan, run_worker
from letterply.orders.service import OrderService

__all__ = ["OrderEvent", "OrderService", "OrderState", "WorkerPlan", "run_worker"]
