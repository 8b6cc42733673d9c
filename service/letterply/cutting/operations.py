"""What is cut on a sheet: for every placed part its operations, with cutters and feeds chosen."""

from __future__ import annotations

import math
from dataclasses import replace

import shapely
from shapely import Polygon
from shapely.affinity import affine_transform

from letterply.catalogue.model import Cutter, CutterKind, Material, MaterialClass
from letterply.catalogue.shop import HoldDown, Shop
from letterply.cutting.choice import (
    ProfileChoice,
    choose_profile_cutters,
    flat_cutters,
)
from letterply.cutting.drill import drill_hole, in_short_order, scribe_line, tip_length
from letterply.cutting.feeds import choose_feeds
from letterply.cutting.groove import carve_groove, floor_region, groove_depth, widest_radius
from letterply.cutting.model import Feeds, Operation, OperationKind, Toolpath
from letterply.cutting.pocket import clear_pocket, reached_by
from letterply.cutting.profile import (
    TAB_FLANK_DEG,
    LoopCut,
    TabPlan,
    inside_loops,
    outside_loops,
    profile_path,
    rest_paths,
)
from letterply.errors import InputError
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.shapes.offsets import leftover
from letterply.shapes.regions import EMPTY, Region, as_region
from letterply.shapes.tolerances import Tolerances
from letterply.sheets.model import PlacedPart, Sheet
from letterply.stacks.model import Groove, Hole, Part, Pocket, rigid
from letterply.stacks.plates import hole_region
from letterply.units import format_mm

__all__ = ["SKIN_MM", "TAB_WEB_MM", "SheetPlanner"]

_DRILL_FIT_MM = 0.051
"""How far a drill's diameter may be from the hole's."""

TAB_WEB_MM = 3.0
"""Stock left standing between two kerfs for tabs to hold on to; common practice, no source."""

_LEAST_WEB_MM = 0.5
"""Stock left between a kerf and the next part when no tabs hold on to it."""

_TAB_SHARE = 0.4
"""Largest share of the way round a part that tabs may take."""

SKIN_MM = 0.3
"""Skin left under parts that are not held otherwise; common practice, no source."""

_USUAL_BIT_DEG = 60.0
_LEAST_FLOOR_MM = 0.8


