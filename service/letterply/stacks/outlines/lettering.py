"""The lettering of a recipe, set; and what there is to say of it. All mm.

Here the names in a recipe (fonts, faces, instances, features) meet the fonts that there are.
"""

from __future__ import annotations

from collections.abc import Sequence
from weakref import WeakKeyDictionary

import shapely

from letterply.errors import GlyphMissing, InputError
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.lettering import (
    Baseline,
    Font,
    FontLibrary,
    Lettering,
    LetteringSpec,
    Miss,
    Size,
    measure_lettering,
    minimum_visual_height,
    path_points,
    set_lettering,
)
from letterply.memo import Memo
from letterply.names import layer_words
from letterply.requests import (
    LetteringOutline,
    LetteringRecipe,
    PathBaseline,
    StraightBaseline,
    VerticalBaseline,
)
from letterply.said import say
from letterply.shapes import Tolerances
from letterply.stacks.draft import LayerDraft
from letterply.units import about_mm, listed

__all__ = [
    "join_findings",
    "measure_recipe_lettering",
    "reading_findings",
    "set_recipe_lettering",
]

_MOST_SHOWN = 12
_KEPT_POINTS = 500_000
"""Corners of lettering that a worker keeps for each set of fonts, about 16 bytes each."""

_kept: WeakKeyDictionary[FontLibrary, Memo[tuple[str, Tolerances], Lettering]] = WeakKeyDictionary()
"""Lettering that was set of late: a maker tries growths and thicknesses of the same words."""


def set_recipe_lettering(
    spec: LetteringRecipe, library: FontLibrary, tolerances: Tolerances, field: str
) -> Lettering:
    """Return the lettering that a recipe asks for.

    Raises:
        InputError: `unknown-font`, `unknown-face`, `unknown-instance`, `unknown-feature`,
            `bad-value`, `bad-path`; what `set_lettering` raises. A `glyph-missing` lists the
            fonts of the library that have the character.

    """
    key = spec.model_dump_json(), tolerances
    kept = _kept.setdefault(library, Memo(_KEPT_POINTS))
    return kept.get(key, lambda: _set_anew(spec, library, tolerances, field), _points_of)


def _points_of(lettering: Lettering) -> int:
    return 2 * int(shapely.get_num_coordinates(lettering.region))


def _set_anew(
    spec: LetteringRecipe, library: FontLibrary, tolerances: Tolerances, field: str
) -> Lettering:
    setting, font, fallback = _resolved(spec, library, field)
    try:
        return set_lettering(setting, font, tolerances, fallback=fallback, field=field)
    except GlyphMissing as exc:
        raise _with_fonts(exc, library) from exc


def measure_recipe_lettering(
    spec: LetteringRecipe, library: FontLibrary, field: str
) -> tuple[float, float]:
    """Return width and height of the ink of a recipe's lettering, mm, without drawing it.

    Raises:
        InputError: as `set_recipe_lettering`.

    """
    setting, font, fallback = _resolved(spec, library, field)
    try:
        return measure_lettering(setting, font, fallback=fallback, field=field)
    except GlyphMissing as exc:
        raise _with_fonts(exc, library) from exc


def _resolved(
    spec: LetteringRecipe, library: FontLibrary, field: str
) -> tuple[LetteringSpec, Font, list[Font]]:
    """Return what to set, with the fonts that the recipe's names mean."""
    font = library.load(spec.font, face=spec.face, field=f"{field}.font")
    fallback = [
        library.load(key, field=f"{field}.fallback.{n}") for n, key in enumerate(spec.fallback)
    ]
    axes = {a.tag for a in font.facts.axes}
    _known_features(spec, font, axes, field)
    location: dict[str, float] = {}
    if spec.instance is not None:
        location = font.instance(spec.instance, field=f"{field}.instance")
    location |= {t: float(v) for t, v in spec.features.items() if t in axes}
    setting = LetteringSpec(
        text=spec.text,
        font=spec.font,
        size=_size(spec),
        features={t: int(v) for t, v in spec.features.items() if t not in axes},
        axes=location,
        align=spec.align,
        tracking_mm=spec.tracking,
        line_gap=spec.line_gap,
        language=spec.language,
        direction=spec.direction,
        kerning=spec.kerning,
        baseline=_baseline(spec, field),
        joins=spec.joins,
    )
    return setting, font, fallback


_MOST_ALTERNATES = 65_535
"""A glyph has no more of them: their number has 16 bits (OpenType 1.9, alternate substitution)."""


def _known_features(spec: LetteringRecipe, font: Font, axes: set[str], field: str) -> None:
    for tag, value in spec.features.items():
        if tag not in axes and tag not in font.facts.features:
            known = ", ".join(sorted(axes | set(font.facts.features)))
            raise InputError(
                f"The font {spec.font!r} has no feature or axis {tag!r}.",
                code="unknown-feature",
                field=f"{field}.features.{tag}",
                expected=f"one of: {known}" if known else "none: the font has no features",
            )
        if tag not in axes and not (0 <= value <= _MOST_ALTERNATES and value == int(value)):
            raise InputError(
                f"A feature is switched by a whole number from 0, not {value:g}.",
                code="bad-value",
                field=f"{field}.features.{tag}",
                expected="true, false or a whole number, of the alternate that is meant",
            )


