"""Entries in, lines that are to be made out; or all that is wrong with them, at once.

Cheap, and safe in any process: no font is opened. Vetted here are cells, recipes, names, the
rack and sums; what only fonts can tell (a missing letter, a sign larger than any sheet) is in
`letterply.orders.intake.measuring`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeVar

from letterply.catalogue import Catalogue, Shop, missing_powers
from letterply.errors import InputError
from letterply.names import in_sentence, visible
from letterply.orders.codec import Facts
from letterply.orders.intake.cells import (
    BadCell,
    clean_text,
    read_material,
    read_quantity,
    read_reference,
    read_size,
)
from letterply.orders.intake.model import COLUMNS, MAX_PIECES, Entry, Mistake, OrderLine
from letterply.orders.intake.recipes import fill_in, has_place, set_font, set_material, set_size
from letterply.orders.intake.workable import find_unworkable
from letterply.requests import BlankOutline, Frame, Recipe, parse_recipe
from letterply.sheets import Rack
from letterply.units import format_mm, listed

__all__ = ["vet_entries"]

_Found = TypeVar("_Found")
_Usual = TypeVar("_Usual")


def vet_entries(
    entries: Sequence[Entry],
    recipes: Mapping[str, Facts],
    usual_recipe: str | None,
    catalogue: Catalogue,
    shop: Shop,
    fonts: Callable[[str], bool],
) -> tuple[list[OrderLine], list[Mistake]]:
    """Return the lines of an order and every mistake in its entries.

    Args:
        entries: lines as they were written.
        recipes: named recipes, the order's own among them.
        usual_recipe: name of the recipe of lines that name none.
        catalogue: for materials.
        shop: for the rack.
        fonts: tells whether a font is in the library.

    """
    lines: list[OrderLine] = []
    mistakes: list[Mistake] = []
    seen: dict[str, int] = {}
    rack = Rack(shop.stock)
    for entry in entries:
        reader = _LineReader(entry, mistakes)
        found = reader.line(recipes, usual_recipe, catalogue, fonts)
        if found is None:
            continue
        line, recipe = found
        if line.reference:
            key = line.reference.casefold()
            if key in seen:
                reader.tell(
                    "reference",
                    "duplicate-reference",
                    f"The reference {line.reference!r} also stands in line {seen[key]}.",
                    "a reference of its own for each line, or none",
                )
                continue
            seen[key] = entry.number
        reader.check_rack(recipe, rack, catalogue)
        reader.check_work(recipe, catalogue, shop)
        reader.check_power(recipe, shop, catalogue)
        lines.append(line)
    pieces = sum(line.quantity for line in lines)
    if pieces > MAX_PIECES:
        mistakes.append(
            Mistake(
                "too-many-copies",
                f"The lines of the order come to {pieces} copies.",
                f"at most {MAX_PIECES} copies in an order",
            )
        )
    return lines, mistakes


class _LineReader:
    """Reads one entry, noting every mistake in it."""

    def __init__(self, entry: Entry, mistakes: list[Mistake]) -> None:
        self._entry = entry
        self._mistakes = mistakes
        self._bad = False

    def tell(self, column: str, code: str, message: str, expected: str) -> None:
        """Note a mistake."""
        self._bad = True
        self._mistakes.append(self._entry.mistake(column, code, message, expected))

    def _read(
        self, column: str, read: Callable[[object], _Found], usual: _Usual
    ) -> _Found | _Usual:
        value = self._entry.cells.get(column)
        if value is None or value == "":
            return usual
        try:
            return read(value)
        except BadCell as bad:
            self.tell(column, bad.code, bad.message, bad.expected)
            return usual

    def line(
        self,
        recipes: Mapping[str, Facts],
        usual_recipe: str | None,
        catalogue: Catalogue,
        fonts: Callable[[str], bool],
    ) -> tuple[OrderLine, Recipe] | None:
        """Return the line and its recipe, or None when it does not hold."""
        for name in self._entry.cells:
            if name not in COLUMNS and not name.startswith("?"):
                self.tell(
                    name[:40], "unknown-field", f"There is no column called {name[:40]!r}.", _ALL
                )
        text = self._read("text", clean_text, "")
        quantity = self._read("quantity", read_quantity, 1)
        reference = self._read("reference", read_reference, "")
        size = self._read("size", read_size, None)
        font = self._read("font", lambda v: clean_text(v, "font", most=80), None)
        wanted = self._read("material", read_material, {})
        if font is not None and not fonts(font):
            self.tell("font", "unknown-font", f"There is no font called {font!r}.", _FONTS)
        name, raw = self._recipe(recipes, usual_recipe)
        if raw is None:
            return None
        untold = not text and "text" not in {m.column for m in self._mine()}
        if untold and name and has_place(raw):
            self.tell("text", "empty-text", "There is no text to cut.", "the words to be cut")
        made = fill_in(raw, text)
        try:
            if font is not None:
                set_font(made, font)
            if size is not None:
                set_size(made, size)
            set_material(made, wanted, lambda key: key in catalogue.materials)
        except BadCell as bad:
            columns = {"bad-size": "size", "no-lettering": "font" if font is not None else "size"}
            self.tell(columns.get(bad.code, "material"), bad.code, bad.message, bad.expected)
        if self._bad:
            return None
        made.pop("copies", None)
        recipe = self._whole(made, catalogue, fonts)
        if recipe is None:
            return None
        own = recipe.lettering.text if recipe.lettering is not None else ""
        spoken = visible(text or own or recipe.title)
        facts = recipe.model_dump(mode="json")
        return OrderLine(self._entry.number, spoken, quantity, facts, name, reference), recipe

    def _mine(self) -> list[Mistake]:
        return [m for m in self._mistakes if m.line == self._entry.number]

    def _recipe(self, recipes: Mapping[str, Facts], usual: str | None) -> tuple[str, Facts | None]:
        """Return name and recipe of the line; the name of its own is empty."""
        given = self._entry.cells.get("recipe")
        if isinstance(given, Mapping):
            return "", given
        name = given if given is not None else usual
        if not isinstance(name, str) or not name:
            self.tell(
                "recipe",
                "missing-recipe" if name is None else "bad-value",
                "No recipe is named." if name is None else "The recipe is not a name.",
                f"one of: {', '.join(sorted(recipes))}",
            )
            return "", None
        if name not in recipes:
            self.tell(
                "recipe",
                "unknown-recipe",
                f"There is no recipe called {name[:80]!r}.",
                f"one of: {', '.join(sorted(recipes))}",
            )
            return name, None
        return name, recipes[name]

    def _whole(
        self, made: Facts, catalogue: Catalogue, fonts: Callable[[str], bool]
    ) -> Recipe | None:
        try:
            recipe = parse_recipe(made)
        except InputError as exc:
            for found in exc.data.get("mistakes") or [
                {
                    "code": exc.code,
                    "field": exc.field,
                    "message": exc.message,
                    "expected": exc.expected,
                }
            ]:
                self.tell(
                    str(found["field"] or "recipe"),
                    str(found["code"]),
                    str(found["message"]),
                    str(found["expected"] or ""),
                )
            return None
        for number, layer in enumerate(recipe.layers):
            if layer.material not in catalogue.materials:
                self.tell(
                    f"recipe.layers.{number}.material",
                    "unknown-material",
                    f"There is no material called {layer.material!r}.",
                    _MATERIALS,
                )
        for field, material in _helping(recipe):
            if material not in catalogue.materials:
                self.tell(
                    field,
                    "unknown-material",
                    f"There is no material called {material!r}.",
                    _MATERIALS,
                )
        if recipe.lettering is not None and not fonts(recipe.lettering.font):
            self.tell(
                "recipe.lettering.font",
                "unknown-font",
                f"There is no font called {recipe.lettering.font!r}.",
                _FONTS,
            )
        return None if self._bad else recipe

    def check_rack(self, recipe: Recipe, rack: Rack, catalogue: Catalogue) -> None:
        """Note every layer for which the rack has no sheet at all."""
        told: set[tuple[str, float]] = set()
        for material, thickness in _cut_from(recipe):
            if rack.suitable(material, thickness) or (material, thickness) in told:
                continue
            told.add((material, thickness))
            here = sorted(
                {s.thickness_mm for s in rack.stock if s.material == material and s.count}
            )
            there = [format_mm(t) for t in here]
            name = in_sentence(catalogue.material(material).name)
            self.tell(
                "material" if self._entry.cells.get("material") else "recipe",
                "no-stock",
                f"The rack has no sheet of {format_mm(thickness)} {name}.",
                f"{name} of {listed(there, 'or')}" if here else "a material that is on the rack",
            )

    def check_work(self, recipe: Recipe, catalogue: Catalogue, shop: Shop) -> None:
        """Note what must not or cannot be done with the cutters of the shop."""
        for found in find_unworkable(recipe, catalogue, shop):
            refused = found.refusal.code == "refused"
            given = self._entry.cells.get("material") and found.field.endswith(".material")
            why = found.refusal.why
            self.tell(
                "material" if given else found.field,
                "beam-refused" if refused else "no-cutter",
                f"{why[0].upper()}{why[1:].rstrip('.')}.",
                found.refusal.remedy + (", or cut it with a router" if refused else ""),
            )

    def check_power(self, recipe: Recipe, shop: Shop, catalogue: Catalogue) -> None:
        """Note every sheet for which the maker has entered no power of the beam."""
        sheets = ((*cut, False) for cut in _cut_from(recipe))
        for found in missing_powers(sheets, shop.machine, shop.power, catalogue):
            column = "material" if self._entry.cells.get("material") else "recipe"
            self.tell(column, "no-power", f"{found.why.rstrip('.')}.", found.remedies[0].text)


def _helping(recipe: Recipe) -> Iterator[tuple[str, str]]:
    """Yield field and material of what helps to make a recipe: boards for blanks, frames."""
    for number, layer in enumerate(recipe.layers):
        if isinstance(layer.outline, BlankOutline) and layer.outline.fixture is not None:
            yield f"recipe.layers.{number}.outline.fixture.material", layer.outline.fixture.material
    if isinstance(recipe.align, Frame):
        yield "recipe.align.material", recipe.align.material


def _cut_from(recipe: Recipe) -> Iterator[tuple[str, float]]:
    """Yield material and thickness of everything that a recipe has cut from sheets."""
    for layer in recipe.layers:
        cut = layer.outline.fixture if isinstance(layer.outline, BlankOutline) else layer
        if cut is not None:
            yield cut.material, cut.thickness
    if isinstance(recipe.align, Frame):
        yield recipe.align.material, recipe.align.thickness


_MATERIALS = "a key from the list of materials (letterply materials, /v1/materials)"
_FONTS = "a key from the list of fonts (letterply fonts, /v1/fonts)"
_ALL = f"one of: {', '.join(COLUMNS)}"
