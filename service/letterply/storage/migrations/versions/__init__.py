"""One module a migration; they are run in order and never changed."""
