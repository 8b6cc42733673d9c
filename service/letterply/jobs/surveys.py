"""Surveys as jobs: a request of plain JSON values in, the files of a survey out.

    {"font": "playfair-display", "axes": {"wght": 700}, "set": "latin-basic",
     "material": "acrylic-cast", "thickness": "3 mm", "cutters": ["flat-1"],
     "cap_height": "40 mm", "supported": true, "compare": ["oswald"],
     "limits": {"safety_factor": 3}}

What is looked at is one of `set`, `text` and `characters`; `first` and `count` ask for a page of
it. Fonts are compared for a text, so `compare` needs one.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from letterply.catalogue import Catalogue, Cutter, CutterKind, load_catalogue
from letterply.checks import (
    ALL,
    GLYPH_SETS,
    LARGEST_CAP_HEIGHT_MM,
    MAX_GLYPHS,
    Limits,
    Selection,
    Terms,
    compare_fonts,
    normalise_limits,
    parse_limits,
    survey_findings,
    survey_font,
)
from letterply.errors import InputError, shown
from letterply.exports import (
    comparison_csv,
    findings_document,
    png_within,
    survey_csv,
    survey_document,
    survey_picture,
    to_json,
)
from letterply.lettering import Font, FontLibrary, LetteringSpec, Size
from letterply.units import format_mm, parse_length, parse_number

__all__ = ["normalise_survey", "run_survey"]

_FIELDS = (
    "font",
    "axes",
    "set",
    "text",
    "characters",
    "first",
    "count",
    "compare",
    "material",
    "thickness",
    "cutters",
    "supported",
    "cap_height",
    "largest",
    "limits",
)
_KINDS = ("set", "text", "characters")
_PAGE = 500
_MAX_TEXT = 2000
_MAX_CHARACTERS = 10_000
_MAX_FONTS = 20
_MAX_CUTTERS = 200
_PICTURE_PX = 2400


def normalise_survey(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the request in one form: lengths in mm, defaults filled in; opens no font.

    Raises:
        InputError: naming the field that is wrong.

    """
    if not isinstance(request, Mapping):
        raise InputError(
            "The request is no object.", code="bad-request", expected="a JSON object with a font"
        )
    for name in request:
        if name not in _FIELDS:
            raise InputError(
                f"A survey request has no {name!r}.",
                code="unknown-field",
                field=str(name),
                expected=", ".join(_FIELDS),
            )
    if not request.get("font"):
        raise InputError(
            "The font is missing.", code="missing-field", field="font", expected="a key of a font"
        )
    given = [kind for kind in _KINDS if request.get(kind) is not None]
    if len(given) > 1:
        raise InputError(
            f"A survey looks at one thing, not at {' and '.join(given)}.",
            code="bad-value",
            field=given[1],
            expected="one of set, text, characters",
        )
    kind = given[0] if given else "set"
    chosen = _text(request.get(kind, "latin-basic"), kind)
    if kind == "set" and chosen not in (*GLYPH_SETS, ALL):
        raise InputError(
            f"There is no set called {chosen!r}.",
            code="unknown-set",
            field="set",
            expected=f"one of: {', '.join((*GLYPH_SETS, ALL))}",
        )
    if kind == "characters" and len(set(chosen)) > MAX_GLYPHS:
        raise InputError(
            f"{len(set(chosen))} characters are too many for one survey.",
            code="too-many-glyphs",
            field="characters",
            expected=f"at most {MAX_GLYPHS}",
        )
    compare = _names(request.get("compare"), "compare", _MAX_FONTS)
    if compare and kind != "text":
        raise InputError(
            "Fonts are compared for a text, and there is none.",
            code="missing-field",
            field="text",
            expected="the text to compare them for",
        )
    limits = normalise_limits(request.get("limits") or {})
    return {
        **({"limits": limits} if limits else {}),
        "font": _text(request["font"], "font"),
        "axes": _axes(request.get("axes")),
        kind: chosen,
        "first": _whole(request.get("first", 0), "first", 0, 10_000_000, "bad-value"),
        "count": _whole(request.get("count", _PAGE), "count", 1, MAX_GLYPHS, "too-many-glyphs"),
        "compare": compare,
        "material": _text(request.get("material", "acrylic-cast"), "material"),
        "thickness": _length(request.get("thickness", 3.0), "thickness", 0.2, 100.0),
        "cutters": _names(request.get("cutters"), "cutters", _MAX_CUTTERS),
        "supported": _flag(request.get("supported", False), "supported"),
        "cap_height": _length(request.get("cap_height", 50.0), "cap_height", 1.0, 3000.0),
        "largest": _length(
            request.get("largest", LARGEST_CAP_HEIGHT_MM), "largest", 1.0, 2000.0
        ),
    }  # fmt: skip


