"""How long a typed letter takes to its geometry and to its picture on the bench page, by the clock.

    python tests/bench/page.py

Words of ten letters, three layers, typed letter by letter, each once the picture of the one before
is there; Chromium draws with the processor. Printed are median and 95th percentile from the key to
the new outlines on the page, to the frame that draws them and to the end of its drawing, as a fence
behind it tells, frames a second while turning and while the programs of a tag are watched, the
longest time for which the page could not be used, and, which a busy machine changes less, what a
letter costs: processor time of the service, with what it tries on in between, and time of the
page's main thread. Run it on a quiet machine.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright
from spending import service_s

from letterply_client import private_service

WORDS = ("Sandpipers", "Turnstones", "Greenshank", "Ringplover")
"""One a round: what was typed just before, the service has at hand."""
ARGUMENTS = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]

_WATCH = """() => {
  window.typed = []; window.blocked = [];
  const words = document.getElementById("words"), canvas = document.querySelector("canvas");
  const measure = document.querySelector(".measure span");
  let began = 0, shaped = 0;
  words.addEventListener("input", () => { began = performance.now(); shaped = 0; }, true);
  new MutationObserver(() => { if (began && !shaped) shaped = performance.now(); })
    .observe(measure, { characterData: true, subtree: true, childList: true });
  new MutationObserver(() => {
    if (!began || !shaped) return;
    const took = [shaped - began, performance.now() - began], from = began;
    began = 0;
    const gl = canvas.getContext("webgl2");
    const fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
    const look = () => {
      if (gl.getSyncParameter(fence, gl.SYNC_STATUS) !== gl.SIGNALED) return setTimeout(look, 2);
      window.typed.push([...took, performance.now() - from]);
      window.told();
    };
    setTimeout(look, 2);
  }).observe(canvas, { attributes: true, attributeFilter: ["data-pictures"] });
  const long = list => { for (const e of list.getEntries()) window.blocked.push(e.duration); };
  new PerformanceObserver(long).observe({ type: "longtask" });
}"""

_TURN = """() => new Promise(done => {
  const slider = [...document.querySelectorAll(".poses input[type=range]")][0];
  const canvas = document.querySelector("canvas");
  const first = Number(canvas.dataset.pictures), began = performance.now();
  let k = 0;
  const step = () => {
    slider.value = String(-3 + (k++ % 60) / 10);
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    if (performance.now() - began < 4000) requestAnimationFrame(step);
    else done((Number(canvas.dataset.pictures) - first) / ((performance.now() - began) / 1000));
  };
  step();
})"""


_STURDY = "() => !document.querySelector('.measure').textContent.startsWith('About')"


def typing(page: Page) -> list[float]:
    """Type the word letter by letter, each after the picture of the one before.

    Returns how long after the last letter's picture thin strokes were made sturdy, ms.
    """
    words = page.locator("#words")
    sturdy: list[float] = []
    for word in WORDS:
        page.evaluate("() => { window.told = () => undefined; }")
        words.fill(word[0])
        page.wait_for_timeout(1200)
        for letter in word[1:]:
            # Waited for by a promise: to look again and again would itself be work.
            page.evaluate("() => { window.next = new Promise(done => { window.told = done; }); }")
            words.press("End")
            words.press(letter)
            page.evaluate("() => window.next")
        began = time.perf_counter()
        page.wait_for_function(_STURDY)
        sturdy.append(1000 * (time.perf_counter() - began))
    return sturdy


_WATCH_CUTTING = """() => new Promise(done => {
  const canvas = document.querySelector(".player canvas");
  const first = Number(canvas.dataset.pictures), began = performance.now();
  setTimeout(() => done((Number(canvas.dataset.pictures) - first)
    / ((performance.now() - began) / 1000)), 6000);
})"""


def watching(page: Page) -> float:
    """Return pictures a second while the programs of a tag are watched."""
    page.locator("button.blank").nth(0).click()
    page.locator(".swatches button", has_text="Tag").click()
    page.wait_for_function("() => document.querySelector('.card h3').textContent === 'tag'")
    page.get_by_role("button", name="Lay it out and prove it").click()
    page.wait_for_selector(".stamp", timeout=240_000)
    page.get_by_role("button", name="Watch it being cut").first.click()
    page.wait_for_selector(".player canvas[data-pictures]")
    page.get_by_role("button", name="One operation on").click()
    page.get_by_role("button", name="Play").click()
    return float(page.evaluate(_WATCH_CUTTING))


def main() -> int:
    """Print the figures."""
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
        page = browser.new_page(viewport={"width": 1200, "height": 900})
        page.goto(url)
        page.wait_for_selector("canvas[data-pictures]")
        page.wait_for_selector(".fitting[aria-busy=false] .verdict", timeout=120_000)
        page.evaluate(_WATCH)
        session = page.context.new_cdp_session(page)
        session.send("Performance.enable")

        def spent() -> dict[str, float]:
            told = session.send("Performance.getMetrics")["metrics"]
            return {m["name"]: m["value"] for m in told} | {"Service": service_s()}

        before = spent()
        sturdy = typing(page)
        after = spent()
        typed = page.evaluate("() => window.typed")[len(WORDS[0]) :]  # the first round warms
        blocked = page.evaluate("() => window.blocked")
        frames = page.evaluate(_TURN)
        watched = watching(page)
        browser.close()
    for column, name in enumerate(("new outlines", "drawn picture", "end of its drawing")):
        took = [pair[column] for pair in typed]
        late = statistics.quantiles(took, n=20)[-1]
        print(f"key to {name}: median {statistics.median(took):.0f} ms, 95 % below {late:.0f} ms")
    pause = statistics.median(sturdy)
    print(f"last picture to thin strokes made sturdy: median {pause:.0f} ms, with the pause")
    letters = sum(map(len, WORDS))
    costs = {
        "service": "Service",
        "main thread": "TaskDuration",
        "of it scripts": "ScriptDuration",
        "of it layout": "LayoutDuration",
    }
    for name, key in costs.items():
        print(f"{name}: {1000 * (after[key] - before[key]) / letters:.0f} ms a letter")
    print(f"{len(typed)} letters")
    print(f"{frames:.0f} frames a second while turning, {watched:.0f} while watching the cutting")
    print(f"busy for over 50 ms: {len(blocked)} times, {max(blocked, default=0):.0f} ms at most")
    return 0


if __name__ == "__main__":
    sys.exit(main())
