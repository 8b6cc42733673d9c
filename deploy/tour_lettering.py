"""Makes the pictures of lettering and artwork in the README's tour.

Usage: python deploy/tour_lettering.py [FOLDER], with the fonts of the test extra installed. All
is drawn by the program from its own regions; nothing is drawn by hand.
"""

from __future__ import annotations

import argparse
import math
import sys
from importlib.util import find_spec
from pathlib import Path

from letterply.catalogue import load_catalogue
from letterply.exports import (
    INK,
    QUIET,
    caption,
    caption_within,
    png_within,
    region_path,
    stack_picture,
    svg_close,
    svg_open,
)
from letterply.exports import text as escaped
from letterply.lettering import ArtworkLibrary, FontLibrary
from letterply.requests import LetteringRecipe, parse_recipe
from letterply.shapes import Region, Tolerances
from letterply.stacks import Drawings, build_stack, set_recipe_lettering, with_ornaments

TOUR = Path(__file__).parent / "tour"
CELL_W, CELL_H, GAP, TOP = 78.0, 46.0, 6.0, 16.0
COARSE = Tolerances(flatten_mm=0.02)
BLUE = "#0072B2"

OARS = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100"><title>Oars</title>
<defs><g id="oar"><rect x="46" y="6" width="8" height="74" rx="4"/>
<ellipse cx="50" cy="80" rx="9" ry="16"/></g></defs>
<use href="#oar" transform="rotate(35 50 50)"/><use href="#oar" transform="rotate(-35 50 50)"/>
</svg>"""
FRAME = """<svg xmlns="http://www.w3.org/2000/svg" width="240" height="120"><title>Frame</title>
<path d="M10 60Q10 10 60 10H180Q230 10 230 60Q230 110 180 110H60Q10 110 10 60z" fill="none"
stroke="#000" stroke-width="7"/><rect id="letters" x="38" y="30" width="164" height="60"/></svg>"""

JAPANESE = "noto-cjk-sans-jp-regular"

SCRIPTS = (
    ("Latin", "Whimbrel", "lobster"),
    ("Greek", "θάλασσα", "noto-sans"),
    ("Cyrillic", "кулик", "noto-sans"),
    ("Hebrew", "צִפּוֹר", "frank-ruhl-libre"),
    ("Arabic", "قارب", "noto-sans-arabic"),
    ("Devanagari", "द्वीप", "noto-sans-devanagari"),
    ("Bengali", "সূর্য", "hind-siliguri"),
    ("Tamil", "துடுப்பு", "noto-sans-tamil"),
    ("Telugu", "పక్షి", "noto-sans-telugu"),
    ("Thai", "ท่าเรือ", "noto-sans-thai"),
    ("Khmer", "ខ្យល់", "noto-sans-khmer"),
    ("Japanese", "千鳥ボート", JAPANESE),
)

SETTINGS = (
    ("three lines, centred", {"text": "Sanderling\nKnot\nCurlew", "font": "playfair-display"}),
    ("justified", {"text": "BOATS TO THE\nWATER AT SIX\nIN THE DAY", "font": "oswald",
                   "align": "justify"}),
    ("kerned by the outlines", {"text": "AVOCET LTV", "font": "archivo-black",
                                "kerning": "optical"}),
    ("on an arc, outside", {"text": "ROWING CLUB", "font": "zilla-slab-bold",
                            "baseline": {"kind": "arc", "radius": 40}}),
    ("on an arc, inside", {"text": "ROWING CLUB", "font": "zilla-slab-bold",
                           "tracking": 2.2,
                           "baseline": {"kind": "arc", "radius": 44, "side": "inside"}}),
    ("round a whole circle", {"text": "GODWIT · DUNLIN · KNOT · ", "font": "nunito",
                              "features": {"wght": 800},
                              "baseline": {"kind": "circle", "radius": 36}}),
    ("along a path", {"text": "Oystercatcher", "font": "dancing-script",
                      "baseline": {"kind": "path", "data": "M0 0C40 -50 80 50 130 -8"}}),
    ("in a column", {"text": "BOAT", "font": "black-ops-one", "baseline": {"kind": "vertical"}}),
    ("small capitals, old figures", {"text": "Est. 1895", "font": "playfair-display",
                                     "features": {"smcp": True, "onum": True}}),
    ("two directions, two fonts", {"text": "Knot סירה 7", "font": "lobster",
                                   "fallback": ["frank-ruhl-libre"]}),
    ("with an ornament", {"text": "Avocet", "font": "great-vibes",
                          "ornaments": [{"artwork": {"svg": OARS}, "side": "left"}]}),
    ("another weight", {"text": "Turnstone", "font": "oswald", "instance": "ExtraLight"}),
)  # fmt: skip

SIZES = {"round a whole circle": {"em": 16}, "on an arc, outside": {"em": 14},
         "on an arc, inside": {"em": 14}, "along a path": {"em": 22}}  # fmt: skip


def library() -> FontLibrary:
    """Return the library, with the Japanese font of the test extra in it."""
    spec = find_spec(JAPANESE.replace("-", "_"))
    if spec is None or spec.origin is None:
        raise SystemExit("install the test extra first: its fonts are needed")
    (file,) = Path(spec.origin).parent.glob("*.otf")
    return FontLibrary({JAPANESE: str(file)})


def drawn(raw: dict[str, object], fonts: FontLibrary) -> Region:
    """Return lettering as a recipe asks for it."""
    spec = LetteringRecipe.model_validate(raw)
    plain = set_recipe_lettering(spec, fonts, COARSE, "lettering")
    drawings = Drawings(ArtworkLibrary(), COARSE)
    return with_ornaments(plain, spec.ornaments, drawings, "lettering").region


def sheet(title: str, cells: list[tuple[str, str, Region]]) -> str:
    """Return cells in rows of four, each with its name and what stands below it, as SVG."""
    rows = math.ceil(len(cells) / 4)
    width, height = 4 * (CELL_W + GAP) + GAP, TOP + rows * (CELL_H + GAP) + GAP
    found = svg_open(width, height, escaped(title), escaped(title))
    found.append(caption(title, 6.0, GAP, 11.0, bold=True))
    for place, (name, below, region) in enumerate(cells):
        x = GAP + place % 4 * (CELL_W + GAP)
        y = TOP + place // 4 * (CELL_H + GAP)
        found.append(
            f'<rect x="{x}" y="{y}" width="{CELL_W}" height="{CELL_H}" rx="2" fill="#FFFFFF"/>'
        )
        room_w, room_h = CELL_W - 10, CELL_H - 17
        left, low, right, high = region.bounds
        scale = min(room_w / (right - left), room_h / (high - low))
        middle = (x + CELL_W / 2, y + 4 + room_h / 2)
        found.append(
            f'<g transform="translate({middle[0]:.3f} {middle[1]:.3f}) scale({scale:.5f})">'
            f'<path d="{region_path(region, -(left + right) / 2, (low + high) / 2)}" '
            f'fill="{BLUE}" fill-rule="evenodd"/></g>'
        )
        found.append(caption(name, 3.8, x + 3, y + CELL_H - 7, colour=INK, bold=True))
        found.append(caption_within(below, 3.0, x + 3, y + CELL_H - 2.6, CELL_W - 6, colour=QUIET))
    return svg_close(found)


def frame_sign(fonts: FontLibrary) -> str:
    """Return a sign with a frame from a drawing, ornaments and fittings, as SVG."""
    oars = {"svg": OARS}
    recipe = parse_recipe(
        {
            "title": "Boathouse sign with a frame from a drawing",
            "lettering": {
                "text": "Avocet",
                "font": "dancing-script",
                "features": {"wght": 700},
                "size": {"cap_height": "30 mm"},
                "ornaments": [{"artwork": oars, "side": "left", "gap": "8 mm"}],
            },
            "layers": [
                {
                    "name": "board",
                    "material": "birch-plywood",
                    "thickness": "9 mm",
                    "outline": {"kind": "plate", "shape": "arch", "margin": "16 mm", "rise": 30},
                    "features": [
                        {"kind": "border", "work": "groove", "inset": 7, "width": 3, "depth": 1.5},
                        {"kind": "artwork", "artwork": {**oars, "size": {"width": 22}},
                         "place": {"anchor": "top", "inset": 13}, "work": "groove"},
                        {"kind": "keyholes", "at": "top-corners", "inset": 34},
                    ],
                },
                {
                    "name": "frame",
                    "material": "mdf",
                    "thickness": "6 mm",
                    "outline": {"kind": "artwork", "artwork": {"svg": FRAME}, "around": 4},
                },
                {
                    "name": "face",
                    "material": "acrylic-cast",
                    "thickness": "3 mm",
                    "outline": {"kind": "lettering"},
                },
            ],
        }
    )  # fmt: skip
    catalogue = load_catalogue()
    return stack_picture(build_stack(recipe, catalogue, fonts), catalogue, exploded=False)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?", default=TOUR, help="where to write")
    folder: Path = parser.parse_args().folder
    fonts = library()
    scripts = [
        (name, key, drawn({"text": text, "font": key, "size": {"em": 40}}, fonts))
        for name, text, key in SCRIPTS
    ]
    settings = [
        (name, str(raw["font"]), drawn({"size": SIZES.get(name, {"em": 20}), **raw}, fonts))
        for name, raw in SETTINGS
    ]
    folder.mkdir(parents=True, exist_ok=True)
    pictures = {
        "lettering-scripts.png": sheet("Twelve scripts", scripts),
        "lettering-settings.png": sheet("Twelve settings", settings),
        "artwork-frame.png": frame_sign(fonts),
    }
    for name, svg in pictures.items():
        (folder / name).write_bytes(png_within(svg, 1400))
    print(f"{len(pictures)} pictures in {folder}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
