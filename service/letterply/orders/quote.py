"""What an order costs: sums in, a quote out, by rules of a shop's own.

Material goes by the area used at the price of the sheet it was cut from, machine time by the
programs, set-ups by sheets and cutter changes, handwork by the minutes that a recipe states.
The rules are `letterply.requests.PriceRules`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from letterply.orders.pipeline.answers import PlannedSheet
from letterply.requests import PriceRules

__all__ = ["Quote", "SheetCost", "make_quote"]


@dataclass(frozen=True, slots=True)
class SheetCost:
    """What a sheet takes.

    Attributes:
        number: of the sheet.
        material, thickness_mm: what it is.
        stock_area_mm2: of the sheet, and
        part_area_mm2: of the parts on it.
        price: of the whole sheet.
        machine_s: time of its programs, all runs together; without changes of cutters by hand.
        programs: how many there are.
        runs: how often they are run, each time with new blanks.
        changes_s: time of changes of cutters by hand, all runs together.

    """

    number: int
    material: str
    thickness_mm: float
    stock_area_mm2: float
    part_area_mm2: float
    price: float
    machine_s: float
    programs: int
    runs: int = 1
    changes_s: float = 0.0

    @classmethod
    def of(cls, sheet: PlannedSheet, *, changes_by_hand: bool) -> SheetCost:
        """Return what a sheet takes by its plan."""
        blanks, stock = sheet.of_blanks, sheet.stock
        # Blanks are used up whole: nothing of them is waste.
        area = sheet.part_area_mm2 if blanks else stock.area_mm2
        # A change by hand has a price of its own.
        changes_s = sheet.changes_s if changes_by_hand else 0.0
        return cls(
            number=sheet.number,
            material=stock.material,
            thickness_mm=stock.thickness_mm,
            stock_area_mm2=area,
            part_area_mm2=sheet.part_area_mm2,
            price=stock.price * (len(sheet.marks) if blanks else 1),
            machine_s=sheet.time_s - changes_s,
            programs=len(sheet.programs),
            runs=sheet.runs,
            changes_s=changes_s,
        )

    @property
    def changes(self) -> int:
        """How often a cutter is put in: in every run, unless one does all of the work."""
        return self.programs * (self.runs if self.programs > 1 else 1)


@dataclass(frozen=True, slots=True)
class Quote:
    """The sums of an order, money in the currency of the rules."""

    currency: str
    material: float
    machine: float
    set_ups: float
    hand: float
    total: float
    machine_minutes: float
    set_up_minutes: float
    hand_minutes: float
    part_area_mm2: float
    stock_area_mm2: float
    wasted_area_mm2: float

    @property
    def used_share(self) -> float:
        """Area of parts over area of sheets, 0 to 1."""
        return self.part_area_mm2 / self.stock_area_mm2 if self.stock_area_mm2 else 0.0

    def facts(self) -> dict[str, str | float]:
        """Return the quote as JSON values, rounded to what money and minutes bear."""
        found = {k: round(v, 2) if isinstance(v, float) else v for k, v in asdict(self).items()}
        return {**found, "used_share": round(self.used_share, 4)}


def make_quote(
    sheets: Sequence[SheetCost], hand_minutes: float, rules: PriceRules, *, changes_by_hand: bool
) -> Quote:
    """Return the quote of an order.

    Args:
        sheets: what each sheet takes.
        hand_minutes: handwork on all copies.
        rules: how prices are made.
        changes_by_hand: False for a machine that changes cutters by itself.

    """
    material = sum(
        s.price * min(1.0, s.part_area_mm2 * (1 + rules.waste_share) / s.stock_area_mm2)
        for s in sheets
    )
    machine_min = sum(s.machine_s for s in sheets) / 60
    changes = sum(s.changes for s in sheets) if changes_by_hand else 0
    set_up_min = (
        rules.set_up_minutes * len(sheets)
        + rules.cutter_change_minutes * changes
        + rules.load_minutes * sum(s.runs - 1 for s in sheets)
    )
    parts = sum(s.part_area_mm2 for s in sheets)
    stock = sum(s.stock_area_mm2 for s in sheets)
    sums = (
        material * rules.material_markup,
        machine_min / 60 * rules.machine_hour,
        set_up_min / 60 * rules.machine_hour,
        hand_minutes / 60 * rules.hand_hour,
    )
    return Quote(
        rules.currency,
        *sums,
        total=max(rules.minimum, sum(sums)),
        machine_minutes=machine_min,
        set_up_minutes=set_up_min,
        hand_minutes=hand_minutes,
        part_area_mm2=parts,
        stock_area_mm2=stock,
        wasted_area_mm2=stock - parts,
    )
