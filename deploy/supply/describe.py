"""Describes what a deployed service is made of: a bill of materials and a table of licences.

    python deploy/supply/describe.py /opt/letterply/bin/python out/supply

reads the packages that this interpreter sees (installed from `service.lock`), writes
`letterply.cdx.json` (CycloneDX, by cyclonedx-bom), `page.cdx.json` (what is built into the bench
page, by npm) and `licences.md`, and ends with 1 where a package has no licence that may be used
commercially.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
BROWSER = HERE.parents[1] / "clients/browser"
OURS = ("letterply", "letterply-client")
TOOLS = ("pip", "setuptools", "wheel")
"""Come with every environment; nothing of the service imports them."""

ALLOWED = re.compile(
    r"0BSD|Apache|BSD|BSL|Boost|CC0|HPND|ISC|LGPL|LLVM|MIT|MPL|OFL|PSF|Python|Unlicense|Zlib|zlib"
)
NAMES = {
    "License :: OSI Approved :: Apache Software License": "Apache-2.0",
    "License :: OSI Approved :: BSD License": "BSD",
    "License :: OSI Approved :: MIT License": "MIT",
    "License :: OSI Approved :: ISC License (ISCL)": "ISC",
    "License :: OSI Approved :: Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "License :: OSI Approved :: Python Software Foundation License": "PSF-2.0",
}
READ = {"protobuf": "BSD-3-Clause", "resvg_py": "MIT", "spyrrow": "MIT", "uharfbuzz": "Apache-2.0"}
"""Licences that stand in the packages' own files alone, as they were read there."""


def main(python: str, folder: Path) -> int:
    folder.mkdir(parents=True, exist_ok=True)
    told = [Path(sys.executable).with_name("cyclonedx-py"), "environment", "--output-reproducible"]
    bill = folder / "letterply.cdx.json"
    subprocess.run(
        [*told, "--pyproject", HERE.parents[1] / "pyproject.toml", "-o", bill, python], check=True
    )
    page = folder / "page.cdx.json"
    listing = ["npm", "sbom", "--sbom-format", "cyclonedx", "--omit", "dev", "--package-lock-only"]
    page.write_bytes(subprocess.run(listing, cwd=BROWSER, check=True, stdout=-1).stdout)

    rows = sorted(_rows(json.loads(bill.read_text("utf-8")), OURS + TOOLS))
    rows += sorted(
        (f"{name} (page)", *rest) for name, *rest in _rows(json.loads(page.read_text("utf-8")))
    )
    table = "".join(f"| {' | '.join(row)} |\n" for row in rows)
    head = (HERE / "licences.md").read_text("utf-8").partition("| package |")[0]
    (folder / "licences.md").write_text(
        f"{head}| package | version | licence |\n|---|---|---|\n{table}"
    )
    unclear = [row for row in rows if not ALLOWED.search(row[2])]
    for row in unclear:
        print(f"no licence that is known to be usable: {' '.join(row)}", file=sys.stderr)
    return 1 if unclear else 0


def _rows(bill: dict[str, Any], but: tuple[str, ...] = ()) -> list[tuple[str, str, str]]:
    return [
        (part["name"], part["version"], _licence(part))
        for part in bill["components"]
        if part["name"].lower() not in but
    ]


def _licence(part: dict[str, Any]) -> str:
    said = [
        entry.get("expression") or entry["license"].get("id") or entry["license"]["name"]
        for entry in part.get("licenses", [])
    ]
    short = [
        NAMES.get(name, name.rpartition(" :: ")[2])
        for name in said
        if "::" not in name or name.count("::") > 1
    ]
    # A whole text instead of a name: its first line says which.
    lines = dict.fromkeys(name.strip().splitlines()[0][:60] for name in short)
    return " / ".join(lines) or READ.get(part["name"], "none said")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], Path(sys.argv[2])))
