"""A shop: the machine, cutters, stock and hold-down that one request uses.

A request names entries of the catalogue; what it leaves out is the whole rack. The sheet of a
request may be described in place, as a table with the fields of `Stock`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as _field
from enum import StrEnum
from typing import Any

from letterply.catalogue.loading import stock_from_table
from letterply.catalogue.lying import beside_mm, lie_on_bed
from letterply.catalogue.model import Catalogue, Cutter, CutterKind, Machine, Stock
from letterply.catalogue.power import BeamPower, parse_powers
from letterply.errors import InputError, UnknownName, renamed_field, shown
from letterply.names import visible
from letterply.units import parse_feed, parse_length, parse_number

__all__ = ["Entry", "HoldDown", "OwnFeeds", "Shop", "TabShape", "resolve_shop"]

_FIELDS = (
    "machine", "cutters", "stock", "hold_down", "feeds", "finish", "entry", "tab_shape",
    "groove_passes", "use_counters", "power",
)  # fmt: skip
_DEFAULT_MACHINE = "bench-router"
_MAX_NAMES = 200


class HoldDown(StrEnum):
    """How parts are kept in place while their outline is cut."""

    TABS = "tabs"
    TAPE = "tape"
    SKIN = "skin"
    BED = "bed"
    """Parts rest on the bed: what a beam machine does."""


class Entry(StrEnum):
    """How a cutter goes down at an outline."""

    HELIX = "helix"
    """Round a circle in the waste, from which it meets and leaves the outline on a curve; by a
    ramp where there is no room for one."""
    RAMP = "ramp"
    """Along the cut."""


class TabShape(StrEnum):
    """What a tab looks like from the side."""

    FLAT = "flat"
    TRIANGULAR = "triangular"
    """Pointed: less to cut through by hand."""


@dataclass(frozen=True, slots=True)
class OwnFeeds:
    """A maker's own figures for one cutter; None leaves a figure to the engine."""

    spindle_rpm: float | None = None
    feed_mm_per_min: float | None = None
    plunge_mm_per_min: float | None = None
    depth_per_pass_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Shop:
    """What a job may use.

    Attributes:
        machine: the machine.
        cutters: the rack, sorted by key.
        stock: the sheets, offcuts first, then by key, each with how it lies on the machine.
        hold_down: how parts are held.
        feeds: cutter key -> the maker's own figures.
        finish_mm: what the last pass round an outline takes off its walls; 0 for none.
        entry: how a cutter goes down at an outline.
        tab_shape: what tabs look like.
        groove_passes: 2 to carve grooves twice over, the second time taking a last thin layer.
        use_counters: whether small parts may be cut out of the counters of larger ones.
        power: a maker's own figures for a beam, a sheet each.

    """

    machine: Machine
    cutters: tuple[Cutter, ...]
    stock: tuple[Stock, ...]
    hold_down: HoldDown = HoldDown.TABS
    feeds: Mapping[str, OwnFeeds] = _field(default_factory=dict, hash=False)
    finish_mm: float = 0.0
    entry: Entry = Entry.HELIX
    tab_shape: TabShape = TabShape.FLAT
    groove_passes: int = 1
    use_counters: bool = False
    power: tuple[BeamPower, ...] = ()


