"""Artwork in, regions out: SVG drawings read safely, painted shapes turned into areas to cut."""
