"""Gluing up: parts that can be mistaken for one another, and layers that move apart."""
