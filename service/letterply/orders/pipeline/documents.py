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
from letterply.orders.pipeline.drawing import drawing_paths, picture_of
from letterply.orders.pipeline.papers import outcome_of
from letterply.orders.pipeline.papers_pdf import document_paths, make_document, pictures_in
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
    """Return a document of an order that people read.

    Args:
        request: the order, as `make_papers`.
        vault: has the answers.
        catalogue: for names.
        shop: for set-ups.
        library: for names in any script.
        run: gives pictures of lines and sheets.

    """
    outcome = outcome_of(request, vault, shop)
    shown = _Shown(request, vault, run)
    data = make_document(request.path, outcome, shown, vault, catalogue, shop, library)
    return Documents((MadeFile(request.path, vault.write(data), len(data)),))


@dataclass(frozen=True, slots=True)
class Asked:
    """What makes files of an order: tasks that do not wait for each other, then those that do."""

    first: tuple[TaskRequest, ...]
    then: tuple[DocumentsRequest, ...]


def asked_of(request: PapersRequest, paths: Sequence[str], vault: Vault, shop: Shop) -> Asked:
    """Return what makes the files at these paths."""
    outcome = outcome_of(request, vault, shop)
    wanted = frozenset(paths)
    written = [path for path in document_paths(outcome) if path in wanted]
    drawn = [s for s in outcome.planned if not wanted.isdisjoint(drawing_paths(s.number))]
    first: list[TaskRequest] = []
    for path in written:
        lines, sheets = pictures_in(path, outcome)
        for made, exploded in lines:
            picture = _of_line(request, made, exploded=exploded)
            if picture not in first:
                first.append(picture)
        drawn += [sheet for sheet in sheets if sheet not in drawn]
    first += [_of_sheet(request, sheet) for sheet in drawn]
    facts = plain(request)
    return Asked(
        tuple(first),
        tuple(value_of(DocumentsRequest, {**facts, "path": path}) for path in written),
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

    def sets(self, planned: SheetAnswer) -> bytes:
        """Return the picture of the sets of cutters compared for a sheet."""
        found = heard(SheetDrawings, self.run(_of_sheet(self.request, planned)))
        return self.vault.read(_shown(found).sets_on_page)


def _of_line(request: PapersRequest, made: LineAnswer, *, exploded: bool) -> PictureRequest:
    return picture_of(request.shop, request.sources, made, exploded=exploded)


def _of_sheet(request: PapersRequest, planned: SheetAnswer) -> DrawingsRequest:
    return DrawingsRequest(request.shop, request.sources, planned.drawn_from)


def _shown(answer: _Answer | Problem) -> _Answer:
    if isinstance(answer, Problem):
        raise error_from_facts(plain(answer))
    return answer
