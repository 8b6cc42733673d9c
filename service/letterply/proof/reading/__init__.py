"""Reading: program text in, moves and the way of the cutter over the sheet out."""
