"""One request, the whole way.

In: a kind (stack, check, plan, survey) and a request of plain JSON values. Out: its artifacts, each
computed once in a worker and found again by the id of the request.
"""

from letterply.jobs import plans, run
from letterply.jobs.committing import Committing, commit_document, not_to_be_cut
from letterply.jobs.files import FILMS, shown_plan
from letterply.jobs.identity import job_id, recipe_version, texts_in
from letterply.jobs.measuring import take_measured
from letterply.jobs.packing import pack, unpack
from letterply.jobs.plans import make_sheet_plan
from letterply.jobs.previews import Previews
from letterply.jobs.proving import prove_again
from letterply.jobs.resources import Resources
from letterply.jobs.running import RunningPlan
from letterply.jobs.service import JobHandle, JobService
from letterply.jobs.shops import SHIPPED, Shops, catalogue_file_of
from letterply.jobs.uploads import (
    UPLOAD_PICTURES,
    describe_upload,
    picture_upload,
    take_upload,
    told_artwork,
)

__all__ = [
    "FILMS",
    "SHIPPED",
    "UPLOAD_PICTURES",
    "Committing",
    "JobHandle",
    "JobService",
    "Previews",
    "Resources",
    "RunningPlan",
    "Shops",
    "catalogue_file_of",
    "commit_document",
    "describe_upload",
    "job_id",
    "make_sheet_plan",
    "not_to_be_cut",
    "pack",
    "picture_upload",
    "plans",
    "prove_again",
    "recipe_version",
    "run",
    "shown_plan",
    "take_measured",
    "take_upload",
    "texts_in",
    "told_artwork",
    "unpack",
]
