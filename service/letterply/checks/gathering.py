"""One cause, one finding: what is the matter in several places of a layer is told once.

A hairline font has its hairlines in every letter, a serif font its serifs; the same letter comes
twice. What is done about it is done to the whole layer. So findings of one kind, severity and layer
become the gravest of them, with the number and places of all.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from letterply.findings import Finding, by_severity
from letterply.said import Said, say, say_together
from letterply.units import about_mm, counted

__all__ = ["gathered"]

_KINDS = {
    "neck": "thin",
    "stroke": "thin",
    "slot": "slot",
    "corner": "corner",
    "island": "island",
    "crumb": "crumb",
    "web": "web",
    "look-alike": "look-alike",
}
"""Codes that may come many times in a layer -> kind of cause."""


def gathered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings with those of one cause as one, worst first."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    alone: list[Finding] = []
    for finding in findings:
        kind = _KINDS.get(finding.code)
        if kind is None:
            alone.append(finding)
            continue
        tip = ("tip", True) in finding.data
        # How far a corner stays round is told by its worst; a blocker and a caution are two.
        severity = None if kind == "corner" else finding.severity
        key = kind, finding.layer, severity, tip, _limit_of(kind, finding)
        groups.setdefault(key, []).append(finding)
    return by_severity((*alone, *(_one(by_severity(group)) for group in groups.values())))


def _limit_of(kind: str, finding: Finding) -> float | None:
    """Return what is told apart by its limit: webs of holes, of grooves and of edges.

    Ridges of a carving are of one kind, whatever their height asks for.
    """
    ridge = any(name == "height_mm" for name, _ in finding.data)
    return finding.limit if kind == "web" and not ridge else None


def _one(group: tuple[Finding, ...]) -> Finding:
    """Return the gravest of findings that have one cause, telling of the others."""
    first = group[0]
    if len(group) == 1:
        return first
    places = tuple(place for f in group for place in _places(f))
    parts = tuple(dict.fromkeys(f.part for f in group if f.part is not None))
    data = (
        *((name, value) for name, value in first.data if name != "places"),
        ("count", len(group)),
        ("places", places),
        ("parts", parts),
    )
    return replace(first, why=say_together(first.why, " ", _others(group)), data=data)


def _places(finding: Finding) -> tuple[tuple[float, float], ...]:
    known: tuple[tuple[float, float], ...] = dict(finding.data).get("places", ())
    return known or (() if finding.where is None else (finding.where.anchor,))


def _others(group: tuple[Finding, ...]) -> Said:
    """Return a sentence on all but the first of some findings."""
    kind = _KINDS[group[0].code]
    more, one = len(group) - 1, len(group) == 2
    if kind == "corner":
        parts = counted(more, "more part")
        return (
            say("{parts} has such corners.", parts=parts)
            if one
            else say("{parts} have such corners.", parts=parts)
        )
    if kind in ("thin", "slot", "web"):
        return _widths([f.measured for f in group if f.measured is not None], more)
    what = counted(more, "more part" if kind == "look-alike" else "more piece")
    return say("{what} is like it.", what=what) if one else say("{what} are like it.", what=what)


def _widths(widths_mm: list[float], more: int) -> Said:
    places = counted(more, "more place")
    low, high = about_mm(min(widths_mm)), about_mm(max(widths_mm))
    if low == high:
        span = say("all {width} wide", width=low)
    else:
        span = say("from {low} to {high} wide", low=low, high=high)
    if more == 1:
        return say("{places} is like it, {span}.", places=places, span=span)
    return say("{places} are like it, {span}.", places=places, span=span)
