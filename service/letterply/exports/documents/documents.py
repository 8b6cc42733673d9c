"""All documents in one place: plain dicts of text, numbers, lists and dicts, ready for JSON.

Every number has its unit in its name, lengths are rounded to 0.1 µm, and each document starts
with a `summary` in plain words.
"""

from letterply.exports.documents.plan import plan_document, proof_document
from letterply.exports.documents.stack import findings_document, stack_document
from letterply.exports.documents.survey import comparison_csv, survey_csv, survey_document
from letterply.exports.documents.values import Document, to_json

__all__ = [
    "Document",
    "comparison_csv",
    "findings_document",
    "plan_document",
    "proof_document",
    "stack_document",
    "survey_csv",
    "survey_document",
    "to_json",
]
