"""What people read of an order, as tasks that are run once somebody asks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from letterply.catalogue import Catalogue, Shop
from letterply.lettering import FontLibrary
from letterply.orders.codec import Facts, plain, value_of
from letterply.orders.pipeline.answers import (
    Documents,
    LineAnswer,
    LinePicture,
    MadeFile,
    Problem,
    SheetAnswer,
    SheetDrawings,
    heard,
)
from letterply.orders.pipeline.drawing import drawing_paths
from letterply.orders.pipeline.papers import outcome_of
from letterply.orders.pipeline.papers_pdf import (
    THUMBS,
    pictured_documents,
    pictured_paths,
    plain_documents,
    plain_paths,
)
from letterply.orders.pipeline.task_requests import (
    DocumentsRequest,
    DrawingsRequest,
    PapersRequest,
    PictureRequest,
    TaskRequest,
)
from letterply.storage import Vault, error_from_facts

__all__ = ["Asked", "asked_of", "files_of", "make_documents"]

_Answer = TypeVar("_Answer")

Run = Callable[[TaskRequest], Facts]
"""Gives the answer of a task, run unless it was run before."""


def make_documents(
    request: DocumentsRequest,
    vault: Vault,
    catalogue: Catalogue,
    shop: Shop,
    library: FontLibrary,
    run: Run,
) -> Documents:
    """Return the documents of an order that people read: those with pictures, or the others.

    Args:
        request: the order, as `make_papers`.
        vault: has the answers.
        catalogue: for names.
        shop: for set-ups.
        library: for names in any script.
        run: gives pictures of lines and sheets.

    """
    outcome = outcome_of(request, vault, shop)
    if request.pictured:
        shown = _Shown(request, vault, run)
        files = pictured_documents(outcome, shown, catalogue, shop, library)
    else:
        files = plain_documents(outcome, vault, catalogue, library)
    return Documents(
        tuple(MadeFile(path, vault.write(data), len(data)) for path, data in files.items())
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """What makes files of an order: tasks that do not wait for each other, then those that do."""

    first: tuple[TaskRequest, ...]
    then: tuple[DocumentsRequest, ...]


def asked_of(request: PapersRequest, paths: Sequence[str], vault: Vault, shop: Shop) -> Asked:
    """Return what makes the files at these paths."""
    outcome = outcome_of(request, vault, shop)
    wanted = frozenset(paths)
    pictured = not wanted.isdisjoint(pictured_paths(outcome))
    first: list[TaskRequest] = []
    for at, (_, made) in enumerate(outcome.made if pictured else ()):
        for exploded in (True, False) if at < THUMBS else (True,):
            picture = _of_line(request, made, exploded=exploded)
            if picture not in first:
                first.append(picture)
    first += [
        _of_sheet(request, sheet)
        for sheet in outcome.planned
        if pictured or not wanted.isdisjoint(drawing_paths(sheet.number))
    ]
    kinds = [(True, pictured), (False, not wanted.isdisjoint(plain_paths(outcome)))]
    facts = plain(request)
    return Asked(
        tuple(first),
        tuple(
            value_of(DocumentsRequest, {**facts, "pictured": k})
            for k, is_asked in kinds
            if is_asked
        ),
    )


def files_of(answers: Sequence[Facts], vault: Vault) -> dict[str, bytes]:
    """Return the files that tasks made, path -> bytes; raises what kept one from it."""
    found: dict[str, bytes] = {}
    for answer in answers:
        made = _shown(heard(Documents, {"files": [], **answer}))
        found |= {f.path: vault.read(f.digest) for f in made.files}
    return found


@dataclass(frozen=True, slots=True)
class _Shown:
    """Gives the pictures of an order."""

    request: PapersRequest
    vault: Vault
    run: Run

    def line(self, made: LineAnswer, *, exploded: bool) -> bytes:
        """Return the picture of a line, its layers apart or together."""
        found = heard(LinePicture, self.run(_of_line(self.request, made, exploded=exploded)))
        return self.vault.read(_shown(found).picture)

    def sheet(self, planned: SheetAnswer) -> bytes:
        """Return the picture of a sheet."""
        found = heard(SheetDrawings, self.run(_of_sheet(self.request, planned)))
        return self.vault.read(_shown(found).on_page)


def _of_line(request: PapersRequest, made: LineAnswer, *, exploded: bool) -> PictureRequest:
    layers = tuple(layer.file for layer in made.layers)
    return PictureRequest(request.shop, request.sources, made.title, layers, exploded)


def _of_sheet(request: PapersRequest, planned: SheetAnswer) -> DrawingsRequest:
    return DrawingsRequest(request.shop, request.sources, planned.drawn_from)


def _shown(answer: _Answer | Problem) -> _Answer:
    if isinstance(answer, Problem):
        raise error_from_facts(plain(answer))
    return answer
