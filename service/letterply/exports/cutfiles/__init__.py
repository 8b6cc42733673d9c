"""Cut files: layers and sheets in, SVG and DXF in real millimetres out."""
