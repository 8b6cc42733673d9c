"""Documents: values in, plain dicts ready for JSON out, units in the names."""
