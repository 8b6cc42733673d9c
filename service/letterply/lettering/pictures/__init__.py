"""Pictures in, drawings out: PNG and JPEG of hand-drawn lettering traced into SVG outlines."""
