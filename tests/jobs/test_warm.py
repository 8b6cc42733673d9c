"""After warming up nothing is left to be compiled."""

import os
import subprocess
import sys

import pytest

SCRIPT = """
import importlib, pkgutil
import letterply
from letterply.jobs.warm import warm
from numba.core.dispatcher import Dispatcher

warm()
kernels, bare = 0, []
for found in pkgutil.walk_packages(letterply.__path__, "letterply."):
    if ".migrations" in found.name:
        continue
    module = importlib.import_module(found.name)
    for name, value in vars(module).items():
        if isinstance(value, Dispatcher) and value.py_func.__module__ == found.name:
            kernels += 1
            if not value.signatures:
                bare.append(f"{found.name}.{name}")
print(kernels, *bare)
"""


@pytest.mark.slow
def test_every_kernel_is_compiled_and_kept(tmp_path):
    """With an empty cache, as after installation; it fills the cache for those that follow."""
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)},
        check=True,
        capture_output=True,
        text=True,
    )
    kernels, *bare = done.stdout.split()
    assert int(kernels) > 20
    assert bare == []
    assert len(list(tmp_path.rglob("*.nbc"))) >= int(kernels) // 2