def resolve_shop(
    raw: Mapping[str, Any] | None, catalogue: Catalogue, *, field: str = "shop"
) -> Shop:
    """Return the shop that a request describes.

    Raises:
        InputError: `bad-shop`, `unknown-choice`; `UnknownName` for a name that is not there.

    """
    raw = {} if raw is None else raw
    if not isinstance(raw, Mapping):
        raise InputError(
            "The shop is no object.",
            code="bad-shop",
            field=field,
            expected="a JSON object with machine, cutters, stock and hold_down",
        )
    for name in raw:
        if name not in _FIELDS:
            raise InputError(
                f"A shop has no {name!r}.",
                code="unknown-field",
                field=f"{field}.{name}",
                expected=", ".join(_FIELDS),
            )
    hold_down = raw.get("hold_down")
    if hold_down is not None:
        _one_of(HoldDown, hold_down, "is no way to hold parts down", f"{field}.hold_down")
    entry = _one_of(
        Entry, raw.get("entry", "helix"), "is no way to go into the stock", f"{field}.entry"
    )
    tab_shape = _one_of(
        TabShape, raw.get("tab_shape", "flat"), "is no shape of a tab", f"{field}.tab_shape"
    )
    machine = raw.get("machine", _DEFAULT_MACHINE)
    if not isinstance(machine, str):
        raise InputError(
            "The machine is no name.",
            code="bad-shop",
            field=f"{field}.machine",
            expected="a key of the catalogue",
        )
    chosen = catalogue.machine(machine, field=f"{field}.machine")
    usual = HoldDown.BED if chosen.kind == "beam" else HoldDown.TABS
    if hold_down is not None and (hold_down == HoldDown.BED) != (chosen.kind == "beam"):
        raise InputError(
            f"{chosen.name} does not hold parts by {hold_down}.",
            code="unknown-choice",
            field=f"{field}.hold_down",
            expected=str(HoldDown.BED) if chosen.kind == "beam" else "tabs, tape, skin",
        )
    cutters = _cutters(raw.get("cutters"), catalogue, f"{field}.cutters")
    stock = _stock(raw.get("stock"), catalogue, f"{field}.stock")
    return Shop(
        machine=chosen,
        cutters=cutters,
        stock=_on_bed(stock, chosen, cutters, catalogue),
        hold_down=usual if hold_down is None else HoldDown(hold_down),
        feeds=_feeds(raw.get("feeds"), catalogue, chosen, f"{field}.feeds"),
        finish_mm=_finish(raw.get("finish"), f"{field}.finish"),
        entry=Entry(entry),
        tab_shape=TabShape(tab_shape),
        groove_passes=_passes(raw.get("groove_passes", 1), f"{field}.groove_passes"),
        use_counters=_yes_or_no(raw.get("use_counters", False), f"{field}.use_counters"),
        power=parse_powers(raw.get("power"), catalogue, chosen, f"{field}.power"),
    )


def _one_of(choices: type[StrEnum], value: object, what: str, field: str) -> str:
    if not isinstance(value, str) or value not in tuple(choices):
        raise InputError(
            f"{shown(value)} {what}.",
            code="unknown-choice",
            field=field,
            expected=", ".join(choices),
        )
    return value


def _yes_or_no(value: object, field: str) -> bool:
    if not isinstance(value, bool):
        raise InputError(
            f"{shown(value)} is neither yes nor no.",
            code="unknown-choice",
            field=field,
            expected="true or false",
        )
    return value


def _passes(value: object, field: str) -> int:
    if isinstance(value, bool) or value not in (1, 2):
        raise InputError(
            f"Grooves are not carved {shown(value)} times.",
            code="out-of-range",
            field=field,
            expected="1, or 2 for a last thin layer",
        )
    return 1 if value == 1 else 2


def _feeds(raw: object, catalogue: Catalogue, machine: Machine, field: str) -> dict[str, OwnFeeds]:
    if raw is None:
        return {}
    if not isinstance(raw, Mapping):
        raise InputError(
            "feeds is no object.",
            code="bad-shop",
            field=field,
            expected="an object: cutter -> spindle, feed, plunge, depth_per_pass",
        )
    found: dict[str, OwnFeeds] = {}
    for key, figures in raw.items():
        where = f"{field}.{key}"
        if catalogue.cutter(str(key), field=where).kind is CutterKind.BEAM:
            raise InputError(
                "A beam's own figures stand under power, a sheet each.",
                code="bad-shop",
                field=where,
                expected="power: a list of objects with material, thickness, cut, feed, passes",
            )
        if isinstance(figures, Mapping) and "pass_depth" in figures:
            raise renamed_field("pass_depth", "depth_per_pass", f"{where}.pass_depth")
        if not isinstance(figures, Mapping) or set(figures) - set(_OWN):
            raise InputError(
                f"The feeds of {key} are not understood.",
                code="bad-shop",
                field=where,
                expected=f"an object with some of: {', '.join(_OWN)}",
            )
        found[str(key)] = OwnFeeds(
            **{_OWN[n][0]: _figure(n, v, machine, f"{where}.{n}") for n, v in figures.items()}
        )
    return found


