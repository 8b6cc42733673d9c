"""How large pictures are made: the pixels of their longer side."""

__all__ = ["ENTRY_PX", "LINE_PX", "RESULT_PX", "TABLE_PX"]

RESULT_PX = 1400
"""A stack, a sheet, a proof: looked at by itself, on a screen."""

ENTRY_PX = 1200
"""A font or a drawing of the library."""

LINE_PX = 1000
"""A line of an order, one of many on a page."""

TABLE_PX = 2400
"""A survey: many small pictures with words beside them."""
