"""An order accepted for a machine that must not cut it: no sheet, and everyone is told why."""

import json
from dataclasses import replace

from orders.intake.ordering import read
from orders.pipeline.small import made

TAG = {
    "title": "{text} tag",
    "lettering": {"text": "{text}", "font": "oswald", "size": {"cap_height": "16 mm"}},
    "layers": [
        {
            "name": "base",
            "material": "pvc-sheet",
            "thickness": "3 mm",
            "outline": {"kind": "plate", "margin": "8 mm"},
        }
    ],
}
STOCK = [{"material": "pvc-sheet", "thickness_mm": 3, "width_mm": 300, "height_mm": 200}]


def test_no_program_is_written_and_the_summary_gives_the_reason(tmp_path):
    """As after a change of the shop's own catalogue between acceptance and work."""
    shop = {"stock": STOCK}
    order = read({"recipe": "tag", "recipes": {"tag": TAG}, "lines": ["Knot"], "shop": shop})
    order = replace(order, shop={**shop, "machine": "bench-beam"})
    manifest, vault = made(order, tmp_path)
    paths = {f.path: f.digest for f in manifest.files}
    assert not [p for p in paths if p.startswith(("programs/", "sheets/"))]
    document = json.loads(vault.read(paths["order.json"]))
    assert document["ready"] is False
    assert document["proved"] is False
    summary = manifest.headline.summary
    assert "1 sheet could not be planned: Rigid PVC sheet must not be cut by a beam" in summary
    assert "hydrogen chloride" in summary
    assert "Every program passed" not in summary
    assert "job-sheet.pdf" in paths
