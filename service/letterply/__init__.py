"""letterply: lettering in, cut-ready layered parts out.

The engine (everything below `letterply.storage` and `letterply.workers`) is pure: values in, values
out, no files, no network, no clock. `letterply.jobs` runs requests, `letterply.orders` makes whole
lists, `letterply.api` serves both.
"""

__version__ = "0.9.0"

ENGINE_VERSION = "12"
"""Part of every id: raise it when the same request would give other bytes."""