def _with_fonts(exc: GlyphMissing, library: FontLibrary) -> GlyphMissing:
    """Return the error with the fonts at hand that have the character."""
    having = library.having(str(exc.data["character"]))
    exc.data["fonts_with_it"] = list(having)
    if having:
        more = ", ..." if len(having) > _MOST_SHOWN else ""
        exc.expected = (
            f"text that the font covers, or a font or fallback that has it: "
            f"{', '.join(having[:_MOST_SHOWN])}{more}"
        )
    return exc


def _size(spec: LetteringRecipe) -> Size:
    size = spec.size
    if size.fit is not None:
        return Size("fit", size.fit.width, size.fit.height)
    if size.largest_on is not None:
        sheet = size.largest_on
        return Size("largest", sheet.width - 2 * sheet.margin, sheet.height - 2 * sheet.margin)
    if size.fit_disc is not None:
        return Size("fit_disc", size.fit_disc)
    if size.reading is not None:
        far = size.reading
        return Size("cap_height", minimum_visual_height(far.distance, far.baseline_height))
    if size.cap_height is not None:
        return Size("cap_height", size.cap_height)
    if size.x_height is not None:
        return Size("x_height", size.x_height)
    if size.em is not None:
        return Size("em", size.em)
    assert size.width is not None  # the recipe has exactly one size
    return Size("width", size.width)


def _baseline(spec: LetteringRecipe, field: str) -> Baseline:
    baseline = spec.baseline
    if isinstance(baseline, StraightBaseline):
        return Baseline()
    if isinstance(baseline, VerticalBaseline):
        return Baseline("vertical", gap_mm=baseline.gap)
    if isinstance(baseline, PathBaseline):
        if baseline.artwork is not None:
            # No drawing is opened here: who draws has put its points in before.
            return Baseline()
        if baseline.data is not None:
            points = path_points(baseline.data, field=f"{field}.baseline.data")
        else:
            points = tuple((x, y) for x, y in baseline.points or ())
            if len(set(points)) < 2:
                raise InputError(
                    "The path of the baseline has no length.",
                    code="bad-path",
                    field=f"{field}.baseline.points",
                    expected="at least two points apart",
                )
        return Baseline("path", points=points)
    return Baseline(
        baseline.kind,
        radius_mm=baseline.radius,
        side=baseline.side,
        angle_deg=baseline.angle,
    )


def join_findings(drafts: Sequence[LayerDraft]) -> list[Finding]:
    """Return where letters of a connected script miss each other, layer by layer.

    Gaps that the layer's growth closes, and layers that are joined anyway, say nothing.
    """
    found: list[Finding] = []
    for draft in drafts:
        outline = draft.recipe.outline
        if draft.lettering is None or not isinstance(outline, LetteringOutline):
            continue
        if outline.join is True:
            continue
        misses = [m for m in draft.lettering.misses if m.gap_mm > 2 * outline.grow]
        found += [
            _join_finding(draft, draft.lettering, miss, len(misses))
            for miss in misses[:_MOST_SHOWN]
        ]
    return found


def _join_finding(draft: LayerDraft, lettering: Lettering, miss: Miss, count: int) -> Finding:
    pair = listed([lettering.letters[k].text for k in (miss.before, miss.after)])
    meant = say("that the font joins") if miss.by_design else say("that should meet")
    return Finding(
        code="join",
        severity=Severity.CAUTION,
        layer=draft.recipe.name,
        where=Place("segment", miss.ends),
        measured=round(miss.gap_mm, 3),
        limit=0.0,
        why=say(
            "a gap of {gap} parts {pair} on {layer}, letters {meant}",
            gap=about_mm(miss.gap_mm),
            pair=pair,
            layer=layer_words(draft.recipe.name),
            meant=meant,
        ),
        remedies=(
            Remedy(
                RemedyAction.JOIN, say("join them with a link where the gap is narrowest"), "bridge"
            ),
            Remedy(RemedyAction.JOIN, say("move the letters together"), "close"),
            Remedy(
                RemedyAction.GROW_BY,
                say("grow the outline until they touch"),
                round(miss.gap_mm / 2 + 0.05, 3),
                "mm",
            ),
        ),
        data=(("misses_in_layer", count),),
    )


def reading_findings(spec: LetteringRecipe, lettering: Lettering) -> list[Finding]:
    """Return a note on lettering whose size was derived from the distance it is read at."""
    far = spec.size.reading
    if far is None:
        return []
    return [
        Finding(
            code="reading",
            severity=Severity.NOTE,
            measured=round(lettering.cap_height_mm, 3),
            limit=round(minimum_visual_height(far.distance, far.baseline_height), 3),
            why=(
                say(
                    "capitals of {cap_height} are the least that Table 703.5.5 of the 2010 "
                    "ADA Standards gives for reading at {distance} m. Larger ones read "
                    "better, and local codes may ask for more",
                    cap_height=about_mm(lettering.cap_height_mm),
                    distance=f"{far.distance / 1000:.1f}",
                )
            ),
        )
    ]
