"""Judging: what is left and what was wanted in, faults and the verdict of each part out."""
