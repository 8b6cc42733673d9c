"""Papers: an order in, PDF pages in real size out."""
