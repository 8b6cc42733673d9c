"""DXF cut files, read back with a library: clean, in millimetres, with the areas of the parts."""

import io
import threading
import time

import ezdxf
import numpy as np
import pytest
from shapely import Polygon

from exports.scene import HOSTILE, letter_sheet, plan, rack_sign
from letterply.exports.cutfiles.dxf import APPLICATION, layer_dxf, sheet_dxf
from letterply.exports.primitives.palette import STYLES, rgb
from letterply.stacks.model import Layer, Part, Stack


def read(data: bytes):
    document = ezdxf.read(io.StringIO(data.decode("utf-8")))
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    return document


def polygons_of(document, layer: str) -> list[Polygon]:
    found = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    assert all(p.closed for p in found)
    return [Polygon(np.array(p.get_points("xy"))) for p in found]


def test_units_are_millimetres():
    document = read(sheet_dxf(letter_sheet()))
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1
    assert document.dxfversion == "AC1024"


def test_areas_are_those_of_the_parts():
    sheet = letter_sheet()
    document = read(sheet_dxf(sheet))
    rings = polygons_of(document, "PROFILE")
    signed = sum(p.area if p.exterior.is_ccw else -p.area for p in rings)
    assert signed == pytest.approx(sum(p.part.outline.area for p in sheet.parts), abs=1e-2)
    outer = [p for p in rings if p.exterior.is_ccw]
    assert len(outer) == 4
    for placed in sheet.parts:
        solid = Polygon(placed.part.outline.exterior)
        assert min(solid.symmetric_difference(p).area for p in outer) < 1e-2


def test_every_operation_has_its_layer_with_its_colour():
    stack = rack_sign()
    document = read(layer_dxf(stack.layer("board"), stack))
    for style in STYLES.values():
        layer = document.layers.get(style.layer)
        assert layer.rgb == rgb(style.colour)
        assert (layer.dxf.linetype == "Continuous") == (style.dash_mm == ())
    used = {e.dxf.layer for e in document.modelspace()}
    assert used == {s.layer for s in STYLES.values()}


def test_holes_are_circles_where_they_belong():
    stack = rack_sign()
    document = read(layer_dxf(stack.layer("board"), stack))
    circles = document.modelspace().query("CIRCLE")
    found = [(c.dxf.center.x, c.dxf.center.y, c.dxf.radius) for c in circles]
    assert found == [(12, 78, 2.5), (188, 78, 2.5), (100, 12, 3)]
    assert {c.dxf.layer for c in circles} == {"DRILL"}


def test_part_depth_and_cutter_are_kept_with_the_entities():
    document = read(sheet_dxf(letter_sheet(), plan()))
    for polyline in document.modelspace().query('LWPOLYLINE[layer=="PROFILE"]'):
        data = [(tag.code, tag.value) for tag in polyline.get_xdata(APPLICATION)]
        assert data[0][1].startswith("part=1.face.")
        assert data[1:] == [(1000, "depth_mm"), (1040, 3.2), (1000, "cutter=flat-3")]


def test_open_scribed_lines_stay_open():
    stack = rack_sign()
    document = read(layer_dxf(stack.layer("board"), stack))
    scribes = document.modelspace().query('LWPOLYLINE[layer=="SCRIBE"]')
    assert sorted(s.closed for s in scribes) == [False, True]


def test_the_origin_is_the_lower_left_of_stack_and_sheet():
    stack = rack_sign()
    for data, size in (
        (layer_dxf(stack.layer("face"), stack), (200, 90)),
        (sheet_dxf(letter_sheet()), (260, 120)),
    ):
        frame = polygons_of(read(data), "REFERENCE")[0]
        assert frame.bounds == (0, 0, *size)
        assert read(data).header["$EXTMAX"] == (*size, 0)


def test_the_same_sheet_gives_the_same_bytes_also_in_threads():
    expected = sheet_dxf(letter_sheet(), plan())
    found = []
    threads = [
        threading.Thread(target=lambda: found.append(sheet_dxf(letter_sheet(), plan())))
        for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [expected] * 4


def test_no_clock_is_in_the_file():
    """Whoever writes at another second writes the same."""
    first = sheet_dxf(letter_sheet())
    time.sleep(0.01)  # the library notes the time to the microsecond, where it is let
    assert sheet_dxf(letter_sheet()) == first


def test_the_librarys_switch_for_dates_is_left_as_it_was():
    before = ezdxf.options.write_fixed_meta_data_for_testing
    sheet_dxf(letter_sheet())
    assert ezdxf.options.write_fixed_meta_data_for_testing is before


def test_hostile_names_leave_the_file_whole():
    name = HOSTILE + "0\nSECTION\n2\nENTITIES\n" + "Ж" * 300
    part = Part(name, "board", rack_sign().layers[0].parts[0].outline)
    layer = Layer("board", "mdf", 9.0, 0.0, (part,))
    document = read(layer_dxf(layer, Stack(name, (layer,))))
    assert len(document.modelspace().query("*")) == 4


def test_classes_stand_in_one_order_in_every_process():
    """What the library finds in a set comes last, by name."""
    names = [key[0] for key in read(sheet_dxf(letter_sheet())).classes.classes]
    in_use = [name for name in names if name in ("ACDBPLACEHOLDER", "LAYOUT")]
    assert in_use == ["ACDBPLACEHOLDER", "LAYOUT"]
