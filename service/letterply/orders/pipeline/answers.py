"""What the tasks of an order answer, as values, and how the vault keeps it.

An answer is what was made, or the *problem* with it: what cannot be met is an answer too. Names of
files are digests in the vault. What a task of a pool or a load answers is `Laid`
(`letterply.orders.pipeline.layouts`).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeVar

from letterply.errors import LetterplyError
from letterply.exports import Document
from letterply.orders.codec import Facts, plain, value_of
from letterply.orders.pipeline.layouts import StockFacts
from letterply.sheets import WorkZero
from letterply.stacks import Fixture
from letterply.storage import FAULTS, facts_of_error

__all__ = [
    "BlankAnswer",
    "Blockers",
    "Documents",
    "FindingCounts",
    "Findings",
    "Headline",
    "LayerAnswer",
    "LineAnswer",
    "LineFindings",
    "LineLayers",
    "LinePicture",
    "MadeFile",
    "Manifest",
    "PartAnswer",
    "PlannedSheet",
    "Problem",
    "Program",
    "SheetAnswer",
    "SheetDrawings",
    "StackLayer",
    "ToldFinding",
    "Totals",
    "heard",
    "kept",
    "problem_in",
    "told_findings",
]

_MOST_TOLD = 20

_Answer = TypeVar("_Answer")


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a task has nothing to show: the facts of the error.

    Attributes:
        error: name of its class.
        message: one sentence for a person.
        code: stable name of the kind of error.
        field: what it is about, or None.
        expected: what would be right, or None.
        data: further facts.

    """

    error: str
    message: str
    code: str
    field: str | None
    expected: str | None
    data: Facts

    @classmethod
    def of(cls, error: LetterplyError) -> Problem:
        """Return the problem that an error tells of."""
        return cls(**facts_of_error(error))

    @property
    def is_fault(self) -> bool:
        """Whether it is a fault of the service, so that the task may be asked for again."""
        return self.code in FAULTS


def kept(answer: object) -> Facts:
    """Return an answer as the vault keeps it."""
    if isinstance(answer, Problem):
        return {"ok": False, "problem": plain(answer)}
    return {"ok": True, **plain(answer)}


def heard(kind: type[_Answer], facts: Facts) -> _Answer | Problem:
    """Return the answer of this kind that `kept` described, or the problem with it."""
    return problem_in(facts) or value_of(kind, facts)


def problem_in(facts: Facts) -> Problem | None:
    """Return the problem that an answer tells of, as it is kept; None for what was made."""
    return None if facts["ok"] else value_of(Problem, facts["problem"])


@dataclass(frozen=True, slots=True)
class MadeFile:
    """A file in the vault: its path among the files of the order, its digest, its bytes."""

    path: str
    digest: str
    size: int


@dataclass(frozen=True, slots=True)
class ToldFinding:
    """A finding, as papers tell it."""

    code: str
    severity: str
    layer: str | None
    part: str | None
    why: str


@dataclass(frozen=True, slots=True)
class FindingCounts:
    """How many findings there are of each severity."""

    blocker: int
    caution: int
    note: int


@dataclass(frozen=True, slots=True)
class Findings:
    """How many findings there are, and the first of those that are more than notes."""

    counts: FindingCounts
    told: tuple[ToldFinding, ...]


@dataclass(frozen=True, slots=True)
class LineFindings(Findings):
    """Findings of a line, with what they come to in a sentence."""

    summary: str


def told_findings(document: Document) -> Findings:
    """Return what is told of the findings in a document of theirs."""
    worse = [f for f in document["findings"] if f["severity"] != "note"]
    return value_of(Findings, {"counts": document["counts"], "told": worse[:_MOST_TOLD]})


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """One part of a layer.

    Attributes:
        name: `letter.layer`, unique in the stack.
        key: digest of the part itself: parts with the same one are alike.
        letters: what it carries.
        area_mm2: of its outline.
        size_mm: width and height of the box round it.

    """

    name: str
    key: str
    letters: str
    area_mm2: float
    size_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class LayerAnswer:
    """A layer, a frame or a board; its parts are in `file`, their hidden faces in `hidden`."""

    name: str
    material: str
    thickness_mm: float
    from_back: bool
    file: str
    hidden: str
    parts: tuple[PartAnswer, ...]


@dataclass(frozen=True, slots=True)
class BlankAnswer:
    """How blanks of a layer are held.

    Attributes:
        kind: blanks of one kind fit the same fixture, whatever is worked into them.
        fixture: how they lie in it.
        price: of one blank.
        board: the fixture as a layer that is cut; None where the maker holds them by other means.

    """

    kind: str
    fixture: Fixture
    price: float
    board: LayerAnswer | None


@dataclass(frozen=True, slots=True)
class StackLayer(LayerAnswer):
    """A layer of the stack; `blank` is None for one that is cut from stock."""

    blank: BlankAnswer | None

    @classmethod
    def of(cls, layer: LayerAnswer, blank: BlankAnswer | None) -> StackLayer:
        """Return a layer with how its blanks are held."""
        return cls(**{f.name: getattr(layer, f.name) for f in fields(layer)}, blank=blank)


