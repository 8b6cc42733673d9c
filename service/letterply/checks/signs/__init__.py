"""Signs: lettering held against the published standard for signs."""
