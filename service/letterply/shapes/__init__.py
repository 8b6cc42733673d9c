"""Plane geometry, used by every room: regions, offsets, medial axis, arcs. All mm, y up."""
