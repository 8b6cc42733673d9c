"""The smallest size: confirmed on real outlines, and what no size cures."""

import dataclasses

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Beam
from letterply.checks.survey import sizing as module
from letterply.checks.survey.measures import measure_glyph
from letterply.checks.survey.sizing import blockers_of, size_glyph, size_text, smallest_size
from letterply.checks.survey.weakness import Judge, Terms
from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import DEFAULT_TOLERANCES
from letterply.units import about_mm

CATALOGUE = load_catalogue()
LIBRARY = FontLibrary()


def works(sizing):
    return sizing.cap_height_mm is not None and not sizing.at_any_size


def terms(material="acrylic-cast", thickness=3.0, cutters=("flat-1",), supported=True):
    rack = tuple(CATALOGUE.cutter(c) for c in cutters)
    return Terms(CATALOGUE.material(material), thickness, rack, supported=supported)


def spec(text, font, **more):
    return LetteringSpec(text, font, Size("em", 1.0), align="left", **more)


def blockers_at(text, font, cap_height, each, **more):
    sized = dataclasses.replace(spec(text, font, **more), size=Size("cap_height", cap_height))
    return blockers_of(set_lettering(sized, LIBRARY.load(font), DEFAULT_TOLERANCES).region, each)


def glyph(font, character):
    face = LIBRARY.load(font)
    return face, face.harfbuzz.get_nominal_glyph(ord(character))


@pytest.mark.parametrize(
    ("text", "font"),
    [("Avocet", "dancing-script"), ("Curlew", "lobster"), ("Knot", "playfair-display"),
     ("GODWIT", "oswald")],
)  # fmt: skip
@pytest.mark.parametrize("each", [terms(), terms("mdf", 6.0, ("flat-3175",))])
def test_at_the_answer_nothing_blocks_and_below_something_does(text, font, each):
    found = size_text(spec(text, font), LIBRARY.load(font), each)
    assert found.confirmed is True
    assert not blockers_at(text, font, found.cap_height_mm, each)
    assert blockers_at(text, font, 0.95 * found.cap_height_mm, each)
    for factor in (1.05, 1.3, 2.0, 4.0):
        assert not blockers_at(text, font, factor * found.cap_height_mm, each)


def test_a_counter_governs_where_the_cutter_is_large():
    """The counter of Oswald's A closes below the size at which its largest disc is 3.175 mm."""
    face, number = glyph("oswald", "A")
    measures = measure_glyph(face, number)
    (counter,) = measures.pieces[0].counters
    found = size_glyph(face, number, terms("birch-plywood", 6.5, ("flat-3175",)), name="A")
    expected = 3.175 / counter.width_mm * measures.cap_height_mm
    assert expected <= found.cap_height_mm <= expected * 1.005 + 0.1
    assert found.spot.kind == "counter"
    assert found.governing.startswith("the counter of A, ")
    assert found.confirmed is True
    assert found.load_n is None


def test_the_answer_names_the_place_its_width_and_its_load():
    found = size_text(spec("Avocet", "dancing-script"), LIBRARY.load("dancing-script"), terms())
    assert found.governing.startswith("the join of v and o, a stroke only ")
    assert found.load_n == pytest.approx(terms().needed_n, rel=0.03)
    assert found.governing.endswith(f"{about_mm(found.width_mm)} wide")
    assert f"can be cut with capitals of {found.cap_height_mm:g} mm or more" in found.summary
    assert works(found)


def test_a_text_whose_shape_depends_on_its_size_is_set_again():
    """Tracking of -2 mm makes letters overlap at small sizes: the answer holds for that shape."""
    each = terms()
    more = {"tracking_mm": -2.0}
    found = size_text(spec("Knot", "oswald", **more), LIBRARY.load("oswald"), each)
    assert found.cap_height_mm
    assert not blockers_at("Knot", "oswald", found.cap_height_mm, each, **more)


@pytest.mark.parametrize("supported", [True, False])
def test_a_dot_that_is_a_piece_of_its_own_stands_in_the_way_of_no_size(supported):
    font = LIBRARY.load("oswald")
    assert works(size_text(spec("Dunlin", "oswald"), font, terms(supported=supported)))


def test_no_size_up_to_the_largest_is_said():
    each = terms("sugar-maple", 18.0, ("flat-6",), supported=False)
    found = size_text(
        spec("Knot", "great-vibes"), LIBRARY.load("great-vibes"), each, largest_mm=100
    )
    assert found.cap_height_mm is None
    assert not works(found)
    assert "cannot be cut with capitals of up to 100 mm" in found.summary
    assert found.width_mm < 10
    assert found.confirmed is None


def test_a_sheet_that_no_cutter_goes_through_is_told():
    face, number = glyph("oswald", "R")
    found = size_glyph(face, number, terms(thickness=9.0))
    assert found.at_any_size == (
        "no end mill in the rack is long enough for a cut 9.2 mm deep through 9 mm of cast "
        "acrylic: the longest cuts 4 mm deep",
    )


def test_a_beam_that_must_not_cut_the_material_is_told():
    refused = next(m for m in CATALOGUE.materials.values() if m.beam is Beam.REFUSED)
    face, number = glyph("oswald", "R")
    each = Terms(refused, 1.0, (CATALOGUE.cutter("beam-015"),), supported=True)
    found = size_glyph(face, number, each)
    assert len(found.at_any_size) == 1
    assert refused.beam_reason in found.at_any_size[0]


def test_a_heavier_load_never_asks_for_a_smaller_size():
    face, number = glyph("great-vibes", "K")
    measures = measure_glyph(face, number)
    held, free = (
        smallest_size(measures, Judge(terms(supported=s))).cap_height_mm for s in (True, False)
    )
    assert free >= held


def test_a_glyph_without_ink_can_have_any_size():
    face, number = glyph("oswald", " ")
    found = size_glyph(face, number, terms())
    assert found.cap_height_mm == 0
    assert found.governing == ""
    assert found.confirmed is None


def test_an_answer_that_the_outlines_do_not_bear_out_is_raised_or_admitted(monkeypatch):
    face, number = glyph("oswald", "R")
    honest = size_glyph(face, number, terms())
    real = module.blockers_of
    calls = []

    def stubborn(region, each):
        calls.append(region)
        return real(region, each) or tuple(everything[:1] if len(calls) < 3 else ())

    everything = blockers_at("K", "great-vibes", 5.0, terms())
    monkeypatch.setattr(module, "blockers_of", stubborn)
    raised = size_glyph(face, number, terms())
    assert honest.cap_height_mm < raised.cap_height_mm <= honest.cap_height_mm * 1.02 + 0.11
    assert raised.width_mm > honest.width_mm
    monkeypatch.setattr(module, "blockers_of", lambda region, each: everything)
    admitted = size_glyph(face, number, terms())
    assert admitted.confirmed is False
    assert "the checks still find" in admitted.note
    monkeypatch.setattr(module, "blockers_of", lambda region, each: ())
    assert "it may be smaller" in size_glyph(face, number, terms()).note
