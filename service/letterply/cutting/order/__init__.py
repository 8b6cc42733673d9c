"""Order of work: operations in, the same work with short travel between its stops out."""
