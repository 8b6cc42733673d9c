"""A shop to begin with, as TOML with comments: a maker fills in what is theirs."""

from __future__ import annotations

__all__ = ["shop_template"]

_TEMPLATE = """\
# A shop. Change what is yours, take out what you do not need, then:
#   letterply shop put {name}.toml
#   letterply shop use {name}
# Lengths take a unit anywhere: "1/8 in", "3.2 mm"; a bare number is mm.

name = "{name}"
units = "{units}"            # in what papers, pictures and sentences speak: "mm" or "inch"
on_top_of = "shipped"     # "nothing": only what stands below counts
machine = "router"
hold_down = "tabs"        # "tabs", "tape" or "skin"; "bed" on a beam machine
cutters = ["eighth", "flat-1588", "vbit-90", "drag-120", "drill"]
# cautions = ["Ear protection hangs by the door."]

# The sheets on your rack. A left-over with offcut = true is used first.
stock = [
  {{ material = "birch-plywood", thickness = {ply}, width = {w}, height = {h}, count = 4 }},
  {{ material = "mdf", thickness = {mdf}, width = {w}, height = {h}, count = 2 }},
  {{ material = "acrylic-cast", thickness = {acrylic}, width = {bx}, height = {by}, count = 2 }},
]

# `like` takes all figures of a shipped entry but those that you give: letterply machines
[catalogue.machines.router]
like = "{like}"
name = "Our router"
bed = [{bx}, {by}]
max_feed = {feed}
# Its habits: where you set the zero, and how its programs are written. See its manual.
# zero_xy = "lower-left"         # or another corner, "centre", "parts", "pin" with pin = [x, y]
# dwell = "milliseconds"         # what P of a pause counts; a wrong one starts before the spindle
# arc_form = "radius"            # or "centre", "centre-absolute"; arcs = false for none
# comments = "semicolon"
# extension = "tap"
# extraction_on = ["M8"]
# extraction_off = ["M9"]

# Measured with a caliper, it cuts true: letterply cutters
[catalogue.cutters.eighth]
like = "flat-3175"
name = "1/8 in end mill, as measured"
diameter = {diameter}
[catalogue.cutters.drill]
like = "drill-3"
name = {drill_name}
diameter = {drill}

# What works on your machine goes before what is computed.
# [feeds.eighth]
# spindle = 18000
# feed = {feed}

[prices]
currency = "{currency}"
machine_hour = 45
hand_hour = 38
"""

_INCH = {
    "like": "plain-router-inch", "ply": '"3/8 in"', "mdf": '"1/4 in"',
    "acrylic": '"1/8 in"', "w": '"48 in"',
    "h": '"24 in"', "bx": '"24 in"', "by": '"16 in"', "feed": '"100 in/min"',
    "diameter": '"0.1246 in"', "currency": "USD",
    "drill": '"1/8 in"', "drill_name": '"1/8 in drill"',
}  # fmt: skip
_MM = {
    "like": "bench-router", "ply": "9", "mdf": "6", "acrylic": "3", "w": "1200", "h": "600",
    "bx": "600", "by": "400", "feed": '"2500 mm/min"', "diameter": "3.165", "currency": "EUR",
    "drill": "3", "drill_name": '"3 mm drill"',
}  # fmt: skip


def shop_template(name: str, units: str) -> str:
    """Return the file of a new shop.

    >>> "24 in" in shop_template("boathouse", "inch"), "24 in" in shop_template("shed", "mm")
    (True, False)

    """
    return _TEMPLATE.format(name=name, units=units, **(_INCH if units == "inch" else _MM))
