"""Repairs worked onto a layer: bridges, strengthening, and the report of what they changed."""
