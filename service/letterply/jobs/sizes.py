"""Questions of size as jobs: a request in, the files of its answer out.

Beside the answer there are the layers and findings at it, and the recipe that has it, to go on
with: `sized_recipe.json`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from letterply.errors import InputError, LetterplyError
from letterply.exports import BoxedLetter, Document, findings_document, stack_document, to_json
from letterply.findings import Finding
from letterply.jobs.files import Answer, later_paths, packed
from letterply.jobs.headline import DOCUMENTS, headline_of
from letterply.jobs.plans import nest_stack
from letterply.jobs.repairs import repair_until_clear
from letterply.jobs.sizing import LEAST_MM, TOO_LARGE, Desk, LetterSize, Sized, SizedLetters
from letterply.names import sentence
from letterply.requests import Recipe, SizeRequest, SizeSpec
from letterply.stacks import Stack
from letterply.storage import Finished
from letterply.units import counted, format_mm, format_sides, listed
from letterply.workers import tell

__all__ = ["run_sizes"]

Gaps = Callable[[Stack], Mapping[str, float]]
_Told = tuple[Document, Recipe]
"""What is answered, and the recipe that it comes to."""
_Boxed = tuple[BoxedLetter, ...]


def run_sizes(asked: SizeRequest, normal: Mapping[str, Any], desk: Desk, gaps: Gaps) -> Finished:
    """Return what a question of size comes to. Same request, same bytes.

    Args:
        asked: the question.
        normal: the same in its normal form.
        desk: what it is worked out with.
        gaps: tells for each layer the diameter of the smallest cutter that goes through.

    Raises:
        LetterplyError: the request cannot be met; names the field.

    """
    _tell(0.0)
    box: tuple[float, float] = (0.0, 0.0)
    letters: _Boxed = ()
    if asked.fit is not None:
        box = (asked.fit.width, asked.fit.height)
        (document, recipe), letters = _fitting(desk, box, each=asked.each)
    elif asked.sheets is not None:
        document, recipe = _on_sheets(desk, asked.sheets)
    elif asked.smallest:
        document, recipe = _smallest(desk)
    else:
        assert asked.width is not None
        document, recipe = _as_wide(desk, asked.width, gaps)
    stack = desk.build(recipe)
    findings = desk.check(recipe, stack)
    files = {
        "request.json": to_json(dict(normal)),
        "size.json": to_json({"question": asked.question, **document}),
        "findings.json": to_json(findings_document(findings)),
        "stack.json": to_json(stack_document(stack, desk.catalogue)),
        "sized_recipe.json": to_json(recipe.model_dump(mode="json", exclude_defaults=True)),
    }
    units = desk.shop.units
    answer = Answer(stack, findings, desk.catalogue, units=units, letters=letters, box_mm=box)
    headline = headline_of("size", normal, files)
    return Finished(DOCUMENTS["size"], files, headline, later_paths(answer), packed(answer))


def _tell(share: float) -> None:
    tell("sizes", min(share, 1.0))


def _mm(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _facts(desk: Desk, cap_height_mm: float | None) -> Document:
    """Return the answer, by itself and as the width of the lettering."""
    width = None if cap_height_mm is None else desk.width_at(cap_height_mm)
    return {"cap_height_mm": _mm(cap_height_mm), "width_mm": _mm(width)}


def _told(grave: tuple[Finding, ...]) -> Document:
    """Return whether it holds, and the gravest of what is in the way."""
    why = sentence(grave[0].why) if grave else ""
    return {"holds": not grave, "why": why}


def _grave(desk: Desk, recipe: Recipe, stack: Stack) -> tuple[Finding, ...]:
    """Return what is in the way of a recipe, the gravest first."""
    return desk.in_the_way(stack, desk.check(recipe, stack))


def _fitting(desk: Desk, box: tuple[float, float], *, each: bool) -> tuple[_Told, _Boxed]:
    found = desk.in_box(box, _tell, each=each)
    alike = found.alike_mm
    recipe = desk.recipe if alike is None else desk.at(alike)
    grave = _grave(desk, recipe, desk.build(recipe))
    said = f"in a box of {format_sides(*box, times='×')}"
    lost = [letter.text for letter in found.letters if letter.cap_height_mm is None]
    if lost:
        summary = f"{listed(lost)} do not fit {said} at any size." if len(lost) > 1 else (
            f"{lost[0]} does not fit {said} at any size."
        )  # fmt: skip
    elif each:
        summary = _each_words(found, said)
    else:
        assert alike is not None
        widest = min(found.letters, key=lambda x: x.cap_height_mm or 0.0)
        summary = (
            f"With capitals of {format_mm(alike)} every letter fits {said}: {widest.text} fills it."
            f"{_holding_words(grave)}"
        )
    document: Document = {
        "summary": summary,
        "answer": None if alike is None else _facts(desk, alike) | _told(grave),
        "each": each,
        "letters": [_letter(letter, checked=each) for letter in found.letters],
    }
    shown = tuple(_boxed(desk, letter, None if each else alike) for letter in found.letters)
    return (document, recipe), shown


def _boxed(desk: Desk, letter: LetterSize, alike_mm: float | None) -> BoxedLetter:
    """Return a letter as it is shown in its box: at its own size, or as all of them are."""
    size, stack, holds = letter.cap_height_mm, letter.stack, None
    if alike_mm is not None:
        size, stack = alike_mm, desk.build(desk.at(alike_mm, letter.text))
    elif size is not None:
        holds = not letter.in_the_way
    layers = () if stack is None else tuple((la.material, la.region) for la in stack.layers)
    return BoxedLetter(letter.text, size, layers, holds)


def _each_words(found: SizedLetters, said: str) -> str:
    sizes = [x.cap_height_mm for x in found.letters if x.cap_height_mm is not None]
    small, large = format_mm(min(sizes)), format_mm(max(sizes))
    range_ = f"of {small}" if small == large else f"from {small} to {large}"
    weak = [x.text for x in found.letters if x.in_the_way]
    held = " All of them hold." if not weak else f" As they are, {listed(weak)} cannot be cut."
    words = f"Each letter as large as it may be {said}: capitals {range_}, letter by letter."
    return f"{words}{held}"


def _letter(letter: LetterSize, *, checked: bool) -> Document:
    return {
        "text": letter.text,
        "cap_height_mm": _mm(letter.cap_height_mm),
        "told": "-" if letter.cap_height_mm is None else format_mm(letter.cap_height_mm),
        "width_mm": _mm(letter.width_mm),
        "height_mm": _mm(letter.height_mm),
        **(_told(letter.in_the_way) if checked and letter.cap_height_mm is not None else {}),
    }


def _holding_words(grave: tuple[Finding, ...]) -> str:
    return f" But: {sentence(grave[0].why)}" if grave else " It holds at that size."


def _on_sheets(desk: Desk, count: int) -> _Told:
    found = desk.on_sheets(count, _tell)
    size = found.cap_height_mm
    recipe = desk.recipe if size is None else desk.at(size)
    sheets = counted(count, "sheet")
    each = " of each material" if len({la.material for la in recipe.layers}) > 1 else ""
    document: Document = {"answer": None, "tried": _tried(found), "sheets": []}
    if size is None:
        document["summary"] = f"It goes onto {sheets}{each} at no size."
        return document, recipe
    stack = desk.build(recipe)
    grave = _grave(desk, recipe, stack)
    nesting = nest_stack(stack, desk.shop, desk.catalogue)
    used = Counter((s.stock.material, s.stock.thickness_mm) for s in nesting.sheets)
    facts = _facts(desk, size)
    copies = f" all {desk.recipe.copies} copies" if desk.recipe.copies > 1 else " all of it"
    document |= {
        "summary": f"With capitals of {format_mm(size)}, {format_mm(facts['width_mm'])} wide, "
        f"{copies.strip()} goes onto {sheets}{each}; a little larger does not.".replace(
            "copies goes", "copies go"
        )
        + _holding_words(grave),
        "answer": facts | _told(grave),
        "sheets": [
            {"material": material, "thickness_mm": thickness, "sheets": n}
            for (material, thickness), n in sorted(used.items())
        ],
    }
    return document, recipe


def _tried(found: Sized) -> list[Document]:
    return [{"cap_height_mm": size, "yes": yes} for size, yes in found.tried]


def _smallest(desk: Desk) -> _Told:
    found = desk.smallest(_tell)
    size = found.cap_height_mm
    always = [f.why for f in found.at_any_size]
    document: Document = {
        "answer": None,
        "tried": _tried(found),
        "at_any_size": [sentence(why) for why in always],
    }
    if size is None:
        most = max((s for s, _ in found.tried), default=0.0)
        document["summary"] = f"It holds at no size up to capitals of {format_mm(most)}."
        return document, desk.recipe
    recipe = desk.at(size)
    stack = desk.build(recipe)
    grave = _grave(desk, recipe, stack)
    facts = _facts(desk, size)
    layers = "every layer holds" if len(stack.layers) > 1 else "it holds"
    summary = (
        f"From capitals of {format_mm(size)} on, {format_mm(facts['width_mm'])} wide, {layers}."
    )
    large = [f for f in grave if f.code in TOO_LARGE]
    if size <= LEAST_MM and not always:
        summary = f"It holds at any size that is looked at, from capitals of {format_mm(size)} on."
    elif always:
        summary = (
            f"As it is, it cannot be cut at any size: {always[0]}. But for that, f{summary[1:]}"
        )
    elif large:
        summary += f" But it is too large then: {sentence(large[0].why)}"
    fails = max((s for s, yes in found.tried if s < size and not yes), default=None)
    document |= {
        "summary": summary,
        "answer": facts | _told(grave) | {"fails_at_mm": fails},
    }
    return document, recipe


def _as_wide(desk: Desk, width_mm: float, gaps: Gaps) -> _Told:
    recipe = desk.sized(SizeSpec(width=width_mm))
    try:
        stack = desk.build(recipe)
    except InputError as exc:
        if (exc.field or "").startswith("recipe.lettering.size"):
            exc.field = "width"
        raise
    checked = desk.check(recipe, stack)
    grave = desk.in_the_way(stack, checked)
    size = replace(desk, recipe=recipe).own_size()
    answer: Document = {"cap_height_mm": _mm(size), "width_mm": _mm(width_mm)} | _told(grave)
    said = f"{format_mm(width_mm)} wide, with capitals of {format_mm(size)},"
    document: Document = {"answer": answer, "ways": [], "advice": []}
    if not grave:
        document["summary"] = f"{said} it holds."
        return document, recipe
    ways = [*_by_repair(desk, recipe, stack, checked, gaps), *_by_size(desk)]
    document["ways"] = ways
    best = (f.remedies[0].text for f in grave if f.remedies)
    document["advice"] = list(dict.fromkeys(best))
    helps = [w["text"] for w in ways if w["holds"]]
    outcome = f"It would hold {listed(helps, 'or')}." if helps else "Nothing tried makes it hold."
    document["summary"] = f"{said} it does not hold: {sentence(grave[0].why)} {outcome}"
    return document, recipe


def _by_repair(
    desk: Desk,
    recipe: Recipe,
    stack: Stack,
    findings: tuple[Finding, ...],
    gaps: Gaps,
) -> list[Document]:
    """Return what repair in place comes to, at the width that is asked for."""
    done = repair_until_clear(
        recipe, stack, findings, build=desk.build, check=desk.check, gaps_mm=gaps(stack)
    )
    changes = [a.text for r in done.rounds if r.kept for a in r.applied]
    if not changes:
        return []
    holds = not desk.in_the_way(done.stack, done.findings)
    text = f"with {counted(len(changes), 'change')} of the recipe ({'; '.join(changes)})"
    return [{"way": "repair", "text": text, "holds": holds, "recipe": done.recipe}]


def _by_size(desk: Desk) -> list[Document]:
    """Return the least width at which it holds."""
    try:
        found = desk.smallest(_tell)
    except LetterplyError:
        return []
    size = found.cap_height_mm
    if size is None:
        return []
    recipe = desk.at(size)
    holds = not _grave(desk, recipe, desk.build(recipe))
    width = desk.width_at(size)
    text = f"from {format_mm(width)} wide on, with capitals of {format_mm(size)}"
    way: Document = {"way": "size", "text": text, "holds": holds}
    return [way | {"cap_height_mm": _mm(size), "width_mm": _mm(width)}]
