"""Words in, outlines out: fonts, shaping, outlines and setting."""
