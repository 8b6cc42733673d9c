"""Customers' orders: many lines, one batch, made durably.

In: a list (CSV or JSON) and a shop. Out: an order that is accepted or refused with every mistake,
its progress, its sheets, programs, papers and quote.
"""

from letterply.orders.engine.worker import WorkerPlan, run_worker
from letterply.orders.made import MadeLine, OrderedLine
from letterply.orders.queue_line import prepare_queues
from letterply.orders.quote import Quote, SheetCost, make_quote
from letterply.orders.service import OrderService
from letterply.orders.states import EventKind, LineState, OrderEvent, OrderPhase, OrderState

__all__ = [
    "EventKind",
    "LineState",
    "MadeLine",
    "OrderEvent",
    "OrderPhase",
    "OrderService",
    "OrderState",
    "OrderedLine",
    "Quote",
    "SheetCost",
    "WorkerPlan",
    "make_quote",
    "prepare_queues",
    "run_worker",
]
