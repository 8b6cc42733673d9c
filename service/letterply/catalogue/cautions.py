"""Cautions: what can hurt someone, told only where it applies, the gravest first.

The sentences and the conditions under which each is told are data (`data/cautions.toml`). They
stand here, below planning, since the headers of programs tell them as well as papers, pictures
and documents do: one list for all.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from letterply.catalogue.machines import Machine
from letterply.catalogue.model import Material, MaterialClass
from letterply.requests import HoldDown
from letterply.sources import Source
from letterply.units import format_mm

__all__ = [
    "FACTS",
    "MOST_CAUTIONS",
    "Caution",
    "bench_cautions",
    "machine_cautions",
    "material_cautions",
    "read_cautions",
]

MOST_CAUTIONS = 6
"""Lines on one sheet of paper: more are not read."""

FACTS = ("clamped", "loose", "tabs", "glue", "solvent", "finish")
"""What a caution may ask for."""

_BLANK_HOLDS = (HoldDown.TABS, HoldDown.SKIN)


@dataclass(frozen=True, slots=True)
class Caution:
    """A sentence or two, and when it is told.

    Attributes:
        key: stable name.
        at: `machine` or `bench`.
        text: for people; `{travel}` stands for the height of travel over the stock.
        source: where it is from.
        machine: `router` or `beam`; empty for both.
        line: name of the line it goes for; of several the first that holds is told. Its own key
            where nothing is said.
        kinds: kinds of material that it is about, and
        materials: single materials; for all where neither is said.
        when: facts that must all hold.

    """

    key: str
    at: str
    text: str
    source: Source
    machine: str = ""
    line: str = ""
    kinds: tuple[MaterialClass, ...] = ()
    materials: tuple[str, ...] = ()
    when: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.at not in ("machine", "bench") or self.machine not in ("", "router", "beam"):
            raise ValueError(f"{self.key}: told at {self.at!r} of {self.machine!r}")
        if set(self.when) - set(FACTS):
            raise ValueError(f"{self.key}: unknown facts in {self.when}")

    def is_about(self, material: Material | None) -> bool:
        """Whether it is told of a material; of none those alone that are for all."""
        if not self.kinds and not self.materials:
            return True
        if material is None:
            return False
        return material.kind in self.kinds or material.key in self.materials


@lru_cache(maxsize=1)
def read_cautions() -> tuple[Caution, ...]:
    """Return all cautions, the gravest first."""
    text = (files("letterply.catalogue") / "data" / "cautions.toml").read_text("utf-8")
    return tuple(
        Caution(
            **{
                **raw,
                "source": Source(*raw["source"]),
                "kinds": tuple(MaterialClass(k) for k in raw.get("kinds", ())),
                "materials": tuple(raw.get("materials", ())),
                "when": tuple(raw.get("when", ())),
            }
        )
        for raw in tomllib.loads(text)["caution"]
    )


def machine_cautions(
    machine: Machine,
    material: Material | None = None,
    *,
    hold_down: HoldDown | None = None,
    tabs: int = 0,
    of_blanks: bool = False,
) -> tuple[str, ...]:
    """Return what to mind at a machine, at most `MOST_CAUTIONS` lines.

    Args:
        machine: the machine.
        material: what is cut; None for what holds for all sheets of an order.
        hold_down: how it is held; None where that differs.
        tabs: tabs that are left.
        of_blanks: whether blanks are worked, which nothing cuts through.

    """
    facts = {
        "clamped": of_blanks or hold_down in _BLANK_HOLDS,
        "loose": not of_blanks and material is not None,
        "tabs": tabs > 0,
    }
    told = _told("machine", machine.kind, material, facts)
    return tuple(t.replace("{travel}", format_mm(machine.safe_height_mm)) for t in told)


def bench_cautions(
    materials: Iterable[Material], *, glued: bool, finished: bool
) -> tuple[str, ...]:
    """Return what to mind at the bench: parts of these materials, glued and finished or not."""
    acrylic = any(m.kind is MaterialClass.ACRYLIC for m in materials)
    facts = {"glue": glued, "solvent": glued and acrylic, "finish": finished}
    return _told("bench", "", None, facts)


def material_cautions(material: Material) -> tuple[str, ...]:
    """Return what a material asks for at either machine: for lists that know of no machine."""
    found = []
    for kind in ("router", "beam"):
        if kind == "beam" and material.beam_reason:
            found.append(f"Never under a beam. {material.beam_reason}")
            continue
        line = next(
            (c for c in read_cautions() if c.line == "material" and c.machine == kind
             and (c.kinds or c.materials) and c.is_about(material)),
            None,
        )  # fmt: skip
        if line is not None:
            found.append(f"{'Under a beam' if kind == 'beam' else 'On a router'}: {line.text}")
    return (*found, *material.cautions)


def _told(
    at: str, machine: str, material: Material | None, facts: dict[str, bool]
) -> tuple[str, ...]:
    lines: dict[str, str] = {}
    for caution in read_cautions():
        fits = caution.at == at and (not caution.machine or caution.machine == machine)
        if not fits or not all(facts.get(fact, False) for fact in caution.when):
            continue
        if not caution.is_about(material):
            continue
        lines.setdefault(caution.line or caution.key, caution.text)
    if material is not None and material.cautions:
        # A shop's own sentences about a material go with what is said of its kind.
        own = " ".join(material.cautions)
        lines["material"] = f"{lines['material']} {own}" if "material" in lines else own
    return tuple(lines.values())[:MOST_CAUTIONS]
