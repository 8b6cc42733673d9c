"""Outline kinds: what the `outline` of a layer means as a region. All mm."""
