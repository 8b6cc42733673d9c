"""Questions of size on the page, answered and taken; a reload between."""

from __future__ import annotations

import re

from browser.walking import faults


def test_a_size_is_asked_for_and_taken(bench, axe):
    page = bench.open()
    page.get_by_role("textbox", name="The words").fill("Knot")
    page.get_by_role("button", name="How large, how small").click()
    page.wait_for_function("() => document.activeElement.matches('.slip select')")
    page.get_by_label("What is looked for").select_option("fit")
    drawer = page.locator(".slip .drawer")
    drawer.get_by_label("Width").fill("potato")
    assert drawer.get_by_label("Width").get_attribute("aria-invalid") == "true"
    drawer.get_by_label("Width").fill("60 mm")
    drawer.get_by_label("Height").fill("4 in")
    page.get_by_role("button", name="Work it out").click()
    page.wait_for_selector(".slip .drawer .verdict")
    said = drawer.locator(".verdict").inner_text()
    assert "in a box of 60 × 101.6 mm" in said
    offered = drawer.get_by_role("button", name=re.compile("Take capitals of"))
    size = offered.inner_text().removeprefix("Take capitals of ")
    assert f"With capitals of {size}" in said
    assert faults(page, axe) == []
    bench.picture("1-size")
    offered.click()
    assert page.locator(".sentence b").inner_text() == size
    page.get_by_text("That is its size now.").wait_for()
    # What was worked out for other words is not said of these.
    page.get_by_role("textbox", name="The words").fill("Knots")
    page.wait_for_selector(".slip .drawer .verdict", state="detached")
