"""Parts in, stock sheets with placed parts out."""
