"""Medial axes: a region in, centres and radii of its largest inscribed discs out.

The axis comes from the segment Voronoi diagram, is peeled, and is read for what is thin.
"""
