"""Questions of size: a recipe and what is asked in, sizes that were tried out. Values only.

Extents grow with the size by a straight line (letters do, what a layer adds stays), so the largest
letter in a box is worked out of two builds and looked at in a third. Where the least size at which
a layer holds lies, the checks say themselves: by how much the lettering has to grow. From there on
sizes are halved (`letterply.jobs.solving`). Whatever is answered was built and asked of the very
checks, or the very nesting, that a plan is made by. Lengths are mm; a size is the height of the
capitals.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from letterply.catalogue import Catalogue, Shop
from letterply.errors import InputError, LetterplyError
from letterply.findings import Finding, RemedyAction, Severity
from letterply.jobs.plans import nest_stack
from letterply.jobs.solving import Tried, largest_where, smallest_where
from letterply.lettering import FontLibrary
from letterply.requests import LetteringRecipe, Recipe, SizeSpec
from letterply.shapes import DEFAULT_TOLERANCES
from letterply.stacks import Stack, measure_recipe_lettering, set_recipe_lettering

__all__ = ["TOO_LARGE", "Desk", "LetterSize", "Sized", "SizedLetters"]

STEP_MM = 0.1
"""Answers are told to this: smallest ones rounded up, largest ones down."""

LEAST_MM, MOST_MM = 2.0, 1500.0
"""Capitals below and above are not looked at."""

MOST_LETTERS = 80
"""Different letters of one question: each is built several times."""

_ALIKE_MM = 0.005
"""What fits into a box by less fits: flattening of curves."""

_BY_SIZE = frozenset((
    "align", "artwork-outside-layer", "artwork-without-room", "baseline-too-short",
    "blank-too-small", "hole-outside-layer", "inlay-too-fine", "join", "lettering-outside-layer",
    "nothing-to-cut", "outline-out-of-reach", "outline-vanishes", "outside-safe-area",
    "plate-in-pieces", "plate-too-small", "room-too-small", "text-too-long",
))  # fmt: skip
"""Codes of errors by which a recipe cannot be made at one size and can at another."""

TOO_LARGE = frozenset(("movement", "room", "unplaced"))
"""Codes of findings that a larger size does not take away but brings."""


@dataclass(frozen=True, slots=True)
class LetterSize:
    """A letter at the largest size that fits.

    Attributes:
        text: the letter.
        cap_height_mm: its size; None where it does not fit at any size.
        width_mm, height_mm: of all its layers at that size.
        in_the_way: what keeps it from holding at that size, where that was asked.
        stack: its layers at that size.

    """

    text: str
    cap_height_mm: float | None
    width_mm: float = 0.0
    height_mm: float = 0.0
    in_the_way: tuple[Finding, ...] = ()
    stack: Stack | None = None


@dataclass(frozen=True, slots=True)
class SizedLetters:
    """Letters in a box: each at its own size; all alike are as large as the smallest of them."""

    letters: tuple[LetterSize, ...]

    @property
    def alike_mm(self) -> float | None:
        """The size at which all of them fit; None where one does not fit at any."""
        sizes = [letter.cap_height_mm for letter in self.letters]
        known = [size for size in sizes if size is not None]
        return min(known) if known and len(known) == len(sizes) else None


@dataclass(frozen=True, slots=True)
class Sized:
    """A size that was looked for.

    Attributes:
        cap_height_mm: the answer; None where there is none.
        tried: size -> whether it was so there, in order of size.
        at_any_size: blockers that no size takes away.

    """

    cap_height_mm: float | None
    tried: tuple[tuple[float, bool], ...]
    at_any_size: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Desk:
    """What answers are worked out with.

    Attributes:
        recipe: what is to be sized; it has lettering.
        build: makes a stack of a recipe.
        check: finds what stands in the way of both.
        hinder: the same, but for what blocks nothing and takes long to be found.
        shop, catalogue, library: where, of what, with which fonts.

    """

    recipe: Recipe
    build: Callable[[Recipe], Stack]
    check: Callable[[Recipe, Stack], tuple[Finding, ...]]
    hinder: Callable[[Recipe, Stack], tuple[Finding, ...]]
    shop: Shop
    catalogue: Catalogue
    library: FontLibrary

    @property
    def lettering(self) -> LetteringRecipe:
        """The lettering of the recipe."""
        if self.recipe.lettering is None:
            raise ValueError("a recipe without lettering has no size")
        return self.recipe.lettering

    def sized(self, size: SizeSpec, text: str | None = None) -> Recipe:
        """Return the recipe with another size; for a text of its own, one copy of it."""
        changes: dict[str, object] = {"size": size}
        if text is not None:
            changes["text"] = text
        lettering = self.lettering.model_copy(update=changes)
        copies = self.recipe.copies if text is None else 1
        return self.recipe.model_copy(update={"lettering": lettering, "copies": copies})

    def at(self, cap_height_mm: float, text: str | None = None) -> Recipe:
        """Return the recipe at a size."""
        return self.sized(SizeSpec(cap_height=cap_height_mm), text)

    def width_at(self, cap_height_mm: float) -> float:
        """Return how wide the lettering is at a size."""
        words = self.at(cap_height_mm).lettering
        assert words is not None
        return measure_recipe_lettering(words, self.library, "recipe.lettering")[0]

    def own_size(self) -> float:
        """Return the size that the recipe has as it is."""
        return set_recipe_lettering(
            self.lettering, self.library, DEFAULT_TOLERANCES, "recipe.lettering"
        ).cap_height_mm

    def letters(self) -> tuple[str, ...]:
        """Return the different letters of the text, in order."""
        words = self.at(50.0).lettering
        assert words is not None
        found = set_recipe_lettering(words, self.library, DEFAULT_TOLERANCES, "recipe.lettering")
        letters = tuple(dict.fromkeys(x.text.strip() for x in found.letters if x.text.strip()))
        if not 0 < len(letters) <= MOST_LETTERS:
            raise InputError(
                f"{len(letters)} different letters cannot be sized at once.",
                code="too-many-glyphs" if letters else "bad-value",
                field="recipe.lettering.text",
                expected=f"1 to {MOST_LETTERS} different letters",
            )
        return letters

    def in_the_way(self, stack: Stack, findings: Sequence[Finding]) -> tuple[Finding, ...]:
        """Return what keeps a stack from holding: blockers, and pieces that are specks.

        A piece narrower than what its material needs anywhere is a speck; checks look no further
        at one, and leave it to the maker.
        """
        least = {
            la.name: self.catalogue.material(la.material).min_web(la.thickness_mm)
            for la in stack.layers
        }
        return tuple(
            f
            for f in findings
            if f.severity is Severity.BLOCKER
            or (f.code == "crumb" and (f.measured or 0.0) < least.get(f.layer or "", 0.0))
        )

    def in_box(
        self, box_mm: tuple[float, float], tell: Callable[[float], None], *, each: bool
    ) -> SizedLetters:
        """Return the largest size of each letter, with its layers, in a box.

        Args:
            box_mm: width and height.
            tell: told the share that is done.
            each: whether each is wanted at its own size, and is checked there.

        """
        letters = self.letters()
        found = []
        for number, text in enumerate(letters):
            tell(number / len(letters))
            found.append(self._letter_in_box(text, box_mm, check=each))
        return SizedLetters(tuple(found))

    def _letter_in_box(self, text: str, box_mm: tuple[float, float], *, check: bool) -> LetterSize:
        def extents(cap_height_mm: float) -> tuple[float, float]:
            left, low, right, high = self.build(self.at(cap_height_mm, text)).bounds
            return right - left, high - low

        def fits(cap_height_mm: float) -> bool:
            sides = extents(cap_height_mm)
            return all(s <= b + _ALIKE_MM for s, b in zip(sides, box_mm, strict=True))

        tried = Tried(fits, STEP_MM)
        first, second = 0.5 * min(box_mm), 0.75 * min(box_mm)
        try:
            ends = extents(first), extents(second)
            guess = min(
                first + (b - a1) * (second - first) / (a2 - a1) if a2 > a1 else MOST_MM
                for a1, a2, b in zip(*ends, box_mm, strict=True)
            )
            guess = min(max(guess, LEAST_MM), MOST_MM)
            size: float | None = max(tried.down(guess + _ALIKE_MM), LEAST_MM)
            if not (size and tried.at(size) and not tried.at(size + STEP_MM)):
                size = largest_where(tried, guess, LEAST_MM, MOST_MM)
            if size is None:
                return LetterSize(text, None)
            recipe = self.at(size, text)
            stack = self.build(recipe)
        except LetterplyError as exc:
            exc.data.setdefault("letter", text)
            raise
        left, low, right, high = stack.bounds
        grave = self.in_the_way(stack, self.hinder(recipe, stack)) if check else ()
        return LetterSize(text, size, right - left, high - low, grave, stack)

    def on_sheets(self, count: int, tell: Callable[[float], None]) -> Sized:
        """Return the largest size at which all parts go onto so many sheets of each material."""

        def goes(cap_height_mm: float) -> bool:
            tell(0.9 * len(tried.found) / (len(tried.found) + 4))
            stack = self._built(cap_height_mm)
            if stack is None:
                return False
            nesting = nest_stack(stack, self.shop, self.catalogue)
            used = Counter((s.stock.material, s.stock.thickness_mm) for s in nesting.sheets)
            return not nesting.unplaced and all(n <= count for n in used.values())

        tried = Tried(goes, STEP_MM)
        size = largest_where(tried, self.own_size(), LEAST_MM, MOST_MM)
        if size is None:
            self.build(self.recipe)  # where it cannot be made at all, that is the answer
        return Sized(size, tuple(sorted(tried.found.items())))

    def smallest(self, tell: Callable[[float], None]) -> Sized:
        """Return the smallest size at which every layer holds, room on sheets left out."""
        always: set[tuple[str, str | None]] = set()
        last: dict[float, tuple[Finding, ...]] = {}

        def blockers(cap_height_mm: float) -> tuple[Finding, ...] | None:
            if cap_height_mm not in last:
                tell(0.9 * len(last) / (len(last) + 4))
                stack = self._built(cap_height_mm)
                if stack is None:
                    return None
                found = self.hinder(self.at(cap_height_mm), stack)
                last[cap_height_mm] = tuple(
                    f for f in found if f.severity is Severity.BLOCKER and f.code not in TOO_LARGE
                )
            return last[cap_height_mm]

        def holds(cap_height_mm: float) -> bool:
            found = blockers(cap_height_mm)
            return found is not None and all((f.code, f.layer) in always for f in found)

        guess = self._guess(blockers)
        far = min(round(4 * guess, 1), MOST_MM)
        at_guess = blockers(guess)
        stay: Sequence[Finding] = ()
        if at_guess and any(_grown(f) is None for f in at_guess):
            stay = blockers(far) or ()
            always = {(f.code, f.layer) for f in stay}
        tried = Tried(holds, STEP_MM)
        for known in tuple(last):
            tried.at(known)
        size = smallest_where(tried, guess, LEAST_MM, far)
        if size is None:
            self.build(self.recipe)
        return Sized(size, tuple(sorted(tried.found.items())), tuple(stay))

    def _guess(self, blockers: Callable[[float], tuple[Finding, ...] | None]) -> float:
        """Return about the size from which on nothing stands in the way, as the checks say it."""
        size = max(LEAST_MM, round(self.own_size() / 2, 1))
        for _ in range(4):
            found = blockers(size)
            factors = [g for f in found or () if f.code != "crumb" and (g := _grown(f)) is not None]
            if factors:
                return min(max(LEAST_MM, round(size * max(factors), 1)), MOST_MM)
            if found is None or found:
                return min(round(2 * size, 1), MOST_MM)
            if size <= LEAST_MM:
                break
            size = max(LEAST_MM, round(size / 2, 1))
        return size

    def _built(self, cap_height_mm: float) -> Stack | None:
        """Return the stack at a size; None where nothing is left of an outline, or it cannot be."""
        try:
            return self.build(self.at(cap_height_mm))
        except InputError as exc:
            if exc.code in _BY_SIZE:
                return None
            raise


def _grown(finding: Finding) -> float | None:
    """Return by how many times the lettering has to grow for a finding to go, where it says so."""
    for remedy in finding.remedies:
        if remedy.action is RemedyAction.RAISE_SIZE_TO and remedy.unit == "times":
            return float(remedy.value) if isinstance(remedy.value, int | float) else None
    return None
