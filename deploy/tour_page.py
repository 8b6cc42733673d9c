"""Makes the picture of the bench page for the README's tour: starts a service, looks, stops it.

Usage: python deploy/tour_page.py, with the test extra and Chromium.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from letterply_client import private_service

PICTURE = Path(__file__).parent / "tour" / "bench-page.png"
ARGUMENTS = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]


def main() -> int:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        print("Chromium is not here", file=sys.stderr)
        return 1
    with (
        tempfile.TemporaryDirectory() as folder,
        private_service(Path(folder)) as url,
        sync_playwright() as driver,
    ):
        browser = driver.chromium.launch(executable_path=chromium, args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1100, "height": 900}, color_scheme="light")
        page.goto(url)
        page.wait_for_selector("canvas[data-pictures]")
        page.get_by_label("Layers apart").fill("0.45")
        page.get_by_label("Beside it").select_option("coin")
        page.wait_for_selector(".fitting[aria-busy=false] .verdict:not(.stale)", timeout=120_000)
        page.evaluate("document.activeElement.blur()")
        page.wait_for_timeout(1000)  # the last frame, and the font of the words
        page.screenshot(path=PICTURE)
        browser.close()
    print(f"{PICTURE.name} in {PICTURE.parent}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
