"""A shop's document and the sheets that were cut in, the document with true counts out.

What stands in the document stays as its maker wrote it: a sheet that is told there has its count
changed, one of a catalogue has it in the shop's own, left-overs are sheets told in `stock`.
"""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from letterply.catalogue import Shop, Stock
from letterply.errors import Conflict
from letterply.jobs.left_overs import LeftOver
from letterply.units import counted, format_mm, listed

__all__ = ["CutSheet", "back_in", "moved_words", "taken_out"]

Facts = dict[str, Any]

_SAME_MM = 0.05


@dataclass(frozen=True, slots=True)
class CutSheet:
    """A sheet that was cut, and what is worth keeping of it."""

    stock: Stock
    left: tuple[LeftOver, ...]


def taken_out(
    written: Mapping[str, Any], shop: Shop, cut: Sequence[CutSheet], number: int
) -> tuple[Facts, Facts]:
    """Return a shop's document without the sheets that were cut and with what is left of them.

    Returns the document, and what moved, of which `back_in` makes it undone.

    Args:
        written: the document as it was written.
        shop: what it comes to.
        cut: the sheets.
        number: of the first left-over that is called after it.

    Raises:
        Conflict: `stock-gone`, with every sheet that is missing.

    """
    there = {s.key: s for s in shop.stock}
    wanted = Counter(c.stock.key for c in cut)
    kinds = {c.stock.key: c.stock for c in cut}
    missing = [
        {"key": key, "wanted": wanted[key], "there": found}
        for key in sorted(wanted)
        if (found := _count(there.get(key), kinds[key])) < wanted[key]
    ]
    if missing:
        told = [f"{m['key']} ({m['wanted']} wanted, {m['there']} there)" for m in missing]
        raise Conflict(
            f"The shop has not got these sheets any more: {listed(told)}.",
            code="stock-gone",
            expected="plan it again with the shop as it is now, or put the sheets back into the "
            "shop if they are there",
            data={"missing": missing},
        )
    document: Facts = copy.deepcopy(dict(written))
    sheets = _sheets(document, shop)
    taken = []
    for key in sorted(wanted):
        left = there[key].count - wanted[key]
        entry = next((s for s in sheets if isinstance(s, dict) and s["key"] == key), None)
        taken.append({"key": key, "count": wanted[key], "left": left, "sheet": copy.copy(entry)})
        if entry is not None and not left and entry.get("offcut"):
            sheets.remove(entry)
        else:
            _set_count(document, entry, key, left)
    added: list[Facts] = []
    for sheet in cut:
        for left_over in sheet.left:
            added.append(_as_sheet(sheet.stock, left_over, f"offcut-{number + len(added)}"))
    sheets += copy.deepcopy(added)
    if added or "stock" in document:
        document["stock"] = sheets
    return document, {"taken": taken, "added": added}


def back_in(written: Mapping[str, Any], shop: Shop, moved: Mapping[str, Any]) -> Facts:
    """Return a shop's document with what moved undone.

    Raises:
        Conflict: `commit-built-on`, a left-over is not there any more.

    """
    there = {s.key: s for s in shop.stock}
    gone = [a["key"] for a in moved["added"] if a["key"] not in there or not there[a["key"]].count]
    if gone:
        raise Conflict(
            f"What was left over is not there any more: {listed(gone)}.",
            code="commit-built-on",
            expected="to undo what used it first",
            data={"gone": gone},
        )
    document: Facts = copy.deepcopy(dict(written))
    sheets = _sheets(document, shop)
    added = {a["key"] for a in moved["added"]}
    sheets[:] = [s for s in sheets if not (isinstance(s, dict) and s["key"] in added)]
    for one in moved["taken"]:
        key = one["key"]
        entry = next((s for s in sheets if isinstance(s, dict) and s["key"] == key), None)
        if entry is None and key not in there and one["sheet"] is not None:
            sheets.append({**one["sheet"], "count": one["count"]})
        elif key in there:
            _set_count(document, entry, key, there[key].count + one["count"])
    if "stock" in document or added:
        document["stock"] = sheets
    return document


def moved_words(moved: Mapping[str, Any]) -> str:
    """Say what went out and what came in, in the midst of a sentence."""
    out = sum(one["count"] for one in moved["taken"])
    names = listed([one["key"] for one in moved["taken"]])
    back = [
        f"{a['key']} ({format_mm(a['width_mm'])} × {format_mm(a['height_mm'])})"
        for a in moved["added"]
    ]
    kept = f"to keep: {listed(back)}" if back else "nothing of it is worth keeping"
    return f"{counted(out, 'sheet')} taken ({names}); {kept}"


def _count(now: Stock | None, cut: Stock) -> int:
    """Return how many sheets there are of the one that was cut; none where it is another now."""
    if now is None:
        return 0
    size = (cut.height_mm, cut.width_mm) if cut.turned else (cut.width_mm, cut.height_mm)
    same = (
        now.material == cut.material
        and abs(now.thickness_mm - cut.thickness_mm) < _SAME_MM
        and max(abs(now.width_mm - size[0]), abs(now.height_mm - size[1])) < _SAME_MM
        and now.as_it_lies().outline_mm == cut.outline_mm
    )
    return now.count if same else 0


def _sheets(document: Facts, shop: Shop) -> list[Any]:
    """Return the sheets of a document, each under its own key; without any the catalogue's."""
    if document.get("stock") is None:
        return [s.key for s in shop.stock]
    found: list[Any] = document["stock"]
    for number, sheet in enumerate(found, start=1):
        if isinstance(sheet, dict) and not sheet.get("key"):
            sheet["key"] = f"sheet-{number}"
    return found


def _set_count(document: Facts, entry: Facts | None, key: str, count: int) -> None:
    if entry is None:
        stock = document.setdefault("catalogue", {}).setdefault("stock", {})
        entry = stock.setdefault(key, {})
    entry["count"] = count


def _as_sheet(stock: Stock, left: LeftOver, key: str) -> Facts:
    sheet: Facts = {
        "key": key,
        "material": stock.material,
        "thickness_mm": stock.thickness_mm,
        "width_mm": left.width_mm,
        "height_mm": left.height_mm,
        "count": 1,
        "margin_mm": stock.margin_mm,
        "offcut": True,
    }
    if left.outline_mm:
        sheet["outline_mm"] = [[list(point) for point in ring] for ring in left.outline_mm]
    return sheet
