"""Thin material: the medial axis of a part in, necks, strokes and tips out, with their loads."""
