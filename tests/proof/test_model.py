"""Values of the proof that cannot be wrong."""

from __future__ import annotations

import numpy as np
import pytest

from letterply.findings import Severity
from letterply.proof.model import Fault, HeightField, SheetProof


def field() -> HeightField:
    return HeightField(0.5, (10.0, 20.0), np.zeros((4, 6), dtype=np.float32))


def test_a_field_knows_its_edges_and_the_centres_of_its_cells() -> None:
    assert field().bounds == (10, 20, 13, 22)
    xs, ys = field().centres
    assert xs.tolist() == [10.25, 10.75, 11.25, 11.75, 12.25, 12.75]
    assert ys.tolist() == [20.25, 20.75, 21.25, 21.75]


@pytest.mark.parametrize("cell", [0.0, -1.0, float("nan")])
def test_a_field_has_cells(cell: float) -> None:
    with pytest.raises(ValueError, match="no cell"):
        HeightField(cell, (0, 0), np.zeros((2, 2), dtype=np.float32))


def test_a_field_is_plane_and_single() -> None:
    with pytest.raises(ValueError, match="float32"):
        HeightField(0.1, (0, 0), np.zeros((2, 2)))  # type: ignore[arg-type]


def test_a_fault_has_a_code_of_the_catalogue() -> None:
    with pytest.raises(ValueError, match="catalogue"):
        Fault("unheard-of", Severity.BLOCKER, "?")


@pytest.mark.parametrize("passed", [True, False])
def test_a_proof_passes_exactly_when_nothing_blocks(passed: bool) -> None:
    severity = Severity.BLOCKER if passed else Severity.CAUTION
    with pytest.raises(ValueError, match="exactly"):
        SheetProof(1, 6.0, passed, (Fault("gouge", severity, "."),), (), (), field(), field(), ".")
