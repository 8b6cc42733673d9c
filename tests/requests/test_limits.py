"""Limits of a caller's own: read in one form, refused when they cannot be, and kept to."""

import pytest
from shapely import box, union_all

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.checks.run import check_stack
from letterply.errors import InputError, UnknownName
from letterply.findings import Severity
from letterply.requests import DEFAULT_LIMITS, Limits, read_request
from letterply.stacks.model import Layer, Part, Stack

GIVEN = {
    "safety_factor": 3,
    "crumb": "1 in",
    "webs": {"dowel_least": "0.5 mm", "acrylic_edge_factor": 2.5},
    "movement": {"elastic": True, "dampest_percent": 12},
    "look_alike": {"tolerance": 0.3},
    "materials": {"acrylic-cast": {"min_web": "2 mm", "min_web_factor": 0.5}},
}


def barbell(bridge_mm, thickness=3.0):
    """Return two blocks 20 mm wide, joined by a bridge 4 mm long."""
    low, high = 10 - bridge_mm / 2, 10 + bridge_mm / 2
    shape = union_all([box(0, 0, 20, 20), box(20, low, 24, high), box(24, 0, 44, 20)])
    part = Part("face.X", "face", shape, "X")
    return Stack("X", (Layer("face", "acrylic-cast", thickness, 0.0, (part,)),))


def findings(stack, raw, code):
    limits = read_request(Limits, raw, field="limits")
    catalogue = load_catalogue().with_figures(limits.material_figures)
    found = check_stack(stack, catalogue, resolve_shop(None, catalogue), limits)
    return [f for f in found if f.code == code]


def test_every_group_is_read_and_the_normal_form_reads_as_itself():
    limits = read_request(Limits, GIVEN, field="limits")
    assert (limits.safety_factor, limits.crumb_mm) == (3.0, 25.4)
    assert (limits.webs.dowel_least_mm, limits.webs.acrylic_edge_factor) == (0.5, 2.5)
    assert limits.movement.elastic is True
    assert limits.movement.dampest_percent == 12
    assert limits.look_alike.tolerance_mm == 0.3
    normal = limits.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    assert normal["crumb"] == 25.4
    assert normal["materials"] == {"acrylic-cast": {"min_web": 2.0, "min_web_factor": 0.5}}
    assert read_request(Limits, normal) == limits
    assert read_request(Limits, {}) == DEFAULT_LIMITS


def test_figures_of_a_material_go_over_the_catalogues():
    catalogue = load_catalogue()
    changed = catalogue.with_figures(read_request(Limits, GIVEN).material_figures)
    assert changed.material("acrylic-cast").min_web(3.0) == 2.0
    assert catalogue.material("acrylic-cast").min_web(3.0) == 3.0
    assert changed.material("mdf") == catalogue.material("mdf")
    assert catalogue.with_figures(DEFAULT_LIMITS.material_figures) is catalogue


def test_a_smaller_rule_lets_a_bridge_pass_and_the_finding_names_the_limit():
    (found,) = findings(barbell(2.5), {}, "neck")
    assert found.limit == 3.0
    assert not findings(
        barbell(2.5), {"materials": {"acrylic-cast": {"min_web": 2, "min_web_factor": 0.5}}}, "neck"
    )
    (found,) = findings(barbell(2.5), {"materials": {"acrylic-cast": {"min_web": 4}}}, "neck")
    assert found.limit == 4.0


def test_a_larger_load_makes_a_caution_a_blocker():
    (caution,) = findings(barbell(2.5), {}, "neck")
    assert caution.severity is Severity.CAUTION
    (blocker,) = findings(barbell(2.5), {"handling_load_n": 500}, "neck")
    assert blocker.severity is Severity.BLOCKER


@pytest.mark.parametrize(
    ("raw", "code", "field"),
    [
        ([], "bad-value", "limits"),
        ({"neck": 3}, "unknown-field", "limits.neck"),
        ({"safety_factor": "three"}, "bad-value", "limits.safety_factor"),
        ({"safety_factor": True}, "bad-value", "limits.safety_factor"),
        ({"safety_factor": float("nan")}, "out-of-range", "limits.safety_factor"),
        ({"safety_factor": 0.5}, "out-of-range", "limits.safety_factor"),
        ({"crumb": "3 furlongs"}, "unknown-unit", "limits.crumb"),
        ({"webs": 3}, "bad-value", "limits.webs"),
        ({"webs": {"gap": 3}}, "unknown-field", "limits.webs.gap"),
        ({"webs": {"blocker_share": 2}}, "out-of-range", "limits.webs.blocker_share"),
        ({"movement": {"elastic": 1}}, "bad-value", "limits.movement.elastic"),
        ({"movement": {"dampest_percent": 40}}, "out-of-range", "limits.movement.dampest_percent"),
        ({"movement": {"driest_percent": 12}}, "out-of-range", "limits.movement"),
        ({"look_alike": {"tolerance": 0}}, "out-of-range", "limits.look_alike.tolerance"),
        ({"look_alike": {"tolerance_mm": 1}}, "unknown-field", "limits.look_alike.tolerance_mm"),
        ({"materials": {"mdf": {"colour": 1}}}, "unknown-field", "limits.materials.mdf.colour"),
    ],
)
def test_what_cannot_be_a_limit_is_refused_and_named(raw, code, field):
    with pytest.raises(InputError) as caught:
        read_request(Limits, raw, field="limits")
    assert (caught.value.code, caught.value.field) == (code, field)
    assert caught.value.expected


def test_a_material_that_is_not_there_and_a_figure_that_cannot_be():
    figures = read_request(Limits, {"materials": {"driftwood": {"min_web": 3}}}).material_figures
    with pytest.raises(UnknownName) as missing:
        load_catalogue().with_figures(figures)
    assert missing.value.field == "limits.materials.driftwood"
    with pytest.raises(InputError) as caught:
        read_request(Limits, {"materials": {"mdf": {"min_web": 0}}}, field="limits")
    assert caught.value.code == "out-of-range"
    assert caught.value.field == "limits.materials.mdf.min_web"


def test_all_mistakes_come_at_once_and_an_unknown_name_is_told_the_known_ones():
    raw = {"safety_factor": 0, "webs": {"gap": 3}, "materials": {"mdf": {"colour": 1}}}
    with pytest.raises(InputError) as caught:
        read_request(Limits, raw, field="limits")
    mistakes = {m["field"]: m for m in caught.value.data["mistakes"]}
    assert set(mistakes) == {
        "limits.safety_factor",
        "limits.webs.gap",
        "limits.materials.mdf.colour",
    }
    assert "dowel_least" in mistakes["limits.webs.gap"]["expected"]
    assert "min_web_factor" in mistakes["limits.materials.mdf.colour"]["expected"]
