"""Tasks: named work with an identity, done by whoever comes first, found again by all others.

A task's key is the digest of its kind, what it is given, the engine's version, and the fonts and
catalogue files that it draws on. Its answer is kept in the vault under the key. What cannot be met
(a letter that is missing, a cutter too large) is an answer too; only faults of the service are not.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from letterply import ENGINE_VERSION
from letterply.catalogue import Catalogue, Shop, resolve_shop
from letterply.errors import LetterplyError
from letterply.jobs import Resources
from letterply.lettering import ArtworkLibrary, FontLibrary
from letterply.orders.codec import plain, value_of
from letterply.orders.pipeline.lines import make_line
from letterply.orders.pipeline.loads import load_blanks
from letterply.orders.pipeline.papers import make_papers
from letterply.orders.pipeline.pools import pool_material
from letterply.orders.pipeline.sheets import make_sheet
from letterply.storage import FAULTS, Vault, canonical_json, digest, facts_of_error, open_vault

__all__ = ["Sources", "Task", "TaskFunction", "run_task", "task_args", "task_key"]


_SHORT = 20_000
"""Bytes of arguments that travel with their task."""

TaskFunction = Callable[[str, str, str, str], dict[str, Any]]
"""Place of the vault, kind, key and arguments of a task in, its answer out; see `run_task`."""


@dataclass(frozen=True, slots=True)
class Sources:
    """What tasks draw on beside what they are given, by digest in the vault.

    Attributes:
        fonts: id of an own font -> digest of its file.
        catalogue: digests of the shop's own catalogue files, in order.
        artworks: id of a drawing -> digest of its file.

    """

    fonts: Mapping[str, str]
    catalogue: tuple[str, ...] = ()
    artworks: Mapping[str, str] = field(default_factory=dict)

    @property
    def digests(self) -> tuple[str, ...]:
        """The digests of all of them."""
        return (*self.catalogue, *self.fonts.values(), *self.artworks.values())


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work.

    Attributes:
        kind: `line`, `pool`, `load`, `sheet` or `papers`.
        key: its identity.
        args: what it is given: canonical JSON where that is short, else its digest in the vault.
        about: what people are told that it is about; no part of its identity.

    """

    kind: str
    key: str
    args: str
    about: Mapping[str, Any] = field(default_factory=dict, hash=False, compare=False)

    @classmethod
    def of(cls, kind: str, args: Mapping[str, Any], vault: Vault, about: Mapping[str, Any]) -> Task:
        """Return the task of this kind with these arguments; long ones go to the vault."""
        content = canonical_json(dict(args))
        # Short ones go along with the task: a thousand small files would take their time.
        given = content.decode() if len(content) <= _SHORT else vault.write(content)
        return cls(kind, task_key(kind, args), given, about)


def task_key(kind: str, args: Mapping[str, Any]) -> str:
    """Return the identity of a task."""
    return digest(canonical_json({"task": kind, "engine": ENGINE_VERSION, "args": dict(args)}))


def task_args(vault: Vault, given: str) -> dict[str, Any]:
    """Return what a task is given, from `Task.args`."""
    found: dict[str, Any] = json.loads(given if given.startswith("{") else vault.read(given))
    return found


def run_task(place: str, kind: str, key: str, given: str) -> dict[str, Any]:
    """Return the answer of a task, computed unless the vault has it. Runs in a worker.

    The answer has `ok`; when it is False, `problem` has the facts of the error.
    """
    vault = open_vault(place)
    known = vault.recall(key)
    if known is not None and vault.is_whole(known):
        return known
    args = task_args(vault, given)
    try:
        answer = {"ok": True, **_WORK[kind](args, vault)}
    except LetterplyError as error:
        if error.code in FAULTS:
            raise
        answer = {"ok": False, "problem": facts_of_error(error)}
    vault.note(key, answer)
    return answer


def _line(args: dict[str, Any], vault: Vault) -> dict[str, Any]:
    drawings = value_of(Sources, args["sources"]).artworks
    artworks = ArtworkLibrary({name: str(vault.path_of(d)) for name, d in drawings.items()})
    return make_line(args, vault, *_room(args, vault), _library(args, vault), artworks)


def _pool(args: dict[str, Any], vault: Vault) -> dict[str, Any]:
    return dict(plain(pool_material(args, vault, *_room(args, vault))))


def _load(args: dict[str, Any], vault: Vault) -> dict[str, Any]:
    return dict(plain(load_blanks(args, vault, *_room(args, vault))))


def _sheet(args: dict[str, Any], vault: Vault) -> dict[str, Any]:
    return make_sheet(args, vault, *_room(args, vault))


def _papers(args: dict[str, Any], vault: Vault) -> dict[str, Any]:
    return make_papers(args, vault, *_room(args, vault), _library(args, vault))


_WORK: Mapping[str, Callable[[dict[str, Any], Vault], dict[str, Any]]] = {
    "line": _line,
    "pool": _pool,
    "load": _load,
    "sheet": _sheet,
    "papers": _papers,
}


def _room(args: dict[str, Any], vault: Vault) -> tuple[Catalogue, Shop]:
    sources = value_of(Sources, args["sources"])
    files = tuple(str(vault.path_of(d)) for d in sources.catalogue)
    catalogue = Resources(catalogue_files=files).catalogue()
    return catalogue, resolve_shop(args["shop"], catalogue)


def _library(args: dict[str, Any], vault: Vault) -> FontLibrary:
    fonts = value_of(Sources, args["sources"]).fonts
    return Resources(font_files={n: str(vault.path_of(d)) for n, d in fonts.items()}).fonts()
