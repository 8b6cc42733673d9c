"""What was measured on a test piece, taken into a shop: what changes, and its history.

The figures stand in the shop's document like those that its maker writes by hand: cutters in its
catalogue, with their source; fits, feeds in a material and thicknesses beside them. How each came
about is an entry of `measured`. A version of the shop from before knows nothing of it.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from letterply.catalogue import Catalogue, resolve_shop
from letterply.errors import Conflict, InputError, NotFound
from letterply.jobs.pieces import PIECE
from letterply.jobs.shops import Shops
from letterply.pieces import Change, Piece, Told, design_piece, read_readings, tell_readings
from letterply.requests import FitFigure, MeasuredRequest, PieceRequest, TrueThickness, read_request
from letterply.storage import JobState, ShopRecord, Store, utc_now
from letterply.units import decimal_text, format_exact, format_feed, speaking

__all__ = ["take_measured"]

Document = dict[str, Any]


def take_measured(store: Store, shops: Shops, name: str, raw: Mapping[str, Any]) -> Document:
    """Return what readings change in a shop; it is kept unless the request says otherwise.

    Raises:
        NotFound: `shop-not-found`, `job-not-found`.
        InputError: readings that cannot be, every mistake in its data.
        Conflict: `shop-changed`, another has changed the shop meanwhile.

    """
    with speaking(shops.units_of({"shop": name})):
        asked = read_request(MeasuredRequest, raw)
    record = shops.shelf.find(name)
    piece, request = _cut(store, shops, asked)
    catalogue, now, _ = shops.resolved(name)
    on = utc_now()[:10]
    with speaking(now.units):
        units = request.shop.units if request.shop is not None else "mm"
        readings = read_readings(piece, asked, units)
        told = _against(tell_readings(piece, readings, request, now, on), piece, catalogue)
        written = shops.written(record)
        changed = _with_figures(written, told, piece, request, on)
        changed["measured"] = [
            *(written.get("measured") or []),
            *(_entry(c, piece, asked, readings, on) for c in told.changes),
        ]
        version = record.version
        if asked.keep:
            kept, _ = shops.put(name, changed, may=_unless_changed(record))
            version = kept.version
        lines = [_words(c) for c in told.changes]
        return {
            "summary": f"{'; '.join(lines)}. {'Kept' if asked.keep else 'Nothing is kept'} "
            f"in the shop {name}.",
            "shop": name,
            "version": version,
            "kept": asked.keep,
            "piece": asked.piece,
            "changes": [
                {
                    "subject": c.subject,
                    "figure": c.figure,
                    "old": c.old,
                    "new": c.new,
                    "uncertainty": c.uncertainty,
                    "words": words,
                }
                for c, words in zip(told.changes, lines, strict=True)
            ],
            "remarks": [f"{r[0].upper()}{r[1:]}." for r in told.remarks],
        }


def _cut(store: Store, shops: Shops, asked: MeasuredRequest) -> tuple[Piece, PieceRequest]:
    """Return the test piece as it was made, and its request.

    Raises:
        NotFound: `job-not-found`, there is no such piece.
        InputError: `bad-value`, its proof did not pass: nobody should have cut it.

    """
    record = store.job(asked.piece)
    if record.kind != PIECE or record.state is not JobState.DONE:
        raise NotFound("job", asked.piece)
    if not (record.headline or {}).get("ready"):
        raise InputError(
            "This test piece cannot be cut as it is: its readings tell nothing.",
            code="bad-value",
            field="piece",
            expected="a test piece that is ready",
        )
    request = read_request(PieceRequest, dict(record.request))
    version = request.shop.version if request.shop is not None else None
    catalogue, _ = shops.at_version(version)
    shop = resolve_shop(request.shop, catalogue)
    with speaking(shop.units):
        return design_piece(request, shop, catalogue), request


def _against(told: Told, piece: Piece, catalogue: Catalogue) -> Told:
    """Return what was told with the figures of the cutter as the shop has them today.

    Raises:
        InputError: `unknown-cutter`, the shop has no such cutter.

    """
    if not told.cutter:
        return told
    cutter = catalogue.cutter(piece.cutters[0], field="piece")
    changes = tuple(replace(c, old=getattr(cutter, c.figure)) for c in told.changes)
    return replace(told, changes=changes)


def _with_figures(
    written: Mapping[str, Any], told: Told, piece: Piece, request: PieceRequest, on: str
) -> Document:
    """Return a shop's document with what was told in it."""
    shop: Document = copy.deepcopy(dict(written))
    if told.cutter:
        cutters = shop.setdefault("catalogue", {}).setdefault("cutters", {})
        entry = cutters.setdefault(piece.cutters[0], {})
        sources = entry.setdefault("sources", {})
        for figure, value in told.cutter.items():
            entry.pop(figure.removesuffix("_mm"), None)
            entry[figure] = value
            sources[figure] = [f"measured on {on}", "measured"]
    if told.fit is not None:
        _put(shop, "fits", told.fit, lambda f: _same_fit(f, told.fit))
    if told.thickness is not None:
        _put(shop, "thicknesses", told.thickness, lambda t: _same_sheet(t, told.thickness))
    if told.feeds is not None:
        inside = shop.setdefault("feeds_in", {}).setdefault(request.material, {})
        own = told.feeds.model_dump(mode="json", by_alias=True, exclude_none=True)
        before = inside.get(piece.cutters[0]) or {}
        long = ("feed_mm_per_min", "spindle_rpm")
        inside[piece.cutters[0]] = {k: v for k, v in before.items() if k not in long} | own
    return shop


