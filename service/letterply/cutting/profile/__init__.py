"""Profiles: parts in, the operations along their outlines out, inside before outside."""
