"""Blanks: ready-made pieces that are only worked, and the fixtures that hold them. All mm."""
