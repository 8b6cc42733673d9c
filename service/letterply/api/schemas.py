"""The top levels of answers, for the published description of the service.

What may be asked is in `letterply.requests`; these models describe what comes back. Members that
are not named here may be added; none is taken away within `/v1`.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

__all__ = [
    "ArtworkDocument",
    "ArtworkPage",
    "CheckDocument",
    "CutterPage",
    "EstimateDocument",
    "FileEntry",
    "FontDocument",
    "FontPage",
    "JobDocument",
    "KeyDocument",
    "KeyPage",
    "KeyRequest",
    "LiveDocument",
    "MachinePage",
    "MadeOfferDocument",
    "MaterialPage",
    "NewKeyDocument",
    "OfferDocument",
    "OfferPage",
    "OrderOfferPage",
    "PlanDocument",
    "PreviewDocument",
    "Problem",
    "ProofDocument",
    "ReadyDocument",
    "ResultDocument",
    "ResultPage",
    "ShopPage",
    "SizeDocument",
    "StackDocument",
    "StockPage",
    "StoredShop",
    "SurveyDocument",
    "TemplateDocument",
    "TemplatePage",
    "UsageDocument",
]


class _Open(BaseModel):
    model_config = ConfigDict(extra="allow")


class Problem(_Open):
    """Problem details (RFC 9457)."""

    type: str = Field(examples=["/problems/unknown-unit"])
    title: str = Field(examples=["An unknown unit"])
    status: int = Field(examples=[422])
    detail: str = Field(examples=["'parsec' is no unit of length."])
    instance: str | None = Field(None, description="names this occurrence; the log has it too")
    code: str = Field(description="stable; branch on this", examples=["unknown-unit"])
    field: str | None = Field(None, examples=["recipe.layers.0.thickness"])
    expected: str | None = Field(None, description="what would be right, in words")


class KeyRequest(BaseModel):
    """A key that is to be made."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(
        min_length=1, max_length=60, description="who holds it; goes to the log", examples=["bench"]
    )
    owner: str = Field(
        pattern=r"^[a-z0-9][a-z0-9._-]{0,59}$",
        description="whose things it reaches",
        examples=["boathouse"],
    )
    scopes: list[Literal["read", "write", "metrics", "admin"]] = Field(
        ["read", "write"], min_length=1, max_length=4
    )
    expires_at: AwareDatetime | None = Field(
        None, description="from then on it opens nothing (RFC 3339)"
    )


class KeyDocument(_Open):
    """A key; its secret is not kept."""

    id: str
    name: str
    owner: str
    scopes: list[str]
    created_at: str
    expires_at: str | None
    revoked_at: str | None
    valid: bool


class NewKeyDocument(KeyDocument):
    """A key that was made just now."""

    secret: str = Field(description="shown once; send it as `Authorization: Bearer <secret>`")


class KeyPage(_Open):
    """The keys of the store."""

    items: list[KeyDocument]


class UsageDocument(_Open):
    """What an owner has, and what it may have."""

    owner: str
    counts: dict[str, int] = Field(description="kind of thing -> how many")
    stored_bytes: int
    limits: dict[str, int | None]


class LiveDocument(_Open):
    """The service runs."""

    status: Literal["live"]
    version: str
    engine_version: str


class ReadyDocument(_Open):
    """Whether the service is ready for work."""

    status: Literal["ready", "not ready"]
    checks: dict[str, bool]
    missing: list[str] = Field(description="what is missing, in words")


class FileEntry(_Open):
    """One file of a result."""

    path: str = Field(examples=["layers/face.svg"])
    url: str
    media_type: str = Field(examples=["image/svg+xml"])
    size_bytes: int | None = Field(description="null for a file that is made when asked for")
    digest: str | None = Field(
        description="null for a file that is made when asked for; its ETag is the digest"
    )
    held_back: bool = Field(description="a program that has not passed its proof")


class Remedy(_Open):
    """A way out that a program can apply."""

    action: str = Field(examples=["raise_size_to"])
    value: float | str | None = None
    unit: str = ""
    text: str


class FindingEntry(_Open):
    """One doubt about the work."""

    number: int = Field(description="as in the picture of the findings")
    code: str = Field(examples=["neck"])
    severity: Literal["blocker", "caution", "note"]
    why: str
    layer: str | None = None
    part: str | None = None
    where: dict[str, Any] | None = Field(None, description="kind and points_mm, stack frame")
    measured: float | None = None
    limit: float | None = None
    unit: str = Field(examples=["mm"])
    remedies: list[Remedy]


class ResultDocument(_Open):
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


class PreviewDocument(_Open):
    """Layers to be looked at, bottom first; nothing is checked or kept."""

    title: str
    width_mm: float
    height_mm: float
    origin_mm: list[float] = Field(
        description="lower left corner of what is drawn, in the frame of findings"
    )
    total_thickness_mm: float
    steps_per_mm: int = Field(description="`rings` are whole numbers of so many steps a mm")
    layers: list[dict[str, Any]] = Field(
        description="name, material, colour, thickness, height and parts; `rings` of a part are x,"
        " y, x, y, ... with y up, each exterior before its holes"
    )
    svg: str = Field(description="the layers one over the other, seen from above")


class ProofDocument(_Open):
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


class ResultEntry(_Open):
    """A result in a list."""

    id: str
    kind: str
    state: Literal["queued", "running", "done", "failed"]
    created_at: str
    title: str | None = None
    summary: str | None = None
    ready: bool | None = None
    links: dict[str, str]


