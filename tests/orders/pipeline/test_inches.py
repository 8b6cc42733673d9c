"""The papers of an order speak in the units of its shop, and in no others."""

import pytest

from orders.pipeline.small import drawn, made, plain_order
from orders.pipeline.test_plain_words import pages_of
from read_units import STRAY, read_in, without_names


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_no_paper_speaks_in_other_units(units, tmp_path):
    order = plain_order("Tern", title="Tags", marks="scribed", shop={"units": units})
    manifest, vault = made(order, tmp_path)
    texts = []
    files = {f.path: vault.read(f.digest) for f in manifest.files}
    files |= drawn(manifest, vault, manifest.later)
    for path, data in files.items():
        found = pages_of(data) if path.endswith(".pdf") else read_in(path, data)
        texts += [(path, without_names(text)) for text in found]
    papers = {path for path, _ in texts}
    assert {"job-sheet.pdf", "labels.pdf", "templates.pdf", "parts.csv", "order.json"} <= papers
    assert not [(path, text) for path, text in texts if STRAY[units].search(text)]
    job_sheet = " ".join(text for path, text in texts if path == "job-sheet.pdf")
    assert ("in²" in job_sheet) == (units == "inch")
    (rule,) = {t for path, text in texts if path == "templates.pdf" for t in text.split("\r\n")
               if t in ("2 in", "50 mm")}  # fmt: skip
    assert rule == {"inch": "2 in", "mm": "50 mm"}[units]
