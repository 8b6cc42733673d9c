"""Nested parts: small parts laid into the waste counters of larger ones."""
