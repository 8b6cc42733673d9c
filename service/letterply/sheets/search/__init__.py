"""Search: a tighter layout of one sheet, found by a strip search in a process of its own."""