class SheetPlanner:
    """Plans one sheet.

    Attributes:
        sheet: the sheet as it will be cut, its grooves limited to what the rack can carve.
        through: how far through cuts go below the underside; below 0 where a skin stays.
        findings: what could not be planned, or not as drawn.

    """

    def __init__(
        self,
        sheet: Sheet,
        shop: Shop,
        material: Material,
        through_mm: float,
        spacing_mm: float,
        tolerances: Tolerances,
    ) -> None:
        self.shop = shop
        self.material = material
        self.tolerances = tolerances
        # A wider kerf would take the web that tabs hold on to, or the next part.
        tabs = shop.hold_down is HoldDown.TABS
        self.widest = (spacing_mm - TAB_WEB_MM) / 2 if tabs else spacing_mm - _LEAST_WEB_MM
        self.thickness = sheet.stock.thickness_mm
        skin = shop.hold_down is HoldDown.SKIN
        self.through = -SKIN_MM if skin else through_mm
        self.depth = self.thickness + self.through
        self.findings: list[Finding] = []
        plastic = (MaterialClass.ACRYLIC, MaterialClass.PLASTIC, MaterialClass.METAL)
        # Climb for plastics and metals, conventional for wood: common practice, no source.
        self.climb = material.kind in plastic
        self._flat = flat_cutters(shop.cutters, material, 0.0)
        self.sheet = replace(sheet, parts=tuple(self._settled(p) for p in sheet.parts))

    def operations(self) -> list[Operation]:
        """Return all operations in order of work."""
        scribes: list[Operation] = []
        floors: list[Operation] = []
        grooves: list[Operation] = []
        pockets: list[Operation] = []
        drills: list[Operation] = []
        bored: dict[str, list[Hole]] = {}
        for placed in self.sheet.parts:
            scribes += self._scribes(placed)
            for groove in placed.part.grooves:
                floor, walls = self._groove(placed, groove)
                floors += floor
                grooves += walls
            for pocket in placed.part.pockets:
                pockets += self._pocket(placed, pocket.region, pocket.depth_mm, pocket)
            for hole in placed.part.holes:
                operation = self._hole(placed, hole)
                if operation is None and hole.depth_mm is not None:
                    region = hole_region(
                        hole.x_mm, hole.y_mm, hole.diameter_mm, self.tolerances.flatten_mm
                    )
                    pockets += self._pocket(placed, region, hole.depth_mm, hole)
                elif operation is not None:
                    drills.append(operation)
                    if hole.depth_mm is None:
                        bored.setdefault(placed.mark, []).append(hole)
        details, profiles = self._profiles(bored)
        largest_first = lambda o: (-self._cutter(o).diameter_mm, o.cutter)  # noqa: E731
        return [
            *sorted(scribes, key=lambda o: o.cutter),
            *sorted(floors, key=largest_first),
            *sorted(grooves, key=lambda o: o.cutter),
            *sorted(pockets, key=largest_first),
            *sorted(drills, key=lambda o: o.cutter),
            *sorted(details, key=lambda o: o.cutter),
            *sorted(profiles, key=lambda o: o.cutter),
        ]

    def _cutter(self, operation: Operation) -> Cutter:
        return next(c for c in self.shop.cutters if c.key == operation.cutter)

    def _feeds(self, cutter: Cutter, depth_mm: float) -> Feeds:
        return choose_feeds(cutter, self.material, self.shop.machine, depth_mm=depth_mm)

    def _uncut(self, placed: PlacedPart, what: str, expected: str) -> None:
        at = placed.source.outline.representative_point()
        self.findings.append(
            Finding(
                code="uncut",
                severity=Severity.BLOCKER,
                layer=placed.source.layer,
                part=placed.source.name,
                where=Place("point", ((float(at.x), float(at.y)),)),
                why=f"{placed.mark}: no cutter in the rack for {what}",
                remedies=(Remedy(RemedyAction.SWAP_CUTTER, f"add {expected} to the rack"),),
            )
        )

    # What is worked into the face

    def _scribes(self, placed: PlacedPart) -> list[Operation]:
        if not placed.part.scribes:
            return []
        points = [c for c in self.shop.cutters if c.kind is CutterKind.DRAG]
        if not points:
            self._uncut(placed, "scribed lines", "a drag point")
            return []
        cutter = min(points, key=lambda c: (c.diameter_mm, c.key))
        found = []
        for scribe in placed.part.scribes:
            paths = tuple(
                scribe_line(line, scribe.depth_mm, self.tolerances, arcs=self.shop.machine.arcs)
                for line in in_short_order(scribe.lines)
            )
            found.append(
                Operation(
                    OperationKind.SCRIBE,
                    cutter.key,
                    placed.mark,
                    paths,
                    scribe.depth_mm,
                    self._feeds(cutter, scribe.depth_mm),
                    note="the spindle stands still",
                )
            )
        return found

    def _settled(self, placed: PlacedPart) -> PlacedPart:
        """Return the part with its grooves limited to what the rack can carve.

        Where the walls would meet deeper than the bit reaches or the stock bears, the floor goes
        flat there: that is a finding, and what the proof is held against.
        """
        grooves = []
        for number, groove in enumerate(placed.part.grooves):
            chosen = self._bit(groove)
            limit = groove.max_depth_mm if chosen is None else chosen[1]
            if limit != groove.max_depth_mm and limit is not None and chosen is not None:
                at = placed.source.grooves[number].region.representative_point()
                self.findings.append(
                    Finding(
                        code="depth",
                        severity=Severity.CAUTION,
                        layer=placed.source.layer,
                        part=placed.source.name,
                        where=Place("point", ((float(at.x), float(at.y)),)),
                        measured=round(groove_depth(widest_radius(groove.region), chosen[0]), 4),
                        limit=round(limit, 4),
                        why=(
                            f"{placed.mark}: the walls of a groove would meet deeper than "
                            f"{format_mm(limit)}, so its floor goes flat there"
                        ),
                        remedies=(
                            Remedy(
                                RemedyAction.LIMIT_DEPTH,
                                f"set max_depth to {format_mm(limit)} or less",
                                round(limit, 3),
                                "mm",
                            ),
                        ),
                    )
                )
            grooves.append(limit)
        if not grooves:
            return placed

        def with_limits(part: Part) -> Part:
            pairs = zip(part.grooves, grooves, strict=True)
            return replace(part, grooves=tuple(replace(g, max_depth_mm=m) for g, m in pairs))

        return replace(placed, part=with_limits(placed.part), source=with_limits(placed.source))

    def _bit(self, groove: Groove) -> tuple[Cutter, float | None] | None:
        """Return the V-bit for a groove and the depth at which its floor goes flat, if it does."""
        bits = [
            c
            for c in self.shop.cutters
            if c.kind is CutterKind.VBIT and groove.angle_deg in (None, c.included_angle_deg)
        ]
        if not bits:
            return None
        widest = widest_radius(groove.region)
        deepest = self.thickness - _LEAST_FLOOR_MM
        limit = groove.max_depth_mm

        def bound(cutter: Cutter) -> float:
            reach = groove_depth(cutter.radius_mm, cutter)
            most = min(reach, deepest, cutter.cutting_length_mm)
            return most if limit is None else min(most, limit)

        # A bit that carves the groove to where its walls meet, or to the limit that was asked for.
        usable = [
            c for c in bits if min(groove_depth(widest, c), limit or math.inf) <= bound(c) + 1e-9
        ]
        if usable:
            best = min(usable, key=lambda c: (abs(c.included_angle_deg - _USUAL_BIT_DEG), c.key))
            return best, limit
        # Too wide or too deep for every bit: flat at what the bluntest one reaches.
        bluntest = max(bits, key=lambda c: (c.included_angle_deg, c.key))
        return bluntest, bound(bluntest)

    def _groove(
        self, placed: PlacedPart, groove: Groove
    ) -> tuple[list[Operation], list[Operation]]:
        """Return the clearing of a groove's flat floor, and the carving."""
        chosen = self._bit(groove)
        if chosen is None:
            angle = "" if groove.angle_deg is None else f"{groove.angle_deg:g} degree "
            self._uncut(placed, "a groove", f"a {angle}V-bit")
            return [], []
        cutter, limit = chosen
        feeds = self._feeds(cutter, limit or groove_depth(widest_radius(groove.region), cutter))
        floors: list[Operation] = []
        rest = EMPTY
        if limit is not None:
            rest = floor_region(groove.region, cutter, limit, self.tolerances)
            if not rest.is_empty:
                floors = self._pocket(placed, rest, limit, None, note="floor of a groove")
                smallest = min((self._cutter(o).radius_mm for o in floors), default=None)
                if smallest is not None:
                    rest = self._left(rest, smallest)
        cut = carve_groove(
            groove.region,
            cutter,
            feeds.pass_depth_mm,
            self.tolerances,
            max_depth_mm=limit,
            floor_rest=rest,
        )
        carving = Operation(
            OperationKind.GROOVE, cutter.key, placed.mark, cut.paths, cut.depth_mm, feeds
        )
        return floors, [carving]

    def _pocket(
        self,
        placed: PlacedPart,
        region: Region,
        depth_mm: float,
        source: Pocket | Hole | None,
        *,
        note: str = "",
    ) -> list[Operation]:
        """Clear a region with the largest cutter that fits, what it leaves with smaller ones."""
        fitting = [c for c in self._flat if c.cutting_length_mm >= depth_mm]
        fitting.sort(key=lambda c: (-c.diameter_mm, c.key))
        left = region
        done: list[Operation] = []
        smallest = min((c.radius_mm for c in fitting), default=0.0)
        most = reached_by(region, smallest, self.tolerances).area if fitting else 0.0
        for cutter in fitting:
            if not self._worth(cutter, region, left, 0.0 if done else most):
                continue
            feeds = self._feeds(cutter, depth_mm)
            paths = clear_pocket(
                left,
                cutter.radius_mm,
                depth_mm,
                feeds.pass_depth_mm,
                self.tolerances,
                within=region if done else None,
                conventional=not self.climb,
                arcs=self.shop.machine.arcs,
            )
            if not paths:
                continue
            done.append(
                Operation(
                    OperationKind.POCKET,
                    cutter.key,
                    placed.mark,
                    tuple(paths),
                    depth_mm,
                    feeds,
                    note=note,
                )
            )
            left = self._left(region, cutter.radius_mm)
            if left.is_empty:
                break
        if not done and source is not None:
            what = "a blind hole" if isinstance(source, Hole) else "a pocket"
            self._uncut(placed, f"{what} {format_mm(depth_mm)} deep", "a smaller end mill")
        return done

    def _left(self, region: Region, radius_mm: float) -> Region:
        """Return what a cutter leaves whose paths keep a tolerance away from the walls."""
        tolerance = self.tolerances.offset_mm
        return leftover(region, radius_mm + tolerance, tolerance)

    def _worth(self, cutter: Cutter, region: Region, left: Region, most: float) -> bool:
        """Whether a cutter clears enough: the first one most of the room, later ones some more.

        `most` is what the smallest cutter reaches of a region that nothing has cleared yet, else 0.
        """
        reached = reached_by(region, cutter.radius_mm, self.tolerances)
        if most:
            return reached.area >= 0.5 * most
        gained = as_region(shapely.intersection(reached, left)).area
        return gained > max(0.2 * left.area, 0.02)

    def _hole(self, placed: PlacedPart, hole: Hole) -> Operation | None:
        """Return the drilling of a hole, or None when it has to be pocketed or profiled."""
        drills = [
            c
            for c in self.shop.cutters
            if c.kind is CutterKind.DRILL and abs(c.diameter_mm - hole.diameter_mm) < _DRILL_FIT_MM
        ]
        if not drills or hole.depth_mm is not None:
            return None
        cutter = min(drills, key=lambda c: c.key)
        depth = self.depth + tip_length(cutter)
        if depth > cutter.cutting_length_mm or self.shop.hold_down is HoldDown.SKIN:
            return None
        feeds = self._feeds(cutter, depth)
        path = drill_hole(hole.x_mm, hole.y_mm, depth, feeds.pass_depth_mm)
        return Operation(
            OperationKind.DRILL, cutter.key, placed.mark, (path,), depth, feeds, inside=True
        )

    # Profiles

    def _profiles(self, bored: dict[str, list[Hole]]) -> tuple[list[Operation], list[Operation]]:
        cutters = flat_cutters(self.shop.cutters, self.material, self.depth)
        if not cutters:
            for placed in self.sheet.parts:
                self._uncut(
                    placed,
                    f"{format_mm(self.thickness)} of {self.material.name.lower()}",
                    f"an end mill that cuts {format_mm(self.depth)} deep",
                )
            return [], []
        self._refuse_large(cutters)
        cutters = tuple(c for c in cutters if c.diameter_mm <= self.widest + 1e-6) or cutters[:1]
        solids = {
            p.mark: _undrilled(p.part.outline, bored.get(p.mark, [])) for p in self.sheet.parts
        }
        sources: dict[str, int] = {}
        outlines: list[Polygon] = []
        counts: list[int] = []
        for placed in self.sheet.parts:
            key = placed.source.name
            if key not in sources:
                sources[key] = len(outlines)
                outlines.append(
                    _undrilled(placed.source.outline, _as_in(placed, bored.get(placed.mark, [])))
                )
                counts.append(0)
            counts[sources[key]] += 1
        choice = choose_profile_cutters(
            outlines,
            counts,
            cutters,
            self.material,
            self.shop.machine,
            self.depth,
            self.tolerances,
        )
        assert choice is not None  # there are cutters and parts
        details: list[Operation] = []
        profiles: list[Operation] = []
        for placed in self.sheet.parts:
            rest = choice.lefts.get(sources[placed.source.name], EMPTY)
            p = placed.placement
            moved = as_region(affine_transform(rest, rigid(p.angle_deg, p.x_mm, p.y_mm)))
            details += self._detail(placed, solids[placed.mark], choice, moved)
            profiles += self._profile(placed, solids[placed.mark], choice, moved)
        return details, profiles

    def _refuse_large(self, cutters: tuple[Cutter, ...]) -> None:
        smallest = cutters[0].diameter_mm
        for placed in self.sheet.parts:
            box = shapely.minimum_rotated_rectangle(placed.part.outline)
            a, b, c = shapely.get_coordinates(box)[:3]
            side = float(min(shapely.Point(a).distance(shapely.Point(b)),
                             shapely.Point(b).distance(shapely.Point(c))))  # fmt: skip
            if side < smallest:
                raise InputError(
                    f"The smallest cutter through {format_mm(self.thickness)} is "
                    f"{format_mm(smallest)}, larger than {placed.source.name} "
                    f"({format_mm(side)} across).",
                    code="cutter-too-large",
                    field="shop.cutters",
                    expected=f"an end mill under {format_mm(side)} that cuts "
                    f"{format_mm(self.depth)} deep, or a larger part",
                )

    def _detail(
        self, placed: PlacedPart, solid: Polygon, choice: ProfileChoice, rest: Region
    ) -> list[Operation]:
        if choice.detail is None or rest.is_empty:
            return []
        cutter = choice.detail
        feeds = self._feeds(cutter, self.depth)
        paths: list[Toolpath] = []
        for loops, clockwise in self._loops(solid, cutter):
            for loop in loops:
                paths += rest_paths(
                    loop, rest, cutter.radius_mm, self.depth, feeds.pass_depth_mm,
                    self.tolerances, clockwise=clockwise, arcs=self.shop.machine.arcs,
                )  # fmt: skip
        if not paths:
            return []
        return [
            Operation(
                OperationKind.PROFILE,
                cutter.key,
                placed.mark,
                tuple(paths),
                self.depth,
                feeds,
                inside=True,
                note="corners that the larger cutter does not reach",
            )
        ]

    def _loops(self, solid: Polygon, cutter: Cutter) -> list[tuple[list[LoopCut], bool]]:
        """Return the loops of a part and which way each goes, holes first."""
        radius = cutter.radius_mm
        found: list[tuple[list[LoopCut], bool]] = [
            (inside_loops(Polygon(ring), radius, self.tolerances), not self.climb)
            for ring in solid.interiors
        ]
        outside = outside_loops(solid, radius, self.tolerances)
        # The first loop goes round the part; the others lie in cavities and turn as in a hole.
        found.append((outside[1:], not self.climb))
        found.append((outside[:1], self.climb))
        return found

    def _profile(
        self, placed: PlacedPart, solid: Polygon, choice: ProfileChoice, rest: Region
    ) -> list[Operation]:
        cutter = choice.main
        feeds = self._feeds(cutter, self.depth)
        groups = self._loops(solid, cutter)
        inner = [(loop, way) for loops, way in groups[:-1] for loop in loops]
        found: list[Operation] = []
        if inner:
            paths = tuple(
                profile_path(
                    loop,
                    self.depth,
                    feeds.pass_depth_mm,
                    self.tolerances,
                    clockwise=way,
                    arcs=self.shop.machine.arcs,
                )[0]
                for loop, way in inner
            )
            found.append(
                Operation(
                    OperationKind.PROFILE,
                    cutter.key,
                    placed.mark,
                    paths,
                    self.depth,
                    feeds,
                    inside=True,
                )
            )
        (outer,), way = groups[-1]
        wanted = self._tabs(solid, cutter)
        path, tabs = profile_path(
            outer,
            self.depth,
            feeds.pass_depth_mm,
            self.tolerances,
            clockwise=way,
            tabs=wanted,
            tab_floor_mm=self.thickness,
            part=solid,
            keep_clear=rest,
            arcs=self.shop.machine.arcs,
        )
        if wanted is not None and not tabs:
            self._too_small_for_tabs(placed)
        found.append(
            Operation(
                OperationKind.PROFILE,
                cutter.key,
                placed.mark,
                (path,),
                self.depth,
                feeds,
                tabs=tabs,
            )
        )
        return found

    def _tabs(self, solid: Polygon, cutter: Cutter) -> TabPlan | None:
        """Return count and size of tabs; 3 to 8 mm long, 0.5 to 1.5 mm high, common practice.

        A part that tabs would surround gets fewer and shorter ones, or none.
        """
        if self.shop.hold_down is not HoldDown.TABS:
            return None
        around = solid.exterior.length + 2 * math.pi * cutter.radius_mm
        height = min(1.5, max(0.5, 0.3 * self.thickness), 0.6 * self.thickness)
        flanks = 2 * (height + self.through) / math.tan(math.radians(TAB_FLANK_DEG))
        length = 5.0 if around > 200 else 3.0 if around > 100 else 2.0
        most = int(_TAB_SHARE * around / (length + cutter.diameter_mm + flanks))
        count = min(max(2, round(around / 150) + 1), 8, most)
        return TabPlan(max(count, 0), length + cutter.diameter_mm, height)

    def _too_small_for_tabs(self, placed: PlacedPart) -> None:
        at = placed.source.outline.representative_point()
        self.findings.append(
            Finding(
                code="crumb",
                severity=Severity.CAUTION,
                layer=placed.source.layer,
                part=placed.source.name,
                where=Place("point", ((float(at.x), float(at.y)),)),
                why=f"{placed.mark} is too small for tabs and comes loose when it is cut",
                remedies=(
                    Remedy(
                        RemedyAction.CHANGE_HOLD_DOWN,
                        "hold it with double-sided tape or leave a skin",
                        "tape",
                    ),
                ),
            )
        )


def _undrilled(outline: Polygon, drilled: list[Hole]) -> Polygon:
    """Return the outline with its drilled holes closed."""
    kept = []
    for ring in outline.interiors:
        hole = Polygon(ring)
        at = hole.centroid
        same = any(
            abs(h.x_mm - at.x) < 0.01
            and abs(h.y_mm - at.y) < 0.01
            and abs(hole.area - 0.7854 * h.diameter_mm**2) < 0.02 * hole.area
            for h in drilled
        )
        if not same:
            kept.append(ring)
    return Polygon(outline.exterior, kept)


def _as_in(placed: PlacedPart, drilled: list[Hole]) -> list[Hole]:
    """Return the same holes in the part's own frame."""
    places = {(h.x_mm, h.y_mm) for h in drilled}
    return [
        own
        for own, moved in zip(placed.source.holes, placed.part.holes, strict=True)
        if (moved.x_mm, moved.y_mm) in places
    ]
