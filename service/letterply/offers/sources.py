"""What an offer is made from: a check, a plan, an order, in; pieces as a customer sees them, out.

Only what can be made is offered: no blocker, every part placed, every program proved where there
are programs.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from letterply.catalogue import Catalogue, resolve_shop
from letterply.errors import Conflict, InputError, NotFound
from letterply.jobs import JobService, recipe_version
from letterply.names import key_words
from letterply.offers.model import Piece
from letterply.orders import (
    MadeLine,
    OrderPhase,
    OrderService,
    Quote,
    SheetCost,
    make_quote,
)
from letterply.requests import OfferRequest, PriceRules
from letterply.storage import JobRecord, JobState, Store
from letterply.units import format_mm, listed, speaking

__all__ = ["Source", "version_of_result", "what_is_offered"]

_PICTURE = "stack.png"
_REPAIRED = "repaired_recipe.json"


@dataclass(frozen=True, slots=True)
class Source:
    """What an offer is made from.

    Attributes:
        job: id of the check, plan or order, and
        kind: which of these it is.
        title: what it is called there.
        pieces: what is shown.
        price: what it costs, and
        currency: in what; None where nothing there tells.

    """

    job: str
    kind: str
    title: str
    pieces: tuple[Piece, ...]
    price: float | None
    currency: str | None


async def what_is_offered(
    asked: OfferRequest,
    job_service: JobService,
    order_service: OrderService,
    catalogue: Catalogue,
) -> Source:
    """Return what an offer is made from.

    Raises:
        NotFound: `job-not-found`, `order-not-found`.
        Conflict: `offer-not-ready`, `order-unfinished`.
        InputError: `unknown-line`.

    """
    if asked.order is not None:
        return await _order(asked.order, asked.lines, job_service, order_service, catalogue)
    kind, id_ = ("check", asked.check) if asked.check is not None else ("plan", asked.plan)
    record = await job_service.look_up(id_ or "")
    if record.kind != kind:
        raise NotFound("job", record.id)
    if record.state is not JobState.DONE:
        raise Conflict(
            f"The {kind} is not done.", code="offer-not-ready", expected=f"a {kind} that is done"
        )
    headline = record.headline or {}
    if not headline.get("ready"):
        raise Conflict(
            "It cannot be made as it is, so it is not offered to anybody.",
            code="offer-not-ready",
            expected="no blocker, and programs that pass their proof",
            data={"summary": headline.get("summary", "")},
        )
    record = await job_service.made(record, [_PICTURE])
    catalogue, rules, units = await asyncio.to_thread(
        _told_in, record.headline or {}, job_service, catalogue
    )
    with speaking(units):  # a thread takes it along
        return await asyncio.to_thread(
            _result, record, job_service.store, asked, catalogue, rules, units
        )


def _told_in(
    told: Mapping[str, Any], job_service: JobService, usual: Catalogue
) -> tuple[Catalogue, PriceRules, str]:
    """Return catalogue and prices of the shop that something was made in, and its units."""
    units = str(told.get("units", "mm"))
    if "shop" not in told:
        return usual, PriceRules(), units
    catalogue, document = job_service.shops.at_version(told["shop"]["version"])
    return catalogue, document.prices, units


def version_of_result(record: JobRecord, store: Store) -> str:
    """Return the version of the recipe that a stack, check or plan is of: as it was repaired."""
    repaired = record.artifact(_REPAIRED)
    return recipe_version(
        json.loads(store.read(repaired)) if repaired is not None else record.request["recipe"]
    )


def _result(
    record: JobRecord,
    store: Store,
    asked: OfferRequest,
    catalogue: Catalogue,
    rules: PriceRules,
    units: str,
) -> Source:
    def read(path: str) -> dict[str, Any]:
        found = record.artifact(path)
        assert found is not None, path
        value: dict[str, Any] = json.loads(store.read(found))
        return value

    stack = read("stack.json")
    picture = record.artifact(_PICTURE)
    assert picture is not None
    assert picture.digest is not None
    piece = Piece(
        title=stack["title"],
        text=stack["text"],
        quantity=stack["copies"],
        size_mm=(stack["width_mm"], stack["height_mm"], stack["total_thickness_mm"]),
        materials=tuple(
            f"{la['material_name']}, {format_mm(la['thickness_mm'])}"
            for la in sorted(stack["layers"], key=lambda la: -la["z_mm"])
        ),
        version=version_of_result(record, store),
        picture=picture.digest,
        units=units,
    )
    quote = None
    if record.kind == "plan" and asked.price is None:
        hand = piece.quantity * float(record.request["recipe"].get("hand_minutes") or 0.0)
        rules = asked.prices or rules
        quote = _quote(read("plan.json"), record.request, hand, rules, catalogue)
    price, currency = (quote.total, quote.currency) if quote else (None, None)
    return Source(record.id, record.kind, piece.title or piece.text, (piece,), price, currency)


def _quote(
    plan: Mapping[str, Any],
    request: Mapping[str, Any],
    hand_minutes: float,
    rules: PriceRules,
    catalogue: Catalogue,
) -> Quote:
    """Return what a plan costs, as an order of it would."""
    by_hand = resolve_shop(request.get("shop"), catalogue).machine.tool_change == "program"
    costs = [_cost(sheet, by_hand=by_hand) for sheet in plan["sheets"]]
    return make_quote(costs, hand_minutes, rules, changes_by_hand=by_hand)


def _cost(sheet: Mapping[str, Any], *, by_hand: bool) -> SheetCost:
    stock, time, runs = sheet["stock"], sheet["time"], sheet["runs"]
    area = stock["width_mm"] * stock["height_mm"]
    blanks = len(sheet["parts"]) * runs if sheet["of_blanks"] else 1
    seconds = time["total_s"] - (time["changes_s"] if by_hand else 0.0)
    return SheetCost(
        number=sheet["number"],
        material=stock["material"],
        thickness_mm=stock["thickness_mm"],
        stock_area_mm2=area,
        part_area_mm2=area if sheet["of_blanks"] else area * sheet["used_share"],
        price=stock["price"] * blanks,
        machine_s=seconds * runs,
        programs=len(sheet["programs"]),
        runs=runs,
    )


async def _order(
    id_: str,
    numbers: Sequence[int] | None,
    job_service: JobService,
    order_service: OrderService,
    catalogue: Catalogue,
) -> Source:
    state, record = await order_service.state(id_)
    if state.phase is not OrderPhase.DONE:
        raise Conflict(
            "The order is not finished.", code="order-unfinished", data={"state": state.phase}
        )
    document = record.artifact("order.json")
    assert document is not None
    told: dict[str, Any] = json.loads(await asyncio.to_thread(job_service.store.read, document))
    known = [line["line"] for line in told["lines"]]
    wanted = sorted(set(numbers or known))
    strange = [n for n in wanted if n not in known]
    if strange:
        raise InputError(
            f"The order has no line {strange[0]}.",
            code="unknown-line",
            field="lines",
            expected=f"numbers from 1 to {len(known)}",
        )
    made = {line.number: line for line in await order_service.made_lines(id_)}
    _require_ready(told, made, wanted)
    pictures = await order_service.pictures([made[n] for n in wanted])
    catalogue, _, units = await asyncio.to_thread(_told_in, told, job_service, catalogue)
    with speaking(units):
        pieces = tuple(
            _piece(made[n], picture, catalogue, units)
            for n, picture in zip(wanted, pictures, strict=True)
        )
    quote = told["quote"] if wanted == known else {}
    title = told["title"] if wanted == known or len(pieces) > 1 else pieces[0].title
    return Source(id_, "order", title, pieces, quote.get("total"), quote.get("currency"))


def _require_ready(
    told: Mapping[str, Any], made: Mapping[int, MadeLine], wanted: Sequence[int]
) -> None:
    sound = {s["number"] for s in told["sheets"] if s.get("passed")}
    lines = {line["line"]: line for line in told["lines"]}
    bad = [
        n
        for n in wanted
        if n not in made
        or made[n].blockers
        or lines[n]["unplaced_parts"]
        or not sound.issuperset(lines[n]["sheets"])
    ]
    if bad:
        word = "Line" if len(bad) == 1 else "Lines"
        raise Conflict(
            f"{word} {listed([str(n) for n in bad[:20]])} cannot be made as it is ordered, so it "
            "is not offered to anybody.",
            code="offer-not-ready",
            expected="lines that are made, placed and proved",
            data={"lines": bad},
        )


def _piece(line: MadeLine, picture: str, catalogue: Catalogue, units: str) -> Piece:
    def words(key: str, thickness_mm: float) -> str:
        known = catalogue.materials.get(key)
        return f"{known.name if known else key_words(key)}, {format_mm(thickness_mm)}"

    return Piece(
        title=line.title or line.text,
        text=line.text,
        quantity=line.quantity,
        size_mm=line.size_mm,
        materials=tuple(words(*layer) for layer in reversed(line.layers)),
        version=recipe_version(line.recipe),
        picture=picture,
        line=line.number,
        units=units,
    )
