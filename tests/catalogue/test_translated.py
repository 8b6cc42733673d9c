"""Names of what is shipped in other languages; names of one's own as they were written."""

from __future__ import annotations

from dataclasses import replace

import pytest

from letterply.catalogue import in_language, load_catalogue, material_name_in
from letterply.catalogue.translated import NAMED_IN, _names

KINDS = ("materials", "cutters", "machines")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("language", NAMED_IN)
def test_all_that_is_shipped_has_a_name_of_its_own_and_nothing_else_has(kind, language):
    shipped = load_catalogue()
    named = getattr(in_language(shipped, language), kind)
    assert set(_names()[language][kind]) == set(getattr(shipped, kind))
    assert len({value.name for value in named.values()}) == len(named)
    # Figures are the same: what is told of a cutter is told in every language.
    for key, value in getattr(shipped, kind).items():
        assert replace(named[key], name=value.name) == value


def test_what_a_shop_named_itself_stays_as_it_is_written():
    shipped = load_catalogue()
    own = replace(shipped.cutters["flat-6"], name="Good old 6")
    other = replace(shipped.materials["mdf"], key="loft", name="Birch plywood")
    catalogue = replace(
        shipped,
        cutters={**shipped.cutters, "flat-6": own},
        materials={**shipped.materials, "loft": other},
    )
    told = in_language(catalogue, "de")
    assert told.cutters["flat-6"].name == "Good old 6"
    assert told.materials["loft"].name == "Birch plywood"
    assert told.cutters["drill-2"].name == "Bohrer 2 mm"


def test_a_language_without_names_is_english():
    shipped = load_catalogue()
    assert in_language(shipped, "fr") is in_language(shipped, None) is shipped
    assert material_name_in("fr", "Cast acrylic") == "Cast acrylic"
