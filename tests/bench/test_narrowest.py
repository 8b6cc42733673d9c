"""A slice of the benchmark: one word in each font, no narrow place missed, every width true."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import narrowest

from letterply.lettering.fonts.library import FontLibrary

AT_BLUNT_ENDS_MM = 0.06
"""How far a width told at the end of a stroke is off at most; elsewhere it is exact."""


def test_no_narrow_place_is_missed_and_the_widths_are_true():
    library, score = FontLibrary(), narrowest.Score()
    for font, word, size in narrowest.cases(15):
        narrowest.judge(font, word, size, score, library)
    assert score.missed == []
    assert score.true > 60
    assert score.told > 100
    assert max(score.off) < AT_BLUNT_ENDS_MM
    assert len(score.wrong) <= 2
