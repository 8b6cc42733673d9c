"""Gaps: what the cutters of the rack leave uncut around and inside a part."""
