"""What a request says of its shop: ways to cut, and what makes no sense."""

from __future__ import annotations

from typing import Any

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.errors import InputError
from letterply.requests.shop import EntryKind, TabShape


def test_ways_to_cut_have_defaults_and_choices() -> None:
    catalogue = load_catalogue()
    plain = resolve_shop({}, catalogue)
    assert not plain.use_counters
    assert resolve_shop({"use_counters": True}, catalogue).use_counters
    assert (plain.entry, plain.tab_shape, plain.groove_passes) == (
        EntryKind.HELIX,
        TabShape.FLAT,
        1,
    )
    wished = {"entry": "ramp", "tab_shape": "triangular", "groove_passes": 2}
    shop = resolve_shop(wished, catalogue)
    assert (shop.entry, shop.tab_shape, shop.groove_passes) == (
        EntryKind.RAMP, TabShape.TRIANGULAR, 2,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("shop", "code", "field"),
    [
        ({"entry": "spiral"}, "unknown-choice", "shop.entry"),
        ({"entry": 3}, "unknown-choice", "shop.entry"),
        ({"tab_shape": "round"}, "unknown-choice", "shop.tab_shape"),
        ({"groove_passes": 3}, "out-of-range", "shop.groove_passes"),
        ({"use_counters": "yes"}, "bad-value", "shop.use_counters"),
        ({"use_counters": 1}, "bad-value", "shop.use_counters"),
        ({"groove_passes": True}, "bad-value", "shop.groove_passes"),
        ({"hold_down": ["tabs"]}, "unknown-choice", "shop.hold_down"),
        ({"hold_down": "glue"}, "unknown-choice", "shop.hold_down"),
        ({"leads": 2}, "unknown-field", "shop.leads"),
    ],
)
def test_mistakes_name_their_field(shop: dict[str, Any], code: str, field: str) -> None:
    with pytest.raises(InputError) as caught:
        resolve_shop(shop, load_catalogue())
    assert (caught.value.code, caught.value.field) == (code, field)


@pytest.mark.parametrize("material", [{}, ["mdf"], None, 5, "moss" * 200])
def test_what_is_no_key_of_a_material_is_named(material: object) -> None:
    sheet = {"material": material, "thickness_mm": 3, "width_mm": 90, "height_mm": 90}
    with pytest.raises(InputError) as caught:
        resolve_shop({"stock": [sheet]}, load_catalogue())
    assert caught.value.field == "shop.stock.0.material"
    assert len(caught.value.message) < 120
