"""The limits that one request's checks hold measures against: the house's own, or the caller's.

    {"safety_factor": 3, "crumb": "20 mm", "webs": {"acrylic_edge_factor": 2.5},
     "movement": {"elastic": true, "dampest_percent": 12}, "look_alike": {"tolerance": 0.3},
     "materials": {"acrylic-cast": {"min_web": "2 mm", "min_web_factor": 0.5}}}

A name is that of the rule, without its `_mm`; what is left out stays as it is. Figures of a
material go over those of the catalogue, for this request alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, TypeVar

from letterply.catalogue import OWN, Catalogue, Material
from letterply.checks.gluing.lookalike import DEFAULT_LOOK_ALIKE_RULES, LookAlikeRules
from letterply.checks.gluing.movement import DEFAULT_MOVEMENT_RULES, MovementRules
from letterply.checks.parts.webs import DEFAULT_WEB_RULES, WebRules
from letterply.checks.rules import DEFAULT_RULES, CheckRules
from letterply.errors import InputError
from letterply.units import parse_length, parse_number

__all__ = ["DEFAULT_LIMITS", "Limits", "normalise_limits", "parse_limits"]

_MATERIAL_FIGURES = (
    "min_web_mm",
    "min_web_factor",
    "bending_strength_mpa",
    "bending_strength_across_mpa",
    "thermal_expansion_per_k",
    "moisture_change_percent",
)
_GROUPS: dict[str, type[WebRules | MovementRules | LookAlikeRules]] = {
    "webs": WebRules,
    "movement": MovementRules,
    "look_alike": LookAlikeRules,
}
_MATERIALS = "materials"
_MOST_MATERIALS = 100

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of one request.

    Attributes:
        rules: of thin places, slots, crumbs, floors, overhangs.
        webs: of features and edges.
        movement: of glued layers.
        look_alike: of parts that seem to fit.
        materials: key of a material -> attribute of `Material` -> figure.

    """

    rules: CheckRules = DEFAULT_RULES
    webs: WebRules = DEFAULT_WEB_RULES
    movement: MovementRules = DEFAULT_MOVEMENT_RULES
    look_alike: LookAlikeRules = DEFAULT_LOOK_ALIKE_RULES
    materials: Mapping[str, Mapping[str, float]] = field(default_factory=dict, hash=False)

    def on(self, catalogue: Catalogue, *, field: str = "limits") -> Catalogue:
        """Return the catalogue with the figures of the request in it.

        Raises:
            UnknownName: a material that is not there; InputError: a figure that cannot be.

        """
        if not self.materials:
            return catalogue
        changed = dict(catalogue.materials)
        for key, figures in self.materials.items():
            where = f"{field}.{_MATERIALS}.{key}"
            changed[key] = _built(catalogue.material(key, field=where), figures, where)
        return replace(catalogue, materials=changed)


DEFAULT_LIMITS = Limits()


def _built(material: Material, figures: Mapping[str, float], where: str) -> Material:
    sources = {**material.sources, **dict.fromkeys(figures, OWN)}
    own_strength = any(name.startswith("bending_strength") for name in figures)
    strengths = () if own_strength else material.strengths
    try:
        return replace(material, sources=sources, strengths=strengths, **figures)  # type: ignore[arg-type]
    except ValueError as exc:
        raise _out_of_range(exc, where) from exc


def normalise_limits(raw: object, *, field: str = "limits") -> dict[str, Any]:
    """Return limits as a request gives them in one form: lengths in mm, names in order.

    Raises:
        InputError: `bad-value`, `unknown-field`, `out-of-range`, naming the limit.

    """
    given = _object(raw, field)
    names = (*_names(CheckRules), *_GROUPS, _MATERIALS)
    normal: dict[str, Any] = {}
    for name, value in sorted(given.items()):
        where = f"{field}.{name}"
        if name in _GROUPS:
            normal[name] = _figures(value, _names(_GROUPS[name]), where)
        elif name == _MATERIALS:
            normal[name] = _materials(value, where)
        elif name in names:
            normal[name] = _figures({name: value}, _names(CheckRules), field)[name]
        else:
            raise _unknown("limits", name, where, names)
    parse_limits(normal, field=field)
    return normal


