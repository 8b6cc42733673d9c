"""Previews: the layers of a recipe, fast enough to follow typing; nothing is checked or kept.

In: a recipe, and a name that a client gives to what it shows. Out: a small document. Of one name
only the newest question is answered: one that is being drawn ends where it is when a newer one
comes, and one that waits is turned away.

Strengthening takes several times as long as all the rest. A *quick* preview leaves it out, unless
this very outline was strengthened just before, and names the layers that it shows without: nobody
takes them for what will be cut. A whole one can follow once there is a pause.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from copy import copy
from typing import Any, TypeVar
from weakref import WeakValueDictionary

import shapely

from letterply.catalogue import NOTHING_MEASURED, Measured
from letterply.errors import Conflict, JobFailed
from letterply.exports import preview_document, to_json
from letterply.jobs.resources import Resources
from letterply.jobs.service import JobService
from letterply.memo import Memo
from letterply.requests import Dowels, NoAlignment, PreviewRequest, Recipe, read_request
from letterply.shapes import Region, Tolerances
from letterply.stacks import build_stack
from letterply.units import speaking
from letterply.workers import ComputePool, Submitted

__all__ = ["Previews", "make_preview"]

_LOOKED_AT = Tolerances(flatten_mm=0.02, offset_mm=0.02, thin_out_mm=0.01)
"""Outlines that are looked at and not cut are less than a pixel of any screen off: with half the
points they take a third less time."""

_T = TypeVar("_T")

_MENDED: Memo[object, Any] = Memo(limit=400_000)
"""The outlines that this worker mended last, by all that they depend on; at most so many points. A
change elsewhere in the recipe, or a letter that is taken back, finds them again."""


def make_preview(
    recipe: Mapping[str, Any],
    resources: Resources,
    units: str = "mm",
    measured: Measured = NOTHING_MEASURED,
    quick: bool = False,
) -> bytes:
    """Return the preview of a recipe as JSON. Runs in a worker.

    Args:
        recipe: as it came.
        resources: fonts, drawings, catalogue.
        units: in which errors speak.
        measured: fits and true thicknesses.
        quick: leave out strengthening that this worker has not at hand.

    Dowels are left out: places for them that every layer can carry take as long to find as all
    the rest.

    Raises:
        LetterplyError: the recipe cannot be met; names the field.

    """
    asked = read_request(Recipe, recipe, field="recipe")
    if isinstance(asked.align, Dowels):
        asked = asked.model_copy(update={"align": NoAlignment()})
    catalogue = resources.catalogue()
    thin: list[str] = []

    def left_thin(layer: str, question: object) -> bool:
        if not quick or question in _MENDED:
            return False
        thin.append(layer)
        return True

    with speaking(units):
        stack = build_stack(
            asked,
            catalogue,
            resources.fonts(),
            _LOOKED_AT,
            resources.artworks(),
            reported=False,
            once=_mended,
            measured=measured,
            left_thin=left_thin,
        )
    told = preview_document(stack, catalogue, not_strengthened=thin)
    return to_json(told, compact=True)


def _mended(question: object, find_out: Callable[[], _T]) -> _T:
    found: _T = _MENDED.get(question, find_out, _points)
    return found


def _points(mended: tuple[Region, object]) -> int:
    return int(shapely.get_num_coordinates(mended[0]))


class _Turns:
    """The questions of one client, one after the other."""

    def __init__(self) -> None:
        self.lock = asyncio.Lock()
        self.newest = 0
        self.drawn: Submitted[bytes] | None = None


class Previews:
    """Answers previews; lives on one event loop.

    Args:
        job_service: knows fonts, drawings and catalogue.
        lane: where previews are made; that of short questions when left out.

    """

    def __init__(self, job_service: JobService, lane: ComputePool | None = None) -> None:
        self._service = job_service
        self._lane = lane or job_service.short_lane
        self._turns: WeakValueDictionary[tuple[str, str], _Turns] = WeakValueDictionary()

    def of(self, owner: str) -> Previews:
        """Return the same previews as one owner sees them."""
        theirs = copy(self)
        theirs._service = self._service.of(owner)
        return theirs

    def _read(self, raw: Mapping[str, Any]) -> tuple[PreviewRequest, str]:
        units = self._service.shops.units_of(raw)
        with speaking(units):
            read_request(PreviewRequest, raw)
            return read_request(PreviewRequest, self._service.shops.settle(raw)), units

    async def preview(self, raw: Mapping[str, Any]) -> bytes:
        """Return the preview of a request as JSON.

        Raises:
            InputError: the request or its recipe cannot be met as written.
            Conflict: `overtaken`, there is a newer question of the same client.

        """
        turns, mine = self._turn(raw.get("client"))
        asked, units = await asyncio.to_thread(self._read, raw)
        recipe = asked.recipe.model_dump(mode="json")
        wanted: dict[str, Any] = {"recipe": recipe}
        if asked.shop is not None and asked.shop.version is not None:
            wanted["shop"] = {"version": asked.shop.version}
        resources, _ = await asyncio.to_thread(self._service.resources, wanted)
        owner, shop = self._service.owner, asked.shop
        measured = (
            NOTHING_MEASURED if shop is None else Measured.of(shop.fits, shop.thicknesses, ())
        )
        wish = (recipe, resources, units, measured, asked.quick)
        if turns is None:
            return await self._lane.run(make_preview, *wish, owner=owner)
        if turns.newest == mine and turns.drawn is not None:
            turns.drawn.abandon()
        async with turns.lock:
            if turns.newest != mine:
                raise _overtaken()
            turns.drawn = self._lane.submit(make_preview, *wish, owner=owner)
            try:
                return await turns.drawn.result()
            except JobFailed as exc:
                if exc.code != "job-abandoned":
                    raise
                raise _overtaken() from exc
            finally:
                turns.drawn = None

    def _turn(self, client: object) -> tuple[_Turns | None, int]:
        """Return the turns of a client, and which one has come: in the order of the questions."""
        if not isinstance(client, str):
            return None, 0
        turns = self._turns.setdefault((self._service.owner, client), _Turns())
        turns.newest += 1
        return turns, turns.newest


def _overtaken() -> Conflict:
    return Conflict("A newer preview was asked for.", code="overtaken")
