"""Jobs: the whole way through the house, and the store that keeps what came out."""
