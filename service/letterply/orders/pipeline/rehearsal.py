"""An order planned, and nothing more: no drawings, no proofs, no papers. Runs in a worker.

The parts are built, laid and planned by the same functions as in the order itself, so that what a
rehearsal tells of sheets, programs and times is what the order will take.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from letterply.catalogue import Catalogue, Measured, Shop, load_catalogue, resolve_shop
from letterply.cutting import plan_sheet
from letterply.errors import LetterplyError
from letterply.lettering import ArtworkLibrary, FontLibrary
from letterply.orders.codec import Facts
from letterply.orders.intake.model import OrderLine
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import LineLayers, PlannedSheet, Problem
from letterply.orders.pipeline.layouts import Laid
from letterply.orders.pipeline.lines import layers_of
from letterply.orders.pipeline.loads import load_blanks
from letterply.orders.pipeline.pools import pool_material
from letterply.orders.pipeline.sheets import planned_facts, sheet_of
from letterply.orders.pipeline.stages import OrderPipeline
from letterply.orders.pipeline.task_requests import LoadRequest, PoolRequest, Sources
from letterply.requests import parse_recipe
from letterply.sheets import Unplaced
from letterply.stacks import build_stack
from letterply.storage import digest
from letterply.units import speaking

__all__ = ["NotMade", "Rehearsed", "rehearse"]


@dataclass(frozen=True, slots=True)
class NotMade:
    """What cannot be made, and why; the line is 0 where it is not one line alone."""

    line: int
    why: str


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """The planned sheets of an order, parts that found no room, and what cannot be made."""

    sheets: tuple[PlannedSheet, ...]
    unplaced: tuple[Unplaced, ...]
    lost: tuple[NotMade, ...]


def rehearse(
    order: Order,
    catalogue_files: Sequence[str],
    font_files: Mapping[str, str],
    artwork_files: Mapping[str, str],
) -> Rehearsed:
    """Return the planned sheets of an order, and what cannot be made.

    Args:
        order: the order.
        catalogue_files: a shop's own files, laid over the shipped catalogue in order.
        font_files: id of an own font -> path of its file.
        artwork_files: id of a drawing -> path of its file.

    """
    catalogue = load_catalogue(*(Path(p) for p in catalogue_files))
    shop = resolve_shop(order.shop, catalogue)
    with speaking(shop.units):
        return _rehearsed(order, shop, catalogue, font_files, artwork_files)


def _rehearsed(
    order: Order,
    shop: Shop,
    catalogue: Catalogue,
    font_files: Mapping[str, str],
    artwork_files: Mapping[str, str],
) -> Rehearsed:
    vault = _Memory()
    pipeline = OrderPipeline(order, Sources({}, (), {}), vault)
    library, artworks = FontLibrary(font_files), ArtworkLibrary(artwork_files)
    made: dict[str, LineLayers | Problem] = {}
    designs = [line.design for line in order.lines]
    for key, line in zip(designs, order.lines, strict=True):
        if key not in made:
            made[key] = _line(line, catalogue, library, artworks, vault, shop.measured)
    answers = [made[key] for key in designs]
    pools = [_pool(r, vault, catalogue, shop) for r in pipeline.pool_requests(answers)]
    lost = [
        NotMade(line.number, answer.message)
        for line, answer in zip(order.lines, answers, strict=True)
        if isinstance(answer, Problem)
    ]
    lost += [NotMade(0, pool.message) for pool in pools if isinstance(pool, Problem)]
    sheets = []
    scribed = order.options.marks == "scribed"
    for spec in pipeline.sheets(pools):
        try:
            sheet = sheet_of(spec, vault, shop, catalogue, scribed=scribed, alike=True)
            plan = plan_sheet(sheet, shop, catalogue, spec.spacing_mm)
        except LetterplyError as error:
            lost.append(NotMade(0, f"Sheet {spec.number}: {error.message}"))
            continue
        sheets.append(planned_facts(spec, plan, shop))
    unplaced = [u for pool in pools if isinstance(pool, Laid) for u in pool.unplaced]
    return Rehearsed(tuple(sheets), tuple(unplaced), tuple(lost))


def _line(
    line: OrderLine,
    catalogue: Catalogue,
    library: FontLibrary,
    artworks: ArtworkLibrary,
    vault: _Memory,
    measured: Measured,
) -> LineLayers | Problem:
    try:
        recipe = parse_recipe(line.recipe)
        stack = build_stack(recipe, catalogue, library, artworks=artworks, measured=measured)
    except LetterplyError as error:
        return Problem.of(error)
    return layers_of(recipe, stack, vault)


def _pool(
    request: PoolRequest | LoadRequest, vault: _Memory, catalogue: Catalogue, shop: Shop
) -> Laid | Problem:
    try:
        if isinstance(request, LoadRequest):
            return load_blanks(request, vault, catalogue, shop)
        return pool_material(request, vault, catalogue, shop)
    except LetterplyError as error:
        return Problem.of(error)


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

    def recall(self, key: str) -> None:
        """Return None: a rehearsal asks for nothing twice."""
        return

    def is_whole(self, answer: Facts) -> bool:
        """Return True: nothing decays in memory."""
        return True

    def note(self, key: str, answer: Facts) -> None:
        """Keep nothing."""
