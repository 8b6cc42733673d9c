"""Sheets in, cut plans and programs out."""
