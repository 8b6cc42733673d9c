"""The stock of a shop on the page: what holds a sheet is kept, sheets go out and come back."""

from __future__ import annotations

import httpx
import pytest

from browser.test_sheet import lay_out, put
from browser.walking import faults

SHOP = {
    "title": "The boathouse",
    "stock": [{"key": "board", "material": "mdf", "thickness": 6, "width": 300, "height": 200,
               "count": 2}],
    "least_offcut": 60,
}  # fmt: skip
PLATE = {
    "title": "Plate",
    "lettering": {"text": "I", "font": "oswald", "size": {"cap_height": "30 mm"}},
    "layers": [{"name": "plate", "material": "mdf", "thickness": "6 mm",
                "outline": {"kind": "plate", "margin": "12 mm"}}],
}  # fmt: skip


@pytest.fixture
def shelf(service):
    """Give the address of a shop with two boards."""
    where = f"{service.url}/v1/shops/rack"
    httpx.put(where, json=SHOP, timeout=60).raise_for_status()
    yield where
    httpx.delete(where, timeout=60)


def stock_of(shelf):
    return httpx.get(shelf, timeout=60).json()["shop"]["stock"]


def test_what_holds_a_sheet_is_kept_and_sheets_go_out_and_come_back(bench, axe, shelf):
    page = put(bench, PLATE, name="rack", hold_down="tape")
    page.get_by_label("Clamps and screws").select_option(index=1)
    page.get_by_role("application", name="The sheet from above").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Keep it like this in the shop").click()
    page.get_by_text("Kept: it counts for every piece").wait_for()
    (clamp,) = stock_of(shelf)[0]["keep_clear"]
    assert (clamp["kind"], clamp["width"]) == ("clamp", 40)
    kept = stock_of(shelf)

    lay_out(page)
    page.get_by_role("button", name="Take its sheets out of the shop's stock").click()
    stock = page.get_by_role("region", name="The stock")
    stock.get_by_text("board: 1 taken, 1 left").wait_for()
    page.wait_for_function("() => document.querySelector('.stock img')?.naturalWidth > 0")
    assert "300 mm × 200 mm, 1 hole" in stock.inner_text()
    assert "changed since" not in page.locator(".machine").inner_text()
    assert [(one["count"], one.get("offcut", False)) for one in stock_of(shelf)] == [
        (1, False),
        (1, True),
    ]
    page.get_by_label("inch").check()
    assert "11.811 in × 7.874 in, 1 hole" in stock.inner_text()
    assert faults(page, axe) == []
    bench.picture("4-stock")
    page.get_by_label("mm", exact=True).check()
    # Read in the other language, and after a reload: what was taken is still known.
    page.wait_for_timeout(400)  # the address follows shortly after
    kept_at = page.evaluate("location.hash")
    page.goto("about:blank")
    bench.open(f"/?lang=de{kept_at}")
    page.get_by_role("button", name="Zurücklegen").click()
    page.get_by_role("button", name="Seine Tafeln aus dem Bestand der Werkstatt nehmen").wait_for()
    assert stock_of(shelf) == kept


def test_an_order_takes_its_sheets_out_of_the_stock_and_puts_them_back(bench, axe, shelf):
    kept = stock_of(shelf)
    page = put(bench, PLATE, name="rack", hold_down="tape")
    page.get_by_label("A whole list").check()
    page.locator("#paste").fill("text,quantity\nI,1\n")
    page.locator("#paste").blur()
    page.get_by_role("button", name="Have them made").click()
    page.wait_for_selector(".standing .stamp.good")
    assert stock_of(shelf) == kept  # nothing goes out before somebody says so
    page.get_by_role("button", name="Take its sheets out of the shop's stock").click()
    stock = page.get_by_role("region", name="The stock")
    stock.get_by_text("board: 1 taken, 1 left").wait_for()
    page.wait_for_function("() => document.querySelector('.stock img')?.naturalWidth > 0")
    assert [(one["count"], one.get("offcut", False)) for one in stock_of(shelf)] == [
        (1, False),
        (1, True),
    ]
    (commit,) = httpx.get(f"{shelf}/commits", timeout=60).json()["items"]
    assert commit["kind"] == "order"
    assert faults(page, axe) == []
    bench.picture("5-stock")
    # After a reload it is known to be taken, and goes back as it was.
    page.wait_for_timeout(400)  # the address follows shortly after
    page.reload()
    page.get_by_role("button", name="Put them back").click()
    page.get_by_role("button", name="Take its sheets out of the shop's stock").wait_for()
    assert stock_of(shelf) == kept
