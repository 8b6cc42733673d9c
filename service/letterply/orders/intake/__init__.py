"""Orders as they come in: CSV or JSON in, vetted lines out, or every mistake at once."""
