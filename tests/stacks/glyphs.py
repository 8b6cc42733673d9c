"""Letters of real faces as regions, for tests of what is done with outlines."""

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

import shapely
from shapely.affinity import rotate

from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import set_lettering
from letterply.lettering.setting.spec import LetteringSpec, Size
from letterply.shapes.regions import Region, as_region, normalise
from letterply.shapes.tolerances import DEFAULT_TOLERANCES


def _greek() -> str:
    package = find_spec("font_source_serif_pro")
    return str(Path(package.origin).parent / "files" / "SourceSerifPro-Semibold.ttf")


@lru_cache(maxsize=1)
def _library() -> FontLibrary:
    return FontLibrary({"greek": _greek()})


@lru_cache(maxsize=256)
def lettering(text: str, font: str, cap_height: float):
    spec = LetteringSpec(text=text, font=font, size=Size("cap_height", cap_height))
    return set_lettering(spec, _library().load(font), DEFAULT_TOLERANCES)


def ink(text: str, font: str, cap_height: float) -> Region:
    return lettering(text, font, cap_height).region


def plate_round(region: Region, margin: float = 10.0) -> Region:
    left, low, right, high = region.bounds
    return as_region(shapely.box(left - margin, low - margin, right + margin, high + margin))


def turned(region: Region, angle: float) -> Region:
    return normalise(rotate(region, angle, origin=(0, 0)))
