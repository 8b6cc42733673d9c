"""Cases of SVG, written from the text of the W3C recommendation SVG 2 (and CSS Masking, Values).

Each names the section that it is about. The expected picture is what resvg, an independent
renderer, draws of the same text (`test_svg_cases.py`). Pictures are 100 by 100 units unless they
say otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CASES", "Case"]

_OPEN = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {}>'


@dataclass(frozen=True, slots=True)
class Case:
    """One case: section of SVG 2, a name, the document."""

    section: str
    name: str
    svg: str

    def __str__(self) -> str:
        return f"{self.section} {self.name}"


CASES: list[Case] = []


def _add(section: str, root: str = 'width="100" height="100"', **bodies: str) -> None:
    for name, body in bodies.items():
        svg = f"{_OPEN.format(root)}{body}</svg>"
        CASES.append(Case(section, name.replace("_", " "), svg))


def _path(section: str, style: str = "", **data: str) -> None:
    _add(section, **{name: f'<path d="{d}" {style}/>' for name, d in data.items()})


# Chapter 10, basic shapes
_add(
    "10.2",
    rect='<rect x="10" y="20" width="60" height="40"/>',
    rect_round='<rect x="10" y="20" width="60" height="40" rx="12" ry="8"/>',
    rect_rx_alone='<rect x="10" y="20" width="60" height="40" rx="12"/>',
    rect_ry_alone='<rect x="10" y="20" width="60" height="40" ry="9"/>',
    rect_radius_held_to_half='<rect x="10" y="20" width="60" height="40" rx="90" ry="90"/>',
    rect_rx_zero='<rect x="10" y="20" width="60" height="40" rx="0" ry="9"/>',
    rect_without_width='<circle r="9"/><rect x="10" y="20" height="40"/>',
    rect_of_percents='<rect x="10%" y="5%" width="50%" height="25%" rx="10%"/>',
    rect_negative_width='<circle r="9"/><rect x="50" y="20" width="-20" height="40"/>',
    rect_at_the_edge='<rect x="-20" y="-20" width="60" height="60"/>',
    rect_radius_percent_both='<rect x="10" y="20" width="60" height="40" rx="50%" ry="50%"/>',
)
_add(
    "10.3",
    circle='<circle cx="50" cy="40" r="30"/>',
    circle_at_the_origin='<circle r="40"/>',
    circle_of_percents='<circle cx="50%" cy="50%" r="25%"/>',
    circle_without_radius='<rect width="9" height="9"/><circle cx="50" cy="50"/>',
    circle_negative_radius='<rect width="9" height="9"/><circle cx="50" cy="50" r="-9"/>',
)
_add(
    "10.4",
    ellipse='<ellipse cx="50" cy="40" rx="40" ry="20"/>',
    ellipse_rx_alone='<ellipse cx="50" cy="40" rx="30"/>',
    ellipse_ry_alone='<ellipse cx="50" cy="40" ry="25"/>',
    ellipse_auto='<ellipse cx="50" cy="40" rx="30" ry="auto"/>',
    ellipse_flat='<rect width="9" height="9"/><ellipse cx="50" cy="40" rx="30" ry="0"/>',
)
_add(
    "10.5",
    line='<line x1="10" y1="20" x2="80" y2="70" stroke="#000" stroke-width="6"/>',
    line_is_not_filled='<line x1="10" y1="20" x2="80" y2="70" fill="#000"/><circle r="5"/>',
    line_from_the_origin='<line x2="80" y2="70" stroke="#000" stroke-width="3"/>',
    line_of_percents='<line x1="10%" y1="90%" x2="90%" y2="50%" stroke="#000" stroke-width="5%"/>',
)
_add(
    "10.6",
    polyline='<polyline points="10,10 50,80 90,10 70,60"/>',
    polyline_stroked='<polyline points="10 10 50 80 90 10" fill="none" stroke="#000" '
    'stroke-width="8"/>',
    polyline_open_but_filled='<polyline points="10,10 90,10 90,90" stroke="#000" '
    'stroke-width="4"/>',
    polyline_odd_count='<polyline points="10,10 90,10 90,90 40"/>',
)
_add(
    "10.7",
    polygon='<polygon points="50,5 95,95 5,40"/>',
    polygon_stroked='<polygon points="50,15 85,85 15,40" fill="none" stroke="#000" '
    'stroke-width="8"/>',
    polygon_dense_numbers='<polygon points="10-5.5.5,60 90,80.25"/>',
    polygon_of_newlines='<polygon points="10,10\n90,10\t90,90\r\n10,90"/>',
    polygon_odd_count='<polygon points="10,10 90,10 90,90 40"/>',
)

# Chapter 9, paths
_path(
    "9.3.3",
    move_then_lines="M10 10 90 20 60 90",
    relative_move_then_lines="m10 10 70 10 -30 60",
    many_subpaths="M10 10h30v30h-30zM50 50h30v30h-30z",
    relative_move_after_close="M10 10h30v30h-30zm40 40h30v30h-30z",
    move_alone_draws_nothing="M10 10M50 50M20 20h40v40z",
    path_that_starts_relative="m20 30l40 0l0 40z",
)
_path(
    "9.3.4",
    close_goes_on_from_the_start="M20 20h40v40zl-10 60l30 0z",
    close_in_small_and_capital="M10 10h30v30ZM60 60h30v30z",
)
_path(
    "9.3.5",
    horizontal_and_vertical="M10 10H90V50H50V90H10Z",
    relative_horizontal_and_vertical="M10 10h80v40h-40v40h-40z",
    many_in_a_row="M10 10H30 60 90V90 95z",
    lines="M10 10L90 20L60 90Z",
    relative_lines="M10 10l80 10l-30 70z",
)
_path(
    "9.3.6",
    cubic="M10 80C10 10 90 10 90 80",
    relative_cubic="M10 80c0 -70 80 -70 80 0z",
    smooth_cubic="M10 50C10 10 40 10 50 50S90 90 90 50",
    relative_smooth_cubic="M10 50c0 -40 30 -40 40 0s40 40 40 0z",
    smooth_cubic_after_a_line="M10 50L30 20S90 10 80 80",
    cubics_in_a_row="M10 50C10 10 40 10 50 50 60 90 90 90 90 50",
    cubic_loop="M10 90C130 10 -30 10 90 90",
    cubic_cusp="M10 90C90 10 10 10 90 90",
)
_path(
    "9.3.7",
    quadratic="M10 80Q50 -20 90 80",
    relative_quadratic="M10 80q40 -100 80 0z",
    smooth_quadratic="M10 50Q30 0 50 50T90 50",
    relative_smooth_quadratic="M10 50q20 -50 40 0t40 0z",
    smooth_quadratic_after_a_line="M10 50L30 20T90 60",
    smooth_quadratics_in_a_row="M5 50Q15 0 30 50T55 50T80 50T95 40",
)
_path(
    "9.3.8",
    arc_small_left="M20 50A30 30 0 0 0 80 60",
    arc_small_right="M20 50A40 40 0 0 1 80 60",
    arc_large_left="M30 60A25 25 0 1 0 60 60",
    arc_large_right="M30 60A25 25 0 1 1 60 60",
    arc_ellipse="M20 50A30 15 0 1 1 60 60z",
    arc_turned="M20 50A35 15 30 1 1 70 60z",
    arc_turned_back="M20 50A35 15 -60 0 1 70 60z",
    relative_arc="M20 50a30 20 45 1 0 50 10z",
    arcs_in_a_row="M10 50a20 20 0 0 1 40 0 20 20 0 0 0 40 0",
    flags_without_spaces="M20 50a30 20 45 1050 10z",
    flags_and_numbers_run_together="M20 50a30 20 45 01.5 40z",
)
_path(
    "9.5.1",
    arc_radius_too_small_grows="M20 50A5 5 0 0 1 80 60z",
    arc_radius_zero_is_a_line="M20 50A0 30 0 0 1 80 60L50 90z",
    arc_negative_radius="M20 50A-30 30 0 0 1 80 60z",
    arc_to_where_it_is="M20 50A30 30 0 0 1 20 50L80 60 50 90z",
    arc_turned_too_small_grows="M20 50A6 3 30 0 1 80 60z",
    arc_half_circle="M20 50A30 30 0 0 1 80 50z",
    arc_beyond_a_turn="M20 50A30 20 405 0 1 70 60z",
)
_path(
    "9.5.4",
    breaks_off_at_a_letter="M10 10L90 10L90 90X10 90",
    breaks_off_at_missing_numbers="M10 10L90 10L90 90L10",
    breaks_off_in_a_curve="M10 10L90 10L90 90C10 90",
    bad_arc_flag="M10 10L90 10L90 90A5 5 0 2 0 10 90",
)
_path(
    "9.3.9",
    numbers_run_together="M10-5L90.5.5-20 80z",
    exponents="M1e1 1E1L9e1 10L.9e2 900e-1z",
    commas_everywhere="M10,10,90,10,90,90z",
    plus_signs="M+10+10L+90+10L+90+90z",
    no_spaces="M10 10L90 10L90 90Z M20 30L20 80L60 80Z",
    newlines_and_tabs="M10\n10\tL90\r\n10L90 90z",
)

# Section 13.4, filling
_path(
    "13.4.2",
    style='fill-rule="evenodd"',
    star_even_odd="M50 0L21 90L98 35L2 35L79 90z",
    squares_same_way_even_odd="M10 10h80v80h-80zM30 30h40v40h-40z",
    squares_other_way_even_odd="M10 10h80v80h-80zM30 30v40h40v-40z",
    three_squares_even_odd="M10 10h80v80h-80zM25 25h50v50h-50zM40 40h20v20h-20z",
    figure_of_eight_even_odd="M10 10L90 90V10L10 90z",
    overlap_even_odd="M10 10h50v50h-50zM40 40h50v50h-50z",
)
_path(
    "13.4.2 nonzero",
    star="M50 0L21 90L98 35L2 35L79 90z",
    squares_same_way="M10 10h80v80h-80zM30 30h40v40h-40z",
    squares_other_way="M10 10h80v80h-80zM30 30v40h40v-40z",
    three_squares="M10 10h80v80h-80zM25 25v50h50v-50zM40 40h20v20h-20z",
    figure_of_eight="M10 10L90 90V10L10 90z",
)

# Section 13.5, lines
_LINE = 'fill="none" stroke="#000" stroke-width="10" '
_BEND = "M10 80L50 20L90 80"
_path("13.5.1", _LINE, butt=_BEND, closed="M20 80L50 20L80 80z", curve="M10 80C10 10 90 10 90 80")
_path(
    "13.5.1",
    _LINE + 'stroke-linecap="round"',
    cap_round=_BEND,
    round_dot="M50 50h0",
    round_dot_closed="M50 50z",
    round_curve="M15 80Q50 -20 85 80",
)
_path(
    "13.5.1",
    _LINE + 'stroke-linecap="square"',
    cap_square=_BEND,
    square_dot="M50 50h0",
    square_turned="M20 30L70 60",
)
_path(
    "13.5.2",
    _LINE + 'stroke-linejoin="round"',
    join_round=_BEND,
    round_closed="M20 80L50 20L80 80z",
    round_back="M20 50H80H40",
)
_path(
    "13.5.2",
    _LINE + 'stroke-linejoin="bevel"',
    join_bevel=_BEND,
    bevel_closed="M20 80L50 20L80 80z",
    bevel_right_angle="M20 80V20H80",
)
_path(
    "13.5.2",
    _LINE + 'stroke-linejoin="miter"',
    miter_right_angle="M20 80V20H80",
    miter_sharp_is_bevelled="M10 80L50 20L30 90",
    miter_at_a_curve="M10 80Q10 20 50 20L80 80",
)
_path("13.5.3", _LINE + 'stroke-miterlimit="10"', limit_high="M30 90L50 40L60 90")
_path("13.5.3", _LINE + 'stroke-miterlimit="1"', limit_one=_BEND)
_path("13.5.3", _LINE + 'stroke-miterlimit="1.42"', limit_above_a_right_angle="M20 80V20H80")
_path("13.5.3", _LINE + 'stroke-miterlimit="1.41"', limit_below_a_right_angle="M20 80V20H80")
_path(
    "13.5.4",
    _LINE + 'stroke-dasharray="12 6"',
    dashes="M10 50H90",
    dashes_round_a_bend=_BEND,
    dashes_closed="M20 20H80V80H20z",
    dashes_on_a_curve="M10 80C10 10 90 10 90 80",
)
_path("13.5.4", _LINE + 'stroke-dasharray="15"', odd_one="M10 50H90")
_path("13.5.4", _LINE + 'stroke-dasharray="15,5,3"', odd_three="M5 50H95")
_path("13.5.4", _LINE + 'stroke-dasharray="0 0"', all_zero="M10 50H90")
_path("13.5.4", _LINE + 'stroke-dasharray="10 -5"', negative="M10 50H90")
_path("13.5.4", _LINE + 'stroke-dasharray="20% 10%"', percents="M10 50H90")
_path("13.5.4", _LINE + 'stroke-dasharray="0 15" stroke-linecap="round"', dots="M10 50H90")
_path("13.5.4", _LINE + 'stroke-dasharray="12 6" stroke-linecap="round"', round_dashes=_BEND)
_path("13.5.4", _LINE + 'stroke-dasharray="12 6" stroke-linecap="square"', square_dashes="M5 50H95")
_path("13.5.5", _LINE + 'stroke-dasharray="12 6" stroke-dashoffset="5"', offset="M10 50H90")
_path("13.5.5", _LINE + 'stroke-dasharray="12 6" stroke-dashoffset="-5"', offset_back="M10 50H90")
_path("13.5.5", _LINE + 'stroke-dasharray="12 6" stroke-dashoffset="103"', offset_far="M10 50H90")
_path("13.5.5", _LINE + 'stroke-dasharray="30 5 5" stroke-dashoffset="35"', offset_odd="M5 50H95")
_add(
    "13.5",
    rect_stroked='<rect x="20" y="20" width="60" height="50" rx="9" fill="none" stroke="#000" '
    'stroke-width="7"/>',
    ellipse_stroked='<ellipse cx="50" cy="50" rx="40" ry="15" fill="none" stroke="#000" '
    'stroke-width="9"/>',
    fill_and_line='<circle cx="50" cy="50" r="20" fill="#000" stroke="#000" stroke-width="9"/>',
    line_in_a_stretched_frame='<path transform="scale(3 .8)" d="M5 20L25 90" stroke="#000" '
    'stroke-width="6"/>',
    line_in_a_skewed_frame='<circle transform="skewX(35)" cx="20" cy="50" r="25" fill="none" '
    'stroke="#000" stroke-width="8"/>',
    line_in_mm='<path d="M10 50H90" stroke="#000" stroke-width="3mm"/>',
    line_width_zero='<path d="M10 50H90" stroke="#000" stroke-width="0"/><circle r="5"/>',
    tight_curve='<path d="M20 80Q50 -60 60 80" fill="none" stroke="#000" stroke-width="16"/>',
)

# Chapter 8, coordinates
_T = '<rect x="10" y="10" width="30" height="20" transform="{}"/>'
_add(
    "8.5",
    translate=_T.format("translate(20 30)"),
    translate_x=_T.format("translate(20)"),
    scale=_T.format("scale(2 1.5)"),
    scale_one=_T.format("scale(2)"),
    scale_mirrored=_T.format("scale(-1 1) translate(-90)"),
    rotate=_T.format("rotate(30)"),
    rotate_about=_T.format("rotate(30 50 50)"),
    skew_x=_T.format("skewX(30)"),
    skew_y=_T.format("skewY(20)"),
    matrix=_T.format("matrix(1 .5 -.3 1.2 20 10)"),
    several=_T.format("translate(50 20) rotate(40) scale(1.2, .8)"),
    commas=_T.format("translate(20,30),rotate(10)"),
    no_spaces=_T.format("translate(20,30)rotate(10)"),
    spaces_before_brackets=_T.format(" translate ( 20 30 ) "),
    nested='<g transform="translate(30 10)"><g transform="rotate(20)"><g transform="scale(1.5)">'
    '<rect width="30" height="20"/></g></g></g>',
    flattened_to_nothing=_T.format("scale(0)") + '<circle r="9"/>',
)
for _name in (
    "none",
    "xMinYMin meet",
    "xMidYMid meet",
    "xMaxYMax meet",
    "xMinYMax",
    "xMinYMin slice",
    "xMidYMid slice",
    "xMaxYMax slice",
    "xMidYMax slice",
    "nonsense",
):
    _add(
        "8.7",
        root=f'width="210" height="100" viewBox="11 13 3 2" preserveAspectRatio="{_name}"',
        **{f"aspect {_name}": '<circle cx="12.5" cy="14" r=".9"/><rect x="11" y="13" width=".5" '
           'height=".5"/><rect x="13.6" y="14.6" width=".4" height=".4"/>'},
    )  # fmt: skip
_add(
    "8.6",
    root='width="100" height="50" viewBox="100 0 100 100"',
    view_box_moved='<rect x="100" width="100" height="100"/>',
)
_add("8.6", root='viewBox="0 0 80 40"', view_box_alone='<circle cx="40" cy="20" r="15"/>')
_add("8.6", root='width="120" viewBox="0 0 80 40"', width_alone='<circle cx="40" cy="20" r="15"/>')
_add(
    "8.6",
    root='width="2cm" height="10mm" viewBox="0 0 80 40"',
    size_in_cm='<circle cx="40" cy="20" r="15"/>',
)
_add("8.6", root='width="1in" height=".5in"', size_in_inches='<circle cx="40" cy="20" r="15"/>')
_add("8.6", root='width="60pt" height="4pc"', size_in_points='<circle cx="40" cy="20" r="15"/>')
_U = '<rect x="{0}" y="10" width="40" height="40"/>'
_add("8.9", **{f"unit {u}": _U.format(v) for u, v in
               {"px": "20px", "in": ".25in", "cm": ".5cm", "mm": "5mm", "pt": "20pt", "pc": "2pc",
                "em": "2em", "ex": "2ex", "percent": "20%"}.items()})  # fmt: skip
_add(
    "8.9",
    em_of_a_font_size='<g font-size="10"><rect x="1em" y="2em" width="5em" height="3em"/></g>',
)

# Chapter 5, structure
_add(
    "5.2",
    group='<g><rect width="20" height="20"/><circle cx="60" cy="60" r="20"/></g>',
    group_hands_fill_down='<g fill="none" stroke="#000" stroke-width="4"><circle cx="50" cy="50" '
    'r="20"/></g>',
    inner_svg='<svg x="20" y="30" width="40" height="40"><circle cx="20" cy="20" r="30"/></svg>',
    inner_svg_view='<svg x="20" y="30" width="60" height="40" viewBox="0 0 10 10">'
    '<circle cx="5" cy="5" r="5"/></svg>',
    inner_svg_open='<svg x="20" y="30" width="40" height="40" overflow="visible">'
    '<circle cx="20" cy="20" r="30"/></svg>',
    inner_svg_whole='<svg x="20" y="30"><circle cx="20" cy="20" r="30"/></svg>',
    inner_svg_percents='<svg x="10" y="10" width="50" height="80"><rect width="50%" height="50%"/>'
    "</svg>",
    inner_svg_slice='<svg x="20" y="30" width="60" height="20" viewBox="0 0 10 10" '
    'preserveAspectRatio="xMidYMid slice"><circle cx="5" cy="5" r="5"/></svg>',
    inner_svg_flat='<svg x="20" y="30" width="0" height="20"><rect width="9" height="9"/></svg>'
    '<circle r="9"/>',
)
_add(
    "5.4",
    defs_draw_nothing='<defs><rect width="50" height="50"/></defs><circle r="20"/>',
)
_add(
    "5.5",
    symbol='<symbol id="a"><circle cx="20" cy="20" r="15"/></symbol><use href="#a" x="30" y="10" '
    'width="50" height="50"/>',
    symbol_view='<symbol id="a" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>'
    '<use href="#a" x="10" y="10" width="60" height="30"/>',
    symbol_clips='<symbol id="a" viewBox="0 0 10 10"><circle cx="5" cy="5" r="8"/></symbol>'
    '<use href="#a" x="10" y="10" width="40" height="40"/>',
    symbol_overflows='<symbol id="a" viewBox="0 0 10 10" overflow="visible"><circle cx="5" cy="5" '
    'r="6"/></symbol><use href="#a" x="20" y="20" width="40" height="40"/>',
    symbol_whole='<symbol id="a" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>'
    '<use href="#a"/>',
    symbol_alone='<symbol id="a"><circle cx="20" cy="20" r="15"/></symbol><circle r="9"/>',
    symbol_aspect='<symbol id="a" viewBox="0 0 10 10" preserveAspectRatio="xMaxYMid meet">'
    '<circle cx="5" cy="5" r="5"/></symbol><use href="#a" x="10" y="10" width="80" height="30"/>',
)
_add(
    "5.6",
    use='<rect id="a" width="20" height="20"/><use href="#a" x="40" y="30"/>',
    use_xlink='<rect id="a" width="20" height="20"/><use xlink:href="#a" x="40" y="30"/>',
    use_forward='<use href="#a" x="40" y="30"/><defs><rect id="a" width="20" height="20"/></defs>',
    use_transformed='<rect id="a" width="20" height="20" transform="rotate(10)"/>'
    '<use href="#a" x="20" y="10" transform="translate(30 20) scale(1.5)"/>',
    use_of_use='<rect id="a" width="10" height="10"/><use id="b" href="#a" x="20"/>'
    '<use href="#b" y="40" x="10"/>',
    use_hands_style_down='<defs><circle id="a" cx="50" cy="50" r="20"/></defs><use href="#a" '
    'fill="none" stroke="#000" stroke-width="4"/>',
    use_keeps_own_style='<defs><circle id="a" cx="50" cy="50" r="20" fill="#000"/></defs>'
    '<use href="#a" fill="none"/>',
    use_of_a_group='<defs><g id="a"><rect width="20" height="9"/><circle cx="40" cy="9" r="9"/></g>'
    '</defs><use href="#a" x="10" y="20"/><use href="#a" x="20" y="60"/>',
    use_of_an_svg='<defs><svg id="a" width="10" height="10" viewBox="0 0 10 10"><circle cx="5" '
    'cy="5" r="5"/></svg></defs><use href="#a" x="10" y="20" width="50" height="50"/>',
    use_of_nothing='<use href="#none" x="10"/><circle r="9"/>',
    use_of_itself='<g id="a"><use href="#a" x="10"/><circle r="9"/></g>',
    use_in_a_circle='<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g><circle r="9"/>',
    use_not_shown='<rect id="a" width="20" height="20"/><use href="#a" x="40" display="none"/>',
)
_add(
    "5.9",
    switch_first='<switch><rect width="50" height="50"/><circle cx="50" cy="50" r="50"/></switch>',
    switch_language='<switch><rect systemLanguage="de" width="50" height="50"/><circle '
    'systemLanguage="en" cx="50" cy="50" r="30"/></switch>',
    switch_extension='<switch><rect requiredExtensions="x:y" width="50" height="50"/><circle '
    'cx="50" cy="50" r="30"/></switch>',
)
_add(
    "16.2",
    anchor='<a href="#x"><rect width="50" height="30"/></a>',
)

# Chapters 6 and 13, style and paint
_add(
    "6.6",
    style_attribute='<rect width="50" height="50" fill="none" style="fill:#000"/>',
    style_sheet='<style>rect{fill:none}</style><rect width="50" height="50"/><circle r="20"/>',
    style_class="<style>.a{fill:none;stroke:#000;stroke-width:6}</style>"
    '<circle class="b a" cx="50" cy="50" r="30"/>',
    style_id='<style>#a{stroke:#000;stroke-width:5}</style><path id="a" d="M10 50H90"/>',
    style_any='<style>*{fill:none;stroke:#000}</style><rect x="10" y="10" width="50" height="50" '
    'stroke-width="4"/>',
    style_type_and_class='<style>rect.a{fill:none} .a{fill:#000}</style><circle r="20"/>'
    '<rect class="a" x="40" y="40" width="50" height="50"/>',
    style_list='<style>rect, circle{fill:none} path{fill:#000}</style><rect width="9" height="9"/>'
    '<path d="M20 20h50v50z"/>',
    style_important='<style>rect{fill:none!important}</style><circle r="20"/><rect width="50" '
    'height="50" style="fill:#000"/>',
    style_order='<style>rect{fill:none}rect{fill:#000}</style><rect width="50" height="50"/>',
    style_comment='<style>/* rect{fill:none} */</style><rect width="50" height="50"/>',
    style_cdata='<style><![CDATA[ rect{fill:none} ]]></style><rect width="50" height="50"/>'
    '<circle r="20"/>',
)
_add(
    "13.2",
    fill_none='<rect width="50" height="50" fill="none"/><circle r="20"/>',
    fill_transparent='<rect width="50" height="50" fill="transparent"/><circle r="20"/>',
    fill_of_another_colour='<rect width="50" height="50" fill="red"/>',
    fill_rgb='<rect width="50" height="50" fill="rgb(10, 20%, 30)"/>',
    fill_current_colour='<g color="#000"><rect width="50" height="50" fill="currentColor"/></g>',
    fill_gradient='<linearGradient id="g"><stop stop-color="#000"/><stop offset="1"/>'
    '</linearGradient><rect width="50" height="50" fill="url(#g)"/>',
    fill_missing_with_fallback='<rect width="50" height="50" fill="url(#no) #000"/>',
    fill_missing_with_none='<rect width="50" height="50" fill="url(#no) none"/><circle r="20"/>',
    fill_inherit='<g fill="none"><rect width="50" height="50" fill="inherit"/></g><circle r="20"/>',
    fill_not_seen='<rect width="50" height="50" fill-opacity="0"/><circle r="20"/>',
    line_not_seen='<circle cx="50" cy="50" r="20" stroke="#000" stroke-width="9" '
    'stroke-opacity="0"/>',
    group_not_seen='<g opacity="0"><rect width="50" height="50"/></g><circle r="20"/>',
)
_add(
    "13.8",
    display_none='<g display="none"><rect width="50" height="50"/></g><circle r="20"/>',
    display_none_for_good='<g display="none"><rect display="inline" width="50" height="50"/></g>'
    '<circle r="20"/>',
    hidden='<rect width="50" height="50" visibility="hidden"/><circle r="20"/>',
    hidden_group_with_one_shown='<g visibility="hidden"><rect width="50" height="50"/><circle '
    'cx="60" cy="60" r="20" visibility="visible"/></g>',
    collapsed='<rect width="50" height="50" visibility="collapse"/><circle r="20"/>',
)

# CSS Masking, clip paths
_CLIP = '<clipPath id="c" {}>{}</clipPath>'
_SHOWN = '<rect x="5" y="5" width="90" height="80" clip-path="url(#c)"/>'
_DISC = '<circle cx="50" cy="50" r="30"/>'
_add(
    "clip path",
    circle=_CLIP.format("", _DISC) + _SHOWN,
    two_shapes=_CLIP.format("", _DISC + '<rect width="30" height="90"/>') + _SHOWN,
    box_units=_CLIP.format('clipPathUnits="objectBoundingBox"', '<circle cx=".5" cy=".5" r=".4"/>')
    + _SHOWN,
    box_units_of_a_group=_CLIP.format('clipPathUnits="objectBoundingBox"',
                                      '<rect width=".5" height="1"/>')
    + '<g clip-path="url(#c)"><rect x="5" y="5" width="40" height="30"/><circle cx="60" cy="60" '
    'r="30"/></g>',
    transformed=_CLIP.format('transform="translate(20 10)"', _DISC) + _SHOWN,
    shape_transformed=_CLIP.format("", '<circle cx="50" cy="50" r="30" transform="scale(1 .5)"/>')
    + _SHOWN,
    target_transformed=_CLIP.format("", _DISC) + f'<g transform="rotate(20)">{_SHOWN}</g>',
    even_odd=_CLIP.format("", '<path clip-rule="evenodd" d="M10 10h80v80h-80zM30 30h40v40h-40z"/>')
    + _SHOWN,
    use_in_a_clip='<defs><circle id="d" cx="50" cy="50" r="30"/></defs>'
    + _CLIP.format("", '<use href="#d" x="10"/>') + _SHOWN,
    clip_of_a_clip='<clipPath id="o"><rect width="50" height="100"/></clipPath>'
    + _CLIP.format('clip-path="url(#o)"', _DISC) + _SHOWN,
    clip_of_a_shape='<clipPath id="o"><rect width="50" height="100"/></clipPath>'
    + _CLIP.format("", '<circle cx="50" cy="50" r="30" clip-path="url(#o)"/>') + _SHOWN,
    empty_clip=_CLIP.format("", "") + _SHOWN + '<circle r="9"/>',
    hidden_shape=_CLIP.format("", '<circle cx="50" cy="50" r="30" visibility="hidden"/>'
                              '<rect width="20" height="20"/>') + _SHOWN,
    no_fill_still_clips=_CLIP.format("", '<circle cx="50" cy="50" r="30" fill="none"/>') + _SHOWN,
    clip_of_a_line=_CLIP.format("", _DISC)
    + '<path d="M0 50H100" stroke="#000" stroke-width="30" clip-path="url(#c)"/>',
    clip_that_is_missing='<rect x="5" y="5" width="90" height="80" clip-path="url(#no)"/>',
)  # fmt: skip
