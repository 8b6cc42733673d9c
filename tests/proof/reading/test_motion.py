"""What is played is what was proved: the same moves, cut again, leave the same sheet."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from letterply.proof.model import Motion
from letterply.proof.reading.moves import Segments
from letterply.proof.removal.strokes import Profile
from letterply.proof.removal.swept import blank_field, carve
from proof.rack_sign import Sign, prove


def cut_again(motion: Motion, field):
    """Run the places of a motion over an untouched field."""
    points = motion.points.astype(np.float64)
    for place in range(1, len(points)):
        same = motion.programs[place] == motion.programs[place - 1]
        starts, ends = points[place - 1 : place], points[place : place + 1]
        if same and min(starts[0, 2], ends[0, 2]) < 0:
            _, shape, radius, tip, rise = motion.profiles[motion.cutters[place]]
            pieces = Segments(starts, ends, np.zeros(1, dtype=np.int64))
            carve(field, pieces, Profile(shape, radius, tip, rise))
    return field


def test_what_is_played_leaves_the_sheet_that_was_proved():
    sign = Sign()
    proof = prove(sign.part(), sign.programs())
    motion = proof.motion
    field = cut_again(motion, blank_field(proof.carved.bounds, proof.carved.cell_mm))
    apart = np.abs(field.z - proof.carved.z) > 0.1
    # Chords of a tenth of a millimetre: only at walls may a cell come out otherwise.
    assert apart.mean() < 0.004
    assert len({motion.profiles[c][1] for c in motion.cutters.tolist()}) >= 2


def test_its_seconds_are_those_of_the_reading():
    sign = Sign()
    proof = prove(sign.part(), sign.programs())
    for number, (source, reading) in enumerate(zip(sign.programs(), proof.readings, strict=True)):
        told = float(proof.motion.seconds[proof.motion.programs == number].sum())
        paused = 2.0 if "G4 P2" in source.text else 0.0
        # The way to the first place is not known, so nobody can play it.
        assert told + paused == pytest.approx(reading.time_s, abs=3.0)


def test_remarks_are_told_with_their_lines():
    sign = Sign()
    programs = list(sign.programs())
    text = programs[0].text.replace("\n", "\n(drill: 1.board)\n", 1)
    programs[0] = dataclasses.replace(programs[0], text=text.replace("\n", "\r\n"))
    motion = prove(sign.part(), programs).motion
    assert (0, 2, "drill: 1.board") in motion.remarks
    assert all(line <= text.count("\n") + 1 for _, line, _ in motion.remarks[:3])


def test_a_program_that_cannot_be_read_is_played_as_far_as_it_can():
    sign = Sign()
    programs = list(sign.programs())
    broken = programs[0].text.splitlines()
    broken[-3:] = ["G1 X potato"]
    programs[0] = dataclasses.replace(programs[0], text="\n".join(broken) + "\n")
    proof = prove(sign.part(), programs)
    assert not proof.passed
    assert np.isfinite(proof.motion.points).all()
    assert (proof.motion.programs == 0).any()


def test_nothing_is_played_of_no_program():
    proof = prove(Sign().part(), [])
    assert len(proof.motion.points) == len(proof.motion.seconds) == 0
