"""Findings of a published sign standard: a clause, a measure, a range, and what to change.

A measure within its range, or one that is not known, gives no finding. Every sentence names the
clause and says that it is advice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from letterply.checks.signs.letters import Gap
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.said import Said, as_it_is, say, say_together
from letterply.shapes import WHOLE
from letterply.units import about_mm, decimal_text, format_exact, times_as_large

__all__ = ["Advice", "Range"]

_STANDARD = "2010 ADA Standards"
_PROVISO = say("advice, not a certificate: local codes decide")

_SLACK = 1e-6
"""What sums of floats may be off at a limit; in the unit of the limit."""


@dataclass(frozen=True, slots=True)
class Range:
    """What a standard allows: at least, and at most where that is not None."""

    least: float
    most: float | None = None

    def missed(self, value: float) -> float | None:
        """Return the limit that a value misses, or None when it lies within."""
        if value < self.least - _SLACK:
            return self.least
        if self.most is not None and value > self.most + _SLACK:
            return self.most
        return None


@dataclass(frozen=True, slots=True)
class Advice:
    """Makes the findings of one set of rules.

    Attributes:
        code: code of its findings.
        origin_mm: where the lettering frame lies in the frame of the findings.

    """

    code: str
    origin_mm: tuple[float, float] = (0.0, 0.0)

    def length(
        self,
        clause: str,
        what: Said,
        value_mm: float | None,
        limits: Range,
        *,
        lower: tuple[Remedy, ...] = (),
        higher: tuple[Remedy, ...] = (),
        where: Place | None = None,
    ) -> Finding | None:
        """Hold a length against its range; `lower` and `higher` say what helps on each side."""
        missed = None if value_mm is None else limits.missed(value_mm)
        if value_mm is None or missed is None:
            return None
        low = value_mm < missed
        bound = say("least") if low else say("most")
        why = say(
            "{what} {value}: the {bound} is {exact}",
            what=what,
            value=about_mm(value_mm, beside=missed),
            bound=bound,
            exact=_exact(missed),
        )
        remedies = lower if low else higher
        return self._caution(clause, why, value_mm, missed, "mm", remedies, where)

    def share(
        self,
        clause: str,
        what: Said,
        part_mm: float | None,
        whole_mm: float | None,
        limits: Range,
        *,
        lower: tuple[Remedy, ...] = (),
        higher: tuple[Remedy, ...] = (),
    ) -> Finding | None:
        """Hold a length against its range, given in shares of the character height."""
        if part_mm is None or whole_mm is None:
            return None
        share = part_mm / whole_mm
        missed = limits.missed(share)
        if missed is None:
            return None
        low = share < missed
        bound = say("least") if low else say("most")
        percent = decimal_text(100 * share, 0 if abs(share - missed) >= 0.01 else 1)
        why = say(
            "{what} {percent} % of the character height: the {bound} is {missed} %",
            what=what,
            percent=percent,
            bound=bound,
            missed=f"{100 * missed:.0f}",
        )
        remedies = lower if low else higher
        return self._caution(clause, why, 100 * share, 100 * missed, "%", remedies, None)

    def height(self, clause: str, height_mm: float | None, limits: Range) -> Finding | None:
        """Hold the character height against its range."""
        missed = None if height_mm is None else limits.missed(height_mm)
        if height_mm is None or missed is None:
            return None
        factor = _inward(missed / height_mm, up=height_mm < missed)
        text = say("make it {times}", times=times_as_large(factor))
        grown = (Remedy(RemedyAction.RAISE_SIZE_TO, text, factor, "times"),)
        shrunk = (Remedy(RemedyAction.LOWER_SIZE_TO, text, factor, "times"),)
        what = say("the height of the capital I is")
        return self.length(clause, what, height_mm, limits, lower=grown, higher=shrunk)

    def proportion(
        self, clause: str, o_width_mm: float | None, height_mm: float | None, limits: Range
    ) -> Finding | None:
        """Hold the width of the capital O against its range of the height of the I."""
        wider = Remedy(RemedyAction.CHANGE_FONT, say("take a wider font"))
        narrower = Remedy(RemedyAction.CHANGE_FONT, say("take a narrower font"))
        what = say("the width of the capital O is")
        return self.share(
            clause, what, o_width_mm, height_mm, limits, lower=(wider,), higher=(narrower,)
        )

    def stroke(
        self, clause: str, stroke_mm: float | None, height_mm: float | None, limits: Range
    ) -> Finding | None:
        """Hold the stroke of the capital I against its range."""
        heavier = Remedy(RemedyAction.CHANGE_FONT, say("take a heavier font or weight"))
        lighter = Remedy(RemedyAction.CHANGE_FONT, say("take a lighter font or weight"))
        what = say("the stroke of the capital I is")
        return self.share(
            clause, what, stroke_mm, height_mm, limits, lower=(heavier,), higher=(lighter,)
        )

    def capitals(self, clause: str, lower_case: Sequence[str]) -> Finding | None:
        """Tell small letters where only capitals are allowed."""
        if not lower_case:
            return None
        shown = as_it_is(", ".join(lower_case[:8]))
        if len(lower_case) > 8:
            shown += say(" and more")
        remedy = Remedy(RemedyAction.CHANGE_CASE, say("set it in capitals"), "upper")
        why = say("raised characters must be capitals, and these are not: {shown}", shown=shown)
        return self._caution(clause, why, None, None, "", (remedy,), None)

    def lean(self, clause: str, lean_deg: float | None, upright_deg: float) -> Finding | None:
        """Tell an oblique font."""
        if lean_deg is None or lean_deg <= upright_deg:
            return None
        remedy = Remedy(RemedyAction.CHANGE_FONT, say("take an upright font"))
        why = say(
            "the stem of the capital I leans by {lean}°: italic fonts are not allowed",
            lean=f"{lean_deg:.0f}",
        )
        return self._caution(clause, why, lean_deg, upright_deg, "deg", (remedy,), None)

    def gaps(
        self, clause: str, gaps: Sequence[Gap], limits: Range, widened_mm: float, which: Said
    ) -> list[Finding | None]:
        """Hold the narrowest and the widest gap against their range.

        `widened_mm` is added to each: what the gap is wider at the height where it is judged.
        """
        if not gaps:
            return []
        narrow, wide = (f(gaps, key=lambda g: g.width_mm) for f in (min, max))
        found: list[Finding | None] = []
        for gap, side in ((narrow, Range(limits.least)), (wide, Range(0.0, limits.most))):
            width = gap.width_mm + widened_mm
            missed = side.missed(width)
            if missed is None:
                continue
            over = [g for g in gaps if side.missed(g.width_mm + widened_mm) is not None]
            more = _inward(missed - width, up=missed > width)
            by = about_mm(abs(more))
            text = (
                say("set the letters {by} wider", by=by)
                if more > 0
                else say("set the letters {by} closer", by=by)
            )
            remedy = Remedy(RemedyAction.CHANGE_SPACING, text, more, "mm")
            pair = {"which": which, "before": gap.before, "after": gap.after}
            what = say("the gap {which} {before} and {after} is", **pair)
            if len(over) > 1:
                what = say(
                    "the gap {which} {before} and {after}, one of {count} that are out of range, "
                    "is",
                    **pair,
                    count=len(over),
                )
            place = Place("segment", (self._at(gap.ends[0]), self._at(gap.ends[1])))
            one = (remedy,)
            found.append(self.length(clause, what, width, side, lower=one, higher=one, where=place))
        return found

    def line_pitch(
        self,
        clause: str,
        pitch_mm: float | None,
        height_mm: float | None,
        limits: Range,
        em_mm: float,
    ) -> Finding | None:
        """Hold the distance of baselines against its range of the character height."""
        if pitch_mm is None or height_mm is None:
            return None
        missed = limits.missed(pitch_mm / height_mm)
        if missed is None:
            return None
        gap = _inward(missed * height_mm / em_mm, up=pitch_mm / height_mm < missed)
        remedy = Remedy(
            RemedyAction.CHANGE_SPACING,
            say("set 'line_gap' to {gap}", gap=f"{gap:g}"),
            gap,
            "em",
        )
        what = say("the distance of the lines of text is")
        return self.share(
            clause, what, pitch_mm, height_mm, limits, lower=(remedy,), higher=(remedy,)
        )

    def mounting(self, clause: str, baseline_mm: float | None, limits: Range) -> Finding | None:
        """Hold the height of the baseline above the floor against its range."""
        missed = None if baseline_mm is None else limits.missed(baseline_mm)
        if baseline_mm is None or missed is None:
            return None
        by = _inward(missed - baseline_mm, up=missed > baseline_mm)
        far = about_mm(abs(by))
        text = (
            say("hang it {far} higher", far=far) if by > 0 else say("hang it {far} lower", far=far)
        )
        remedy = (Remedy(RemedyAction.MOVE_BY, text, by, "mm"),)
        what = say("the height of the baseline above the floor is")
        return self.length(clause, what, baseline_mm, limits, lower=remedy, higher=remedy)

    def move_border(self, border_mm: float, least_mm: float) -> tuple[Remedy, ...]:
        """Return the remedy for a border that is too near."""
        more = _inward(least_mm - border_mm, up=True)
        return (
            Remedy(
                RemedyAction.MOVE_BY,
                say("move it {more} away", more=about_mm(more)),
                more,
                "mm",
            ),
        )

    def no_braille(self, clause: str) -> Finding:
        """Tell that raised characters want braille beside them."""
        why = say("raised characters must be repeated in braille, which is not made here")
        return self._caution(clause, why, None, None, "", (), None)

    def unmeasured(self, what: Sequence[Said]) -> Finding:
        """Return the note on what outlines do not show."""
        return Finding(
            code=self.code,
            severity=Severity.NOTE,
            why=say(
                "not measured: {what} ({standard}; {proviso})",
                what=_run(what),
                standard=_STANDARD,
                proviso=_PROVISO,
            ),
            unit="",
            data=(("standard", _STANDARD), ("unmeasured", list(what))),
        )

    def _caution(
        self,
        clause: str,
        why: Said,
        measured: float | None,
        limit: float | None,
        unit: str,
        remedies: tuple[Remedy, ...],
        where: Place | None,
    ) -> Finding:
        return Finding(
            code=self.code,
            severity=Severity.CAUTION,
            why=say(
                "{why} ({standard} {clause}; {proviso})",
                why=why,
                standard=_STANDARD,
                clause=clause,
                proviso=_PROVISO,
            ),
            where=where,
            measured=None if measured is None else round(measured, 4),
            limit=None if limit is None else round(limit, 4),
            unit=unit,
            remedies=remedies,
            data=(("standard", _STANDARD), ("clause", clause)),
        )

    def _at(self, point: tuple[float, float]) -> tuple[float, float]:
        return point[0] + self.origin_mm[0], point[1] + self.origin_mm[1]


def _inward(value: float, *, up: bool) -> float:
    """Return a value with four decimals, on the side of it that keeps within the range."""
    steps = value * 1e4
    return (math.ceil(steps - WHOLE) if up else math.floor(steps + WHOLE)) / 1e4


def _exact(value_mm: float) -> str:
    """Return a limit with three decimals: inches rounded to two would tell a smaller one."""
    return format_exact(value_mm)


def _run(texts: Sequence[Said]) -> Said:
    first, *rest = texts
    return say_together(first, *(text for one in rest for text in (", ", one)))
