"""Which measured figures count, in words for plans, programs and papers, in the shop's units."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from letterply.catalogue.measured import MEASURED, Measured
from letterply.catalogue.model import Catalogue, Cutter, CutterKind, Stock
from letterply.catalogue.rack import THROUGH_MM
from letterply.findings import Finding, Remedy, RemedyAction, Severity
from letterply.names import in_sentence, key_words
from letterply.requests import FitFigure, OwnFeeds
from letterply.said import say
from letterply.units import decimal_text, format_exact, format_feed, format_mm

__all__ = ["fit_words", "measured_words", "out_of_flat"]


def measured_words(
    cutters: Iterable[Cutter],
    stock: Stock,
    measured: Measured,
    feeds: Mapping[str, OwnFeeds],
    catalogue: Catalogue,
) -> tuple[str, ...]:
    """Say which measured figures count where these cutters work on a sheet, in the shop's units.

    Args:
        cutters: those that are used.
        stock: the sheet, by the thickness that the rack knows it by.
        measured: what the shop has measured.
        feeds: own figures in this very material, key of a cutter -> them.
        catalogue: names of materials.

    """
    told: list[str] = []
    material = in_sentence(catalogue.material(stock.material).name)
    used = tuple(cutters)
    for cutter in used:
        for name, value in (
            ("diameter_mm", format_exact(cutter.diameter_mm)),
            ("included_angle_deg", f"{decimal_text(cutter.included_angle_deg, 2)}°"),
            ("tip_diameter_mm", format_exact(cutter.tip_diameter_mm)),
        ):
            source = cutter.sources.get(name)
            if source is not None and source.status == MEASURED:
                told.append(f"{_figure(cutter, name)} of the {cutter.name}: {value}, {source.text}")
    for cutter in used:
        own = feeds.get(cutter.key)
        if own is not None and own.feed_mm_per_min is not None:
            feed = format_feed(own.feed_mm_per_min)
            told.append(f"feed of the {cutter.name} in {material}: {feed}, your own for it")
    thick = measured.thickness(stock.material, stock.thickness_mm)
    if thick is not None:
        told.append(
            f"thickness of {format_mm(stock.thickness_mm)} {material}: "
            f"{format_exact(thick.measured_mm)}{_when(thick.measured_on)}"
        )
    return tuple(told)


def out_of_flat(measured: Measured, stock: Stock) -> list[Finding]:
    """Return a caution where such sheets are less flat than through cuts go deep below them."""
    found = measured.thickness(stock.material, stock.thickness_mm)
    if found is None or found.flatness_mm <= THROUGH_MM:
        return []
    sheet = f"{format_mm(stock.thickness_mm)} {key_words(stock.material)}"
    return [
        Finding(
            code="flat",
            severity=Severity.CAUTION,
            measured=round(found.flatness_mm, 4),
            limit=THROUGH_MM,
            why=(
                say(
                    "the {sheet} that you measured is {flatness} out of flat, and cuts go "
                    "only {through} below it: parts may stay attached, and grooves and "
                    "lines differ in width from place to place",
                    sheet=sheet,
                    flatness=format_exact(found.flatness_mm),
                    through=format_mm(THROUGH_MM),
                )
            ),
            remedies=(
                Remedy(
                    RemedyAction.CHANGE_STOCK,
                    say(
                        "hold the sheet down flat, with more clamps or tape, or level the spoil "
                        "board"
                    ),
                ),
            ),
        )
    ]


def _figure(cutter: Cutter, name: str) -> str:
    if name == "included_angle_deg":
        return "angle"
    if name == "tip_diameter_mm":
        return "tip"
    names = {CutterKind.BEAM: "kerf", CutterKind.DRAG: "widest line"}
    return names.get(cutter.kind, "diameter")


def _when(on: str | None) -> str:
    return f", measured on {on}" if on else ", as measured"


def fit_words(fit: FitFigure, what: str) -> str:
    """Say which clearance was taken for a fit.

    >>> fit_words(FitFigure(kind="dowel", into="mdf", diameter=3, clearance=0.05), "dowels")
    'clearance of dowels: 0.05 mm all round, as measured'

    """
    return (
        f"clearance of {what}: {format_exact(fit.clearance_mm)} all round{_when(fit.measured_on)}"
    )
