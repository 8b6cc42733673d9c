"""Links: of a letter's own pieces, or of all pieces, as few and short as can be."""

import numpy as np
import pytest
import shapely
from scipy.sparse.csgraph import minimum_spanning_tree
from shapely import Point, box

from letterply.shapes.regions import as_region, digest
from letterply.stacks.outlines.joining import _closest_pairs, join_letters, join_pieces
from stacks.glyphs import lettering


def test_pieces_are_joined_along_the_shortest_gaps():
    row = as_region(shapely.union_all([box(x, 0, x + 10, 10) for x in (0, 12, 25)]))
    joined, links = join_pieces(row, 3.0, 0.005)
    assert len(joined.geoms) == 1
    assert sorted(link.gap_mm for link in links) == pytest.approx([2, 3])


def test_a_dot_is_joined_to_its_own_stem_and_not_to_a_nearer_neighbour():
    stem, dot, neighbour = box(0, 0, 4, 20), Point(2, 26).buffer(2), box(5, 0, 9, 40)
    word = as_region(shapely.union_all([stem, dot, neighbour, box(4, 0, 5, 2)]))
    letters = [as_region(shapely.union_all([stem, dot])), as_region(neighbour)]
    joined, (link,) = join_letters(word, letters, 2.0, 0.005)
    assert len(joined.geoms) == 1
    assert link.gap_mm == pytest.approx(4, abs=0.01)
    assert [round(x) for x, _ in link.line.coords] == [2, 2]
    # The gap to the neighbour, 1 mm, stays.
    assert shapely.intersection(joined, box(4.05, 21, 4.95, 29)).is_empty


def test_letters_stay_apart_and_each_is_one_piece():
    text = lettering("ij:Ö", "atkinson-hyperlegible-bold", 30)
    letters = [x.region for x in text.letters]
    joined, links = join_letters(text.region, letters, 3.0, 0.005)
    assert len(text.region.geoms) == 9
    assert len(links) == 5
    assert len(joined.geoms) == 4
    for letter in letters:
        assert sum(piece.intersects(letter) for piece in joined.geoms) == 1


def test_letters_of_one_piece_stay_as_they_are():
    text = lettering("HOT", "archivo-black", 30)
    letters = [x.region for x in text.letters]
    joined, links = join_letters(text.region, letters, 3.0, 0.005)
    assert links == ()
    assert digest(joined) == digest(text.region)


def test_links_are_as_short_in_all_as_the_least_tree_of_all_gaps():
    rng = np.random.default_rng(7)
    discs = [Point(*rng.uniform(0, 60, 2)).buffer(rng.uniform(1, 5)) for _ in range(14)]
    pieces = shapely.get_parts(shapely.union_all(discs))
    gaps = shapely.distance(pieces[:, None], pieces[None, :])
    least = minimum_spanning_tree(np.triu(gaps, 1)).sum()
    assert sum(line.length for line in _closest_pairs(pieces.tolist())) == pytest.approx(least)
