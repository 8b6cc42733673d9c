"""Work on the face: scribed lines, grooves, pockets and holes in, operations out."""
