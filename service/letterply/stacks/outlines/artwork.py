"""The drawings of a recipe, set: as ornaments, outlines and work on a layer. All mm."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.affinity import translate

from letterply.errors import GeometryError
from letterply.findings import Finding, Severity
from letterply.lettering import (
    Artwork,
    ArtworkLibrary,
    ArtworkSize,
    ArtworkSpec,
    FontLibrary,
    Letter,
    Lettering,
    SetArtwork,
    left_out_words,
    line_points,
    set_artwork,
)
from letterply.requests import (
    ArtworkOutline,
    ArtworkRecipe,
    LetteringRecipe,
    Ornament,
    PathBaseline,
)
from letterply.said import say
from letterply.shapes import Region, Tolerances, as_region, box_of, normalise, offset, rings
from letterply.units import format_area, format_mm, format_sides

__all__ = ["Drawings", "artwork_outline", "with_ornaments"]

_HARMLESS = frozenset(
    {"gradient", "transparency", "script", "animation", "beyond the page", "style sheet", "length"}
)
"""What may be left out of a drawing without its outline changing, most of the time."""


_BARE_MM2 = 1e-3
"""Less than this painted in the colour of the ground is rounding."""


class Drawings:
    """Sets the drawings of one recipe, each once, and keeps what there is to say of them."""

    def __init__(
        self, library: ArtworkLibrary, tolerances: Tolerances, fonts: FontLibrary | None = None
    ) -> None:
        self._library = library
        self._fonts = fonts or FontLibrary()
        self._tolerances = tolerances
        self._set: dict[str, tuple[SetArtwork, str]] = {}
        self._used: dict[str, Artwork] = {}

    def load(self, recipe: ArtworkRecipe, field: str) -> Artwork:
        """Return the drawing that is named or brought along.

        Raises:
            InputError: `unknown-artwork`, `unknown-font`; ArtworkError; GlyphMissing.

        """
        font = None
        if recipe.font is not None:
            font = self._fonts.load(recipe.font, field=f"{field}.font")
        if recipe.id is not None:
            found = self._library.load(recipe.id, font=font, field=f"{field}.id", path=field)
        else:
            found = self._library.inline(
                recipe.svg or "", font=font, field=f"{field}.svg", path=field
            )
        self._used[found.key] = found
        return found

    def set(
        self, recipe: ArtworkRecipe, field: str, *, size: ArtworkSize | None = None
    ) -> SetArtwork:
        """Return a drawing at its size; `size` overrules that of the recipe.

        Raises:
            InputError: `unknown-artwork`, `unknown-element`, `artwork-empty`, `bad-size`;
                ArtworkError.

        """
        artwork = self.load(recipe, field)
        spec = ArtworkSpec(
            size=size if size is not None else _size(recipe),
            only=tuple(recipe.only),
            turn_deg=recipe.turn,
            mirror=recipe.mirror,
            ground="" if recipe.ground == "none" else recipe.ground,
        )
        key = f"{artwork.key} {recipe.font} {spec!r}"
        if key not in self._set:
            drawn = set_artwork(artwork, spec, self._tolerances, path=field)
            self._set[key] = drawn, spec.ground
        return self._set[key][0]

    def with_baseline(self, spec: LetteringRecipe, field: str) -> LetteringRecipe:
        """Return lettering whose baseline, if it is a line of a drawing, has its points.

        Raises:
            InputError: `unknown-artwork`, `unknown-element`, `bad-path`; ArtworkError.

        """
        baseline = spec.baseline
        if not isinstance(baseline, PathBaseline) or baseline.artwork is None:
            return spec
        line = baseline.artwork
        path = f"{field}.baseline.artwork"
        artwork = self.load(ArtworkRecipe(id=line.id, svg=line.svg), path)
        points = line_points(artwork, line.element, line.scale, where=f"{path}.element")
        if line.reverse:
            points = points[::-1]
        drawn = PathBaseline.model_construct(kind="path", points=points)
        return spec.model_copy(update={"baseline": drawn})

    def findings(self) -> list[Finding]:
        """Return what of the drawings could not be taken as drawn."""
        found: list[Finding] = []
        for artwork in self._used.values():
            if not artwork.left_out:
                continue
            grave = any(n.what not in _HARMLESS for n in artwork.left_out)
            name = artwork.title or artwork.key
            found.append(
                Finding(
                    code="artwork",
                    severity=Severity.CAUTION if grave else Severity.NOTE,
                    measured=float(sum(n.count for n in artwork.left_out)),
                    limit=0.0,
                    unit="",
                    why=say(
                        "the drawing {name} is not cut as drawn: {left_out_words}",
                        name=repr(name),
                        left_out_words=left_out_words(artwork),
                    ),
                    data=tuple((n.what, f"{n.done}; {n.remedy}") for n in artwork.left_out),
                )
            )
        for drawn, ground in self._set.values():
            if drawn.bare_mm2 < _BARE_MM2:
                continue
            name = drawn.artwork.title or drawn.artwork.key
            found.append(
                Finding(
                    code="artwork",
                    severity=Severity.NOTE,
                    measured=round(drawn.bare_mm2, 4),
                    limit=0.0,
                    unit="mm2",
                    why=say(
                        "{bare} of the drawing {name} have the colour of the ground, {ground}, "
                        "and stay empty: with its 'ground' set to none they are cut too",
                        bare=format_area(drawn.bare_mm2),
                        name=repr(name),
                        ground=ground,
                    ),
                    data=(("ground", ground),),
                )
            )
        return found


def _size(recipe: ArtworkRecipe) -> ArtworkSize:
    size = recipe.size
    if size is None:
        return ArtworkSize()
    if size.width is not None:
        return ArtworkSize("width", size.width)
    if size.height is not None:
        return ArtworkSize("height", size.height)
    if size.fit is not None:
        return ArtworkSize("fit", size.fit.width, size.fit.height)
    if size.known is not None:
        return ArtworkSize("known", size.known.length, ends=(size.known.start, size.known.end))
    return ArtworkSize("scale", size.scale or 1.0)


def with_ornaments(
    lettering: Lettering, ornaments: list[Ornament], drawings: Drawings, field: str
) -> Lettering:
    """Return lettering with its ornaments beside it; each is a letter without text.

    Raises:
        InputError: what `Drawings.set` raises.

    """
    letters = list(lettering.letters)
    region = lettering.region
    for number, ornament in enumerate(ornaments):
        left, low, right, high = lettering.region.bounds
        path = f"{field}.ornaments.{number}.artwork"
        beside = ornament.side in ("left", "right")
        size = None
        if ornament.artwork.size is None and not ornament.artwork.turn:
            size = (
                ArtworkSize("height", high - low) if beside else ArtworkSize("width", right - left)
            )
        drawn = drawings.set(ornament.artwork, path, size=size).region
        _, _, width, height = drawn.bounds
        x = (left + right - width) / 2 + ornament.shift
        y = (low + high - height) / 2 + ornament.shift
        match ornament.side:
            case "left":
                x = left - ornament.gap - width
            case "right":
                x = right + ornament.gap
            case "above":
                y = high + ornament.gap
            case "below":
                y = low - ornament.gap - height
        placed = normalise(translate(drawn, x, y))
        letters.append(Letter("", letters[-1].line, placed, x, y))
        region = as_region(shapely.union(region, placed))
    return replace(lettering, region=normalise(region), letters=tuple(letters))


def artwork_outline(
    ink: Region,
    outline: ArtworkOutline,
    drawings: Drawings,
    tolerances: Tolerances,
    *,
    field: str,
) -> Region:
    """Return the outline that a drawing gives a layer, its room or else its middle on the ink's.

    Raises:
        GeometryError: `outline-vanishes`; `room-too-small` when what lies on it does not fit into
            the drawing's room; `artwork-without-room`.
        InputError: what `Drawings.set` raises.

    """
    path = f"{field}.artwork"
    drawn = drawings.set(outline.artwork, path)
    left, low, right, high = box_of(ink)
    margin = outline.around
    if margin is not None:
        if drawn.room is None:
            raise GeometryError(
                "The drawing has no lettering area to fit the words into.",
                code="artwork-without-room",
                field=f"{field}.around",
                expected='a drawing with a rectangle (or other shape) of the id "letters"',
            )
        wide, tall = drawn.room[2] - drawn.room[0], drawn.room[3] - drawn.room[1]
        grow = max((right - left + 2 * margin) / wide, (high - low + 2 * margin) / tall)
        drawn = drawings.set(outline.artwork, path, size=ArtworkSize("scale", drawn.scale * grow))
    region = drawn.region
    anchor = drawn.room or region.bounds
    dx = (left + right) / 2 - (anchor[0] + anchor[2]) / 2 + outline.x
    dy = (low + high) / 2 - (anchor[1] + anchor[3]) / 2 + outline.y
    if drawn.room is not None:
        room = shapely.box(*drawn.room)
        if not (ink.is_empty or shapely.buffer(translate(room, dx, dy), 1e-3).contains(ink)):
            raise GeometryError(
                f"The words are larger than the lettering area of the drawing: "
                f"{format_sides(right - left, high - low)}.",
                code="room-too-small",
                field=field,
                expected="smaller lettering, a larger drawing, or the drawing fitted with 'around'",
                data={
                    "needed_width_mm": round(right - left, 3),
                    "needed_height_mm": round(high - low, 3),
                    "room_width_mm": round(drawn.room[2] - drawn.room[0], 3),
                    "room_height_mm": round(drawn.room[3] - drawn.room[1], 3),
                },
            )
    region = offset(as_region(translate(region, dx, dy)), outline.grow, tolerances.offset_mm)
    if outline.fill_counters:
        filled = [shapely.Polygon(p.exterior) for p in region.geoms]
        region = as_region(shapely.union_all(filled))
    if region.is_empty or not rings(region):
        raise GeometryError(
            f"Shrunk by {format_mm(-outline.grow)}, nothing of the drawing is left.",
            code="outline-vanishes",
            field=f"{field}.grow",
            expected="a smaller shrink or a larger drawing",
        )
    return normalise(region)
