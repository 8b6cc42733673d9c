"""Cautions: each only where it applies, few, the gravest first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from letterply.catalogue.cautions import (
    MOST_CAUTIONS,
    bench_cautions,
    machine_cautions,
    material_cautions,
    read_cautions,
)
from letterply.catalogue.loading import load_catalogue
from letterply.requests.shop import HoldDown

CATALOGUE = load_catalogue()
ROUTER, BEAM = CATALOGUE.machine("bench-router"), CATALOGUE.machine("bench-beam")
BURNT = [m for m in CATALOGUE.materials.values() if not m.beam_reason]
ONLY_BEAM = ("beam", "PVC or vinyl", "eyewear", "xtinguisher", "wavelength")
ONLY_ROUTER = ("pindle", "clamp", "Clamp", "cutter", "above the stock", "glove", "dust mask")


def told(machine, key=None, **how):
    material = None if key is None else CATALOGUE.material(key)
    return machine_cautions(machine, material, **how)


@pytest.mark.parametrize("key", sorted(CATALOGUE.materials))
@pytest.mark.parametrize("hold", [HoldDown.TABS, HoldDown.TAPE, HoldDown.SKIN])
def test_a_router_sheet_has_at_most_six_lines_and_none_of_a_beam(key, hold):
    lines = told(ROUTER, key, hold_down=hold, tabs=4 * (hold is HoldDown.TABS))
    assert 4 <= len(lines) <= MOST_CAUTIONS == 6
    assert not [w for w in ONLY_BEAM for line in lines if w in line]
    assert "never leave it running alone" in lines[0]
    assert "Stop the spindle" in lines[1]
    assert "can be thrown" in lines[1]
    assert "machine's manual" in lines[-1]


@pytest.mark.parametrize("material", BURNT, ids=lambda m: m.key)
def test_a_beam_sheet_has_a_set_of_its_own(material):
    lines = machine_cautions(BEAM, material, hold_down=HoldDown.BED)
    assert len(lines) <= MOST_CAUTIONS
    assert not [w for w in ONLY_ROUTER for line in lines if w in line]
    for words in ("unattended", "xtinguisher", "wavelength", "cover closed", "PVC or vinyl",
                  "Extraction on", "Clean bed", "machine's manual"):  # fmt: skip
        assert sum(words in line for line in lines) == 1, words
    assert lines[0].startswith("Fire")


@pytest.mark.parametrize(
    ("key", "fume"),
    [("mdf", "formaldehyde"), ("birch-plywood", "glue"), ("acrylic-cast", "methyl methacrylate"),
     ("sugar-maple", "wood smoke"), ("ponderosa-pine", "wood smoke")],
)  # fmt: skip
def test_fumes_are_those_of_the_material(key, fume):
    assert any(fume in line for line in told(BEAM, key))


@pytest.mark.parametrize(
    ("key", "words"),
    [("mdf", "dust mask"), ("birch-plywood", "dust mask"), ("sugar-maple", "dust mask"),
     ("black-walnut", "2 mg"), ("aluminium-6061", "Never draw them into a wood-dust extractor"),
     ("brass", "Never draw them into a wood-dust extractor")],
)  # fmt: skip
def test_dust_and_chips_are_those_of_the_material(key, words):
    assert any(words in line for line in told(ROUTER, key))
    assert not any("wood-dust extractor" in line for line in told(ROUTER, "mdf"))


def test_tabs_are_told_with_tabs_alone_and_clamps_where_clamps_hold():
    with_tabs = told(ROUTER, "mdf", hold_down=HoldDown.TABS, tabs=3)
    assert any(line.startswith("Tabs") and "away from you" in line for line in with_tabs)
    assert any("lower than the travel height, 5 mm above" in line for line in with_tabs)
    taped = told(ROUTER, "mdf", hold_down=HoldDown.TAPE)
    assert not any("Tabs" in line or "Clamps" in line for line in taped)


def test_nothing_comes_loose_from_blanks():
    lines = told(ROUTER, "brass", hold_down=HoldDown.TAPE, of_blanks=True)
    assert not any("thrown" in line for line in lines)
    assert any("Stop the spindle" in line for line in lines)


def test_what_holds_for_all_sheets_of_an_order_names_no_material():
    for machine in (ROUTER, BEAM):
        lines = told(machine)
        assert 3 <= len(lines) <= MOST_CAUTIONS
        assert not any(m.name in line for m in CATALOGUE.materials.values() for line in lines)


def test_the_bench_is_told_of_what_is_done_there():
    acrylic, mdf = CATALOGUE.material("acrylic-cast"), CATALOGUE.material("mdf")
    assert bench_cautions([mdf], glued=False, finished=False) == ()
    glue, paint = bench_cautions([mdf], glued=True, finished=True)
    assert glue.startswith("Glue")
    assert "no flame" in glue
    assert paint.startswith("Paint")
    assert "gloves" in paint
    assert bench_cautions([acrylic, mdf], glued=True, finished=False)[0].startswith("Solvent")
    assert bench_cautions([acrylic], glued=False, finished=False) == ()


def test_a_shops_own_sentences_go_with_those_of_the_kind():
    own = replace(CATALOGUE.material("mdf"), cautions=("Ours is green and smells.",))
    (line,) = [t for t in machine_cautions(ROUTER, own) if "smells" in t]
    assert "dust mask" in line


def test_materials_are_described_with_what_either_machine_asks_for():
    for material in CATALOGUE.materials.values():
        lines = material_cautions(material)
        assert any(line.startswith("On a router") for line in lines)
        assert any("nder a beam" in line for line in lines)


def test_every_caution_has_a_source_and_fits_two_lines_of_a_page():
    for caution in read_cautions():
        assert caution.source.text
        assert len(caution.text) <= 170, caution.key
        assert caution.text.endswith(".")
    keys = [c.key for c in read_cautions()]
    assert len(set(keys)) == len(keys)
