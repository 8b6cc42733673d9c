"""The top levels of requests and answers, for the published description of the service.

The engine checks recipes itself, field by field, and says what is wrong with which; these models
describe. Members that are not named here may be added; none is taken away within `/v1`.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from letterply.requests import Recipe

__all__ = [
    "ArtworkDocument",
    "ArtworkPage",
    "CheckDocument",
    "CheckRequest",
    "CutterPage",
    "FileEntry",
    "FontDocument",
    "FontPage",
    "JobDocument",
    "MachinePage",
    "MaterialPage",
    "PlanDocument",
    "PlanRequest",
    "Problem",
    "ResultDocument",
    "ResultPage",
    "StackDocument",
    "StackRequest",
    "StockPage",
    "SurveyDocument",
    "SurveyRequest",
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


class Shop(_Open):
    """What to cut with and from; everything has a default."""

    machine: str | None = Field(None, description="key of a machine")
    cutters: list[str] | None = Field(None, description="keys of the cutters in the rack")
    stock: list[str | dict[str, Any]] | None = Field(
        None, description="keys of stock, or sheets described in place"
    )
    hold_down: Literal["tabs", "tape", "skin"] | None = None
    use_counters: bool = Field(
        False,
        description="lay small parts in the counters of larger ones, where these are waste; they "
        "are cut first, then the counter, then the outline",
    )


class StackRequest(_Open):
    """Have a stack built."""

    recipe: Recipe = Field(description="what to make")
    shop: Shop | None = Field(
        None, description="where it will be cut: what its machine must not or cannot do is told"
    )


class RepairWish(_Open):
    """What a repair may do beyond changes in place."""

    raise_size: bool = Field(False, description="make the lettering larger if nothing else helps")


class Use(_Open):
    """How a sign will be used; its characters are then held against the published standard."""

    raised: bool = Field(description="characters to be read by touch; otherwise by eye only")
    viewing_distance: float | str | None = Field(None, description="along the floor")
    baseline_height: float | str | None = Field(
        None, description="of the lowest baseline above the floor"
    )
    depth: float | str | None = Field(
        None, description="how far they stand out; the thickness of the top layer when left out"
    )
    border: float | str | None = Field(None, description="distance to raised borders")
    bevel: float | str = 0.0
    braille: bool = True
    separate_visual: bool = False


class Limits(_Open):
    """Limits of the checks in place of the house's own; all may be left out.

    Beside those named here: `neck_ratio`, `tip_angle_deg`, `lost`, `floor`, `overhang`.
    """

    safety_factor: float | None = None
    handling_load_n: float | None = None
    supported_load_n: float | None = None
    crumb: float | str | None = None
    webs: dict[str, Any] | None = None
    movement: dict[str, Any] | None = Field(
        None, examples=[{"elastic": True, "dampest_percent": 12}]
    )
    look_alike: dict[str, Any] | None = None
    materials: dict[str, dict[str, Any]] | None = Field(
        None, examples=[{"acrylic-cast": {"min_web": "2 mm", "min_web_factor": 0.5}}]
    )


class CheckRequest(StackRequest):
    """Have a stack built and checked, and repaired on request."""

    limits: Limits | None = None
    use: Use | None = None
    repair: bool | RepairWish | None = Field(
        None,
        description="apply the remedies of blockers where they are, check again, and answer with "
        "the repaired stack, `repaired_recipe.json` and a picture of the change",
    )


class PlanRequest(StackRequest):
    """Have a stack built, checked, nested, planned and proved."""

    limits: Limits | None = None
    use: Use | None = None


class SurveyRequest(_Open):
    """Have the glyphs of a font looked at: a set, a text or some characters."""

    font: str = Field(description="key of a font", examples=["playfair-display"])
    axes: dict[str, float] | None = Field(None, description="variable axis tag -> value")
    set: Literal["digits", "latin-basic", "latin-extended", "all"] | None = Field(
        None, description="latin-basic when nothing is named; all is every glyph, page by page"
    )
    text: str | None = Field(None, description="words, sized as set, and their glyphs")
    characters: str | None = Field(None, description="characters, each on its own")
    first: int = Field(0, ge=0, description="how many glyphs to leave out at the start")
    count: int = Field(500, ge=1, le=2000, description="how many to look at, at most")
    compare: list[str] | None = Field(None, description="other fonts to compare for the text")
    material: str = Field("acrylic-cast", description="key of a material")
    thickness: float | str = Field(3.0, examples=["3 mm"])
    cutters: list[str] | None = Field(
        None, description="keys of cutters; the smallest that reaches through counts"
    )
    supported: bool = Field(False, description="glued flat onto a layer below")
    cap_height: float | str = Field(
        50.0, description="size at which closing counters and blockers are told"
    )
    largest: float | str = Field(500.0, description="cap heights above are not looked at")
    limits: Limits | None = None


class FileEntry(_Open):
    """One file of a result."""

    path: str = Field(examples=["layers/face.svg"])
    url: str
    media_type: str = Field(examples=["image/svg+xml"])
    size_bytes: int
    digest: str
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
    kind: Literal["stack", "check", "plan", "survey"]
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


class ResultPage(BaseModel):
    """Part of a list of results, newest first."""

    items: list[ResultEntry]
    next: str | None = Field(description="where the list goes on")


class JobDocument(_Open):
    """Where a job stands."""

    id: str
    kind: str
    state: Literal["queued", "running", "done", "failed"]
    created_at: str
    links: dict[str, str]
    problem: Problem | None = None


class FontDocument(_Open):
    """A font on the shelf."""

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


class ArtworkPage(BaseModel):
    """Part of the list of drawings."""

    items: list[ArtworkDocument]
    next: str | None


class FontPage(BaseModel):
    """Part of the list of fonts: own ones first, then those that come with the service."""

    items: list[FontDocument]
    next: str | None


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
