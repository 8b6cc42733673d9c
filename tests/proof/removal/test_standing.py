"""Which cells hang on the edge of a field, against a general labelling of pieces."""

import numpy as np
import pytest
from scipy import ndimage

from letterply.proof.model import HeightField
from letterply.proof.removal.standing import CUT_AWAY, HELD, LOOSE, how_held


@pytest.mark.parametrize("seed", range(12))
def test_pieces_are_those_of_a_general_labelling(seed):
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(1, 70)), int(rng.integers(1, 70)))
    z = np.where(rng.random(shape) < (0.35, 0.45, 0.55)[seed % 3], -3.0, 0.0).astype(np.float32)
    rows, columns = (a.ravel() for a in np.indices(shape))
    pieces, _ = ndimage.label(z > -1)
    edge = np.concatenate((pieces[0], pieces[-1], pieces[:, 0], pieces[:, -1]))
    held = np.isin(pieces, edge[edge > 0])
    wanted = np.where(pieces == 0, CUT_AWAY, np.where(held, HELD, LOOSE)).ravel()
    found = how_held(HeightField(0.1, (0.0, 0.0), z), -1.0, rows, columns)
    np.testing.assert_array_equal(found, wanted)
