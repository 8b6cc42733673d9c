"""A real browser on a real service: Chromium as Debian has it, pictures drawn by the processor."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

SOURCES = Path(__file__).parents[2] / "clients" / "browser"
PICTURES = Path(os.environ.get("LETTERPLY_SCREENSHOTS", ""))
ARGUMENTS = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
PATIENCE_MS = 300_000
"""An end to what hangs; no limit on speed."""


@pytest.fixture(scope="module")
def chromium():
    """Give a browser, or skip aloud.

    Not for longer than a file: its driver keeps an event loop on this thread, and tests elsewhere
    run one of their own.
    """
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed: the page was not tried"
    )
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("Chromium is not here: the page was not tried in a browser")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


class Service:
    """A service that can be stopped and started again at the same address."""

    def __init__(self, folder: Path, **settings: object) -> None:
        self.folder, self.settings, self.port = folder, settings, 0
        self.start()

    def start(self) -> None:
        """Start it; the second time where it was."""
        ready = self.folder / "ready"
        ready.unlink(missing_ok=True)
        environment = {k: v for k, v in os.environ.items() if not k.startswith("LETTERPLY_")}
        environment |= {f"LETTERPLY_{k.upper()}": str(v) for k, v in self.settings.items()}
        environment["LETTERPLY_DATA_FOLDER"] = str(self.folder / "data")
        command = [sys.executable, "-m", "letterply.api.serve", "--port", str(self.port)]
        command += ["--stop-with-stdin", "--ready-file", str(ready), "--log-level", "warning"]
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stderr=log, env=environment
            )
        while not ready.exists():
            assert self.process.poll() is None, (self.folder / "log").read_text()
            time.sleep(0.02)
        self.url = ready.read_text()
        self.port = int(self.url.rpartition(":")[2])

    def stop(self) -> None:
        """Stop it as an operator would."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait(60)


@pytest.fixture(scope="session")
def service(tmp_path_factory):
    made = Service(tmp_path_factory.mktemp("bench"), workers=1)
    yield made
    made.stop()


class Bench:
    """The page as somebody uses it; what goes wrong in it is heard."""

    def __init__(self, context, url):
        context.set_default_timeout(PATIENCE_MS)
        self.context, self.url = context, url
        self.page = context.new_page()
        self.heard: list[str] = []
        self.strangers: list[str] = []
        self.page.on("pageerror", lambda error: self.heard.append(str(error)))
        self.page.on("dialog", lambda dialog: self.heard.append(f"dialog {dialog.message}"))
        self.page.on("console", self._listen)
        self.page.on("request", self._watch)

    def _listen(self, message):
        # A mistake in a list or a recipe is told with a status, which Chromium logs by itself.
        if message.type == "error" and "Failed to load resource" not in message.text:
            self.heard.append(message.text)

    def _watch(self, request):
        if not request.url.startswith((self.url, "blob:", "data:")):
            self.strangers.append(request.url)

    def open(self, path="/"):
        """Go to the page and wait for its first picture."""
        self.page.goto(f"{self.url}{path}")
        self.page.wait_for_selector("canvas[data-pictures]")
        return self.page

    def fitted(self):
        """Wait until what is on the bench has been tried on."""
        self.page.wait_for_selector(".fitting[aria-busy=false] .verdict:not(.stale)")

    def picture(self, name):
        """Keep a screenshot where LETTERPLY_SCREENSHOTS says."""
        if str(PICTURES) != ".":
            PICTURES.mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=PICTURES / f"{name}.png", full_page=True)


@pytest.fixture
def bench(chromium, service, request):
    """Give the page in a fresh browser profile; at its end, nothing in it went wrong."""
    wishes = getattr(request, "param", {"viewport": {"width": 1200, "height": 900}})
    context = chromium.new_context(**wishes)
    made = Bench(context, service.url)
    yield made
    context.close()
    assert made.heard == []
    assert made.strangers == []


@pytest.fixture(scope="session")
def new_bench():
    """Give the class of pages."""
    return Bench


@pytest.fixture(scope="session")
def axe(tmp_path_factory):
    """Give the text of axe-core, in the version of the lock file, or skip aloud."""
    if shutil.which("npm") is None:
        pytest.skip("npm is not here: the page was not held against axe-core")
    folder = tmp_path_factory.mktemp("axe")
    for name in ("package.json", "package-lock.json", ".npmrc"):
        shutil.copy(SOURCES / name, folder)
    command = ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    got = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if got.returncode and any(sign in got.stderr for sign in ("ENOTFOUND", "ECONN", "ETIMEDOUT")):
        pytest.skip("no package registry is in reach: the page was not held against axe-core")
    assert got.returncode == 0, got.stderr
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text("utf-8")
