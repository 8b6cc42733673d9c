"""The catalogue: shipped data, a shop's own file over it, and what is refused."""

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Beam, CutterKind
from letterply.errors import InputError, UnknownName


@pytest.fixture(scope="module")
def shipped():
    return load_catalogue()


@pytest.mark.parametrize(
    ("material", "figure", "value"),
    [
        # UFGS acrylic sheet property table: 14000 and 400000 lbf/in2, 4.3e-5 per F
        ("acrylic-cast", "bending_strength_mpa", 14000 * 6.894757e-3),
        ("acrylic-cast", "elastic_modulus_mpa", 400000 * 6.894757e-3),
        ("acrylic-cast", "thermal_expansion_per_k", 4.3e-5 * 1.8),
        # Wood Handbook FPL-GTR-190 Table 12-1
        ("mdf", "elastic_modulus_mpa", 0.52e6 * 6.894757e-3),
        ("birch-plywood", "bending_strength_mpa", 4890 * 6.894757e-3),
        # Wood Handbook Table 5-3a and 13-5 (CT 0.00353 over 4 % MC)
        ("sugar-maple", "bending_strength_mpa", 109.0),
        ("sugar-maple", "moisture_change_percent", 100 * 0.00353 * 4),
        ("black-walnut", "moisture_change_percent", 100 * 0.00274 * 4),
    ],
)
def test_published_figures_stand_in_the_data(shipped, material, figure, value):
    assert getattr(shipped.materials[material], figure) == pytest.approx(value, rel=0.01)


def test_chlorinated_sheet_and_metals_are_refused_under_a_beam(shipped):
    for key in ("pvc-sheet", "aluminium-6061", "brass"):
        assert shipped.materials[key].beam is Beam.REFUSED
        assert shipped.materials[key].beam_reason


def test_fractions_of_an_inch_are_read(shipped):
    assert shipped.cutters["flat-3175"].diameter_mm == 3.175
    assert shipped.cutters["flat-1588"].diameter_mm == 1.5875


def test_radius_of_a_v_bit_grows_with_depth_and_ends_at_its_diameter(shipped):
    bit = shipped.cutters["vbit-90"]
    assert bit.kind is CutterKind.VBIT
    assert bit.radius_at(2.0) == pytest.approx(2.05)
    assert bit.radius_at(100) == bit.radius_mm


def test_a_shop_file_adds_and_overrides(tmp_path):
    own = tmp_path / "boathouse.toml"
    own.write_text(
        '[stock.acrylic-3]\ncount = 1\n[cutters.flat-4]\nname = "4 mm"\nkind = "flat"\n'
        'diameter_mm = "4 mm"\nflutes = 2\ncutting_length_mm = 15\n'
    )
    catalogue = load_catalogue(own)
    assert catalogue.stock["acrylic-3"].count == 1
    assert catalogue.stock["acrylic-3"].width_mm == 500
    assert catalogue.cutters["flat-4"].diameter_mm == 4


def test_a_file_is_read_anew_once_it_has_changed_and_not_before(tmp_path):
    own = tmp_path / "boathouse.toml"
    own.write_text("[stock.acrylic-3]\ncount = 1\n")
    first = load_catalogue(own)
    assert load_catalogue(own) is first
    own.write_text("[stock.acrylic-3]\ncount = 2\n")
    assert load_catalogue(own).stock["acrylic-3"].count == 2
    assert first.stock["acrylic-3"].count == 1


@pytest.mark.parametrize(
    "text",
    [
        "[stock.acrylic-3]\nmaterial = 'gold'",
        "[cutters.flat-6]\ndiameter_mm = -1",
        "[cutters.flat-6]\nshape = 'round'",
        "[cutters.new]\nname = 'new'",
        "[tools.flat-6]\ndiameter_mm = 1",
        "[materials.mdf]\nbeam = 'perhaps'",
        "not toml at all",
    ],
)
def test_a_wrong_shop_file_is_refused_with_a_reason(tmp_path, text):
    own = tmp_path / "boathouse.toml"
    own.write_text(text)
    with pytest.raises(InputError) as caught:
        load_catalogue(own)
    assert caught.value.code == "bad-catalogue"


def test_unknown_names_say_what_is_there(shipped):
    with pytest.raises(UnknownName) as caught:
        shipped.material("granite", field="layers.0.material")
    assert caught.value.code == "unknown-material"
    assert caught.value.field == "layers.0.material"
    assert "mdf" in caught.value.expected
