"""A job with all files that it can be shown by."""

from letterply.jobs.files import make_files
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job


def all_files(kind, request, resources=None):
    """Return documents, programs and files made later of a job, path -> bytes."""
    found = run_job(kind, request, resources or Resources())
    return {**found.artifacts, **make_files(found.answer, found.later)}
