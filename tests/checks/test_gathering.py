"""One cause is one finding, told by its gravest place, with the number and places of all."""

from letterply.checks.gathering import gathered
from letterply.findings import Finding, Place, Severity


def thin(part, width, gravity, *, code="stroke", layer="face", severity=Severity.CAUTION, **data):
    at = Place("segment", ((gravity, 0.0), (gravity, width)))
    facts = tuple({"tip": False, **data}.items())
    return Finding(code, severity, f"a stroke {width} mm wide breaks", layer, part, at, width, 3.0,
                   data=facts, gravity=gravity)  # fmt: skip


def test_serifs_of_a_layer_are_one_finding_and_the_weakest_speaks():
    (one,) = gathered([thin(f"face.{k}", 1.0 + k / 10, 9.0 - k) for k in range(5)])
    assert one.part == "face.4"
    assert one.measured == 1.4
    assert one.why == (
        "A stroke 1.4 mm wide breaks. 4 more places are like it, from 1 mm to 1.4 mm wide."
    )
    facts = dict(one.data)
    assert facts["count"] == 5
    assert facts["places"][0] == one.where.anchor
    assert facts["parts"] == ("face.4", "face.3", "face.2", "face.1", "face.0")


def test_necks_and_strokes_are_one_cause_but_tips_another():
    found = gathered(
        [thin("a", 1.0, 2.0), thin("b", 1.0, 1.0, code="neck"), thin("c", 1.0, 3.0, tip=True)]
    )
    assert [dict(f.data).get("count", 1) for f in found] == [2, 1]


def test_layers_and_severities_are_told_apart():
    found = gathered(
        [
            thin("a", 1.0, 2.0, layer="backer"),
            thin("b", 1.0, 1.0),
            thin("c", 1.0, 0.5, severity=Severity.BLOCKER),
        ]
    )
    assert [f.severity for f in found] == [Severity.BLOCKER, Severity.CAUTION, Severity.CAUTION]
    assert all("count" not in dict(f.data) for f in found)


def test_what_concerns_the_whole_stays_as_it_is():
    room = Finding("room", Severity.BLOCKER, "it is too large", "face", "face.A")
    other = Finding("room", Severity.BLOCKER, "it is too large", "face", "face.B")
    assert gathered([room, other]) == (room, other)
