"""Tasks: named work with an identity, done by whoever comes first, found again by all others.

A task's key is the digest of its kind, what it is given, the engine's version, and the fonts and
catalogue files that it draws on. Its answer is kept in the vault under the key. What cannot be met
(a letter that is missing, a cutter too large) is an answer too; only faults of the service are not.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from letterply import ENGINE_VERSION
from letterply.catalogue import Catalogue, Shop, resolve_shop
from letterply.errors import LetterplyError
from letterply.jobs import Resources
from letterply.lettering import ArtworkLibrary, FontLibrary
from letterply.orders.codec import Facts, plain, value_of
from letterply.orders.pipeline.answers import (
    Documents,
    LineAnswer,
    LinePicture,
    Manifest,
    Problem,
    SheetAnswer,
    SheetDrawings,
    kept,
)
from letterply.orders.pipeline.documents import make_documents
from letterply.orders.pipeline.drawing import make_drawings, make_picture
from letterply.orders.pipeline.layouts import Laid
from letterply.orders.pipeline.lines import make_line
from letterply.orders.pipeline.loads import load_blanks
from letterply.orders.pipeline.papers import make_papers
from letterply.orders.pipeline.pools import pool_material
from letterply.orders.pipeline.sheets import make_sheet
from letterply.orders.pipeline.task_requests import (
    DocumentsRequest,
    DrawingsRequest,
    LineRequest,
    LoadRequest,
    PapersRequest,
    PictureRequest,
    PoolRequest,
    SheetRequest,
    TaskKind,
    TaskRequest,
)
from letterply.storage import Vault, canonical_json, digest, full_is_busy, open_vault
from letterply.units import speaking

__all__ = ["Task", "TaskFunction", "run_task", "task_args", "task_key"]


_SHORT = 20_000
"""Bytes of arguments that travel with their task."""

TaskFunction = Callable[[str, str, str, str], Facts]
"""Place of the vault, kind, key and arguments of a task in, its answer out; see `run_task`."""


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work.

    Attributes:
        kind: what it does.
        key: its identity.
        args: what it is given: canonical JSON where that is short, else its digest in the vault.
        about: what people are told that it is about; no part of its identity.

    """

    kind: TaskKind
    key: str
    args: str
    about: Facts = field(default_factory=dict, hash=False, compare=False)

    @classmethod
    def of(cls, request: TaskRequest, vault: Vault, about: Facts) -> Task:
        """Return the task that does what is asked; long arguments go to the vault."""
        args = plain(request)
        content = canonical_json(args)
        # Short ones go along with the task: a thousand small files would take their time.
        given = content.decode() if len(content) <= _SHORT else vault.write(content)
        return cls(request.kind, task_key(request.kind, args), given, about)

    @property
    def bulk(self) -> float:
        """How much it is given: what is given more takes longer, by and large."""
        return len(self.args) if self.args.startswith("{") else math.inf


def task_key(kind: TaskKind, args: Facts) -> str:
    """Return the identity of a task."""
    return digest(canonical_json({"task": kind, "engine": ENGINE_VERSION, "args": args}))


def task_args(vault: Vault, given: str) -> Facts:
    """Return what a task is given, from `Task.args`."""
    found: Facts = json.loads(given if given.startswith("{") else vault.read(given))
    return found


def run_task(place: str, kind: str, key: str, given: str) -> Facts:
    """Return the answer of a task, computed unless the vault has it. Runs in a worker.

    The answer has `ok`; when it is False, `problem` has the facts of the error.

    Raises:
        LetterplyError: a fault of the service; `store-busy` or `store-unreachable` where the vault
            is full or away.

    """
    vault = open_vault(place)
    with full_is_busy():
        return _answer_of(vault, kind, key, lambda: task_args(vault, given))


def _answer_of(vault: Vault, kind: str, key: str, read: Callable[[], Facts]) -> Facts:
    known = vault.recall(key)
    if known is not None and vault.is_whole(known):
        return known
    args = read()
    try:
        with speaking(_units(args)):
            answer = kept(_WORK[TaskKind(kind)](args, vault))
    except LetterplyError as error:
        problem = Problem.of(error)
        if problem.is_fault:
            raise
        answer = kept(problem)
    vault.note(key, answer)
    return answer


def _units(args: Facts) -> str:
    shop = args["shop"]
    return str(shop.get("units", "mm")) if isinstance(shop, Mapping) else "mm"


def _line(args: Facts, vault: Vault) -> LineAnswer:
    request = value_of(LineRequest, args)
    drawings = request.sources.artworks
    artworks = ArtworkLibrary({name: str(vault.path_of(d)) for name, d in drawings.items()})
    library = _library(request, vault)
    return make_line(request, vault, *_room(request, vault), library, artworks)


def _pool(args: Facts, vault: Vault) -> Laid:
    request = value_of(PoolRequest, args)
    return pool_material(request, vault, *_room(request, vault))


def _load(args: Facts, vault: Vault) -> Laid:
    request = value_of(LoadRequest, args)
    return load_blanks(request, vault, *_room(request, vault))


def _sheet(args: Facts, vault: Vault) -> SheetAnswer:
    request = value_of(SheetRequest, args)
    return make_sheet(request, vault, *_room(request, vault))


def _papers(args: Facts, vault: Vault) -> Manifest:
    request = value_of(PapersRequest, args)
    _, shop = _room(request, vault)
    return make_papers(request, vault, shop)


def _picture(args: Facts, vault: Vault) -> LinePicture:
    request = value_of(PictureRequest, args)
    catalogue, _ = _room(request, vault)
    return make_picture(request, vault, catalogue)


def _drawings(args: Facts, vault: Vault) -> SheetDrawings:
    request = value_of(DrawingsRequest, args)
    catalogue, _ = _room(request, vault)
    return make_drawings(request, vault, catalogue)


def _documents(args: Facts, vault: Vault) -> Documents:
    request = value_of(DocumentsRequest, args)

    def run(asked: TaskRequest) -> Facts:
        facts = plain(asked)
        return _answer_of(vault, asked.kind, task_key(asked.kind, facts), lambda: facts)

    room, library = _room(request, vault), _library(request, vault)
    return make_documents(request, vault, *room, library, run)


_WORK: Mapping[TaskKind, Callable[[Facts, Vault], object]] = {
    TaskKind.LINE: _line,
    TaskKind.POOL: _pool,
    TaskKind.LOAD: _load,
    TaskKind.SHEET: _sheet,
    TaskKind.PAPERS: _papers,
    TaskKind.PICTURE: _picture,
    TaskKind.DRAWINGS: _drawings,
    TaskKind.DOCUMENTS: _documents,
}


def _room(request: TaskRequest, vault: Vault) -> tuple[Catalogue, Shop]:
    files = tuple(str(vault.path_of(d)) for d in request.sources.catalogue)
    catalogue = Resources(catalogue_files=files).catalogue()
    return catalogue, resolve_shop(request.shop, catalogue)


def _library(request: TaskRequest, vault: Vault) -> FontLibrary:
    fonts = request.sources.fonts
    return Resources(font_files={n: str(vault.path_of(d)) for n, d in fonts.items()}).fonts()
