"""Look-alikes: parts that can be glued turned, face down or in each other's place.

A part is at risk when it seems to fit, its outline within a tolerance of its place, and the
result is not the wanted one. A part that maps onto itself so closely that nobody sees it is
harmless, and so is one that its dowels or the lines on it let lie in one way only. What is judged
how is in `letterply.checks.gluing.mistaken`; here the risks of a stack become findings. All mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from letterply.checks.gluing.face_work import hides_work
from letterply.checks.gluing.mistaken import Base, Kind, Risk, kinds_of, own_risks, swap_risk
from letterply.checks.places import place_inside
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import layer_words
from letterply.requests import DEFAULT_LOOK_ALIKE_RULES, LookAlikeRules
from letterply.said import Said, say
from letterply.stacks import Layer, Part, Stack, letters_words, part_words
from letterply.units import about_mm, counted, listed

__all__ = ["find_look_alikes"]

_MOST_TOLD = 2
"""Ways that a sentence tells; the data hold them all."""


def find_look_alikes(
    stack: Stack, rules: LookAlikeRules = DEFAULT_LOOK_ALIKE_RULES
) -> tuple[Finding, ...]:
    """Return the parts of a stack that can be glued turned, face down or swapped, unnoticed.

    A stack of one layer is not glued and has none. Parts of the bottom layer lie under the
    others and are only told where hidden work would come to lie astray. Parts with the same
    letters that go wrong in the same ways share one finding.
    """
    if len(stack.layers) < 2:
        return ()
    found: list[Finding] = []
    for number, layer in enumerate(stack.layers):
        base = Base.of(stack.layers[number - 1] if number else None)
        # Turning plain parts of the bottom layer is turning what lies on them: it is told there.
        kinds = kinds_of(p for p in layer.parts if not base.bottom or hides_work(p))
        found += _own(kinds, base, layer, rules)
        found += _swaps(kinds, base, layer, rules)
    return tuple(found)


def _own(kinds: Sequence[Kind], base: Base, layer: Layer, rules: LookAlikeRules) -> list[Finding]:
    groups: dict[tuple[object, ...], tuple[tuple[Risk, ...], list[Part]]] = {}
    for kind in kinds:
        risks = own_risks(kind, base, rules)
        if risks:
            told = tuple((r.severity, r.way, r.effect) for r in risks)
            groups.setdefault((kind.first.letters, told), (risks, []))[1].extend(kind.parts)
    return [_own_finding(parts, risks, layer, rules) for risks, parts in groups.values()]


def _swaps(kinds: Sequence[Kind], base: Base, layer: Layer, rules: LookAlikeRules) -> list[Finding]:
    groups: dict[tuple[object, ...], tuple[Risk, list[tuple[Kind, Kind]]]] = {}
    for first, second in combinations(kinds, 2):
        risk = swap_risk(first, second, base, rules)
        if risk is not None:
            letters = first.first.letters, second.first.letters
            key = (letters, risk.severity, risk.way, risk.effect)
            groups.setdefault(key, (risk, []))[1].append((first, second))
    return [_swap_finding(pairs, risk, layer, rules) for risk, pairs in groups.values()]


def _own_finding(
    parts: Sequence[Part], risks: Sequence[Risk], layer: Layer, rules: LookAlikeRules
) -> Finding:
    worst = min(risks, key=lambda r: (r.severity is not Severity.CAUTION, r.misfit_mm))
    first = sorted(risks, key=lambda r: r is not worst)[:_MOST_TOLD]
    told = [say("{way} ({off})", way=r.way, off=_off(r)) for r in first]
    if len(risks) > len(first):
        told.append(say("in {count}", count=counted(len(risks) - len(first), "other way")))
    where = place_inside(parts[0].outline)
    if len(parts) > 1:
        why = say("{parts} seem to fit {ways}", parts=_named(parts), ways=listed(told))
    else:
        why = say("{part} seems to fit {ways}", part=_named(parts), ways=listed(told))
    return _finding(worst, risks, why, layer, parts, where, rules)


def _swap_finding(
    pairs: Sequence[tuple[Kind, Kind]], risk: Risk, layer: Layer, rules: LookAlikeRules
) -> Finding:
    a, b = (kind.first for kind in pairs[0])
    every = {p.name: p for pair in pairs for kind in pair for p in kind.parts}
    more = sum(len(x.parts) * len(y.parts) for x, y in pairs) - 1
    why = say(
        "{named} can be swapped: {way}, each seems to fit the other's place ({off})",
        named=_named((a, b)),
        way=risk.way,
        off=_off(risk),
    )
    if more:
        why += say("; so can {count}", count=counted(more, "more pair"))
    start, end = (p.outline.representative_point() for p in (a, b))
    where = Place("segment", ((float(start.x), float(start.y)), (float(end.x), float(end.y))))
    return _finding(risk, (risk,), why, layer, tuple(every.values()), where, rules)


def _off(risk: Risk) -> Said:
    but = say(", but {effect}", effect=risk.effect) if risk.effect else ""
    return say("{misfit} off{but}", misfit=about_mm(risk.misfit_mm), but=but)


def _finding(
    worst: Risk,
    risks: Sequence[Risk],
    why: Said,
    layer: Layer,
    parts: Sequence[Part],
    where: Place,
    rules: LookAlikeRules,
) -> Finding:
    pinned = any(h.purpose == "dowel" for part in parts for h in part.holes)
    key = (
        Remedy(
            RemedyAction.ADD_KEY,
            say("move one dowel off the middle: it then fits one way"),
            "dowel",
        )
        if pinned
        else Remedy(
            RemedyAction.ADD_KEY, say("align with dowels, which fit one way only"), "dowels"
        )
    )
    return Finding(
        code="look-alike",
        severity=worst.severity,
        layer=layer.name,
        part=parts[0].name,
        where=where,
        measured=worst.misfit_mm,
        limit=rules.tolerance_mm,
        why=why,
        remedies=(
            Remedy(
                RemedyAction.ADD_MARK,
                say("write its name on its back, and which way is up"),
                "mark",
            ),
            key,
        ),
        data=(
            ("parts", [p.name for p in parts]),
            ("ways", [{"way": r.way, "misfit_mm": r.misfit_mm} for r in risks]),
        ),
    )


def _named(parts: Sequence[Part]) -> Said:
    """Return parts of one layer in words: the layer is told once."""
    names = [letters_words(p) or part_words(p) for p in parts]
    if len(names) > 3:
        names = [*names[:3], say("{count} more", count=len(names) - 3)]
    told = listed(names)
    if letters_words(parts[0]) is None:
        return told
    return say("{letters} on {layer}", letters=told, layer=layer_words(parts[0].layer))
