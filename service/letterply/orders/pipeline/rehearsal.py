"""An order planned, and nothing more: no drawings, no proofs, no papers. Runs in a worker.

The parts are built, laid and planned by the same functions as in the order itself, so that what a
rehearsal tells of sheets, programs and times is what the order will take.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from letterply.catalogue import Catalogue, Shop, load_catalogue, resolve_shop
from letterply.cutting import plan_sheet
from letterply.errors import LetterplyError
from letterply.lettering import ArtworkLibrary, FontLibrary
from letterply.orders.codec import plain, value_of
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.lines import layers_of
from letterply.orders.pipeline.loads import load_blanks
from letterply.orders.pipeline.pools import pool_material
from letterply.orders.pipeline.sheets import planned_facts, sheet_of
from letterply.orders.pipeline.stages import OrderPipeline
from letterply.orders.pipeline.tasks import Sources, Task, task_args
from letterply.requests import parse_recipe
from letterply.stacks import build_stack
from letterply.storage import digest

__all__ = ["rehearse"]


def rehearse(
    order_facts: Mapping[str, Any],
    catalogue_files: Sequence[str],
    font_files: Mapping[str, str],
    artwork_files: Mapping[str, str],
) -> dict[str, Any]:
    """Return the planned sheets of an order, and what cannot be made.

    Args:
        order_facts: the order, as `letterply.orders.codec` stores it.
        catalogue_files: a shop's own files, laid over the shipped catalogue in order.
        font_files: id of an own font -> path of its file.
        artwork_files: id of a drawing -> path of its file.

    """
    order = value_of(Order, order_facts)
    catalogue = load_catalogue(*(Path(p) for p in catalogue_files))
    shop = resolve_shop(order.shop, catalogue)
    vault = _Memory()
    pipeline = OrderPipeline(order, Sources({}, (), {}), vault)
    library, artworks = FontLibrary(font_files), ArtworkLibrary(artwork_files)
    made: dict[str, dict[str, Any]] = {}
    designs = [line.design for line in order.lines]
    for key, line in zip(designs, order.lines, strict=True):
        if key not in made:
            made[key] = _line(line.recipe, catalogue, library, artworks, vault)
    answers = [made[key] for key in designs]
    pools = [_pool(task, vault, catalogue, shop) for task in pipeline.pool_tasks(answers)]
    lost = [
        {"line": line.number, "why": answer["why"]}
        for line, answer in zip(order.lines, answers, strict=True)
        if not answer["ok"]
    ]
    lost += [{"line": 0, "why": pool["why"]} for pool in pools if not pool["ok"]]
    sheets = []
    scribed = order.options.marks == "scribed"
    for spec in pipeline.sheets(pools):
        try:
            sheet = sheet_of(spec, vault, shop, catalogue, scribed=scribed, alike=True)
            plan = plan_sheet(sheet, shop, catalogue, spec.spacing_mm)
        except LetterplyError as error:
            lost.append({"line": 0, "why": f"Sheet {spec.number}: {error.message}"})
            continue
        sheets.append(planned_facts(spec, plan, shop))
    unplaced = [u for pool in pools for u in pool.get("unplaced", ())]
    return {"sheets": sheets, "unplaced": unplaced, "lost": lost}


def _line(
    raw: Mapping[str, Any],
    catalogue: Catalogue,
    library: FontLibrary,
    artworks: ArtworkLibrary,
    vault: _Memory,
) -> dict[str, Any]:
    try:
        recipe = parse_recipe(raw)
        stack = build_stack(recipe, catalogue, library, artworks=artworks)
    except LetterplyError as error:
        return {"ok": False, "why": error.message}
    return {"ok": True, **layers_of(recipe, stack, vault)}


def _pool(task: Task, vault: _Memory, catalogue: Catalogue, shop: Shop) -> dict[str, Any]:
    work = pool_material if task.kind == "pool" else load_blanks
    try:
        return {"ok": True, **plain(work(task_args(vault, task.args), vault, catalogue, shop))}
    except LetterplyError as error:
        return {"ok": False, "why": error.message}


class _Memory:
    """A vault that is gone when the rehearsal is over."""

    def __init__(self) -> None:
        self._bytes: dict[str, bytes] = {}

    def write(self, data: bytes) -> str:
        """Keep bytes; return their digest."""
        key = digest(data)
        self._bytes[key] = data
        return key

    def read(self, digest: str) -> bytes:
        """Return bytes."""
        return self._bytes[digest]

    def path_of(self, digest: str) -> Path:
        """Tell that nothing here is a file."""
        raise ValueError(f"{digest} is in memory only")

    def recall(self, key: str) -> dict[str, Any] | None:
        """Return None: a rehearsal asks for nothing twice."""
        return None

    def is_whole(self, answer: Mapping[str, Any]) -> bool:
        """Return True: nothing decays in memory."""
        return True

    def note(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep nothing."""
