"""What jobs make, and how far they are, as the published description has it."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, Field

from letterply.api.schemas.base import Document, Problem

__all__ = [
    "CheckDocument",
    "FileEntry",
    "FindingEntry",
    "JobDocument",
    "JobProgress",
    "PieceDocument",
    "PlanDocument",
    "PreviewDocument",
    "ProofDocument",
    "Remedy",
    "ResultDocument",
    "ResultEntry",
    "ResultPage",
    "SizeDocument",
    "StackDocument",
    "SurveyDocument",
    "Words",
]


class FileEntry(Document):
    """One file of a result."""

    path: str = Field(examples=["layers/face.svg"])
    url: str
    media_type: str = Field(examples=["image/svg+xml"])
    size_bytes: int | None = Field(description="null for a file that is made when asked for")
    digest: str | None = Field(
        description="null for a file that is made when asked for; its ETag is the digest"
    )
    held_back: bool = Field(description="a program that has not passed its proof")


class Words(Document):
    """What a sentence is made of, to be said in another language: a template and its values."""

    text: str = Field(
        description="the words in English, values in braces, doubled braces for single ones",
        examples=["only {side} across"],
    )
    values: dict[str, Any] = Field(
        description="what stands in the braces: text and figures as they are, words again, or "
        "lists of these"
    )
    whole: bool = Field(
        False, description="it stands alone: a capital in front, a full stop at its end"
    )


_WORDS = "what the sentence is made of; null where it is the same in every language"


class Remedy(Document):
    """A way out that a program can apply."""

    action: str = Field(examples=["raise_size_to"])
    value: float | str | None = None
    unit: str = ""
    text: str
    words: Words | None = Field(None, description=_WORDS)


class FindingEntry(Document):
    """One doubt about the work."""

    number: int = Field(description="as in the picture of the findings")
    code: str = Field(examples=["neck"])
    severity: Literal["blocker", "caution", "note"]
    why: str
    words: Words | None = Field(None, description=_WORDS)
    layer: str | None = None
    part: str | None = None
    where: dict[str, Any] | None = Field(None, description="kind and points_mm, stack frame")
    measured: float | None = None
    limit: float | None = None
    unit: str = Field(examples=["mm"])
    remedies: list[Remedy]


class ResultDocument(Document):
    """What every result has."""

    id: str = Field(description="digest of the request; the same request has the same id")
    kind: Literal["stack", "check", "plan", "survey", "size", "test-piece"]
    title: str
    summary: str = Field(description="the answer in plain words")
    ready: bool = Field(description="no blocker, and proved where there is something to prove")
    counts: dict[str, int] = Field(
        description="findings a severity", examples=[{"blocker": 0, "caution": 2, "note": 1}]
    )
    findings: list[FindingEntry] = Field(description="doubts about the work, worst first")
    links: dict[str, str]
    files: list[FileEntry]


class StackDocument(ResultDocument):
    """Layers of parts, bottom to top."""

    text: str
    copies: int
    width_mm: float
    height_mm: float
    total_thickness_mm: float
    layers: list[dict[str, Any]] = Field(description="bottom first")


class PreviewDocument(Document):
    """Layers to be looked at, bottom first; nothing is checked or kept."""

    title: str
    width_mm: float
    height_mm: float
    origin_mm: list[float] = Field(
        description="lower left corner of what is drawn, in the frame of findings"
    )
    total_thickness_mm: float
    steps_per_mm: int = Field(description="`rings` are whole numbers of so many steps a mm")
    not_strengthened: list[str] = Field(
        description="names of layers whose thin strokes the recipe has strengthened and which are "
        "shown without, for the question was a `quick` one: neither these outlines nor width and "
        "height are those that will be cut"
    )
    layers: list[dict[str, Any]] = Field(
        description="name, material, colour, thickness, height and parts; `rings` of a part are x,"
        " y, x, y, ... with y up, each exterior before its holes"
    )
    svg: str = Field(description="the layers one over the other, seen from above")


class ProofDocument(Document):
    """What an independent reading of programs shows, a sheet at a time."""

    summary: str
    passed: bool = Field(description="whether every sheet's programs passed")
    sheets: list[dict[str, Any]] = Field(
        description="faults worst first, with program, line and place; parts; programs as read"
    )


class CheckDocument(ResultDocument):
    """What stands in the way, worst first."""


class SurveyDocument(ResultDocument):
    """What the glyphs of a font can bear, weakest first; `ready` is at the size asked about."""

    font: dict[str, Any] = Field(description="what the font says of itself")
    licence: dict[str, Any] = Field(description="licence and embedding, with a caution")
    terms: dict[str, Any] = Field(description="material, cutter and size")
    selection: dict[str, Any] = Field(description="what was looked at, and where it goes on")
    text: dict[str, Any] | None = Field(description="smallest size of the text")
    comparison: list[dict[str, Any]] = Field(description="fonts compared, best first")
    glyphs: list[dict[str, Any]]


class SizeDocument(ResultDocument):
    """The answer to a question of size; `ready` and the findings are of the recipe at it."""

    question: Literal["fit", "sheets", "smallest", "width"]
    answer: dict[str, Any] | None = Field(
        description="size and width, whether it holds there and what is in the way; null for none"
    )
    letters: list[dict[str, Any]] | None = Field(None, description="of `fit`, letter by letter")
    sheets: list[dict[str, Any]] | None = Field(None, description="of `sheets`, by material")
    ways: list[dict[str, Any]] | None = Field(
        None, description="of `width`: what was tried to make it hold, and whether it does"
    )
    tried: list[dict[str, Any]] | None = Field(None, description="sizes that were tried")


class PieceDocument(ResultDocument):
    """A test piece: what is read on it, and the steps of its ladder."""

    piece_kind: str
    subject: str = Field(description="what is measured")
    units: str = Field(description="in which its sheet speaks")
    proved: bool = Field(description="whether every program passed its proof")
    time_s: float = Field(description="time on the machine")
    steps: list[str] = Field(description="what to do at the bench")
    reads: list[dict[str, Any]] = Field(description="fields to fill in, and where they are read")
    rungs: list[dict[str, Any]] = Field(
        description="steps of a ladder; of feeds with the program and the chip a tooth that the "
        "proof read in it"
    )
    made_with: dict[str, float] = Field(description="figures that readings are held against")


class PlanDocument(ResultDocument):
    """Sheets, operations, programs and the verdict of their proof."""

    proved: bool = Field(description="whether every program passed its proof")
    proof_summary: str
    time_s: float = Field(description="time on the machine")
    totals: dict[str, Any]
    spacing_mm: float
    sheets: list[dict[str, Any]]
    unplaced: list[dict[str, Any]] = Field(description="parts that found no room")


class ResultEntry(Document):
    """A result in a list."""

    id: str
    kind: str
    state: Literal["queued", "running", "done", "failed"]
    created_at: str
    title: str | None = None
    summary: str | None = None
    ready: bool | None = None
    links: dict[str, str]


class ResultPage(BaseModel):
    """Part of a list of results, newest first."""

    items: list[ResultEntry]
    next: str | None = Field(description="where the list goes on")


class JobProgress(Document):
    """How far a job is."""

    phase: str = Field(
        description="`layers`, `checks`, `nesting`, `cutting` (planning of a sheet), `proof`, "
        "`survey`, `comparison`; more may come"
    )
    share: float = Field(ge=0, le=1, description="of the work, as such work usually goes")
    step: int = Field(description="sheet or font it is at, from 1; 0 where nothing is counted")
    steps: int = Field(description="how many there are")


class JobDocument(Document):
    """Where a job stands."""

    id: str
    kind: str
    state: Literal["queued", "running", "done", "failed"]
    created_at: str
    links: dict[str, str]
    progress: JobProgress | None = Field(None, description="only while it runs")
    problem: Problem | None = None
