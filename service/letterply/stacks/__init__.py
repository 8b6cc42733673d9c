"""Recipe in, stack out: layers of parts that fit together."""
