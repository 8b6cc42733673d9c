"""Typed client for the letterply service, and the `letterply` command."""