class OrderDocument(BaseModel):
    """Where an order stands and, once it is done, what it made."""

    model_config = ConfigDict(extra="allow")

    id: str
    kind: Literal["order"]
    title: str
    state: Literal["queued", "running", "done", "failed", "cancelled"]
    phase: str
    line_count: int
    links: dict[str, str]


class EstimateDocument(_Open):
    """What an order would make, take and cost; nothing is kept of it."""

    summary: str
    title: str


class ReplyEntry(_Open):
    """What a customer said."""

    number: int
    kind: Literal["yes", "wish"]
    name: str
    text: str
    version: str = Field(description="of what was shown")
    given_at: str


class OfferDocument(_Open):
    """What a customer is shown, where that stands, what was replied."""

    id: str
    title: str
    state: Literal["open", "agreed", "ended", "withdrawn"]
    price: float
    currency: str
    replies: list[ReplyEntry]
    version: str = Field(description="of all that is shown; of one piece, that of its recipe")
    created_at: str
    ends_at: str
    withdrawn_at: str | None
    source: dict[str, str] = Field(description="`kind` and `id` of what it was made from")
    pieces: list[dict[str, Any]]
    links: dict[str, str]


class MadeOfferDocument(OfferDocument):
    """An offer that was made just now; a dry run has no link."""

    link: str = Field(description="for the customer; told this once")
    link_reaches: Literal["machine", "network"] = Field(description="who can open the link")


class OfferPage(BaseModel):
    """Part of the list of offers, newest first."""

    items: list[OfferDocument]
    next: str | None


class OrderOfferDocument(OfferDocument):
    """An offer as its order shows it."""

    current: bool = Field(description="whether the order makes all of it as it was shown")
    changed: list[str] = Field(description="titles of pieces that have changed since")


class OrderOfferPage(BaseModel):
    """The offers of an order, newest first."""

    items: list[OrderOfferDocument]


class ResultPage(BaseModel):
    """Part of a list of results, newest first."""

    items: list[ResultEntry]
    next: str | None = Field(description="where the list goes on")


class JobProgress(_Open):
    """How far a job is."""

    phase: str = Field(
        description="`layers`, `checks`, `nesting`, `cutting` (planning of a sheet), `proof`, "
        "`survey`, `comparison`; more may come"
    )
    share: float = Field(ge=0, le=1, description="of the work, as such work usually goes")
    step: int = Field(description="sheet or font it is at, from 1; 0 where nothing is counted")
    steps: int = Field(description="how many there are")


class JobDocument(_Open):
    """Where a job stands."""

    id: str
    kind: str
    state: Literal["queued", "running", "done", "failed"]
    created_at: str
    links: dict[str, str]
    progress: JobProgress | None = Field(None, description="only while it runs")
    problem: Problem | None = None


class FontDocument(_Open):
    """A font of the library."""

    key: str = Field(description="name to use in a recipe")
    family: str
    style: str
    kind: str = Field(description="what it is good for", examples=["connected script"])
    note: str = ""
    shipped: bool = Field(description="False for an own font")


class ArtworkDocument(_Open):
    """A drawing; lengths are mm at its natural size."""

    key: str = Field(description="name to use in a recipe")
    summary: str
    title: str
    ink: dict[str, Any] = Field(description="what would be cut: size, area, pieces")
    room: dict[str, Any] | None = Field(description="room for words: the element `letters`")
    left_out: list[dict[str, Any]] = Field(description="what could not be taken as drawn")
    traced: dict[str, Any] | None = Field(
        None, description="of a picture: how it was traced, and how true the outlines are"
    )


class ArtworkPage(BaseModel):
    """Part of the list of drawings."""

    items: list[ArtworkDocument]
    next: str | None


class FontPage(BaseModel):
    """Part of the list of fonts: own ones first, then those that come with the service."""

    items: list[FontDocument]
    next: str | None


class TemplateDocument(BaseModel):
    """One thing to start from; `titled` is how its title is made from the words (`{text}`)."""

    key: str
    name: str
    about: str
    titled: str
    recipe: dict[str, Any]
    links: dict[str, str]


class TemplatePage(BaseModel):
    """All templates."""

    items: list[TemplateDocument]


class MaterialPage(BaseModel):
    """All materials."""

    items: list[dict[str, Any]]


class CutterPage(BaseModel):
    """All cutters."""

    items: list[dict[str, Any]]


class MachinePage(BaseModel):
    """All machines."""

    items: list[dict[str, Any]]


class StockPage(BaseModel):
    """All stock."""

    items: list[dict[str, Any]]


class ShopEntry(_Open):
    """A shop in a list."""

    key: str = Field(description="its name", examples=["boathouse"])
    version: str = Field(description="digest of what is in it")
    default: bool = Field(description="whether requests that name no shop have it")
    links: dict[str, str]


class MeasuredDocument(_Open):
    """What readings of a test piece change in a shop."""

    summary: str
    shop: str
    version: str = Field(description="of the shop, as it is now")
    kept: bool
    piece: str
    changes: list[dict[str, Any]] = Field(
        description="old and new figure, its expanded uncertainty (k = 2), and all of it in words"
    )
    remarks: list[str]


class StoredShop(ShopEntry):
    """A shop with all that is in it."""

    title: str
    summary: str
    shop: dict[str, Any] = Field(description="as it was written")
    versions: list[dict[str, str]] = Field(description="that it has had, newest first")


class ShopPage(BaseModel):
    """Part of the list of shops."""

    items: list[ShopEntry]
    next: str | None
