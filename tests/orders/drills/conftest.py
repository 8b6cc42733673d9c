"""What drills share."""

import os
import subprocess

import pytest


@pytest.fixture
def small_disk(tmp_path):
    """Give a file system of 24 MB."""
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", str(place)]
    if os.geteuid() != 0 or subprocess.run(command, check=False, capture_output=True).returncode:
        pytest.skip("no file system can be mounted here: a full disk was not tried")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)
