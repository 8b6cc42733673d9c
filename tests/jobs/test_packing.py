"""Values of the engine go into a message and come out the same."""

import dataclasses

import msgpack
import numpy as np
import pytest

from boathouse import rack_sign
from letterply.catalogue import load_catalogue
from letterply.errors import LetterplyError
from letterply.findings import Severity
from letterply.jobs.files import Answer
from letterply.jobs.packing import pack, unpack
from letterply.lettering import FontLibrary
from letterply.proof.model import HeightField
from letterply.requests.recipe import parse_recipe
from letterply.stacks import build_stack


@pytest.fixture(scope="module")
def stack():
    return build_stack(parse_recipe(rack_sign("Knot")), load_catalogue(), FontLibrary())


def test_a_stack_comes_back_as_it_was(stack):
    again = unpack(pack(stack))
    assert again == stack
    assert again.layers[0].parts[0].outline.wkb == stack.layers[0].parts[0].outline.wkb
    assert pack(again) == pack(stack)


def test_what_occurs_twice_is_written_once_and_is_one_again(stack):
    assert len(pack((stack, stack))) < len(pack(stack)) + 10
    first, second = unpack(pack((stack, stack)))
    assert first is second


def test_arrays_keep_type_shape_and_what_is_no_number():
    z = np.full((300, 200), -1.5, np.float32)
    z[3, 4], z[5, 6] = np.nan, -0.0
    again = unpack(pack(HeightField(0.1, (1.0, 2.0), z)))
    assert again.z.dtype == np.float32
    assert again.z.tobytes() == z.tobytes()
    assert len(pack(again)) < z.nbytes / 50


@pytest.mark.parametrize("dtype", [np.float32, np.float64, np.int8])
def test_large_arrays_of_any_kind_come_back(dtype):
    value = (np.random.default_rng(3).random((400, 500)) * 100).astype(dtype)
    value[100:300] = 7
    assert np.array_equal(unpack(pack(value)), value)
    assert unpack(pack(value[:, ::2])).tobytes() == value[:, ::2].tobytes()


def test_a_large_array_is_written_as_runs_once_for_a_job():
    field = HeightField(0.1, (1.0, 2.0), np.full((300, 200), -1.5, np.float32))
    runs = {}
    first = pack((field, "the one"), runs)
    entry = runs[id(field.z)][1]
    assert pack((field, "the one"), runs) == first == pack((field, "the one"))
    assert runs[id(field.z)][1] is entry


def test_enums_come_back_as_members():
    assert unpack(pack({"worst": Severity.BLOCKER})) == {"worst": Severity.BLOCKER}
    assert unpack(pack(Severity.NOTE)) is Severity.NOTE


@pytest.mark.parametrize("value", [print, {1, 2}, object(), load_catalogue])
def test_what_is_no_value_of_ours_is_refused(value):
    with pytest.raises(TypeError):
        pack((value,))


@pytest.mark.parametrize(
    "message",
    [
        b"",
        b"no message",
        msgpack.packb([1, "0", [], [], None]),
        msgpack.packb([9, None, [], [], None]),
    ],
)
def test_a_message_of_another_version_or_none_is_told(message):
    with pytest.raises(LetterplyError) as caught:
        unpack(message)
    assert caught.value.code == "answer-outdated"


@pytest.mark.parametrize("name", ["os:system", "letterply.units:format_mm", "builtins:dict"])
def test_a_message_can_name_values_of_ours_only(name):
    form, version, _, _, _ = msgpack.unpackb(pack(None))
    message = msgpack.packb(
        [form, version, [name], [["d", 0, ["true"]]], msgpack.ExtType(1, b"\0" * 4)]
    )
    with pytest.raises(LetterplyError):
        unpack(message)


def test_a_class_that_got_another_field_is_told(stack):
    form, version, classes, objects, root = msgpack.unpackb(pack(stack), strict_map_key=False)
    short = [[*o[:2], o[2][:-1]] if o[0] == "d" else o for o in objects]
    with pytest.raises(LetterplyError):
        unpack(msgpack.packb([form, version, classes, short, root]))


def test_every_value_of_an_answer_can_be_stored(stack):
    answer = Answer(stack, (), load_catalogue())
    assert {f.name for f in dataclasses.fields(answer)} >= {"stack", "findings", "catalogue"}
    assert unpack(pack(answer)).catalogue == answer.catalogue
