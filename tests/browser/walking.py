"""Walking through pages: on a phone, by keys alone, held against axe-core."""

from __future__ import annotations

PHONE = {"viewport": {"width": 360, "height": 740}, "color_scheme": "dark", "has_touch": True}


def faults(page, axe):
    """Return what axe-core finds, of any grade, as rule and place."""
    page.evaluate(axe)
    found = page.evaluate("() => axe.run(document).then(r => r.violations)")
    return [(v["id"], node["target"], node["failureSummary"]) for v in found for node in v["nodes"]]


def reach(page, words):
    """Press Tab until what begins with these words has the focus, which must be seen."""
    for _ in range(150):
        page.keyboard.press("Tab")
        here = "document.activeElement"
        if page.evaluate(
            f"({here}.getAttribute('aria-label') ?? {here}.innerText).trim()"
        ).startswith(words):
            assert page.evaluate(f"getComputedStyle({here}).outlineStyle") != "none"
            return
    raise AssertionError(f"{words!r} is not reached by Tab")
