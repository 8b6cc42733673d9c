"""From the piece on the bench to the customer's yes, in a real browser: by keys, on a phone."""

from __future__ import annotations

import base64
import io
import json
import re

import httpx
import pypdfium2
import pytest

from browser.walking import PHONE, faults, reach

HOSTILE = "<img src=x onerror=alert(1)> \"'><script>alert(1)</script>"


@pytest.fixture
def customer(chromium, new_bench):
    """Give the customer's own browser, a phone at night; nothing goes wrong in it."""
    context = chromium.new_context(**PHONE)
    made = new_bench(context, "http://")
    yield made
    context.close()
    assert [text for text in made.heard if "ERR_CONNECTION" not in text] == []


def words_of(pdf):
    with pypdfium2.PdfDocument(io.BytesIO(pdf)) as document:
        return "\n".join(page.get_textpage().get_text_range() for page in document)


def reply_by_keys(page, choice, text, name):
    """Answer the one question of the page without a pointer."""
    page.keyboard.press("Tab")
    while page.evaluate("document.activeElement.type") != "radio":
        page.keyboard.press("Tab")
    page.keyboard.press("Space")
    if choice == "wish":
        page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.type(text)
    page.keyboard.press("Tab")
    page.keyboard.type(name)
    page.keyboard.press("Tab")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
    page.keyboard.press("Enter")


def test_a_piece_is_shown_to_a_customer_who_says_yes(bench, service, customer, axe):
    page = bench.open()
    page.locator("button.blank").nth(0).click()
    page.get_by_role("button", name=re.compile("^Tag")).click()
    page.wait_for_function("() => document.querySelector('.card h3').textContent === 'tag'")
    page.get_by_role("textbox", name="The words").fill("Ruff")
    bench.fitted()
    reach(page, "Show it to the customer")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.activeElement.closest('form')")
    page.keyboard.press("Tab")
    page.keyboard.type("48,5")
    page.get_by_label("Who offers it").fill("The boathouse")
    page.get_by_label("What else to say").fill(HOSTILE)
    # In the middle: loaded again, the service gone and back; what was typed is still there.
    page.reload()
    page.wait_for_selector(".offers form")
    service.stop()
    page.get_by_role("textbox", name="The words").fill("Reeve")
    page.wait_for_selector(".away:not([hidden])")
    service.start()
    page.wait_for_selector(".away", state="hidden")
    page.get_by_role("textbox", name="The words").fill("Ruff")
    page.wait_for_selector(".offers form")
    assert page.get_by_label("Price").input_value() == "48,5"
    assert page.get_by_label("What else to say").input_value() == HOSTILE
    assert faults(page, axe) == []
    bench.picture("6-offer")
    page.get_by_role("button", name="Make the link").click()
    page.wait_for_function("() => document.activeElement.id.startsWith('link-')")
    link = page.get_by_label("The link for the customer").input_value()
    assert faults(page, axe) == []
    bench.picture("6-link")

    theirs = customer.page
    theirs.goto(link)
    theirs.wait_for_function("() => document.querySelector('img').naturalWidth > 0")
    assert theirs.evaluate("document.documentElement.scrollWidth") <= 360
    for scheme, size in (("dark", (360, 740)), ("light", (360, 740)), ("light", (1200, 900))):
        theirs.emulate_media(color_scheme=scheme)
        theirs.set_viewport_size({"width": size[0], "height": size[1]})
        assert faults(theirs, axe) == []
        customer.picture(f"6-customer-{scheme}-{size[0]}")
    assert HOSTILE in theirs.locator("main").inner_text()
    theirs.emulate_media(color_scheme="dark")
    theirs.set_viewport_size(PHONE["viewport"])
    reply_by_keys(theirs, "wish", "A little larger, please.", HOSTILE[:80])
    theirs.wait_for_selector(".wished")
    with theirs.expect_download() as got:
        theirs.get_by_role("link", name=re.compile("PDF")).click()
    paper = words_of(got.value.path().read_bytes())
    assert "48.50 EUR" in paper
    assert "The boathouse" in paper
    theirs.get_by_label("Yes, make it").check()
    theirs.get_by_label("Your name").fill("Ada Plover")
    theirs.get_by_role("button", name="Send").click()
    theirs.wait_for_selector(".agreed")
    theirs.reload()
    assert theirs.locator("form").count() == 0
    assert faults(theirs, axe) == []
    customer.picture("6-customer-yes")

    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.wait_for_selector(".offered .agreed .yes")
    said = page.locator(".offered li").first.inner_text()
    assert "Yes from Ada Plover" in said
    assert f"A wish from {HOSTILE[:80].strip()}" in said
    assert faults(page, axe) == []
    page.get_by_text("This is the piece on the bench as it is now.").first.wait_for()
    bench.picture("6-yes")
    with page.expect_download() as got:
        page.get_by_role("button", name="The same on paper (PDF)").first.click()
    assert "Yes from Ada Plover" in words_of(got.value.path().read_bytes())
    page.get_by_role("textbox", name="The words").fill("Sora")
    page.get_by_text("Not the piece on the bench as it is now").first.wait_for()
    assert page.locator("img[src=x], main script").count() == 0
    assert theirs.locator("img[src=x], script").count() == 0


def test_an_order_shows_what_its_customer_said(bench, customer):
    tag = httpx.get(f"{bench.url}/v1/templates/tag", params={"text": "{text}"}).json()["recipe"]
    order = {"title": "Lockers", "recipe": "tag", "recipes": {"tag": tag}, "lines": ["41"]}
    placed = httpx.post(f"{bench.url}/v1/orders", json=order, timeout=120).json()
    httpx.get(f"{bench.url}{placed['links']['events']}", timeout=300)
    state = {"recipe": tag, "view": "many", "order": placed["id"]}
    packed = base64.urlsafe_b64encode(json.dumps(state).encode()).decode().rstrip("=")
    page = bench.page
    page.goto(f"{bench.url}/#bench={packed}")
    page.get_by_role("button", name="Show it to the customer").click()
    page.wait_for_selector(".offers form")
    quote = httpx.get(f"{bench.url}{placed['links']['self']}").json()["quote"]["total"]
    assert page.get_by_label("Price").input_value() == f"{quote:.2f}"
    page.get_by_role("button", name="Make the link").click()
    link = page.get_by_label("The link for the customer").input_value()
    customer.page.goto(link)
    reply_by_keys(customer.page, "yes", "", "Ada Plover")
    customer.page.wait_for_selector(".agreed")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.wait_for_selector(".offered .agreed")
    bench.picture("6-order")
    with page.expect_download() as got:
        page.get_by_role("button", name="Job sheet (PDF)").click()
    assert "Yes from Ada Plover" in words_of(got.value.path().read_bytes())
