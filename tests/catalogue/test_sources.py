"""Every figure of the catalogue says where it comes from, and a citation stands where it is so."""

import dataclasses
import re

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Beam
from letterply.errors import InputError
from letterply.requests import Limits, read_request
from letterply.sources import STATUSES

LISTS = ("materials", "cutters", "machines", "stock")
DOCUMENTS = (
    "UFGS",
    "ANSI A208.2-2009",
    "Wood Handbook Table",
    "FPL-GTR-83",
    "J. Chem. Health Saf. 2023",
    "International Laser Safety Conference 1990",
    "UK Forest Products Research Laboratory",
)
"""What was at hand and read; see the list of sources in the tests of each figure."""

PSI = 6.894757e-3
"""MPa a lbf/in2."""


@pytest.fixture(scope="module")
def shipped():
    return load_catalogue()


def figures(entry):
    """Return the names of the attributes of an entry that are figures, or a choice that counts."""
    found = []
    for field in dataclasses.fields(entry):
        value = getattr(entry, field.name)
        numbers = value if isinstance(value, tuple) and value else (value,)
        plain = all(isinstance(v, int | float) and not isinstance(v, bool) for v in numbers)
        zero_counts = field.name == "moisture_change_percent"
        if isinstance(value, Beam) or (plain and (value or zero_counts)):
            found.append(field.name)
    return found


@pytest.mark.parametrize("library", LISTS)
def test_every_figure_names_its_source(shipped, library):
    entries = getattr(shipped, library).values()
    assert entries
    for entry in entries:
        assert len(figures(entry)) >= 2
        missing = [name for name in figures(entry) if name not in entry.sources]
        assert not missing, (entry.key, missing)
        for source in entry.sources.values():
            assert source.status in STATUSES
            assert source.status != "own"


@pytest.mark.parametrize("library", LISTS)
def test_published_and_derived_figures_name_a_document_that_was_read(shipped, library):
    for entry in getattr(shipped, library).values():
        sources = [*entry.sources.items()]
        sources += [("strengths", s.source) for s in getattr(entry, "strengths", ())]
        for name, source in sources:
            if source.status == "published":
                assert any(d in source.text for d in DOCUMENTS), (entry.key, name, source.text)
            if source.status in ("published", "derived"):
                assert "from memory)" not in source.text, (entry.key, name)
            if source.status == "published":
                assert not re.search(r"general|usual data|no document", source.text)


def test_data_of_alloys_and_plastics_without_a_document_are_not_called_published(shipped):
    for key in ("aluminium-6061", "brass", "pvc-sheet"):
        sources = shipped.materials[key].sources
        told = {name for name, source in sources.items() if source.status == "published"}
        assert told <= {"beam"}, key


@pytest.mark.parametrize(
    ("thickness", "strength", "status"),
    [
        # ANSI A208.2-2009 Table 2, grade 210 under 9.5 mm: 2741 lbf/in2
        (3.0, 2741 * PSI, "published"),
        (9.0, 2741 * PSI, "published"),
        # EN 622-5:2009 Table 3, general purpose, dry (from memory)
        (12.0, 22.0, "from memory"),
        (18.0, 20.0, "from memory"),
        (25.0, 18.0, "from memory"),
    ],
)
def test_strength_of_mdf_goes_by_thickness(shipped, thickness, strength, status):
    mdf = shipped.materials["mdf"]
    assert mdf.weakest_mpa(thickness) == pytest.approx(strength, rel=0.01)
    mine = [s.source for s in mdf.strengths if thickness <= s.up_to_mm]
    source = mine[0] if mine else mdf.sources["bending_strength_mpa"]
    assert source.status == status


def test_birch_plywood_does_not_claim_the_row_of_softwood_as_its_own(shipped):
    birch = shipped.materials["birch-plywood"]
    for name in ("bending_strength_mpa", "elastic_modulus_mpa"):
        assert birch.sources[name].status == "derived"
        assert "softwood" in birch.sources[name].text
    # Wood Handbook FPL-GTR-190 Table 12-1, plywood: 4890 to 6180 lbf/in2
    assert birch.weakest_mpa(9) == pytest.approx(4890 * PSI, rel=0.01)
    assert birch.weakest_mpa(4) < birch.weakest_mpa(6.5) < birch.weakest_mpa(9)