def _put(
    shop: Document, name: str, figure: FitFigure | TrueThickness, same: Callable[[Any], bool]
) -> None:
    """Put a figure into a list of the shop in place of the one before."""
    rest = [f for f in shop.get(name) or [] if not same(f)]
    given = figure.model_dump(mode="json", by_alias=True, exclude_none=True)
    shop[name] = [*rest, given]


def _same_fit(raw: Any, fit: FitFigure | None) -> bool:
    one = FitFigure.model_validate(raw)
    known = ("kind", "into", "of", "diameter_mm")
    return all(getattr(one, k) == getattr(fit, k) for k in known)


def _same_sheet(raw: Any, sheet: TrueThickness | None) -> bool:
    one = TrueThickness.model_validate(raw)
    known = ("material", "thickness_mm")
    return all(getattr(one, k) == getattr(sheet, k) for k in known)


def _entry(
    change: Change, piece: Piece, asked: MeasuredRequest, readings: tuple[Any, ...], on: str
) -> Document:
    lengths, letters, _ = readings
    entry: Document = {
        "on": on,
        "piece": asked.piece,
        "kind": piece.kind,
        "subject": change.subject,
        "figure": change.figure,
        "old": change.old,
        "new": change.new,
        "uncertainty": change.uncertainty,
        "words": _words(change),
        "readings": {**{k: round(v, 4) for k, v in lengths.items()}, **letters},
    }
    return {k: v for k, v in entry.items() if v is not None}


def _unless_changed(record: ShopRecord) -> Callable[[str | None], None]:
    def may(version: str | None) -> None:
        if version != record.version:
            raise Conflict(
                f"The shop {record.name!r} was changed by somebody else just now.",
                code="shop-changed",
                expected="the same readings again, on top of what is stored now",
            )

    return may


def _words(change: Change) -> str:
    """Say what a figure was and is.

    >>> _words(Change("kerf of the beam", "diameter_mm", 0.2, 0.174, 0.012))
    'kerf of the beam: 0.174 mm ± 0.012 mm, was 0.2 mm'

    """
    if change.figure.endswith("_deg"):
        new, spread, old = (
            None if v is None else f"{decimal_text(v, 2)}°"
            for v in (change.new, change.uncertainty, change.old)
        )
    elif change.figure == "feed_mm_per_min":
        new, spread, old = (
            None if v is None else format_feed(v)
            for v in (change.new, change.uncertainty, change.old)
        )
    else:
        new, spread, old = (
            None if v is None else format_exact(v)
            for v in (change.new, change.uncertainty, change.old)
        )
    named = {"tip_diameter_mm": " (tip)", "included_angle_deg": " (angle)",
             "flatness_mm": " (flatness)", "thickness_mm": " (thickness)"}  # fmt: skip
    what = f"{change.subject}{named.get(change.figure, '')}"
    return f"{what}: {new} ± {spread}" + (f", was {old}" if old is not None else "")
