"""Values in, files out: SVG, DXF, PNG, JSON documents."""
