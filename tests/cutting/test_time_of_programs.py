"""Time of whole programs, held against a controller that is played move by move.

The other model reads the program's text by itself and knows nothing of chains: it takes in the next
16 moves, as a plain controller does, lowers their speeds so that it stops at the end of the last,
drives the first of them, and takes in one more. Corners and arcs by the rules of motion that
`tests/reference/test_motion_times.py` has; all else is its own.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace

import pytest
from shapely import LineString, box

from cutting.hand_made import disc, part, sheet, shop
from letterply.cutting.plan import plan_sheet
from letterply.stacks.model import Part
from letterply.stacks.work import Scribe

_WORD = re.compile(r"([A-Z])(-?[\d.]+)")


def moves_of(text, machine):
    """Yield length, speed and the directions at start and end of each move of a program."""
    at, mode, feed = [0.0, 0.0, machine.safe_height_mm], 0, 0.0
    placed = False
    for line in text.splitlines():
        words = [(k, float(v)) for k, v in _WORD.findall(line.split("(")[0])]
        given = dict(words)
        codes = [int(v) for k, v in words if k == "G"]
        if 4 in codes or not any(k in given for k in "XYZ"):
            continue
        mode = next((c for c in codes if c <= 3), mode)
        feed = given.get("F", feed)
        to = [given.get(k, at[i]) for i, k in enumerate("XYZ")]
        if not placed and "X" not in given:
            continue  # up first, from wherever it was
        placed = True
        step = [b - a for a, b in zip(at, to, strict=True)]
        if mode < 2:
            length = math.hypot(*step)
            rapid = machine.rapid_z_mm_per_min if not any(step[:2]) else machine.rapid_mm_per_min
            speed = rapid if mode == 0 else feed
            way = [s / length for s in step] if length else None
            if length:
                yield length, speed / 60, way, way
        else:
            i, j = given.get("I", 0.0), given.get("J", 0.0)
            radius, sense = math.hypot(i, j), 1 if mode == 3 else -1
            first = math.atan2(-j, -i)
            last = math.atan2(to[1] - at[1] - j, to[0] - at[0] - i)
            turn = (last - first) * sense % (2 * math.pi) or 2 * math.pi
            top = math.sqrt(machine.acceleration_mm_per_s2 * radius)
            ways = [[-math.sin(a) * sense, math.cos(a) * sense, 0.0] for a in (first, last)]
            yield math.hypot(turn * radius, step[2]), min(feed / 60, top), *ways
        at = to


def played(moves, acceleration, slack, known):
    """Return how long a controller takes that knows so many moves."""
    corners = [0.0]
    for (_, v0, _, out), (_, v1, into, _) in itertools.pairwise(moves):
        half = math.sqrt(max(0.0, (1 + sum(a * b for a, b in zip(out, into, strict=True))) / 2))
        turn = math.inf if half > 1 - 1e-9 else slack * half / (1 - half)
        corners.append(min(v0, v1, math.sqrt(acceleration * turn)))
    speed, total = 0.0, 0.0
    for k, (length, limit, _, _) in enumerate(moves):
        ahead = moves[k : k + known]
        out = 0.0  # it must stand at the end of the last move that it knows
        for n in range(len(ahead) - 1, 0, -1):
            out = min(corners[k + n], math.sqrt(out * out + 2 * acceleration * ahead[n][0]))
        out = min(out, math.sqrt(speed * speed + 2 * acceleration * length))
        top = min(limit, math.sqrt(acceleration * length + (speed * speed + out * out) / 2))
        top = max(top, speed, out)
        ramps = (2 * top * top - speed * speed - out * out) / (2 * acceleration)
        total += (2 * top - speed - out) / acceleration + max(0.0, length - ramps) / top
        speed = out
    return total


def many_short_lines():
    """Return a tag with 300 short scribed lines and a wave of short chords."""
    lines = [
        LineString([(x, y), (x + 1.1, y + 0.4)]) for x in range(4, 64, 2) for y in range(4, 14)
    ]
    wave = LineString([(4 + x / 20, 20 + 3 * math.sin(x / 9)) for x in range(1100)])
    return Part("tag", "tag", box(0, 0, 70, 30), scribes=(Scribe((*lines, wave), 0.1),))


JOBS = {
    "outlines": [
        part(box(0, 0, 60, 40).difference(disc(30, 20, 9)), "tag.a"),
        part(disc(0, 0, 21)),
    ],
    "many short scribed lines": [many_short_lines()],
}


@pytest.mark.parametrize("acceleration", [200.0, 300.0, 500.0])
@pytest.mark.parametrize("name", JOBS)
def test_a_program_takes_as_long_as_on_a_played_controller(catalogue, name, acceleration):
    """Within 3 % of it, look-ahead of 16 moves."""
    rack = shop(catalogue, "flat-3175", "drag-120")
    machine = replace(rack.machine, acceleration_mm_per_s2=acceleration, look_ahead_moves=16)
    plan = plan_sheet(
        sheet(*JOBS[name], thickness=3.0, material="acrylic-cast"),
        replace(rack, machine=machine), catalogue, 15.0,
    )  # fmt: skip
    for program in plan.programs:
        moves = list(moves_of(program.text, machine))
        theirs = played(moves, acceleration, machine.corner_slack_mm, 16)
        ours = program.time.total_s - program.time.changes_s
        assert ours == pytest.approx(theirs, rel=0.03)


def test_a_short_look_ahead_slows_short_moves_down(catalogue):
    rack = shop(catalogue, "flat-3175", "drag-120")
    times = {}
    for known in (2, 16, 500):
        machine = replace(rack.machine, look_ahead_moves=known)
        plan = plan_sheet(
            sheet(many_short_lines(), thickness=3.0, material="acrylic-cast"),
            replace(rack, machine=machine), catalogue, 15.0,
        )  # fmt: skip
        times[known] = plan.time
    assert times[2].cutting_s > times[16].cutting_s >= times[500].cutting_s
    for time in times.values():
        assert time.quick_s < time.total_s < time.slow_s
