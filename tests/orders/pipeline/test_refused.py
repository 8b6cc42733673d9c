"""An order accepted for a machine that must not cut it: no sheet, and everyone is told why."""

from dataclasses import replace

from boathouse import one_layer
from orders.intake.ordering import read
from orders.pipeline.small import document_of, made

TAG = one_layer(
    "{text}",
    {"kind": "plate", "margin": "8 mm"},
    name="base",
    material="pvc-sheet",
    thickness="3 mm",
    title="{text} tag",
)
STOCK = [{"material": "pvc-sheet", "thickness_mm": 3, "width_mm": 300, "height_mm": 200}]


def test_no_program_is_written_and_the_summary_gives_the_reason(tmp_path):
    """As after a change of the shop's own catalogue between acceptance and work."""
    shop = {"stock": STOCK}
    order = read({"recipe": "tag", "recipes": {"tag": TAG}, "lines": ["Knot"], "shop": shop})
    order = replace(order, shop={**shop, "machine": "bench-beam"})
    manifest, vault = made(order, tmp_path)
    paths = {f.path for f in manifest.files}
    paths |= set(manifest.later)
    assert not [p for p in paths if p.startswith(("programs/", "sheets/"))]
    document = document_of(manifest, vault)
    assert document["ready"] is False
    assert document["proved"] is False
    summary = manifest.headline.summary
    assert "1 sheet could not be planned: Rigid PVC sheet must not be cut by a beam" in summary
    assert "hydrogen chloride" in summary
    assert "Every program passed" not in summary
    assert "job-sheet.pdf" in manifest.later
