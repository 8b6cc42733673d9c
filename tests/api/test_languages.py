"""Names in the language that is asked for, over HTTP."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize(
    ("kind", "key", "german"),
    [
        ("materials", "birch-plywood", "Birkensperrholz"),
        ("cutters", "drill-3", "Bohrer 3 mm"),
        ("machines", "bench-router", "Kleine Portalfräse 600 x 400"),
        ("templates", "stencil", "Schablone"),
    ],
)
def test_lists_and_entries_have_names_in_the_language_that_is_asked_for(api, kind, key, german):
    def names(language):
        items = api.get(f"/v1/{kind}", params=language).json()["items"]
        (listed,) = [item["name"] for item in items if item["key"] == key]
        assert api.get(f"/v1/{kind}/{key}", params=language).json()["name"] == listed
        return listed

    assert names({"lang": "de"}) == german
    assert names({"lang": "fr"}) == names({}) != german
