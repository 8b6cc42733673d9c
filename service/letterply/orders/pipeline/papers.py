"""The papers of an order, as a task: what was made, in one document, a table, a quote.

What people read on paper is made when somebody asks for it (`letterply.orders.pipeline.documents`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from letterply.catalogue import Shop
from letterply.errors import LetterplyError
from letterply.exports import Document, to_json
from letterply.orders.codec import Facts, ordered, plain
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import (
    Blockers,
    Headline,
    LineAnswer,
    MadeFile,
    Manifest,
    Problem,
    SheetAnswer,
    heard,
)
from letterply.orders.pipeline.drawing import drawing_paths
from letterply.orders.pipeline.outcome import Outcome
from letterply.orders.pipeline.papers_pdf import document_paths
from letterply.orders.pipeline.part_table import part_rows, parts_csv
from letterply.orders.pipeline.task_requests import PapersRequest
from letterply.orders.quote import Quote, SheetCost, make_quote
from letterply.orders.states import LineState
from letterply.storage import Vault, canonical_json

__all__ = ["make_papers", "outcome_of"]

_Answer = TypeVar("_Answer")


def make_papers(request: PapersRequest, vault: Vault, shop: Shop) -> Manifest:
    """Return the manifest of an order: its document, its headline and all of its files.

    Args:
        request: the order, the keys of its lines and sheets, its sheets, what found no room.
        vault: has the answers.
        shop: for its prices.

    """
    outcome = outcome_of(request, vault, shop)
    document = _document(outcome, shop)
    files = {
        "order.json": to_json(document),
        "parts.csv": parts_csv(outcome.rows),
        "quote.json": to_json(
            {"rules": request.order.prices.model_dump(), **outcome.quote.facts()}
        ),
    }
    manifest = [MadeFile(path, vault.write(data), len(data)) for path, data in files.items()]
    for sheet in outcome.planned:
        manifest += sheet.files
    layout = {"sheets": [ordered(sheet) for sheet in request.sheets]}
    return Manifest(
        document="order.json",
        headline=_headline(outcome),
        layout=vault.write(to_json(layout)),
        files=tuple(sorted(manifest, key=lambda f: f.path)),
        later=tuple(
            sorted(
                (
                    *document_paths(outcome),
                    *(p for s in outcome.planned for p in drawing_paths(s.number)),
                )
            )
        ),
        drawn_from=vault.write(canonical_json(plain(request))),
    )


def outcome_of(request: PapersRequest, vault: Vault, shop: Shop) -> Outcome:
    """Return what came of an order."""
    order, failed = request.order, request.failed
    lines = [_answer(LineAnswer, key, failed, vault) for key in request.line_keys]
    sheets = [_answer(SheetAnswer, key, failed, vault) for key in request.sheet_keys]
    return Outcome(
        order=order,
        lines=tuple(lines),
        laid=request.sheets,
        sheets=tuple(sheets),
        pools=request.pools,
        rows=part_rows(order, lines, request.sheets, request.pools, vault),
        quote=_quote(order, lines, sheets, shop),
    )


def _answer(
    kind: type[_Answer], key: str, failed: Mapping[str, Problem], vault: Vault
) -> _Answer | Problem:
    if key in failed:
        return failed[key]
    found = vault.recall(key)
    if found is None:
        raise LetterplyError(
            "An answer that this order builds on is gone.",
            code="artifact-damaged",
            data={"key": key},
        )
    return heard(kind, found)


def _quote(
    order: Order,
    lines: Sequence[LineAnswer | Problem],
    sheets: Sequence[SheetAnswer | Problem],
    shop: Shop,
) -> Quote:
    by_hand = shop.machine.tool_change == "program"
    planned = [s for s in sheets if not isinstance(s, Problem)]
    costs = [SheetCost.of(s, changes_by_hand=by_hand) for s in planned]
    hand = sum(
        line.quantity * line.hand_minutes
        for line, made in zip(order.lines, lines, strict=True)
        if not isinstance(made, Problem)
    )
    return make_quote(costs, hand, order.prices, changes_by_hand=by_hand)


def _document(outcome: Outcome, shop: Shop) -> Document:
    return {
        "summary": outcome.summary(),
        "title": outcome.order.title,
        "ready": outcome.ready,
        "proved": outcome.proved,
        "time_s": round(outcome.time_s, 1),
        "totals": plain(outcome.totals),
        "quote": outcome.quote.facts(),
        "lines": _lines(outcome),
        "sheets": [_sheet(sheet) for sheet in outcome.sheets],
        "unplaced": [
            {"mark": r.mark, "why": r.not_placed, "thickness_mm": r.thickness_mm}
            for r in outcome.unplaced
        ],
        "lost": outcome.lost,
        **_shop(shop),
    }


def _shop(shop: Shop) -> Facts:
    """Return which shop it was made for, where that is a stored one, and units other than mm."""
    named = {"shop": {"name": shop.name, "version": shop.version}} if shop.version else {}
    return {**named, **({"units": shop.units} if shop.units != "mm" else {})}


def _lines(outcome: Outcome) -> list[Facts]:
    sheets_of: dict[int, set[int]] = {}
    missing: dict[int, int] = {}
    for row in outcome.rows:
        if row.sheet is None:
            missing[row.line] = missing.get(row.line, 0) + 1
        else:
            sheets_of.setdefault(row.line, set()).add(row.sheet)

    def facts(made: LineAnswer | Problem) -> Facts:
        if isinstance(made, Problem):
            why = {"code": made.code, "message": made.message, "field": made.field}
            return {"problem": why}
        return {"findings": ordered(made.findings)}

    return [
        {
            "line": line.number,
            "text": line.text,
            "reference": line.reference,
            "quantity": line.quantity,
            "recipe": line.recipe_name,
            "state": LineState.FAILED if isinstance(made, Problem) else LineState.MADE,
            "parts": 0 if isinstance(made, Problem) else made.part_count,
            "sheets": sorted(sheets_of.get(line.number, ())),
            "unplaced_parts": missing.get(line.number, 0),
            **facts(made),
        }
        for line, made in zip(outcome.order.lines, outcome.lines, strict=True)
    ]


def _sheet(sheet: SheetAnswer | Problem) -> Facts:
    if isinstance(sheet, Problem):
        return {"problem": sheet.message, "code": sheet.code}
    return {k: v for k, v in ordered(sheet).items() if k not in ("files", "drawn_from")}


def _headline(outcome: Outcome) -> Headline:
    return Headline(
        title=outcome.order.title,
        summary=outcome.summary(),
        ready=outcome.ready,
        proved=outcome.proved,
        time_s=round(outcome.time_s, 1),
        counts=Blockers(outcome.blockers),
        totals=outcome.totals,
    )
