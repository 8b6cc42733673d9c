"""A survey: what the glyphs of a font can bear, ranked, and fonts compared for one text.

A font and terms in, rows out, worst first. For each glyph: the smallest size at which it has no
blocker, its weakest spot, its islands, and the counters that close at the size that was asked
about. Islands do not go away with size, so they are counted and left out of the sizes.

A survey costs what reading the outlines costs: the measures are kept, so another cutter, material
or size is answered at once. It stops at a number of outline points rather than of seconds, so
that the same request gives the same answer; the rest is the next page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from letterply.checks.survey.measures import GlyphMeasures, measure_glyph
from letterply.checks.survey.selection import Chosen, Selection, choose_glyphs
from letterply.checks.survey.sizing import (
    LARGEST_CAP_HEIGHT_MM,
    Sizing,
    size_glyph,
    size_text,
    smallest_size,
)
from letterply.checks.survey.weakness import Judge, Terms, WeakSpot
from letterply.errors import FontError, GeometryError, GlyphMissing
from letterply.findings import Finding, Remedy, RemedyAction, Severity, by_severity
from letterply.lettering import Font, LetteringSpec
from letterply.said import say
from letterply.units import counted, format_mm

__all__ = ["Comparison", "Survey", "SurveyRow", "compare_fonts", "survey_findings", "survey_font"]

_MAX_POINTS = 600_000
"""Outline points of a page: about half a minute."""

_CONFIRMED = 3
"""So many of the weakest glyphs are confirmed on real outlines."""

_LISTED = 40


@dataclass(frozen=True, slots=True, eq=False)
class SurveyRow:
    """One glyph.

    Attributes:
        glyph: its number in the font.
        name: its name in the font.
        text: what it stands for; empty where it has no character of its own.
        measures: its measures, or None when its outline cannot be read.
        sizing: its smallest size, or None likewise.
        spots: what is a blocker at the size that was asked about, worst first.
        counters: how many holes it has.
        problem: why its outline cannot be read; empty otherwise.

    """

    glyph: int
    name: str
    text: str
    measures: GlyphMeasures | None
    sizing: Sizing | None
    spots: tuple[WeakSpot, ...] = ()
    counters: int = 0
    problem: str = ""

    @property
    def label(self) -> str:
        """What to call it."""
        return self.text or self.name

    @property
    def closing(self) -> int:
        """How many of its counters close at the size that was asked about."""
        return sum(spot.kind == "counter" for spot in self.spots)

    @property
    def islands(self) -> int:
        """How many of its pieces float free."""
        return self.measures.islands if self.measures else 0


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """A page of a survey.

    Attributes:
        font: the font, at its place in the design space.
        terms: what it would be cut from and with.
        cap_height_mm: the size that was asked about.
        selection: what was looked at.
        rows: worst first; glyphs that cannot be read before all.
        blank: how many glyphs of the page have no ink.
        missing: characters that the font does not have.
        total: how many glyphs the selection has.
        following: where the next page begins, or None at the end.
        text: the smallest size of the text as set, for a selection by text.

    """

    font: Font
    terms: Terms
    cap_height_mm: float
    selection: Selection
    rows: tuple[SurveyRow, ...]
    blank: int
    missing: tuple[str, ...]
    total: int
    following: int | None
    text: Sizing | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """A font's answer for a text that several are compared for.

    Attributes:
        font: the font.
        sizing: the smallest size of the text, or None where it cannot be set.
        problem: why not; empty otherwise.

    """

    font: Font
    sizing: Sizing | None
    problem: str = ""


def survey_font(
    font: Font,
    selection: Selection,
    terms: Terms,
    cap_height_mm: float,
    *,
    spec: LetteringSpec | None = None,
    largest_mm: float = LARGEST_CAP_HEIGHT_MM,
    field: str = "",
) -> Survey:
    """Return one page of a survey.

    Args:
        font: at its place in the design space.
        selection: which glyphs.
        terms: what they would be cut from and with.
        cap_height_mm: size at which closing counters and blockers are told.
        spec: how the text of a selection by text is set, for its size; None to leave that out.
        largest_mm: cap heights above are not looked at.
        field: of the request, for errors.

    Raises:
        UnknownName, InputError, GlyphMissing: as `choose_glyphs`.

    """
    chosen = choose_glyphs(font, selection, field=field)
    rows, blank, done = _rows(font, chosen, terms, cap_height_mm, largest_mm)
    ranked = sorted(rows, key=_rank)
    for k, row in enumerate(ranked[:_CONFIRMED]):
        if row.sizing is not None and row.sizing.cap_height_mm:
            sizing = size_glyph(font, row.glyph, terms, name=row.label, largest_mm=largest_mm)
            ranked[k] = SurveyRow(
                row.glyph, row.name, row.text, row.measures, sizing, row.spots, row.counters
            )
    after = selection.first + done
    return Survey(
        font=font,
        terms=terms,
        cap_height_mm=cap_height_mm,
        selection=selection,
        rows=tuple(sorted(ranked, key=_rank)),
        blank=blank,
        missing=chosen.missing,
        total=chosen.total,
        following=after if after < chosen.total else None,
        text=None if spec is None else size_text(spec, font, terms, largest_mm=largest_mm),
    )


def _rows(
    font: Font, chosen: Chosen, terms: Terms, cap_height_mm: float, largest_mm: float
) -> tuple[list[SurveyRow], int, int]:
    """Return the rows of a page, how many glyphs had no ink, and how many were looked at."""
    judge = Judge(terms)
    rows: list[SurveyRow] = []
    blank = points = done = 0
    for glyph, text in chosen.glyphs:
        if points > _MAX_POINTS:
            break
        done += 1
        name = font.glyph_name(glyph)
        try:
            measures = measure_glyph(font, glyph)
        except (FontError, GeometryError) as exc:
            rows.append(SurveyRow(glyph, name, text, None, None, problem=exc.message))
            continue
        if not measures.pieces:
            blank += 1
            continue
        points += sum(int(shapely.get_num_coordinates(p.outline)) for p in measures.pieces)
        sizing = smallest_size(measures, judge, name=text or name, largest_mm=largest_mm)
        spots = judge.blocked_at(measures.pieces, cap_height_mm / measures.cap_height_mm)
        counters = sum(len(p.counters) for p in measures.pieces)
        rows.append(SurveyRow(glyph, name, text, measures, sizing, spots, counters))
    return rows, blank, done


def _rank(row: SurveyRow) -> tuple[float, int]:
    if row.sizing is None:
        return (-float("inf"), row.glyph)
    size = row.sizing.cap_height_mm
    return (-1e9 if size is None else -size, row.glyph)


def compare_fonts(
    fonts: Sequence[tuple[Font, LetteringSpec]],
    terms: Terms,
    *,
    largest_mm: float = LARGEST_CAP_HEIGHT_MM,
) -> tuple[Comparison, ...]:
    """Return what each font asks for a text, best first: the one that can be cut smallest.

    A font that lacks a character of the text, or cannot be set, comes last with the reason.
    """
    found: list[Comparison] = []
    for font, spec in fonts:
        try:
            found.append(Comparison(font, size_text(spec, font, terms, largest_mm=largest_mm)))
        except (GlyphMissing, FontError, GeometryError) as exc:
            found.append(Comparison(font, None, exc.message))

    def key(entry: Comparison) -> tuple[float, str]:
        size = entry.sizing.cap_height_mm if entry.sizing else None
        return (float("inf") if entry.sizing is None else 1e9 if size is None else size,
                entry.font.key)  # fmt: skip

    return tuple(sorted(found, key=key))


def survey_findings(survey: Survey) -> tuple[Finding, ...]:
    """Return what stands in the way at the size that was asked about, worst first.

    Every glyph that is blocked there is a blocker, for a selection by text the text itself;
    glyphs in pieces are one caution.
    """
    found = [f for row in survey.rows if (f := _finding(row, survey)) is not None]
    loose = [row.label for row in survey.rows if row.islands]
    if loose and not survey.terms.supported:
        shown = ", ".join(loose[:_LISTED]) + (" and more" if len(loose) > _LISTED else "")
        found.append(
            Finding(
                code="island",
                severity=Severity.CAUTION,
                why=say(
                    "{count} in pieces, to be joined or glued on: {shown}",
                    count=counted(len(loose), "glyph"),
                    shown=shown,
                ),
                measured=float(len(loose)),
                unit="glyphs",
                remedies=(
                    Remedy(RemedyAction.JOIN, say("join the pieces of each letter"), "join"),
                ),
            )
        )
    return by_severity(found)


def _finding(row: SurveyRow, survey: Survey) -> Finding | None:
    if not row.spots or row.sizing is None or row.measures is None:
        return None
    worst = row.spots[0]
    counter = worst.kind == "counter"
    width = worst.width_mm * survey.cap_height_mm / row.measures.cap_height_mm
    cutter = survey.terms.cutter
    limit = cutter.diameter_mm if counter and cutter else survey.terms.limit_mm
    size = row.sizing.cap_height_mm
    remedies: tuple[Remedy, ...] = ()
    if size is not None:
        text = say("make the capitals {size} high", size=format_mm(size))
        remedies = (Remedy(RemedyAction.RAISE_SIZE_TO, text, size, "mm"),)
    return Finding(
        code="slot" if counter else ("neck" if worst.kind == "neck" else "stroke"),
        severity=Severity.BLOCKER,
        why=say("{label}: {summary}", label=row.label, summary=row.sizing.summary),
        part=row.label,
        measured=round(width, 4),
        limit=round(limit, 4),
        remedies=remedies,
    )
