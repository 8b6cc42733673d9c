"""What a shop has: materials, cutters, machines, stock and their sources."""
