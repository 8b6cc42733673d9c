"""The sheet on the page: its cutters chosen, its clamps put, a changed program proved."""

from __future__ import annotations

import base64
import json
import re

import httpx
import pytest

from browser.walking import PHONE, faults, reach

HOSTILE = "( <img src=x onerror=alert(1)> </script><script>alert(1)</script> )"
LETTERS = {
    "title": "Knot",
    "lettering": {"text": "Kn", "font": "lobster", "size": {"cap_height": "30 mm"}},
    "layers": [
        {"name": "face", "material": "acrylic-cast", "thickness": "3 mm",
         "outline": {"kind": "lettering"}},
    ],
}  # fmt: skip


def put(bench, recipe, **shop):
    """Open a link to a recipe and a shop."""
    state = {"recipe": recipe, "shop": shop}
    packed = base64.urlsafe_b64encode(json.dumps(state).encode()).decode().rstrip("=")
    bench.page.goto("about:blank")
    return bench.open(f"/#bench={packed}")


def lay_out(page):
    """Have the piece laid out; return the id of its plan."""
    with page.expect_response(
        lambda found: found.request.method == "POST" and found.url.endswith("/v1/plans")
    ) as answer:
        page.get_by_role("button", name="Lay it out and prove it").click()
    page.wait_for_selector(".stamp.good")
    return answer.value.json()["id"]


def test_a_set_of_cutters_is_weighed_and_chosen(bench, axe):
    page = put(bench, LETTERS, detail="0.1 mm", hold_down="tape")
    lay_out(page)
    sets = page.locator(".sets label")
    assert sets.count() > 2
    now = page.locator(".sets [data-now=true]")
    assert "This is how it is laid out." in now.inner_text()
    quickest = sets.first
    assert re.search(r"less, corners round by [\d.]+ mm more", quickest.inner_text())
    page.locator(".sets-picture").scroll_into_view_if_needed()
    page.wait_for_function("() => document.querySelector('.sets-picture img').naturalWidth")
    assert page.get_by_role("button", name="Lay it out with these cutters").is_disabled()
    quickest.locator("input").focus()
    page.keyboard.press("Space")
    assert faults(page, axe) == []
    bench.picture("4-sets")
    reach(page, "Lay it out with these cutters")
    page.keyboard.press("Enter")
    page.wait_for_selector(".machine .changed")
    page.wait_for_selector(".stamp.good")
    # What was compared stays in sight, and the other cutters can be had again.
    assert "This is how it is laid out." in page.locator(".sets label").first.inner_text()
    count = page.locator(".sets label").count()
    page.reload()
    page.wait_for_selector(".stamp.good")
    page.wait_for_selector(f".sets label:nth-of-type({count})")
    page.get_by_role("button", name="All of the rack again").click()
    page.wait_for_selector(".machine .wrong")
    assert page.locator(".machine .changed").count() == 0


@pytest.mark.parametrize("bench", [{"viewport": {"width": 1200, "height": 900}}, PHONE],
                         indirect=True, ids=["wide", "phone"])  # fmt: skip
def test_clamps_and_screws_are_put_typed_and_kept_clear_of(bench, axe):
    recipe = httpx.get(f"{bench.url}/v1/templates/tag", params={"text": "9"}).json()["recipe"]
    page = put(bench, recipe, hold_down="tape")
    page.get_by_label("Clamps and screws").select_option(index=1)
    picture = page.get_by_role("application", name="The sheet from above")
    box = picture.locator("svg").bounding_box()
    picture.click(position={"x": box["width"] * 0.06, "y": box["height"] * 0.94})
    page.get_by_label("screw", exact=True).check()
    picture.focus()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    assert page.locator(".kept li").count() == 2
    page.get_by_label("Across, screw 2").fill("8 mm")
    page.get_by_label("Middle from the left, screw 2").fill("potato")
    assert page.locator(".kept [aria-invalid=true]").count() == 1
    page.get_by_label("Middle from the left, screw 2").fill("90 mm")
    assert faults(page, axe) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    bench.picture(f"4-clamps-{page.viewport_size['width']}")
    page.reload()
    page.wait_for_selector("canvas[data-pictures]")
    page.wait_for_selector(".clamps option:has-text('(2)')", state="attached")
    plan = lay_out(page)
    drawn = page.locator("article .layout [data-kept]")
    assert drawn.count() == 2
    sheet = httpx.get(f"{bench.url}/v1/plans/{plan}").json()["sheets"][0]
    kept = sheet["stock"]["keep_clear"]
    assert [(k["kind"], k["diameter_mm"]) for k in kept] == [("clamp", 0), ("screw", 8)]
    assert kept[1]["x_mm"] == 90
    clamp, (left, low, _, _) = kept[0], sheet["parts"][0]["bounds_mm"]
    assert left > clamp["x_mm"] + clamp["width_mm"] or low > clamp["y_mm"] + clamp["height_mm"]
    page.get_by_label("Clamps and screws").select_option(index=1)
    page.get_by_role("button", name="Take off: clamp 1").click()
    page.get_by_role("button", name="Take off: screw 1").click()
    page.wait_for_selector(".machine .wrong")  # changed since