@dataclass(frozen=True, slots=True)
class LineLayers:
    """What a line is made of: layers of its stack, and the frames that help to glue them up."""

    layers: tuple[StackLayer, ...]
    helpers: tuple[LayerAnswer, ...]

    @property
    def part_count(self) -> int:
        """How many parts a copy has, without what helps to make it."""
        return sum(len(layer.parts) for layer in self.layers)


@dataclass(frozen=True, slots=True)
class LineAnswer(LineLayers):
    """A line that was made."""

    title: str
    size_mm: tuple[float, float, float]
    findings: LineFindings


@dataclass(frozen=True, slots=True)
class LinePicture:
    """What a line looks like."""

    picture: str


@dataclass(frozen=True, slots=True)
class Program:
    """A program of a sheet: its file, names of its cutters, its time."""

    name: str
    cutters: tuple[str, ...]
    time_s: float


@dataclass(frozen=True, slots=True)
class PlannedSheet:
    """What a plan takes, of which a quote is made.

    Attributes:
        number: of the sheet.
        stock: the sheet it is.
        from_back: whether its parts are cut from their backs.
        of_blanks: whether it is a load of blanks.
        fixture: what holds them on paper.
        runs: how often its programs are run.
        marks: of all parts, those of later runs among them.
        part_area_mm2: of all parts, all runs together.
        time_s: of all programs and runs, changes of cutters included, and
        changes_s: of those changes.
        programs: in the order in which they are run.

    """

    number: int
    stock: StockFacts
    from_back: bool
    of_blanks: bool
    fixture: str
    runs: int
    marks: tuple[str, ...]
    part_area_mm2: float
    time_s: float
    changes_s: int | float  # whole where the machine's own figure is: documents show it so
    programs: tuple[Program, ...]


@dataclass(frozen=True, slots=True)
class ComparedSet:
    """A set of cutters that was compared for one kind of work on a sheet.

    Attributes:
        work: `outlines`, `floors` or `grooves`.
        cutters: their names, the largest first.
        time_s: about how long they take, with a change to each.
        left_area_mm2, left_round_mm: what stays, and how far from what is reached at most.
        flat_area_mm2: how much of the grooves has a flat floor.
        depth_mm: how deep grooves get; None for other work.
        chosen: whether the plan cuts with this one.

    """

    work: str
    cutters: tuple[str, ...]
    time_s: float
    left_area_mm2: float
    left_round_mm: float
    flat_area_mm2: float
    depth_mm: float | None
    chosen: bool


@dataclass(frozen=True, slots=True)
class SheetAnswer(PlannedSheet):
    """A sheet that was planned and proved.

    Attributes:
        zero: where x, y and z of its programs are nought.
        scribed: marks that are scribed on their parts.
        used_share: area of parts over area of stock, 0 to 1.
        tabs: how many there are.
        passed: whether its proof passed, and
        proof: what it says.
        findings: doubts about the plan.
        cautions: what to mind at the machine.
        drawn_from: what its drawings are made from.
        files: its plan and programs.
        compared: sets of cutters, where there was a choice.
        measured: which figures that the shop has measured count on it.

    """

    zero: WorkZero
    scribed: tuple[str, ...]
    used_share: float
    tabs: int
    passed: bool
    proof: str
    findings: Findings
    cautions: tuple[str, ...]
    drawn_from: str
    files: tuple[MadeFile, ...]
    compared: tuple[ComparedSet, ...] = ()
    measured: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetDrawings:
    """Drawings and pictures of a sheet.

    Attributes:
        on_page: its picture for papers, and
        sets_on_page: that of the sets of cutters compared; empty where there was no choice.
        files: all others.

    """

    on_page: str
    files: tuple[MadeFile, ...]
    sets_on_page: str = ""


@dataclass(frozen=True, slots=True)
class Documents:
    """The papers of an order that people read."""

    files: tuple[MadeFile, ...]


@dataclass(frozen=True, slots=True)
class Totals:
    """How much of everything there is in an order."""

    lines: int
    failed_lines: int
    copies: int
    parts: int
    unplaced: int
    sheets: int
    programs: int


@dataclass(frozen=True, slots=True)
class Blockers:
    """How many blockers the checks name."""

    blocker: int


@dataclass(frozen=True, slots=True)
class Headline:
    """What is told first of an order, and in lists."""

    title: str
    summary: str
    ready: bool
    proved: bool
    time_s: float
    counts: Blockers
    totals: Totals


@dataclass(frozen=True, slots=True)
class Manifest:
    """All files of an order.

    Attributes:
        document: path of the document that tells of it.
        headline: the first of it.
        layout: digest of where its parts lie.
        files: by path.
        later: paths of the files that are made when somebody asks for them.
        drawn_from: digest of what those are made from.

    """

    document: str
    headline: Headline
    layout: str
    files: tuple[MadeFile, ...]
    later: tuple[str, ...]
    drawn_from: str
