"""letterply: lettering in, cut-ready layered parts out.

The engine (everything below `letterply.orders`) is pure: values in, values out, no files, no
network, no clock. `letterply.orders` keeps and runs jobs, `letterply.api` serves them.
"""

__version__ = "0.1.0"

ENGINE_VERSION = "4"
"""Part of every id: raise it when the same request would give other bytes."""