def test_maple_across_the_grain_is_the_lowest_that_is_known(shipped):
    """Wood Handbook Table 5-3a, from memory: western redcedar 1.5, eastern white pine 2.1 MPa."""
    maple = shipped.materials["sugar-maple"]
    assert maple.bending_strength_across_mpa == 1.5
    assert maple.sources["bending_strength_across_mpa"].status == "from memory"


def test_what_builds_on_memory_is_from_memory(shipped):
    """Pine: CT 0.00216 of Wood Handbook Table 13-5 is from memory, and so is what follows."""
    pine = shipped.materials["ponderosa-pine"]
    assert pine.moisture_change_percent == pytest.approx(100 * 0.00216 * 4)
    assert pine.sources["moisture_change_percent"].status == "from memory"


def test_a_figure_that_a_shop_overrides_is_its_own(tmp_path):
    own = tmp_path / "boathouse.toml"
    own.write_text(
        "[materials.mdf]\nbending_strength_mpa = 25\nbending_strength_across_mpa = 25\n"
        '[cutters.flat-6]\ndiameter_mm = "5.95 mm"\n'
        '[stock.mdf-6.sources]\nwidth_mm = ["measured in May", "own"]\n'
    )
    catalogue = load_catalogue(own)
    mdf, cutter = catalogue.materials["mdf"], catalogue.cutters["flat-6"]
    assert mdf.sources["bending_strength_mpa"].status == "own"
    assert mdf.sources["elastic_modulus_mpa"].status == "published"
    assert mdf.weakest_mpa(6) == mdf.weakest_mpa(18) == 25
    assert cutter.sources["diameter_mm"].status == "own"
    assert cutter.sources["flutes"].status == "common practice"
    assert catalogue.stock["mdf-6"].sources["width_mm"].text == "measured in May"


def test_a_limit_of_a_request_is_its_own_figure(shipped):
    limits = read_request(Limits, {"materials": {"mdf": {"bending_strength_mpa": 12}}})
    mdf = shipped.with_figures(limits.material_figures).materials["mdf"]
    assert mdf.sources["bending_strength_mpa"].status == "own"
    assert mdf.weakest_mpa(6) == 12


@pytest.mark.parametrize("key", ["pvc-sheet", "brass", "aluminium-6061"])
def test_a_shop_does_not_lift_what_must_not_be_burnt(tmp_path, key):
    own = tmp_path / "boathouse.toml"
    own.write_text(f"[materials.{key}]\nbeam = 'allowed'\nbeam_reason = ''\n")
    with pytest.raises(InputError) as caught:
        load_catalogue(own)
    assert caught.value.code == "bad-catalogue"
    assert "must not be cut by a beam, and no shop can allow it" in caught.value.message


@pytest.mark.parametrize(
    "text",
    [
        "[stock.mdf-6]\nsources = 3",
        "[stock.mdf-6.sources]\nwidth_mm = 'measured'",
        "[stock.mdf-6.sources]\nwidth_mm = ['measured', 'surely']",
        "[stock.mdf-6.sources]\nwidth_mm = [1, 'own']",
        "[[materials.mdf.strengths]]\nup_to_mm = 'thin'\nalong_mpa = 1\nacross_mpa = 1",
        "[[materials.mdf.strengths]]\nup_to_mm = 3\nsource = ['x', 'own']",
        "[materials.mdf]\nstrengths = [1]",
        "[materials.mdf]\nstrengths = 1",
    ],
)
def test_a_wrong_source_or_strength_is_refused(tmp_path, text):
    own = tmp_path / "boathouse.toml"
    own.write_text(text)
    with pytest.raises(InputError) as caught:
        load_catalogue(own)
    assert caught.value.code == "bad-catalogue"
