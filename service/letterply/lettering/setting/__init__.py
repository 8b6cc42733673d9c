"""Setting: words, a font and a size in, placed letters as clean regions in mm out.

Shaping is HarfBuzz's; lines of mixed direction, baselines and spacing are here.
"""
