"""The context of one sheet: what every operation on it needs, and the doubts it raises."""

from __future__ import annotations

from letterply.catalogue import (
    SKIN_MM,
    WAY_IN_MM,
    Cutter,
    CutterRack,
    Material,
    MaterialClass,
    Refusal,
    Shop,
    Work,
    power_for,
)
from letterply.cutting.feeds import choose_feeds
from letterply.cutting.model import Feeds, Operation
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import in_sentence
from letterply.requests import EntryKind, HoldDown
from letterply.said import Said, named, say
from letterply.shapes import Tolerances
from letterply.sheets import PlacedPart
from letterply.stacks import Groove
from letterply.units import format_exact, format_feed

__all__ = ["TAB_WEB_MM", "SheetContext"]

TAB_WEB_MM = 3.0
"""Stock left standing between two kerfs for tabs to hold on to; common practice, no source."""

_LEAST_WEB_MM = 0.5
"""Stock left between a kerf and the next part when no tabs hold on to it."""

_HELIX_WEB_MM = 1.0
"""Stock left between the helices of two parts that tabs hold; common practice, no source."""

_SENSE = 3.0
"""Factor from the usual above which a maker's own figure is questioned."""


class SheetContext:
    """Shop, material and depths of one sheet.

    Attributes:
        shop: machine, cutters and hold-down.
        material: what is cut.
        rack: what may cut it.
        tolerances: how far each step may stray.
        thickness: of the stock, mm.
        spacing: least distance between parts, mm.
        through: how far through cuts go below the underside, mm; below 0 where a skin stays.
        depth: of a through cut, mm.
        widest: largest diameter that may cut outlines, mm: a wider kerf would take the web that
            tabs hold on to, or the next part, or come into the sheet's margin.
        climb: True for climb milling: plastics and metals; conventional for wood, whose grain
            splinters (common practice, no source).
        power: the maker's own figures for this sheet under a beam; None where there are none.
        bits: groove -> the V-bit that carves it, once that is settled.
        findings: what could not be planned, or not as drawn.

    """

    def __init__(
        self,
        shop: Shop,
        material: Material,
        thickness_mm: float,
        through_mm: float,
        spacing_mm: float,
        tolerances: Tolerances,
        beside_mm: float = 0.0,
    ) -> None:
        self.shop = shop
        self.material = material
        self.rack = CutterRack.of(shop, material)
        self.tolerances = tolerances
        self.thickness = thickness_mm
        self.spacing = spacing_mm
        skin = shop.hold_down is HoldDown.SKIN
        self.through = -SKIN_MM if skin else through_mm
        self.depth = self.thickness + self.through
        tabs = shop.hold_down is HoldDown.TABS
        self.widest = (spacing_mm - TAB_WEB_MM) / 2 if tabs else spacing_mm - _LEAST_WEB_MM
        if beside_mm > WAY_IN_MM and shop.machine.kind != "beam":
            self.widest = min(self.widest, beside_mm - WAY_IN_MM)
        self.climb = material.kind in (
            MaterialClass.ACRYLIC,
            MaterialClass.PLASTIC,
            MaterialClass.METAL,
        )
        self.power = power_for(shop.power, material.key, thickness_mm)
        self.bits: dict[Groove, Cutter] = {}
        self.findings: list[Finding] = []
        self._judged: set[str] = set()

    @property
    def arcs(self) -> bool:
        """Whether the machine takes arcs."""
        return self.shop.machine.arcs

    def helix(self, cutter: Cutter) -> float:
        """Return the radius of a helix beside an outline, mm; 0 where cutters ramp along it.

        It leaves the next part alone; and where tabs hold, a web between the two kerfs even where
        a helix of either part lies beside it, so that every tab has something to hold on to. What
        is left for a finishing pass lies between it and the part.
        """
        if self.shop.entry is not EntryKind.HELIX:
            return 0.0
        if self.shop.hold_down is HoldDown.TABS:
            web = self.spacing - cutter.diameter_mm - self.widest
            room = (web - _HELIX_WEB_MM) / 4
        else:
            room = (self.spacing - cutter.diameter_mm - _LEAST_WEB_MM) / 2
        most = min(cutter.radius_mm, room, WAY_IN_MM / 2)
        return max(0.0, most - self.shop.finish_mm / 2)

    def detail(self, own_mm: float | None) -> float:
        """Return how deep a corner may stay round: what a part or feature says, or the shop."""
        return self.shop.detail_mm if own_mm is None else own_mm

    def flat(self, depth_mm: float) -> tuple[Cutter, ...]:
        """Return the flat cutters for the material that reach a depth, smallest first."""
        return self.rack.able(Work.POCKET, depth_mm)

    def cutter_of(self, operation: Operation) -> Cutter:
        """Return the cutter of an operation."""
        return next(c for c in self.shop.cutters if c.key == operation.cutter)

    def feeds(self, cutter: Cutter, depth_mm: float, *, corners: bool = False) -> Feeds:
        """Return feeds for a cut of this depth; a senseless figure of the maker's is a finding."""
        own = self.shop.feeds_for(self.material.key).get(cutter.key)
        feeds = choose_feeds(
            cutter, self.material, self.shop.machine, depth_mm=depth_mm, corners=corners, own=own
        )
        if own is not None and cutter.key not in self._judged:
            self._judged.add(cutter.key)
            usual = choose_feeds(cutter, self.material, self.shop.machine, depth_mm=depth_mm)
            self._judge_own(cutter, feeds, usual)
        return feeds

    def _judge_own(self, cutter: Cutter, feeds: Feeds, usual: Feeds) -> None:
        for name, unit in (
            ("chip_load_mm", "mm"),
            ("feed_mm_per_min", "mm/min"),
            ("depth_per_pass_mm", "mm"),
        ):
            own, ours = getattr(feeds, name), getattr(usual, name)
            if not ours or 1 / _SENSE <= own / ours <= _SENSE:
                continue
            figure = named(name.partition("_mm")[0].replace("_", " "))
            told, usually = (
                format_feed(v) if unit == "mm/min" else format_exact(v) for v in (own, ours)
            )
            self.findings.append(
                Finding(
                    code="feed",
                    severity=Severity.CAUTION,
                    measured=round(own, 4),
                    limit=round(ours, 4),
                    unit=unit,
                    why=(
                        say(
                            "Your {figure} of {told} for the {cutter} is far from the usual "
                            "{usually} in {material}: try it on scrap first",
                            figure=figure,
                            told=told,
                            cutter=in_sentence(cutter.name),
                            usually=usually,
                            material=in_sentence(self.material.name),
                        )
                    ),
                )
            )

    def add_finding(
        self,
        code: str,
        severity: Severity,
        placed: PlacedPart,
        why: Said,
        remedy: Remedy,
        *,
        where: tuple[float, float] | None = None,
        against: tuple[float | None, float | None] = (None, None),
    ) -> None:
        """Note a finding about a part; its place is in the part's own frame.

        `against` is what was measured and the limit that it is held against.
        """
        if where is None:
            at = placed.source.outline.representative_point()
            where = float(at.x), float(at.y)
        self.findings.append(
            Finding(
                code=code,
                severity=severity,
                layer=placed.source.layer,
                part=placed.source.name,
                where=Place("point", (where,)),
                measured=against[0],
                limit=against[1],
                why=why,
                remedies=(remedy,),
            )
        )

    def uncut(self, placed: PlacedPart, what: Said, expected: Said) -> None:
        """Note that no cutter of the rack gets where it is wanted."""
        remedy = Remedy(
            RemedyAction.SWAP_CUTTER,
            say("add {an} to the rack", an=expected),
        )
        self.add_finding(
            "uncut",
            Severity.BLOCKER,
            placed,
            say("The rack has no cutter for {what}", what=what),
            remedy,
        )

    def refuse(self, placed: PlacedPart, refusal: Refusal) -> None:
        """Note what the rack says no to."""
        self.add_finding(
            refusal.code,
            Severity.BLOCKER,
            placed,
            refusal.why,
            refusal.remedies[0],
            against=(refusal.measured_mm, refusal.limit_mm),
        )