def test_a_changed_program_is_proved_and_its_faults_are_shown(bench, axe, tmp_path):
    recipe = httpx.get(f"{bench.url}/v1/templates/tag", params={"text": "7"}).json()["recipe"]
    page = put(bench, recipe, hold_down="tape")
    plan = lay_out(page)
    files = httpx.get(f"{bench.url}/v1/plans/{plan}").json()["files"]
    program = [f for f in files if f["path"].startswith("programs/")][-1]
    text = httpx.get(f"{bench.url}{program['url']}").text
    name = program["path"].rpartition("/")[2]
    # As the page saves it, unchanged; then with a hostile comment and a rapid in the cut.
    same = tmp_path / f"programs-{name}"
    same.write_text(text)
    page.get_by_label("Bring changed programs").set_input_files(same)
    page.wait_for_selector(".prove .stamp.good")
    assert "letter for letter" in page.locator(".prove").inner_text()
    lines = text.splitlines()
    deep = max(k for k, line in enumerate(lines) if re.search(r"Z-\d", line))
    lines.insert(deep + 1, f"G0 X60. Y60. {HOSTILE}")
    wrong = tmp_path / "renamed <b>.nc"
    wrong.write_text("\n".join(lines) + "\n")
    page.get_by_label("Bring changed programs").set_input_files(wrong)
    page.get_by_label(re.compile("Which program is renamed")).select_option(name)
    page.wait_for_selector(".prove .stamp.bad")
    found = page.locator(".prove .faults").inner_text()
    assert f"{name}, line {deep + 2}" in found
    assert HOSTILE in found
    assert page.locator(".prove .layout .pins li").count() > 0
    assert page.locator("img[src=x], main script").count() == 0
    assert faults(page, axe) == []
    page.get_by_role("button", name="Watch it being cut: Sheet 1, A program").click()
    page.wait_for_selector(".prove .player canvas[data-pictures]")
    bench.picture("4-proved")
    # Dropped anywhere on the page, it finds its plan.
    page.get_by_role("button", name="Put the changed programs away").click()
    page.evaluate(
        """([name, text]) => {
          const carried = new DataTransfer();
          carried.items.add(new File([text], name));
          const dropped = new DragEvent("drop", { dataTransfer: carried, bubbles: true });
          document.body.dispatchEvent(dropped);
        }""",
        [name, text.replace("M30", "M30 (mine)")],
    )
    page.wait_for_selector(".prove .stamp.good")
    assert "letter for letter" not in page.locator(".prove").inner_text()


@pytest.fixture
def slow_shop(service):
    """Give the name of a shop whose machine is slower than the programs of any plan."""
    catalogue = {"machines": {"slow": {"like": "bench-router", "max_feed": "300 mm/min"}}}
    shop = {"title": "The old shed", "machine": "slow", "catalogue": catalogue}
    where = f"{service.url}/v1/shops/shed"
    httpx.put(where, json=shop, timeout=60).raise_for_status()
    yield "shed"
    httpx.delete(where, timeout=60)


def test_programs_are_proved_as_another_shop_would_run_them(bench, axe, slow_shop):
    recipe = httpx.get(f"{bench.url}/v1/templates/tag", params={"text": "7"}).json()["recipe"]
    page = put(bench, recipe, hold_down="tape")
    lay_out(page)
    where = page.get_by_label("Run in the shop")
    where.select_option(slow_shop)
    page.wait_for_selector(".prove .stamp.bad")
    told = page.locator(".prove").inner_text()
    assert "letter for letter" in told
    assert f"Judged by the shop {slow_shop}" in told
    assert "300 mm/min" in page.locator(".prove .faults").inner_text()
    assert faults(page, axe) == []
    bench.picture("4-elsewhere")
    # In the plan's own shop again, the same programs pass.
    where.select_option("")
    page.wait_for_selector(".prove .stamp.good")
    assert "Judged by" not in page.locator(".prove").inner_text()
