"""Surveys and sizing: what the glyphs of a font can bear, and from which size on."""
