"""Layouts: pieces in, the sheets that they go on and their places out. The same each time."""
