"""Files of an answer: pictures and drawings, made from what was kept when somebody asks.

In: an `Answer`, what a job found out, as values. Out: files by path. An answer is complete
without them: they show the same again. They come in groups that share work, as a picture as SVG
and as PNG; asking for one makes its group.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from letterply.catalogue import Catalogue, Cutter
from letterply.cutting import CutPlan
from letterply.exports import (
    RESULT_PX,
    TABLE_PX,
    BoxedLetter,
    carved_svg,
    cutter_sets_picture,
    difference_svg,
    film,
    findings_picture,
    is_worth_showing,
    layer_dxf,
    layer_svg,
    letters_picture,
    piece_pdf,
    piece_picture,
    png_within,
    proof_svg,
    repair_picture,
    sheet_dxf,
    sheet_svg,
    side_by_side,
    stack_picture,
    uncut_picture,
)
from letterply.findings import Finding, Severity
from letterply.jobs.packing import Runs, pack, unpack
from letterply.names import device_free
from letterply.pieces import Piece
from letterply.proof import SheetProof
from letterply.stacks import Layer, Stack
from letterply.units import speaking

__all__ = [
    "FILMS",
    "Answer",
    "SurveyAnswer",
    "later_paths",
    "make_files",
    "packed",
    "shown_plan",
]

FILMS = "films"
"""Folder of what is there to be played by a page, and of no use to anybody else."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a stack, check or plan found out, as far as files show it.

    Attributes:
        stack: the layers.
        findings: all doubts, worst first.
        catalogue: the materials of stack and sheets.
        cutters: name of a layer -> cutters that go through it; only of a check.
        plans: a plan a sheet, without paths and texts; only of a plan.
        proofs: a proof a sheet.
        units: in which its files speak.
        piece: what is read on it; only of a test piece.
        letters: in boxes of `box_mm`; only where it was asked how large letters may be in them.

    """

    stack: Stack
    findings: tuple[Finding, ...]
    catalogue: Catalogue
    cutters: Mapping[str, tuple[Cutter, ...]] | None = None
    plans: tuple[CutPlan, ...] = ()
    proofs: tuple[SheetProof, ...] = ()
    units: str = "mm"
    piece: Piece | None = None
    letters: tuple[BoxedLetter, ...] = ()
    box_mm: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class SurveyAnswer:
    """The picture of a survey as SVG: its values hold fonts, which are not stored."""

    picture: str


@dataclass(frozen=True, slots=True)
class _Group:
    """Files that are made together.

    Attributes:
        paths: of the files.
        make: returns their bytes, in this order.

    """

    paths: tuple[str, ...]
    make: Callable[[], tuple[bytes, ...]]


def packed(answer: Answer | SurveyAnswer, runs: Runs | None = None) -> bytes:
    """Return an answer as it is stored, without what no file shows; `runs` as of `pack`."""
    if isinstance(answer, Answer):
        shown = {la.material for la in (*answer.stack.layers, *answer.stack.fixtures)}
        materials = {k: m for k, m in answer.catalogue.materials.items() if k in shown}
        plans = tuple(shown_plan(p) for p in answer.plans)
        answer = replace(answer, catalogue=Catalogue(materials, {}, {}, {}), plans=plans)
    return pack(answer, runs)


def shown_plan(plan: CutPlan) -> CutPlan:
    """Return a plan without what no drawing shows: paths and the words of programs."""
    bare = tuple(replace(o, paths=()) for o in plan.operations)
    named = tuple(replace(p, text="") for p in plan.programs)
    return replace(plan, operations=bare, programs=named)


def later_paths(answer: Answer | SurveyAnswer) -> tuple[str, ...]:
    """Return the paths of the files that an answer can be shown by, sorted."""
    return tuple(sorted(path for group in _groups(answer) for path in group.paths))


def make_files(stored: bytes, paths: Sequence[str]) -> dict[str, bytes]:
    """Return the files at these paths, and those that are made together with them.

    Same answer, same bytes.

    Raises:
        LetterplyError: `answer-outdated`.

    """
    found: dict[str, bytes] = {}
    answer = _answer(stored)
    with speaking(answer.units if isinstance(answer, Answer) else "mm"):
        for group in _groups(answer):
            if not set(paths).isdisjoint(group.paths):
                found.update(zip(group.paths, group.make(), strict=True))
    return found


@lru_cache(maxsize=1)
def _answer(stored: bytes) -> Answer | SurveyAnswer:
    """Return the answer last read again: one group of its files is asked for after the other."""
    found: Answer | SurveyAnswer = unpack(stored)
    return found


def _groups(answer: Answer | SurveyAnswer) -> Iterator[_Group]:
    if isinstance(answer, SurveyAnswer):
        picture = answer.picture
        yield _picture("survey", lambda: picture, TABLE_PX)
        return
    stack, catalogue, cutters = answer.stack, answer.catalogue, answer.cutters
    piece = answer.piece
    if piece is not None:
        yield _picture("piece", partial(piece_picture, piece, stack))
        yield _Group(("piece.pdf",), lambda: (_piece_paper(piece, answer),))
    if answer.letters:
        boxed = partial(letters_picture, stack.title, answer.letters, answer.box_mm, catalogue)
        yield _picture("letters", boxed, TABLE_PX)
    yield _picture("stack", lambda: stack_picture(stack, catalogue, exploded=False))
    yield _Group(("exploded.png",), lambda: (_png(stack_picture(stack, catalogue, exploded=True)),))
    yield _picture("findings", lambda: findings_picture(stack, answer.findings))
    if any(_is_worth_showing(layer) for layer in stack.layers):
        yield _picture("repair", lambda: repair_picture(stack))
    if cutters is not None:
        yield _picture("cutters", lambda: uncut_picture(stack, cutters))
    yield from _layer_drawings(answer)
    yield from _sheet_groups(answer)


def _piece_paper(piece: Piece, answer: Answer) -> bytes:
    """Return the sheet to write on; what is the matter stands on it."""
    worst = [f.why for f in answer.findings if f.severity is Severity.BLOCKER]
    return piece_pdf(piece, answer.stack, answer.plans, answer.proofs, worst)


def _picture(name: str, draw: Callable[[], str], largest_px: int = RESULT_PX) -> _Group:
    def make() -> tuple[bytes, ...]:
        drawn = draw()
        return drawn.encode(), png_within(drawn, largest_px)

    return _Group((f"{name}.svg", f"{name}.png"), make)


def _png(drawn: str) -> bytes:
    return png_within(drawn, RESULT_PX)


def _is_worth_showing(layer: Layer) -> bool:
    """Whether a layer was changed by more than softer corners."""
    return layer.repair is not None and any(r.kind != "soften" for r in layer.repair.places)


def _layer_drawings(answer: Answer) -> Iterator[_Group]:
    """Yield a group a layer; none of a layer that must not be cut on this machine."""
    refused = {f.layer for f in answer.findings if f.code == "refused"}
    # A fixture has a frame of its own: it is drawn as a stack by itself.
    stack = answer.stack
    alone = [replace(stack, layers=(fixture,), fixtures=()) for fixture in stack.fixtures]
    for whole in (stack, *alone):
        for layer in whole.layers:
            if layer.name in refused:
                continue
            # A layer may be called con, which is a device to one common system.
            stem = f"layers/{device_free(layer.name)}"

            def make(layer: Layer = layer, whole: Stack = whole) -> tuple[bytes, ...]:
                return layer_svg(layer, whole), layer_dxf(layer, whole)

            yield _Group((f"{stem}.svg", f"{stem}.dxf"), make)


def _sheet_groups(answer: Answer) -> Iterator[_Group]:
    """Yield drawings and proofs of each sheet, and the proofs of all of them side by side."""
    pairs = tuple(zip(answer.plans, answer.proofs, strict=True))
    for plan, proof in pairs:
        stem = f"sheet-{plan.sheet.number}"

        def draw(plan: CutPlan = plan) -> tuple[bytes, ...]:
            return sheet_svg(plan.sheet, plan), sheet_dxf(plan.sheet, plan)

        def show(plan: CutPlan = plan, proof: SheetProof = proof) -> tuple[bytes, ...]:
            colour = answer.catalogue.material(plan.sheet.stock.material).colour
            return (
                _png(proof_svg(proof, plan.sheet, size_px=RESULT_PX)),
                _png(carved_svg(proof, colour, size_px=RESULT_PX)),
                _png(difference_svg(proof, size_px=RESULT_PX)),
            )

        def play(plan: CutPlan = plan, proof: SheetProof = proof) -> tuple[bytes, ...]:
            return (film(proof, plan),)

        yield _Group((f"{FILMS}/{stem}.bin",), play)
        yield _Group((f"sheets/{stem}.svg", f"sheets/{stem}.dxf"), draw)
        several = [choice for choice in plan.choices if len(choice.sets) > 1]
        sets = (one for choice in several for one in choice.sets)
        if is_worth_showing((one.left_area_mm2, one.flat_area_mm2) for one in sets):
            yield _picture(f"sheets/{stem}-cutters", partial(cutter_sets_picture, plan))
        yield _Group(
            (f"proofs/{stem}.png", f"proofs/{stem}-carved.png", f"proofs/{stem}-difference.png"),
            show,
        )

    def together() -> tuple[bytes, ...]:
        drawn = [proof_svg(proof, plan.sheet, size_px=RESULT_PX) for plan, proof in pairs]
        return (_png(drawn[0] if len(drawn) == 1 else side_by_side(drawn)),)

    if pairs:
        yield _Group(("proof.png",), together)
