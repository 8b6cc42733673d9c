"""Repair: a recipe and what stands in its way in, a recipe with the remedies applied out.

Only blockers are repaired. A remedy that acts where the fault is goes first: bridges for islands
of a stencil, links between the pieces of a letter, strengthening of thin places, inside corners
softened where a hole is smaller than any cutter, depths limited. What was tried already gives way
to the next one: the whole outline grows. Larger lettering comes last, and only on request. What
no remedy reaches is left, with the reason. Lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from letterply.findings import Finding, RemedyAction, Severity, by_severity
from letterply.requests import parse_recipe
from letterply.units import about_mm, format_mm, times_as_large

__all__ = ["Applied", "RecipeRepair", "Unrepaired", "repair_recipe"]

_SPARE = 1.02
"""Lettering gets this much larger than a remedy asks: what just reaches a limit misses it."""

_LARGEST = 4.0
"""Beyond this many times the size it is other lettering, not a repair."""

_DEFAULT_GAP_MM = 1.0


@dataclass(frozen=True, slots=True)
class Applied:
    """One change of the recipe.

    Attributes:
        action: the remedy that it carries out.
        field: dotted path in the request.
        was, now: values there, in normal form.
        layer: name of the layer, None for all.
        findings: how many blockers it is meant for.
        text: the same in words.

    """

    action: RemedyAction
    field: str
    was: Any
    now: Any
    layer: str | None
    findings: int
    text: str


@dataclass(frozen=True, slots=True)
class Unrepaired:
    """A blocker that no remedy was applied for, and why not."""

    finding: Finding
    why: str


@dataclass(frozen=True, slots=True)
class RecipeRepair:
    """A repaired recipe.

    Attributes:
        recipe: in normal form, lengths in mm.
        applied: what was changed, in the order of the findings.
        left: blockers for which nothing was changed.

    """

    recipe: dict[str, Any]
    applied: tuple[Applied, ...]
    left: tuple[Unrepaired, ...]


@dataclass(frozen=True, slots=True)
class _Step:
    action: RemedyAction
    path: tuple[str | int, ...]
    now: Any
    text: str


@dataclass(frozen=True, slots=True)
class _Bench:
    """What a fix works on: the layer as a dict, its place, all findings that it shares."""

    number: int
    layer: Mapping[str, Any]
    findings: Sequence[Finding]
    gap_mm: float

    @property
    def outline(self) -> Mapping[str, Any] | None:
        """The outline, when it is lettering."""
        outline: Mapping[str, Any] = self.layer["outline"]
        return outline if outline["kind"] == "lettering" else None

    def step(self, action: RemedyAction, name: str, now: Any, text: str) -> list[_Step]:
        return [_Step(action, ("layers", self.number, "outline", name), now, text)]

    def features(self, *kinds: str) -> list[tuple[int, Mapping[str, Any]]]:
        return [(n, f) for n, f in enumerate(self.layer["features"]) if f["kind"] in kinds]


def repair_recipe(
    recipe: Mapping[str, Any],
    findings: Sequence[Finding],
    *,
    gaps_mm: Mapping[str, float] | None = None,
    raise_size: bool = False,
) -> RecipeRepair:
    """Return a recipe with the remedies of its blockers applied.

    Args:
        recipe: as a maker wrote it, or in normal form.
        findings: of the stack that was built from it.
        gaps_mm: name of a layer -> diameter of the smallest cutter that goes through it.
        raise_size: whether lettering may become larger where nothing else helps.

    Raises:
        InputError: the recipe makes no sense.

    """
    made = parse_recipe(recipe).model_dump(mode="json")
    blockers = [f for f in by_severity(findings) if f.severity is Severity.BLOCKER]
    steps: dict[tuple[str | int, ...], tuple[_Step, list[Finding]]] = {}
    left: list[Unrepaired] = []
    for finding in blockers:
        found = _fix(finding, made, blockers, gaps_mm or {})
        if isinstance(found, str):
            left.append(Unrepaired(finding, found))
            continue
        for step in found:
            known = steps.setdefault(step.path, (step, []))
            if known[0].now != step.now and isinstance(step.now, float):
                further = max if step.action is RemedyAction.GROW_BY else min
                best = step if further(step.now, known[0].now) == step.now else known[0]
                steps[step.path] = known = (best, known[1])
            known[1].append(finding)
    if not steps and raise_size:
        steps = _larger(made, left)
        served = {id(f) for _, findings_ in steps.values() for f in findings_}
        left = [u for u in left if id(u.finding) not in served]
    applied = [_apply(made, step, len(for_)) for step, for_ in steps.values()]
    return RecipeRepair(made, tuple(applied), tuple(left))


def _fix(
    finding: Finding, recipe: Mapping[str, Any], every: Sequence[Finding], gaps: Mapping[str, float]
) -> list[_Step] | str:
    """Return the steps that serve a finding, or why there are none."""
    numbers = {layer["name"]: n for n, layer in enumerate(recipe["layers"])}
    if finding.layer is None or finding.layer not in numbers:
        return "it concerns the whole sign, not one outline that could be changed"
    fix = _FIXES.get(finding.code)
    if fix is None:
        return "changing the outline does not help: see its remedies"
    number = numbers[finding.layer]
    mine = [f for f in every if f.layer == finding.layer]
    gap = gaps.get(finding.layer, _DEFAULT_GAP_MM)
    return fix(finding, _Bench(number, recipe["layers"][number], mine, gap))


def _fix_island(finding: Finding, bench: _Bench) -> list[_Step] | str:
    if _remedy(finding, RemedyAction.BRIDGE) is not None:
        stencils = bench.features("through_lettering")
        bare = [n for n, f in stencils if f.get("bridges") is None]
        wish = {"width": None, "angle": None, "count": None}
        return [
            _Step(
                RemedyAction.BRIDGE,
                ("layers", bench.number, "features", n, "bridges"),
                dict(wish),
                "bridges hold what would drop out",
            )
            for n in bare
        ] or "the cut has bridges already, and something else frees the piece"
    outline = bench.outline
    if outline is None:
        return "the outline of the layer is no lettering"
    if not outline["join"]:
        text = "the pieces of each letter are joined"
        return bench.step(RemedyAction.JOIN, "join", "letters", text)
    if outline["join"] == "letters":
        return bench.step(RemedyAction.JOIN, "join", True, "all pieces are joined")
    return "the pieces are joined already"


def _fix_thin(finding: Finding, bench: _Bench) -> list[_Step] | str:
    outline = bench.outline
    if outline is None:
        return _wider_bridges(finding, bench)
    if outline.get("strengthen") is None:
        wish = {"limit": None, "gap": bench.gap_mm, "way": "taper"}
        return bench.step(
            RemedyAction.GROW_BY,
            "strengthen",
            wish,
            f"thin places are made wider, gaps of {format_mm(bench.gap_mm)} stay open",
        )
    return _grow(finding, bench)


def _fix_web(finding: Finding, bench: _Bench) -> list[_Step] | str:
    if bench.outline is None:
        return "what lies too close has to be moved: that is the maker's choice"
    return _grow(finding, bench)


def _grow(finding: Finding, bench: _Bench) -> list[_Step] | str:
    """Return growth of the whole outline by what a remedy asks for."""
    outline = bench.outline
    remedy = _remedy(finding, RemedyAction.GROW_BY)
    if outline is None or remedy is None or not isinstance(remedy.value, float | int):
        return "a larger outline does not change it"
    more = float(remedy.value)
    if finding.limit is not None and more > finding.limit:
        return f"the outline would have to grow by {about_mm(more)}: that is more than a repair"
    grown = round(float(outline["grow"]) + more, 3)
    text = f"the outline grows by another {about_mm(more)}"
    return bench.step(RemedyAction.GROW_BY, "grow", grown, text)


def _wider_bridges(finding: Finding, bench: _Bench) -> list[_Step] | str:
    limit = finding.limit or 0.0
    narrow = [
        n
        for n, f in bench.features("through_lettering")
        if f.get("bridges") is not None and 0 < (f["bridges"]["width"] or 0.0) < limit
    ]
    return [
        _Step(
            RemedyAction.BRIDGE,
            ("layers", bench.number, "features", n, "bridges", "width"),
            limit,
            f"bridges are made {about_mm(limit)} wide",
        )
        for n in narrow
    ] or "what lies too close has to be moved: that is the maker's choice"


def _fix_slot(finding: Finding, bench: _Bench) -> list[_Step] | str:
    """Fill holes that are smaller than a hole of the smallest cutter, if no counter goes too.

    The cutter leaves them anyway: the outline then shows what comes out.
    """
    outline = bench.outline
    disc = math.pi / 4 * bench.gap_mm**2
    closed = [f for f in bench.findings if f.code == "slot"]
    if outline is None:
        return "the outline of the layer is no lettering"
    if any(_hole_area(f) > disc for f in closed):
        return "no cutter goes into this counter, and to fill it would change the letter"
    radius = round(bench.gap_mm / 2, 3)
    if outline["soften"] >= radius:
        return "inside corners are rounded already"
    text = f"inside corners get a radius of {format_mm(radius)}, holes too small to cut are filled"
    return bench.step(RemedyAction.SWAP_CUTTER, "soften", radius, text)


def _hole_area(finding: Finding) -> float:
    """Return about how large a hole is: its width along its axis, and its round ends."""
    width = finding.measured or 0.0
    length = float(dict(finding.data).get("length_mm", 0.0))
    return width * length + math.pi / 4 * width**2


def _fix_depth(finding: Finding, bench: _Bench) -> list[_Step] | str:
    remedy = _remedy(finding, RemedyAction.LIMIT_DEPTH)
    if remedy is None or not isinstance(remedy.value, float | int):
        return "it takes a longer cutter"
    limit = float(remedy.value)
    steps = [
        _Step(
            RemedyAction.LIMIT_DEPTH,
            ("layers", bench.number, "features", n, name),
            limit,
            f"{what} are at most {format_mm(limit)} deep",
        )
        for kind, name, what in (
            ("groove_lettering", "floor_at", "grooves"),
            ("recess", "depth", "recesses"),
        )
        for n, f in bench.features(kind)
        if f[name] is None or f[name] > limit
    ]
    return steps or "the depth is limited already"


_FIXES: dict[str, Callable[[Finding, _Bench], list[_Step] | str]] = {
    "island": _fix_island,
    "neck": _fix_thin,
    "stroke": _fix_thin,
    "slot": _fix_slot,
    "depth": _fix_depth,
    "web": _fix_web,
}


def _larger(
    recipe: Mapping[str, Any], left: Sequence[Unrepaired]
) -> dict[tuple[str | int, ...], tuple[_Step, list[Finding]]]:
    """Return the steps that make lettering larger, for what has no other remedy."""
    wanted: dict[tuple[str | int, ...], list[tuple[float, Finding]]] = {}
    for unrepaired in left:
        remedy = _remedy(unrepaired.finding, RemedyAction.RAISE_SIZE_TO)
        if remedy is None or remedy.unit != "times" or not isinstance(remedy.value, float | int):
            continue
        path = _lettering_path(recipe, unrepaired.finding.layer)
        wanted.setdefault(path, []).append((float(remedy.value), unrepaired.finding))
    steps: dict[tuple[str | int, ...], tuple[_Step, list[Finding]]] = {}
    for path, asked in wanted.items():
        factor = round(_SPARE * max(f for f, _ in asked), 3)
        size = _at(recipe, path)["size"]
        larger = _scaled(size, factor)
        if larger is None or not 1 < factor <= _LARGEST:
            continue
        text = f"the lettering is made {times_as_large(factor)}"
        step = _Step(RemedyAction.RAISE_SIZE_TO, (*path, "size"), larger, text)
        steps[step.path] = (step, [f for _, f in asked])
    return steps


def _lettering_path(recipe: Mapping[str, Any], layer: str | None) -> tuple[str | int, ...]:
    """Return where the lettering that a layer's outline is made of stands in the recipe."""
    for number, each in enumerate(recipe["layers"]):
        if each["name"] == layer and each["outline"].get("lettering"):
            return ("layers", number, "outline", "lettering")
    return ("lettering",)


def _scaled(size: Mapping[str, Any], factor: float) -> dict[str, Any] | None:
    """Return a size made larger; None for sizes that a sheet, a disc or a distance gives."""
    larger = dict(size)
    for name in ("cap_height", "x_height", "em", "width"):
        if size.get(name) is not None:
            larger[name] = round(size[name] * factor, 3)
            return larger
    if size.get("fit") is not None:
        larger["fit"] = {k: round(v * factor, 3) for k, v in size["fit"].items()}
        return larger
    return None


def _remedy(finding: Finding, action: RemedyAction) -> Any:
    return next((r for r in finding.remedies if r.action is action), None)


def _at(value: Any, path: Sequence[str | int]) -> Any:
    for step in path:
        value = value[step]
    return value


def _apply(recipe: dict[str, Any], step: _Step, count: int) -> Applied:
    holder = _at(recipe, step.path[:-1])
    last = step.path[-1]
    was = holder[last]
    holder[last] = step.now
    on_layer = step.path[0] == "layers"
    return Applied(
        action=step.action,
        field=".".join(["recipe", *map(str, step.path)]),
        was=was,
        now=step.now,
        layer=_at(recipe, step.path[:2])["name"] if on_layer else None,
        findings=count,
        text=step.text,
    )
