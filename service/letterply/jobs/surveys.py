"""Surveys as jobs: a request in, the files of a survey out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from letterply.catalogue import Catalogue, Cutter, CutterKind
from letterply.checks import (
    Selection,
    Terms,
    compare_fonts,
    survey_findings,
    survey_font,
)
from letterply.exports import (
    comparison_csv,
    findings_document,
    survey_csv,
    survey_document,
    survey_picture,
    to_json,
)
from letterply.jobs.files import SurveyAnswer, later_paths, packed
from letterply.jobs.headline import DOCUMENTS, headline_of
from letterply.lettering import Font, FontLibrary, LetteringSpec, Size
from letterply.requests import SurveyRequest
from letterply.storage import Finished
from letterply.workers import tell

__all__ = ["run_survey"]


def run_survey(
    asked: SurveyRequest,
    normal: Mapping[str, Any],
    catalogue: Catalogue,
    library: FontLibrary,
) -> Finished:
    """Return what a survey found out. Same request, same bytes.

    Args:
        asked: what to look at.
        normal: the same in its normal form.
        catalogue: materials and cutters.
        library: fonts that it may name.

    Raises:
        LetterplyError: the request cannot be met; names the field.

    """
    tell("survey", 0.0)
    terms = _terms_of(asked, catalogue.with_figures(asked.limits.material_figures))
    font = library.load(asked.font, field="font").at(asked.axes, field="axes")
    selection = Selection(
        name=asked.set or "",
        text=asked.text or "",
        characters=asked.characters or "",
        first=asked.first,
        count=asked.count,
    )
    survey = survey_font(
        font,
        selection,
        terms,
        asked.cap_height_mm,
        spec=_spec(asked.text, font) if asked.text else None,
        largest_mm=asked.largest_mm,
        field="",
    )
    others = [library.load(key, field=f"compare.{i}") for i, key in enumerate(asked.compare)]
    if others:
        tell("comparison", 1 / (2 + len(others)))
    compared = compare_fonts(
        [(f, _spec(asked.text or "", f)) for f in (font, *others)] if others else [],
        terms,
        largest_mm=asked.largest_mm,
    )
    document = survey_document(survey, compared)
    files = {
        "request.json": to_json(dict(normal)),
        "survey.json": to_json(document),
        "survey.csv": survey_csv(survey),
        "findings.json": to_json(findings_document(survey_findings(survey))),
    }
    if compared:
        files["comparison.csv"] = comparison_csv(compared)
    answer = SurveyAnswer(survey_picture(survey, document["summary"]))
    headline = headline_of("survey", normal, files)
    return Finished(DOCUMENTS["survey"], files, headline, later_paths(answer), packed(answer))


def _spec(text: str, font: Font) -> LetteringSpec:
    return LetteringSpec(text, font.key, Size("em", 1.0), align="left")


def _terms_of(asked: SurveyRequest, catalogue: Catalogue) -> Terms:
    rack: tuple[Cutter, ...]
    if asked.cutters:
        rack = tuple(
            catalogue.cutter(key, field=f"cutters.{i}") for i, key in enumerate(asked.cutters)
        )
    else:
        flat = (c for c in catalogue.cutters.values() if c.kind is CutterKind.FLAT)
        rack = tuple(sorted(flat, key=lambda c: c.key))
    return Terms(
        material=catalogue.material(asked.material, field="material"),
        thickness_mm=asked.thickness_mm,
        cutters=rack,
        rules=asked.limits,
        supported=asked.supported,
    )