_OWN: dict[str, tuple[str, Callable[[Machine], float]]] = {
    "spindle": ("spindle_rpm", lambda m: m.spindle_max_rpm),
    "feed": ("feed_mm_per_min", lambda m: m.max_feed_mm_per_min),
    "plunge": ("plunge_mm_per_min", lambda m: m.max_plunge_mm_per_min),
    "depth_per_pass": ("depth_per_pass_mm", lambda m: m.z_travel_mm),
}
"""Name in a request -> attribute, and the most that a machine bears."""


def _figure(name: str, value: object, machine: Machine, field: str) -> float:
    if name == "depth_per_pass":
        figure = parse_length(value, field=field)
    elif name == "spindle":
        figure = parse_number(value, field=field, what=name)
    else:
        figure = parse_feed(value, field=field)
    most = _OWN[name][1](machine)
    if not 0 < figure <= most:
        raise InputError(
            f"{name} {shown(value)} is not what {machine.name} does.",
            code="out-of-range",
            field=field,
            expected=f"above 0, at most {most:g}",
        )
    return figure


def _finish(raw: object, field: str) -> float:
    allowance = 0.0 if raw is None else parse_length(raw, field=field)
    if not 0 <= allowance <= _MAX_FINISH_MM:
        raise InputError(
            f"A finishing allowance of {shown(raw)} makes no sense.",
            code="out-of-range",
            field=field,
            expected=f"0 to {_MAX_FINISH_MM} mm; 0.1 mm to 0.3 mm is usual",
        )
    return allowance


_MAX_FINISH_MM = 1.0


def _cutters(raw: object, catalogue: Catalogue, field: str) -> tuple[Cutter, ...]:
    if raw is None:
        return tuple(c for _, c in sorted(catalogue.cutters.items()))
    names = _names(raw, field)
    found = {n: catalogue.cutter(str(n), field=f"{field}.{i}") for i, n in enumerate(names)}
    return tuple(c for _, c in sorted(found.items()))


def _stock(raw: object, catalogue: Catalogue, field: str) -> tuple[Stock, ...]:
    if raw is None:
        found = list(catalogue.stock.values())
    else:
        found = []
        for number, entry in enumerate(_names(raw, field, also=Mapping)):
            where = f"{field}.{number}"
            if isinstance(entry, Mapping):
                table = {"count": 1, **entry}
                key = table.pop("key", f"sheet-{number + 1}")
                if not isinstance(key, str) or not 0 < len(visible(key)) == len(key) <= 80:
                    raise InputError(
                        f"{shown(key)} is no key of a sheet.",
                        code="bad-shop",
                        field=f"{where}.key",
                        expected="a name of up to 80 characters",
                    )
                try:
                    sheet = stock_from_table(key, table)
                except InputError as exc:
                    raise InputError(
                        exc.message, code="bad-shop", field=where, expected=exc.expected
                    ) from exc
                catalogue.material(sheet.material, field=f"{where}.material")
                found.append(sheet)
            elif entry in catalogue.stock:
                found.append(catalogue.stock[entry])
            else:
                raise UnknownName("stock", str(entry), tuple(catalogue.stock), field=where)
    return tuple(sorted(found, key=lambda s: (not s.offcut, s.key)))


def _on_bed(
    stock: Sequence[Stock], machine: Machine, cutters: Sequence[Cutter], catalogue: Catalogue
) -> tuple[Stock, ...]:
    sheets = [(catalogue.material(s.material), s.thickness_mm) for s in stock]
    around = beside_mm(machine, cutters, sheets)
    return tuple(lie_on_bed(s, machine.bed_mm, around) for s in stock)


def _names(raw: object, field: str, also: type = str) -> list[Any]:
    good = isinstance(raw, list | tuple) and 0 < len(raw) <= _MAX_NAMES
    if not good or not all(isinstance(n, str | also) for n in raw):  # type: ignore[attr-defined]
        raise InputError(
            f"{field.rpartition('.')[2]} is no list of names.",
            code="bad-shop",
            field=field,
            expected=f"a list of 1 to {_MAX_NAMES} keys of the catalogue",
        )
    return list(raw)  # type: ignore[call-overload, no-any-return]
