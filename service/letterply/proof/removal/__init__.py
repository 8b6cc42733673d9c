"""Removal: moves and cutters in, the material that is left out; on a height field and exactly."""
