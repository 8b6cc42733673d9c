"""One request, the whole way.

In: a kind (stack, check, plan, survey) and a request of plain JSON values. Out: its artifacts, each
computed once in a worker and found again by the id of the request.
"""

from letterply.jobs import plans, run
from letterply.jobs.artworks import ARTWORK_PICTURES, picture_artwork_file, take_artwork
from letterply.jobs.fonts import FONT_PICTURES, describe_font_file, picture_font_file, take_font
from letterply.jobs.plans import make_sheet_plan
from letterply.jobs.service import JobHandle, JobService

__all__ = [
    "ARTWORK_PICTURES",
    "FONT_PICTURES",
    "JobHandle",
    "JobService",
    "describe_font_file",
    "make_sheet_plan",
    "picture_artwork_file",
    "picture_font_file",
    "plans",
    "run",
    "take_artwork",
    "take_font",
]