def run_survey(
    normal: Mapping[str, Any], catalogue_files: tuple[str, ...], font_files: Mapping[str, str]
) -> dict[str, bytes]:
    """Return the artifacts of a survey, path -> bytes. Same request, same bytes.

    Args:
        normal: from `normalise_survey`.
        catalogue_files: a shop's own files, laid over the shipped catalogue in order.
        font_files: id of an own font -> path of its file.

    Raises:
        LetterplyError: the request cannot be met; names the field.

    """
    limits = parse_limits(normal.get("limits", {}))
    catalogue = limits.on(load_catalogue(*(Path(p) for p in catalogue_files)))
    terms = _terms_of(normal, catalogue, limits)
    library = FontLibrary(font_files)
    font = library.load(normal["font"], field="font").at(normal["axes"], field="axes")
    text = normal.get("text", "")
    selection = Selection(
        name=normal.get("set", ""),
        text=text,
        characters=normal.get("characters", ""),
        first=normal["first"],
        count=normal["count"],
    )
    survey = survey_font(
        font,
        selection,
        terms,
        normal["cap_height"],
        spec=_spec(text, font) if text else None,
        largest_mm=normal["largest"],
        field="",
    )
    others = [library.load(key, field=f"compare.{i}") for i, key in enumerate(normal["compare"])]
    compared = compare_fonts(
        [(f, _spec(text, f)) for f in (font, *others)] if others else [],
        terms,
        largest_mm=normal["largest"],
    )
    document = survey_document(survey, compared)
    picture = survey_picture(survey, document["summary"])
    files = {
        "request.json": to_json(dict(normal)),
        "survey.json": to_json(document),
        "survey.csv": survey_csv(survey),
        "survey.svg": picture.encode(),
        "survey.png": png_within(picture, _PICTURE_PX),
        "findings.json": to_json(findings_document(survey_findings(survey))),
    }
    if compared:
        files["comparison.csv"] = comparison_csv(compared)
    return dict(sorted(files.items()))


def _spec(text: str, font: Font) -> LetteringSpec:
    return LetteringSpec(text, font.key, Size("em", 1.0), align="left")


def _terms_of(normal: Mapping[str, Any], catalogue: Catalogue, limits: Limits) -> Terms:
    rack: tuple[Cutter, ...]
    if normal["cutters"]:
        rack = tuple(
            catalogue.cutter(key, field=f"cutters.{i}") for i, key in enumerate(normal["cutters"])
        )
    else:
        flat = (c for c in catalogue.cutters.values() if c.kind is CutterKind.FLAT)
        rack = tuple(sorted(flat, key=lambda c: c.key))
    return Terms(
        material=catalogue.material(normal["material"], field="material"),
        thickness_mm=normal["thickness"],
        cutters=rack,
        rules=limits.rules,
        supported=normal["supported"],
    )


def _text(value: object, field: str) -> str:
    most = _MAX_CHARACTERS if field == "characters" else _MAX_TEXT
    if not isinstance(value, str) or not value.strip() or len(value) > most:
        raise InputError(
            f"The {field} is no text, or too long.",
            code="bad-value",
            field=field,
            expected=f"text of 1 to {most} characters",
        )
    return value


def _flag(value: object, field: str) -> bool:
    if not isinstance(value, bool):
        raise InputError(
            f"{field} is either true or false.",
            code="bad-value",
            field=field,
            expected="true or false",
        )
    return value


def _whole(value: object, field: str, least: int, most: int, code: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        high = isinstance(value, int) and value > most
        raise InputError(
            f"{field} cannot be {shown(value)}.",
            code=code if high else "bad-value",
            field=field,
            expected=f"a whole number from {least} to {most}",
        )
    return value


def _length(value: object, field: str, least: float, most: float) -> float:
    length = parse_length(value, field=field)
    if not least <= length <= most:
        raise InputError(
            f"{field} cannot be {format_mm(length)}.",
            code="out-of-range",
            field=field,
            expected=f"{least:g} to {format_mm(most)}",
        )
    return length


def _names(value: object, field: str, most: int) -> list[str]:
    if value is None:
        return []
    if isinstance(value, str):
        value = [value]
    if not isinstance(value, list | tuple) or len(value) > most:
        raise InputError(
            f"{field} is no list, or too long.",
            code="bad-value",
            field=field,
            expected=f"a list of at most {most} keys",
        )
    return [_text(name, f"{field}.{i}") for i, name in enumerate(value)]


def _axes(value: object) -> dict[str, float]:
    if value is None:
        return {}
    if not isinstance(value, Mapping) or len(value) > 64:
        raise InputError(
            "The axes are no object.",
            code="bad-value",
            field="axes",
            expected="an object of axis tag and number",
        )
    found: dict[str, float] = {}
    for tag, number in sorted(value.items()):
        found[str(tag)] = parse_number(number, field=f"axes.{tag}", what=f"The axis {tag!r}")
    return found
