"""Raised and visual characters held against the 2010 ADA Standards for Accessible Design, 703.

Advice, not a certificate: style, finish and braille cannot be measured from outlines, and local
codes may ask for more; every finding says so. Limits in inches are taken as exact (1 in =
25.4 mm), not as the rounded millimetres that the standard prints beside them. Raised characters
give findings of the code `tactile`, visual ones `reading`. All mm.
"""

from __future__ import annotations

from letterply.checks.signs.advice import Advice, Range
from letterply.checks.signs.letters import LetterMeasures, measure_letters
from letterply.findings import Finding, Remedy, RemedyAction
from letterply.lettering import LOWEST_BASELINE_MM, Font, Lettering, minimum_visual_height
from letterply.requests import SignUse
from letterply.said import say
from letterply.shapes import DEFAULT_TOLERANCES, Tolerances
from letterply.units import MM_PER_INCH

__all__ = ["check_accessibility", "minimum_visual_height"]

_UPRIGHT_DEG = 2.0
"""Lean of a stem from which on a face counts as oblique; common practice, no source."""


def check_accessibility(
    lettering: Lettering,
    font: Font,
    use: SignUse,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
    *,
    origin_mm: tuple[float, float] = (0.0, 0.0),
) -> tuple[Finding, ...]:
    """Return where lettering strays from the published limits for its use.

    `font` is the font that the lettering was set in, before its axes are applied. Places are in
    the lettering frame, shifted by `origin_mm`. What cannot be measured is told in one note for
    each of the two sets of rules.
    """
    measures = measure_letters(lettering, font, tolerances)
    found: list[Finding] = []
    if use.raised:
        found += _tactile(measures, lettering, use, Advice("tactile", origin_mm))
    if not (use.raised and use.braille):
        found += _reading(measures, lettering, use, Advice("reading", origin_mm))
    return tuple(found)


def _tactile(
    m: LetterMeasures, lettering: Lettering, use: SignUse, advice: Advice
) -> list[Finding]:
    inch = MM_PER_INCH
    unknown = [say("style (sans serif, no decoration: 703.2.3)")]
    found: list[Finding | None] = []
    if use.depth_mm is None:
        unknown.append(say("depth (703.2.1)"))
    else:
        found.append(
            advice.length(
                "703.2.1",
                say("raised characters stand out by"),
                use.depth_mm,
                Range(inch / 32),
                lower=(
                    Remedy(RemedyAction.CHANGE_STOCK, say("take a thicker sheet for the letters")),
                ),
            )
        )
    found.append(advice.capitals("703.2.2", m.lower_case))
    found.append(advice.lean("703.2.3", m.lean_deg, _UPRIGHT_DEG))
    found.append(advice.proportion("703.2.4", m.o_width_mm, m.height_mm, Range(0.55, 1.10)))
    least = inch / 2 if use.separate_visual else 5 * inch / 8
    found.append(advice.height("703.2.5", m.height_mm, Range(least, 2 * inch)))
    found.append(advice.stroke("703.2.6", m.stroke_mm, m.height_mm, Range(0.0, 0.15)))
    if m.height_mm is None or m.stroke_mm is None:
        unknown.append(say("what a capital I shows, for want of one (703.2.5 to 703.2.8)"))
    found += _raised_gaps(m, use, advice)
    if use.border_mm is not None:
        found.append(
            advice.length(
                "703.2.7", say("the distance of raised borders and decoration is"), use.border_mm,
                Range(3 * inch / 8), lower=advice.move_border(use.border_mm, 3 * inch / 8),
            )
        )  # fmt: skip
    found.append(
        advice.line_pitch("703.2.8", m.pitch_mm, m.height_mm, Range(1.35, 1.70), lettering.em_mm)
    )
    found.append(advice.mounting("703.4.1", use.baseline_height_mm, Range(48 * inch, 60 * inch)))
    if not use.braille:
        found.append(advice.no_braille("703.2"))
    unknown.append(say("braille (703.3)"))
    found.append(advice.unmeasured(unknown))
    return [f for f in found if f is not None]


def _raised_gaps(m: LetterMeasures, use: SignUse, advice: Advice) -> list[Finding | None]:
    """Hold the gaps against 703.2.7: a rectangular section once, another at base and top."""
    inch = MM_PER_INCH
    stroke = m.stroke_mm
    if use.bevel_mm == 0:
        limits = Range(inch / 8, None if stroke is None else 4 * stroke)
        return advice.gaps("703.2.7", m.gaps, limits, 0.0, say("between"))
    base = Range(inch / 16, None if stroke is None else 4 * stroke)
    narrow = None if stroke is None else max(stroke - 2 * use.bevel_mm, 0.0)
    top = Range(inch / 8, 4 * narrow if narrow else None)  # an edge has no width to measure by
    return [
        *advice.gaps("703.2.7", m.gaps, base, 0.0, say("at the base between")),
        *advice.gaps("703.2.7", m.gaps, top, 2 * use.bevel_mm, say("at the top between")),
    ]


def _reading(
    m: LetterMeasures, lettering: Lettering, use: SignUse, advice: Advice
) -> list[Finding]:
    unknown = [say("finish and contrast (703.5.1)"), say("style (conventional form: 703.5.3)")]
    found: list[Finding | None] = [
        advice.lean("703.5.3", m.lean_deg, _UPRIGHT_DEG),
        advice.proportion("703.5.4", m.o_width_mm, m.height_mm, Range(0.55, 1.10)),
    ]
    baseline, distance = use.baseline_height_mm, use.viewing_distance_mm
    if baseline is None or distance is None:
        unknown.append(say("height for the distance (703.5.5: give distance and baseline)"))
    else:
        least = minimum_visual_height(distance, max(baseline, LOWEST_BASELINE_MM))
        found.append(advice.height("703.5.5", m.height_mm, Range(least)))
    found.append(advice.mounting("703.5.6", baseline, Range(LOWEST_BASELINE_MM)))
    found.append(advice.stroke("703.5.7", m.stroke_mm, m.height_mm, Range(0.10, 0.30)))
    if m.height_mm is None or m.stroke_mm is None:
        unknown.append(say("what a capital I shows, for want of one (703.5.5 to 703.5.9)"))
    else:
        limits = Range(0.10 * m.height_mm, 0.35 * m.height_mm)
        found += advice.gaps("703.5.8", m.gaps, limits, 0.0, say("between"))
    found.append(
        advice.line_pitch("703.5.9", m.pitch_mm, m.height_mm, Range(1.35, 1.70), lettering.em_mm)
    )
    found.append(advice.unmeasured(unknown))
    return [f for f in found if f is not None]
