"""Drawings of every feature in combination, made from a seed: the same ones every time.

Each family is about one part of SVG 2 and puts its features together by chance; each drawing is
100 by 100 units.

Where resvg is known to take something otherwise than the text of SVG 2 or CSS, the drawing has it
as `«written¦the same in other words»`: we read the first, resvg the second, which by the text
named beside it means the same.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random

__all__ = ["FAMILIES", "Drawing", "drawings"]

_OPEN = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {}>'
_PLAIN = 'width="100" height="100"'
_COLOURS = ("black", "#c40", "#0072b2", "rgb(0,158,115)", "hsl(60, 90%, 50%)", "white", "teal")
_WORDINGS = re.compile("«([^«»¦]*)¦([^«»¦]*)»")
_PIXEL = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR4nGNgYGD4DwAB"
    "BAEAX+XDSwAAAABJRU5ErkJggg=="
)
_URLS = ("url(#{})", "url( #{} )", "url('#{}')", 'url("#{}")')


@dataclass(frozen=True, slots=True)
class Drawing:
    """A generated drawing: its family, its number in it, its document, and that for resvg."""

    family: str
    number: int
    svg: str
    plain: str

    def __str__(self) -> str:
        return f"{self.family} {self.number}"


def _num(chance: Random, low: float, high: float) -> str:
    return f"{chance.uniform(low, high):.1f}"


def _attributes(**values: object) -> str:
    return " ".join(
        f'{name.strip("_").replace("_", "-")}=\'{value}\'' if '"' in str(value)
        else f'{name.strip("_").replace("_", "-")}="{value}"'
        for name, value in values.items()
        if value not in ("", None)
    )  # fmt: skip


def _url(chance: Random, name: str) -> str:
    return chance.choice(_URLS).format(name)


def _outline(chance: Random, style: str = "", kinds: str = "rcepglq") -> str:
    """Return a shape on the page."""
    if "stroke" in style:
        kinds = kinds.replace("l", "").replace("q", "") or "r"
    x, y = chance.uniform(15, 45), chance.uniform(15, 45)
    w, h = chance.uniform(15, 40), chance.uniform(15, 40)
    match chance.choice(kinds):
        case "r":
            rx = chance.choice(("", f'rx="{w / 5:.1f}"', f'ry="{h / 4:.1f}"'))
            return f'<rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}" {rx} {style}/>'
        case "c":
            return f'<circle cx="{x + 10:.1f}" cy="{y + 10:.1f}" r="{w / 2:.1f}" {style}/>'
        case "e":
            return (
                f'<ellipse cx="{x + 10:.1f}" cy="{y + 10:.1f}" rx="{w / 2:.1f}" ry="{h / 2:.1f}" '
                f"{style}/>"
            )
        case "p":
            return (
                f'<path d="M{x:.1f} {y:.1f}h{w:.1f}a{w / 3:.1f} {h / 3:.1f} 0 0 1 0 {h:.1f}'
                f'q{-w / 2:.1f} 9 {-w:.1f} 0z" {style}/>'
            )
        case "g":
            return (
                f'<polygon points="{x:.1f},{y:.1f} {x + w:.1f},{y + 4:.1f} '
                f'{x + w / 2:.1f},{y + h:.1f}" {style}/>'
            )
        case "l":
            return (
                f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{x + w:.1f}" y2="{y + h:.1f}" stroke="#000" '
                f'stroke-width="3" {style}/>'
            )
    return (
        f'<polyline points="{x:.1f},{y:.1f} {x + w:.1f},{y:.1f} {x + w:.1f},{y + h:.1f}" '
        f'fill="none" stroke="#000" stroke-width="3" {style}/>'
    )


def _transform(chance: Random) -> str:
    return chance.choice(
        ("translate(5 3)", "rotate(12 50 50)", "scale(.8)", "skewX(10)", "matrix(.9 .1 -.1 .9 5 2)",
         "translate(50,50) rotate(-20) translate(-50,-50)")
    )  # fmt: skip


def _stroked(chance: Random, *, dashed: bool) -> str:
    return _attributes(
        fill=chance.choice(("none", "#888", "")),
        stroke=chance.choice(_COLOURS),
        # rem: CSS Values 4, 6.1.2
        stroke_width=chance.choice(("3", "6", "5%", ".3em", "«0.2rem¦3.2»", "1mm", "0")),
        stroke_linejoin=chance.choice(("", "miter", "round", "bevel", "knot")),
        stroke_linecap=chance.choice(("", "butt", "round", "square", "knot")),
        # at least 1, or it is ignored: SVG 2, 13.5.5
        stroke_miterlimit=chance.choice(("", "1", "2", "8", "«3px¦4»", "«0.5¦4»", "x")),
        stroke_dasharray=chance.choice(("", "8 4", "5", "6,3,1", "10% 4", "-3 2"))
        if dashed
        else "",
        stroke_dashoffset=chance.choice(("", "3", "-5", "4%")),
        paint_order=chance.choice(("", "", "stroke", "markers stroke")),
    )


def _strokes(chance: Random) -> str:
    # Dashes on straight sides alone: resvg measures curves to half a pixel only.
    return _outline(chance, _stroked(chance, dashed=True), "g") + _outline(
        chance, _stroked(chance, dashed=False), "rcepg"
    )


def _structure(chance: Random) -> str:
    shape = _outline(chance, 'id="a"')
    rem = chance.choice(  # sizes by name: CSS Fonts 4, 2.5
        ("", 'font-size="20"', 'style="font-size: «larger¦19.2px»"', 'font-size="«x-small¦12»"')
    )
    parts = [
        f'<g {rem}><rect x="1em" y="«1rem¦16»" width="2em" height="«1.5rem¦24»"/></g>',
        f'<defs>{shape}</defs><use href="#a" x="{_num(chance, -8, 8)}"/>',
        f'<defs>{shape}</defs><g transform="{_transform(chance)}"><use xlink:href="#a"/></g>',
        f'<symbol id="s" viewBox="0 0 20 20" overflow="{chance.choice(("hidden", "visible"))}">'
        '<circle cx="10" cy="10" r="12"/></symbol><use href="#s" x="30" y="30" width="40" '
        'height="30"/>',
        f'<svg x="20" y="20" width="50" height="40" viewBox="0 0 10 10" '
        f"{_attributes(overflow=chance.choice(('', 'visible', 'hidden', 'auto', 'scroll')))} "
        f"{_attributes(preserveAspectRatio=chance.choice(('', 'none', 'xMinYMax slice')))}>"
        '<circle cx="5" cy="5" r="6"/></svg>',
        f'<switch><g systemLanguage="{chance.choice(("de", "en", "fr, en-GB"))}">{shape}</g>'
        '<rect width="30" height="20"/></switch>',
        '<switch><rect requiredExtensions="http://example.invalid/x" width="9" height="9"/>'
        f"{shape}</switch>",
        f'<g visibility="hidden">{shape}<circle cx="70" cy="70" r="9" visibility="visible"/></g>',
        f'<g display="none">{shape}</g><circle cx="70" cy="70" r="9"/>',
        f'<g opacity="{chance.choice(("0", "1", "0%", "100%"))}">{shape}</g><circle r="9"/>',
        f'<a href="#x">{shape}</a>',
    ]
    return chance.choice(parts)


def _transforms(chance: Random) -> str:
    origin = chance.choice(("", "50 50", "50px 20px", "center", "25% 75%", "left bottom", "30"))
    written = chance.choice(
        (
            f'transform="{_transform(chance)}"',
            # functions with units: CSS Transforms 1, 9
            '«style="transform: rotate(20deg)"¦transform="rotate(20)"»',
            '«style="transform: translate(10px, 5px) scale(.7)"¦transform="translate(10 5) '
            'scale(.7)"»',
            '«style="transform: rotate(.05turn) translateX(4px)"¦transform="rotate(18) '
            'translate(4)"»',
            '«style="transform: skewX(10deg)"¦transform="skewX(10)"»',
        )
    )
    return f"<g {written} {_attributes(transform_origin=origin)}>{_outline(chance)}</g>"


def _clips(chance: Random) -> str:
    box = chance.random() < 0.4
    inner = (
        '<circle cx=".5" cy=".5" r=".45"/><rect width=".3" height=".3"/>'
        if box
        else '<path d="M10 10H80V80H10zM25 25H60V60H25z"/>'
        + chance.choice(("", _outline(chance, 'fill="none"', "rceg")))
    )
    clip = _attributes(
        clipPathUnits="objectBoundingBox" if box else "",
        clip_rule=chance.choice(("", "evenodd")),
        **chance.choice(
            (
                {},
                {"clip_path": _url(chance, "d")},
                {"transform": "rotate(8)"},
                {"transform": "scale(.9)", "transform_origin": chance.choice(("50 50", "center"))},
            )
        ),
        display=chance.choice(("", "", "none")),
    )
    wrap = chance.choice(("{}", '<g clip-rule="evenodd">{}</g>', '<g fill="none">{}</g>'))
    hidden = chance.choice(("", '<rect x="1" y="1" width="9" height="9" opacity="0"/>'))
    shape = _outline(chance, _attributes(stroke=chance.choice(("", "red")), stroke_width="4"))
    return (
        '<clipPath id="d"><circle cx="45" cy="45" r="32"/></clipPath>'
        + wrap.format(f'<clipPath id="c" {clip}>{inner}</clipPath>')
        + f"<g {_attributes(clip_path=_url(chance, 'c'))}>{hidden}{shape}"
        + f"{_outline(chance, kinds='rcepg')}</g>"
    )


def _masks(chance: Random) -> str:
    units = chance.choice(("", "userSpaceOnUse", "objectBoundingBox"))
    content = chance.choice(("", "userSpaceOnUse", "objectBoundingBox"))
    frame = (
        {"x": "10", "y": "10", "width": "60", "height": "70"} if units == "userSpaceOnUse" else {}
    )
    white, black = chance.choice((("white", "black"), ("#fff", "#000"), ("white", "#808080")))
    if content == "objectBoundingBox":
        inner = f'<rect width="1" height="1" fill="{white}"/><circle cx=".5" cy=".5" r=".3" '
        inner += f'fill="{black}"/><circle cx=".5" cy=".4" r=".1" fill="{white}"/>'
    else:
        inner = f'<rect x="5" y="5" width="70" height="60" fill="{white}"/><circle cx="40" cy="40" '
        inner += f'r="15" fill="{black}" stroke="{white}" stroke-width="4"/>'
    mask = _attributes(
        maskUnits=units, maskContentUnits=content,
        mask_type=chance.choice(("", "alpha", "luminance")),
        mask=chance.choice(("", "", _url(chance, "n"))), **frame,
    )  # fmt: skip
    return (
        '<mask id="n" maskUnits="userSpaceOnUse" x="0" y="0" width="100" height="100"><rect '
        'width="100" height="50" fill="white"/></mask>'
        f'<mask id="m" {mask}>{inner}</mask>'
        f"<g {_attributes(mask=_url(chance, 'm'))}>{_outline(chance, kinds='rcepg')}"
        f"{_outline(chance, kinds='rcepg')}</g>"
    )


def _markers(chance: Random) -> str:
    box = chance.choice(("", "0 0 10 10", "-2 -2 8 4"))
    aspect = chance.choice(("", "none", "xMaxYMin slice"))
    data = chance.choice(
        ("M20 20L60 25L70 70", "M20 50C30 20 60 20 75 50S80 80 50 80", "M20 20h40v40h-40z",
         "M25 60A45 45 0 0 1 70 60L50 75", "M20 20L50 20M30 50Q50 30 70 50T75 75",
         "M20 30L50 30L70 60", "M30 30H60V60L25 40")
    )  # fmt: skip
    # At the ends of what is closed resvg does not turn half way (SVG 2, 9.5.1).
    turns = ("", "45", "0.1turn", "30deg")
    turns = turns if data.endswith("z") else (*turns, "auto", "auto-start-reverse")
    # resvg clips to the viewBox; by SVG 2, 13.7.2, it is the viewport that clips.
    clips = not box or aspect == "none"
    marker = _attributes(
        markerUnits=chance.choice(("", "userSpaceOnUse", "strokeWidth")),
        markerWidth=chance.choice(("", "4", "8", "0")),
        markerHeight=chance.choice(("", "4", "6")),
        refX=chance.choice(("", "2", "5")),
        refY=chance.choice(("", "2", "1")),
        orient=chance.choice(turns),
        viewBox=box,
        overflow=chance.choice(("", "visible", "hidden")) if clips else "visible",
        preserveAspectRatio=aspect,
        fill=chance.choice(("", "none")),
    )
    fill = chance.choice(("", "context-fill", "context-stroke", "red"))
    inner = f"<path {_attributes(d='M0 0L5 2.5L0 5z', fill=fill)}/><circle cx='6' cy='6' r='2'/>"
    style = _attributes(
        fill=chance.choice(("none", "#999")),
        stroke=chance.choice(("none", "black", "black")),
        stroke_width=chance.choice(("1", "2", "")),
        marker_start=chance.choice(("", _url(chance, "k"))),
        marker_mid=chance.choice(("", _url(chance, "k"))),
        marker_end=_url(chance, "k"),
    )
    return f'<marker id="k" {marker}>{inner}</marker><path d="{data}" {style}/>'


def _servers(chance: Random) -> str:
    opacity = [chance.choice(("1", "1", "0", ".5")) for _ in range(2)]
    stops = "".join(
        f'<stop offset="{at}" stop-color="{chance.choice(_COLOURS)}" stop-opacity="{share}"/>'
        for at, share in zip(("0", chance.choice(("0", "1"))), opacity, strict=True)
    )
    # Without stops the paint is none, whatever stands behind it (SVG 2, 14.2.4).
    bare = '«¦<stop stop-opacity="0"/>»'
    stops = chance.choice((stops, stops, stops, '<stop stop-color="red"/>', bare))
    units = _attributes(gradientUnits=chance.choice(("", "userSpaceOnUse")))
    kind = chance.choice(("linearGradient", "radialGradient"))
    server = chance.choice(
        (
            f'<{kind} id="p" {units}>{stops}</{kind}>',
            f'<{kind} id="t">{stops}</{kind}><{kind} id="p" href="#t"/>',
            f'<pattern id="p" width="{chance.choice((".2", "1"))}" height=".2">'
            '<rect width="9" height="9"/></pattern>',
            # without extent it paints nothing, whatever stands behind it: SVG 2, 14.3.1
            '<pattern id="p" width="«0¦.2»" height=".2"><g/></pattern>',
            "",
        )
    )
    after = chance.choice(("", " none", " red"))
    if after and 'width="«0' in server:
        after = f"«{after}¦»"
    name = chance.choice(("fill", "stroke"))
    shape = _outline(chance, f"{name}={_quoted(_url(chance, 'p') + after)}", "rcepg")
    return f'{server}{shape}<line x1="10" y1="90" x2="90" y2="90" stroke-width="6" stroke=' + (
        f"{_quoted(_url(chance, 'p') + after)}/>"
    )


def _quoted(text: str) -> str:
    return f"'{text}'" if '"' in text else f'"{text}"'


def _paints(chance: Random) -> str:
    colours = (
        *_COLOURS, "none", "transparent", "currentColor", "rgba(9,9,9,0)", "«knot¦inherit»",
        "inherit", "«#12¦inherit»", "#f00f", "rgb(10% 20% 30%)", "context-fill", "hsla(9,9%,9%,1)",
        "initial",
    )  # fmt: skip
    style = _attributes(
        fill=chance.choice(colours),
        fill_opacity=chance.choice(("", "", "1", "0", "50%", "x", "2")),
        fill_rule=chance.choice(("", "evenodd", "knot")),
        stroke=chance.choice((*colours, "")),
        stroke_width="4",
        stroke_opacity=chance.choice(("", "", "0", ".4")),
    )
    outer = _attributes(fill=chance.choice(("", "none", "red")), color=chance.choice(("", "blue")))
    path = '<path d="M20 20H70V70H20zM30 30H60V60H30z" {}/>'
    return f"<g {outer}>{path.format(style)}</g><circle cx='90' cy='90' r='5'/>"


def _selectors(chance: Random) -> str:
    rules = [
        "g > rect {fill: none}", "g rect {fill: red}", ".a.b {fill: none}", "#x {fill: blue}",
        "circle + rect {fill: none}", "«circle ~ rect¦#x, rect[rx]» {display: none}",
        "rect:first-child {fill: none}",
        "[rx] {fill: none}", "[class~=a] {display: none}", "rect, circle {stroke: black}",
        "* {stroke-width: 3}", "rect {fill: none !important}", "svg g.c > .a {fill: none}",
        ".a {fill: none} .a {fill: red}", "rect.a {fill: none} .a {fill: red}",
        "«:not(rect)¦circle, g, svg» {fill: none}",  # Selectors 4, 4.3 and 13.3
        "«rect:nth-child(2)¦#x» {display: none}", "g:hover rect {fill: none}",
        "/* no */ .b {fill: none; stroke: green}", "@font-face {font-family: Knot} .a {fill: none}",
    ]  # fmt: skip
    sheet = " ".join(chance.sample(rules, chance.randint(1, 4)))
    inline = chance.choice(("", 'style="fill: black"', 'style="fill: none; stroke: red"'))
    return (
        f"<style>{sheet}</style><g class='c'><circle cx='20' cy='20' r='10' class='a'/>"
        f"<rect id='x' class='a b' x='40' y='10' width='20' height='20' {inline}/>"
        "<rect rx='3' x='70' y='10' width='20' height='20'/></g>"
        "<rect class='b' x='10' y='60' width='20' height='20' fill='none'/>"
        "<g class='d'><rect x='50' y='60' width='20' height='20' class='a'/></g>"
    )


def _beyond(chance: Random) -> str:
    """Return what cannot be taken as drawn: each has to be noted."""
    shape = _outline(chance, kinds="rce")
    x = _num(chance, 5, 60)
    return shape + chance.choice(
        (
            f'<text x="{x}" y="50">Avocet</text>',
            '<path id="q" d="M10 50h80"/><text><textPath href="#q">Knot</textPath></text>',
            f'<g filter="url(#f)">{_outline(chance)}</g><filter id="f"><feGaussianBlur '
            'stdDeviation="3"/></filter>',
            f'<use href="other.svg#a" x="{x}"/>',
            f'<image href="{_PIXEL}" x="{x}" y="70" width="20" height="20"/>',
            f'<g opacity=".{chance.randint(1, 6)}">{_outline(chance)}</g>',
            f'<rect x="{x}" y="10" width="30" height="30" clip-path="circle(9px at 40px 20px)"/>',
            f'<svg x="{x}" width="20" height="20"><text y="15">Teal</text></svg>',
            f'<g transform="scale(2 1)"><circle cx="25" cy="70" r="{chance.randint(6, 12)}" '
            'fill="none" stroke="#000" stroke-width="5" vector-effect="non-scaling-stroke"/></g>',
            f'<polygon points="10,90 50,{chance.randint(10, 40)} 90,90" fill="none" stroke="#000" '
            'stroke-width="8" stroke-linejoin="arcs"/>',
        )
    )


FAMILIES: dict[str, Callable[[Random], str]] = {
    "strokes": _strokes,
    "structure": _structure,
    "transforms": _transforms,
    "clips": _clips,
    "masks": _masks,
    "markers": _markers,
    "servers": _servers,
    "paints": _paints,
    "selectors": _selectors,
    "beyond": _beyond,
}


def drawings(each: int, seed: int = 1) -> Iterator[Drawing]:
    """Yield `each` drawings of every family."""
    for family, make in FAMILIES.items():
        for number in range(each):
            chance = Random(f"{seed} {family} {number}")
            text = f"{_OPEN.format(_PLAIN)}{make(chance)}</svg>"
            ours, theirs = (_WORDINGS.sub(pick, text) for pick in (r"\1", r"\2"))
            yield Drawing(family, number, ours, theirs)