def parse_limits(normal: Mapping[str, Any], *, field: str = "limits") -> Limits:
    """Return the limits that `normalise_limits` gave.

    Raises:
        InputError: `out-of-range`, naming the group.

    """
    rules = {n: v for n, v in normal.items() if n in _names(CheckRules)}
    own = {
        key: {_attribute(n, _MATERIAL_FIGURES): v for n, v in figures.items()}
        for key, figures in normal.get(_MATERIALS, {}).items()
    }
    return Limits(
        rules=_rules(CheckRules, rules, field),
        webs=_rules(WebRules, normal.get("webs", {}), f"{field}.webs"),
        movement=_rules(MovementRules, normal.get("movement", {}), f"{field}.movement"),
        look_alike=_rules(LookAlikeRules, normal.get("look_alike", {}), f"{field}.look_alike"),
        materials=own,
    )


def _rules(kind: type[_T], given: Mapping[str, Any], where: str) -> _T:
    names = tuple(f.name for f in fields(kind))  # type: ignore[arg-type]
    try:
        return kind(**{_attribute(n, names): v for n, v in given.items()})
    except ValueError as exc:
        raise _out_of_range(exc, where) from exc


def _names(kind: type[Any]) -> tuple[str, ...]:
    """Return the names that a request gives to the fields of a set of rules."""
    return tuple(f.name.removesuffix("_mm") for f in fields(kind))


def _attribute(name: str, attributes: tuple[str, ...]) -> str:
    return next(a for a in attributes if a.removesuffix("_mm") == name)


_LENGTHS = frozenset(
    f.name.removesuffix("_mm")
    for kind in (CheckRules, *_GROUPS.values())
    for f in fields(kind)
    if f.name.endswith("_mm")
) | {"min_web"}
_SWITCHES = frozenset({"elastic"})


def _materials(raw: object, where: str) -> dict[str, dict[str, Any]]:
    given = _object(raw, where)
    if len(given) > _MOST_MATERIALS:
        raise InputError(
            f"{len(given)} materials are too many.",
            code="bad-value",
            field=where,
            expected=f"at most {_MOST_MATERIALS}",
        )
    names = tuple(f.removesuffix("_mm") for f in _MATERIAL_FIGURES)
    return {
        key: _figures(figures, names, f"{where}.{key}") for key, figures in sorted(given.items())
    }


def _figures(raw: object, names: tuple[str, ...], where: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in sorted(_object(raw, where).items()):
        if name not in names:
            raise _unknown("limits", name, f"{where}.{name}", names)
        found[name] = _figure(name, value, f"{where}.{name}")
    return found


def _figure(name: str, value: object, where: str) -> float | bool:
    if name in _SWITCHES:
        if not isinstance(value, bool):
            raise InputError(
                f"{name} is either true or false.",
                code="bad-value",
                field=where,
                expected="true or false",
            )
        return value
    if name in _LENGTHS:
        return parse_length(value, field=where)
    return parse_number(value, field=where, what=name)


def _object(raw: object, where: str) -> Mapping[str, Any]:
    if not isinstance(raw, Mapping):
        raise InputError(
            "Limits are given as an object.",
            code="bad-value",
            field=where,
            expected="a JSON object of names and figures",
        )
    return {str(name): value for name, value in raw.items()}


def _unknown(what: str, name: str, where: str, names: tuple[str, ...]) -> InputError:
    return InputError(
        f"There is no {name!r} among the {what}.",
        code="unknown-field",
        field=where,
        expected=", ".join(names),
    )


def _out_of_range(exc: ValueError, where: str) -> InputError:
    return InputError(
        "A limit cannot be what was given.",
        code="out-of-range",
        field=where,
        expected=str(exc),
    )
