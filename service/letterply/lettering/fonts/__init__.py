"""Fonts: bytes in, usable fonts, their facts and their glyph outlines out.

Every font is vetted before anything else looks at it.
"""
